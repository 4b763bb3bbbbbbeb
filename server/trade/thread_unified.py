"""Unified inch screw threads: the series and the limits of size of ASME B1.1.

The standard's tables follow from its formulas with a fixed number of decimals at each step (ASME B1.30-2002), so the
steps are done here in decimal arithmetic exactly as it sets them out: pitch to eight places, tolerances and thread
heights to six, allowance and limits to four, minor diameter limits of internal threads to three from size #6 up.
Halves are rounded to even, which the printed limits of 1-64 and 2-64 and sizes such as 9/32 (0.2812) bear out.
"""

from __future__ import annotations

from decimal import ROUND_HALF_EVEN, Context, Decimal, localcontext
from fractions import Fraction
from typing import Final, Literal

from server.trade.errors import Impossible, OutOfRange, Unreadable
from server.trade.length import NM_PER_IN
from server.trade.thread_form import ThreadLimits, coarsest_pitch_nm, limits_in_order, pitch_fits

STANDARD: Final = "ASME B1.1-2003"
Series = Literal["UNC", "UNF", "UNEF", "UN", "UNS"]
EXTERNAL_CLASSES: Final = ("1A", "2A", "3A")
INTERNAL_CLASSES: Final = ("1B", "2B", "3B")
CLASSES: Final = EXTERNAL_CLASSES + INTERNAL_CLASSES

# Pitch diameter tolerance against that of class 2A (ASME B1.1-2003 table 9, from memory).
_TOLERANCE_RATIO: Final = {
    "1A": Decimal("1.5"), "2A": Decimal(1), "3A": Decimal("0.75"),
    "1B": Decimal("1.95"), "2B": Decimal("1.3"), "3B": Decimal("0.975"),
}  # fmt: skip

# ASME B1.1-2003 table 1 (from memory): size and threads per inch.
_UNC: Final = (
    "#1-64 #2-56 #3-48 #4-40 #5-40 #6-32 #8-32 #10-24 #12-24 1/4-20 5/16-18 3/8-16 7/16-14 1/2-13 9/16-12 5/8-11 "
    "3/4-10 7/8-9 1-8 1.1/8-7 1.1/4-7 1.3/8-6 1.1/2-6 1.3/4-5 2-9/2 2.1/4-9/2 2.1/2-4 2.3/4-4 3-4 3.1/4-4 3.1/2-4 "
    "3.3/4-4 4-4"
)
_UNF: Final = (
    "#0-80 #1-72 #2-64 #3-56 #4-48 #5-44 #6-40 #8-36 #10-32 #12-28 1/4-28 5/16-24 3/8-24 7/16-20 1/2-20 9/16-18 "
    "5/8-18 3/4-16 7/8-14 1-12 1.1/8-12 1.1/4-12 1.3/8-12 1.1/2-12"
)
_UNEF: Final = (
    "#12-32 1/4-32 5/16-32 3/8-32 7/16-28 1/2-28 9/16-24 5/8-24 11/16-24 3/4-20 13/16-20 7/8-20 15/16-20 1-20 "
    "1.1/16-18 1.1/8-18 1.3/16-18 1.1/4-18 1.5/16-18 1.3/8-18 1.7/16-18 1.1/2-18 1.9/16-18 1.5/8-18 1.11/16-18"
)
# Constant-pitch series: threads per inch, from and to size [in]. In steps of 1/16 to 2 in and of 1/8 to 6 in.
_UN: Final = {
    4: (Fraction(5, 2), Fraction(6)),
    6: (Fraction(11, 8), Fraction(6)),
    8: (Fraction(1), Fraction(6)),
    12: (Fraction(9, 16), Fraction(6)),
    16: (Fraction(3, 8), Fraction(6)),
    20: (Fraction(1, 4), Fraction(6)),
    28: (Fraction(27, 125), Fraction(3, 2)),
    32: (Fraction(69, 500), Fraction(1)),
}
_NO_SIZES: Final = (Fraction(1), Fraction(0))
NUMBER_SIZES: Final = (0, 1, 2, 3, 4, 5, 6, 8, 10, 12)


def number_size_nm(number: int) -> int:
    """Nominal diameter [nm] of a numbered size: 0.060 in + 0.013 in for each number; 0 to 12 (ASME B1.1).

    Raises OutOfRange for a number that is not a size.
    """
    if number not in NUMBER_SIZES:
        raise OutOfRange(
            "text", f"#{number}", "there is no such numbered size", ", ".join(f"#{size}" for size in NUMBER_SIZES)
        )
    return 1_524_000 + number * 330_200


def _sizes(text: str) -> frozenset[tuple[int, Fraction]]:
    found = set()
    for pair in text.split():
        size, pitch = pair.split("-")
        if size.startswith("#"):
            nominal = number_size_nm(int(size[1:]))
        else:
            nominal = int(sum(Fraction(part) for part in size.split(".")) * NM_PER_IN)
        found.add((nominal, Fraction(pitch)))
    return frozenset(found)


_NAMED: Final[dict[Series, frozenset[tuple[int, Fraction]]]] = {
    "UNC": _sizes(_UNC),
    "UNF": _sizes(_UNF),
    "UNEF": _sizes(_UNEF),
}


def series_of(nominal_nm: int, threads_per_inch: Fraction) -> Series:
    """The series a pair belongs to: UNC, UNF, UNEF, else the constant-pitch series UN, else UNS (special).

    nominal_nm         nominal diameter [nm]
    threads_per_inch   number of threads in one inch
    Source: ASME B1.1-2003 table 1 (from memory).
    """
    for series, pairs in _NAMED.items():
        if (nominal_nm, threads_per_inch) in pairs:
            return series
    low, high = _UN.get(int(threads_per_inch), _NO_SIZES)
    inches = Fraction(nominal_nm, NM_PER_IN)
    numbered = nominal_nm in {number_size_nm(number) for number in NUMBER_SIZES}
    stepped = (inches * (16 if inches <= 2 else 8)).denominator == 1
    known = threads_per_inch.denominator == 1 and low <= inches <= high and (numbered or stepped)
    return "UN" if known else "UNS"


def size_name(nominal_nm: int) -> str:
    """The size as it is designated: "#10", "1/4", "1 1/4", and a decimal in inches for any other."""
    for number in NUMBER_SIZES:
        if nominal_nm == number_size_nm(number):
            return f"#{number}"
    inches = Fraction(nominal_nm, NM_PER_IN)
    if inches.denominator in (1, 2, 4, 8, 16, 32, 64):
        whole, part = divmod(inches, 1)
        return " ".join(str(each) for each in (whole, part) if each) or "0"
    return f"{Decimal(nominal_nm) / NM_PER_IN:.6f}".rstrip("0")


def pitch_name(threads_per_inch: Fraction) -> str:
    """Threads per inch as a designation writes them: "20", "4.5"."""
    return f"{float(threads_per_inch):g}"


def pair_name(nominal_nm: int, threads_per_inch: Fraction) -> str:
    """Size and pitch as they are designated: "1/4-20", "#10-32"; "4.0-36" where "4-36" could be the numbered size."""
    name = size_name(nominal_nm)
    number = int(name) if name.isdecimal() else -1
    if number in NUMBER_SIZES and series_of(nominal_nm, threads_per_inch) == "UNS":
        coarsest = coarsest_pitch_nm(number_size_nm(number))
        name += ".0" if NM_PER_IN / threads_per_inch <= coarsest else ""
    return f"{name}-{pitch_name(threads_per_inch)}"


def _rounded(value: Decimal, places: int) -> Decimal:
    return value.quantize(Decimal(1).scaleb(-places), ROUND_HALF_EVEN)


def _inches(value: Fraction, places: int) -> Decimal:
    return _rounded(Decimal(value.numerator) / Decimal(value.denominator), places)


def _power(value: Decimal, root: int, power: int = 1) -> Decimal:
    return (value.ln() * power / root).exp()


def _nm(inches: Decimal) -> int:
    return int(inches * NM_PER_IN)


def _engagement(nominal: Decimal, pitch: Decimal, series: Series, threads_per_inch: Fraction) -> Decimal:
    """Length of engagement the tolerance is made for: the diameter for UNC, UNF, 4-UN, 6-UN and 8-UN, nine pitches for
    the rest. Taking the diameter throughout is a known slip: 0.0002 in too much on 1/2-28.
    """
    if series in ("UNC", "UNF") or (series == "UN" and threads_per_inch in (4, 6, 8)):
        return nominal
    return 9 * pitch


def _minor_tolerance(nominal: Decimal, pitch: Decimal, threads_per_inch: Fraction, thread_class: str) -> Decimal:
    small = Decimal("0.05") * _power(pitch, 3, 2) + Decimal("0.03") * pitch / nominal - Decimal("0.002")
    greatest = Decimal("0.394") * pitch
    if thread_class == "3B":
        if threads_per_inch >= 13:
            least = Decimal("0.23") * pitch - Decimal("1.5") * pitch * pitch
        else:
            least = Decimal("0.12") * pitch
        return min(max(small, least), greatest)
    coarse = Decimal("0.25") * pitch - Decimal("0.4") * pitch * pitch
    if nominal >= Decimal("0.25"):
        return coarse if threads_per_inch >= 4 else Decimal("0.15") * pitch
    return min(max(small, coarse), greatest)


def unified_limits(
    nominal_nm: int, threads_per_inch: Fraction | int, thread_class: str, series: Series | None = None
) -> ThreadLimits:
    """Limits of size of a Unified thread.

    nominal_nm         nominal (basic major) diameter [nm], 0.06 in to 6 in
    threads_per_inch   4 to 80
    thread_class       1A, 2A, 3A (external), 1B, 2B, 3B (internal)
    series             None: the one the pair belongs to. UNS may be given for any pair, and takes the tolerances of
                       nine pitches of engagement.

    Assumes standard length of engagement, single start, no coating. Any pair is computed; a special one is noted.
    The minor diameter limit of an internal thread is added up from figures of four places, which gives the printed
    0.0623 (1-64), 0.156 (10-24) and 0.5787 (5/8-20 UN-3B); ASME B1.30-2002 adds unrounded figures, which ends a unit of
    the last place lower on those. One printed limit is not met: 2 3/8-20 UN-2A pitch diameter, 2.3359 in the table and
    2.3360 by the formula.
    Raises OutOfRange (diameter, pitch), Unreadable (class), Impossible (pitch too coarse, series the pair has not).
    Source: ASME B1.1-2003 section 5 and 8 (formulas from memory, checked against its published limits and the worked
    calculations of 1/2-28 UNEF and 19/64-36 UNS), rounding by ASME B1.30-2002.
    """
    turns = Fraction(threads_per_inch)
    if turns <= 0:
        raise OutOfRange("threads_per_inch", threads_per_inch, "a thread has more than no threads per inch", "4 to 80")
    name = pair_name(nominal_nm, turns)
    if thread_class not in CLASSES:
        raise Unreadable("thread_class", thread_class, "it is not a class of ASME B1.1", ", ".join(CLASSES))
    if not 1_524_000 <= nominal_nm <= 6 * NM_PER_IN:
        raise OutOfRange("nominal_nm", name, "the diameter is outside ASME B1.1", "0.06 in (#0) to 6 in")
    pitch_fits(nominal_nm, NM_PER_IN / turns, field="threads_per_inch", read=name)
    if not 4 <= turns <= 80:
        raise OutOfRange("threads_per_inch", name, "the pitch is outside ASME B1.1", "4 to 80 threads per inch")
    own = series_of(nominal_nm, turns)
    if series not in (None, own, "UNS"):
        raise Impossible("series", f"{name} {series}", f"{name} is {own}, not {series}", f"{name} {own}")
    series = series or own
    internal = thread_class.endswith("B")
    with localcontext(Context(prec=40)):
        nominal = _inches(Fraction(nominal_nm, NM_PER_IN), 4)
        pitch = _inches(1 / turns, 8)
        tolerance_2a = _rounded(
            Decimal("0.0015") * _power(nominal, 3)
            + Decimal("0.0015") * _engagement(nominal, pitch, series, turns).sqrt()
            + Decimal("0.015") * _power(pitch, 3, 2),
            6,
        )
        tolerance = _rounded(_TOLERANCE_RATIO[thread_class] * tolerance_2a, 6)
        addenda = _rounded(Decimal("0.64951905") * pitch, 6)
        heights = _rounded(Decimal("1.08253175") * pitch, 6)
        designation = f"{name} {series}-{thread_class}"
        note = "a special pair: no series of ASME B1.1 has it" if own == "UNS" else ""
        if internal:
            inner = _internal(nominal, pitch, turns, thread_class, tolerance, addenda, heights, designation, note)
            return limits_in_order(inner)
        # From the tolerance at four places: 5/8-11 is printed with 0.0016, which 0.3 × 0.005501 would not give.
        allowance = Decimal(0) if thread_class == "3A" else _rounded(Decimal("0.3") * _rounded(tolerance_2a, 4), 4)
        crest = Decimal("0.09") if thread_class == "1A" else Decimal("0.06")
        major_high = nominal - allowance
        major_low = _rounded(major_high - _rounded(crest * _power(pitch, 3, 2), 6), 4)
        pitch_high = _rounded(major_high - addenda, 4)
        rounded_root = _rounded(Decimal("1.19078493") * pitch, 6)
        outer = ThreadLimits(
            designation=designation,
            internal=False,
            major_low_nm=_nm(major_low),
            major_high_nm=_nm(major_high),
            pitch_low_nm=_nm(_rounded(pitch_high - tolerance, 4)),
            pitch_high_nm=_nm(pitch_high),
            minor_low_nm=None,
            minor_high_nm=_nm(_rounded(major_high - heights, 4)),
            allowance_nm=_nm(allowance),
            basic_pitch_nm=_nm(_rounded(nominal - addenda, 4)),
            standard=STANDARD,
            root_high_nm=_nm(_rounded(major_high - rounded_root, 4)),
            note=note,
        )
        return limits_in_order(outer)


def _internal(
    nominal: Decimal,
    pitch: Decimal,
    turns: Fraction,
    thread_class: str,
    tolerance: Decimal,
    addenda: Decimal,
    heights: Decimal,
    designation: str,
    note: str,
) -> ThreadLimits:
    pitch_low = _rounded(nominal - addenda, 4)
    # Both to four places before they are added: the printed limits come out only so (see unified_limits).
    minor_low = _rounded(nominal - heights, 4)
    minor_high = minor_low + _rounded(_minor_tolerance(nominal, pitch, turns, thread_class), 4)
    large = nominal >= Decimal("0.138")
    return ThreadLimits(
        designation=designation,
        internal=True,
        major_low_nm=_nm(nominal),
        major_high_nm=None,
        pitch_low_nm=_nm(pitch_low),
        pitch_high_nm=_nm(_rounded(pitch_low + tolerance, 4)),
        minor_low_nm=_nm(_rounded(minor_low, 3 if large else 4)),
        minor_high_nm=_nm(_rounded(minor_high, 3 if large and thread_class != "3B" else 4)),
        allowance_nm=0,
        basic_pitch_nm=_nm(pitch_low),
        standard=STANDARD,
        note=note,
    )
