"""Screw threads as a drawing writes them: "M8×1-6g", "1/4-20 UNC-2A", "#10-32".

Reading a text gives a ThreadDesignation; with its class it gives limits of size. Designations follow ISO 965-1 clause 5
and ASME B1.1 section 6, and the loose forms drawings really carry (a hyphen for the ×, a class without its series).
"""

from __future__ import annotations

import re
from dataclasses import dataclass, replace
from fractions import Fraction
from typing import Final, Literal, get_args

from server.trade.errors import Impossible, OutOfRange, TradeError, Unreadable
from server.trade.length import NM_PER_IN, NM_PER_MM, Unit, plain_signs
from server.trade.thread_form import ThreadLimits, coarsest_pitch_nm, pitch_fits
from server.trade.thread_metric import COARSE_NM, default_class, metric_limits, pitch_series, read_class
from server.trade.thread_metric import EXTERNAL_CLASSES as METRIC_EXTERNAL
from server.trade.thread_metric import INTERNAL_CLASSES as METRIC_INTERNAL
from server.trade.thread_metric import size_text as metric_size
from server.trade.thread_unified import CLASSES as UNIFIED_CLASSES
from server.trade.thread_unified import (
    NUMBER_SIZES,
    Series,
    number_size_nm,
    pair_name,
    pitch_name,
    series_of,
    unified_limits,
)

System = Literal["metric", "unified"]
Cutting = Literal["smaller", "larger", "neither"]

ACCEPTS: Final = "a thread such as M8, M8×1-6g, M8-6H, 1/4-20 UNC-2A, #10-32, .250-20 UNC-3A or 0.4-32 UNS"

_METRIC: Final = re.compile(
    r"M\s*(?P<size>\d+(?:[.,]\d+)?)"
    r"(?:\s*[x×*]\s*(?P<pitch>\d*[.,]?\d+)|\s*-\s*(?P<dashed>\d*[.,]?\d+)(?![\d.,]*[A-Za-z]))?"
    r"(?:\s*[-\s]\s*(?P<thread_class>\d[A-Za-z](?:\d[A-Za-z])?))?"
    r"(?P<left>\s*[-\s]?\s*LH)?",
    re.IGNORECASE,
)
_UNIFIED: Final = re.compile(
    r"(?P<number>#|No\.?\s*)?\s*"
    r"(?P<size>\d+[-\s]+\d+/\d+|\d+/\d+|\d*\.\d+|\d+)\s*(?:\"|in\.?)?\s*"
    r"-\s*(?P<turns>\d+\s+1/2|\d+(?:\.\d+)?)"
    r"(?:\s*[-\s]?\s*(?P<series>(?:\d+\s*-?\s*)?UN[A-Z]*))?"
    r"(?:\s*[-\s]\s*(?P<thread_class>\d[A-Za-z]))?"
    r"(?P<left>\s*[-\s]?\s*LH)?",
    re.IGNORECASE,
)
_INCH_FRACTIONS: Final = (2, 4, 8, 16, 32, 64)
_LONGEST_TEXT: Final = 60
_STARTS_METRIC: Final = re.compile(r"M\s*\d", re.IGNORECASE)
_NAMES_UNIFIED: Final = re.compile(r"^\s*(?:#|No\.?\s*\d|[\d.]).*-\s*\d.*\bUN|^\s*#\s*\d+\s*-\s*\d", re.IGNORECASE)


@dataclass(frozen=True, slots=True)
class ThreadDesignation:
    """A thread as it was read. Lengths in nm.

    nominal_nm      basic major diameter, whole nm
    pitch_nm        pitch; a fraction, because 1/28 in is no whole number of nm
    turns_per_inch  threads per inch of a Unified thread, None of a metric one
    series          "coarse", "fine", "" (metric); "UNC", "UNF", "UNEF", "UN", "UNS" (unified)
    thread_class    None where none was written
    left_hand       "LH" was written
    """

    system: System
    nominal_nm: int
    pitch_nm: Fraction
    turns_per_inch: Fraction | None
    series: str
    thread_class: str | None
    left_hand: bool = False

    @property
    def internal(self) -> bool | None:
        """True for a nut or tapped hole, False for a screw, None while no class says which."""
        if self.thread_class is None:
            return None
        if self.system == "metric":
            return self.thread_class[-1].isupper()
        return self.thread_class.endswith("B")

    @property
    def size(self) -> str:
        """The size without a class: "M8×1", "1/4-20 UNC"."""
        if self.turns_per_inch is None:
            return metric_size(self.nominal_nm, int(self.pitch_nm))
        return f"{pair_name(self.nominal_nm, self.turns_per_inch)} {self.series}"

    @property
    def text(self) -> str:
        """The designation in full, as it would be written on a drawing."""
        parts = [self.size, *([self.thread_class] if self.thread_class else []), *(["LH"] if self.left_hand else [])]
        return "-".join(parts)

    @property
    def classes(self) -> str:
        """The classes that may follow this size, for a message."""
        if self.system == "metric":
            return f"external {METRIC_EXTERNAL}; internal {METRIC_INTERNAL}"
        return "external 1A, 2A, 3A; internal 1B, 2B, 3B"


def parse_thread(text: str, *, field: str = "text") -> ThreadDesignation | None:
    """The thread that `text` designates, or None when it has no thread shape at all ("mild steel", "10-12", "25 g6").

    text   M8, M8x1, M8×1-6g, M8-6H, M8-1.25 (metric: the class tells 6g from 6G, so its case counts);
           1/4-20, 1/4-20 UNC-2A, 1/4-20-2B, 1 1/4-7 UNC, #10-32 UNF-2A, 10-32, .250-20 UNC-3A, 0.4-32 UNS (unified);
           an LH at the end for left hand

    A bare "8-32" or "1-72" is the numbered size, "1-8" the inch size: whichever the standard pairs with that pitch. A
    bare pair of figures that could as well be two limits ("10-12", "3-4", "1.5-6") is not taken for a thread; write
    #10-12, 3-4 UNC, 1 1/2-6.
    Raises Unreadable for a thread that is not written in full or not rightly (unknown class or series, no pitch known),
    Impossible for a pair that cannot be (pitch too coarse; a series that does not have it).
    """
    plain = plain_signs(text)
    if len(plain) > _LONGEST_TEXT:
        return None
    if _STARTS_METRIC.match(plain):
        return _metric(text, plain, field)
    match = _UNIFIED.fullmatch(plain)
    if match is None:
        if _NAMES_UNIFIED.search(plain):
            raise Unreadable(field, text, "it starts as a Unified thread and then cannot be read", ACCEPTS)
        return None
    return _unified(text, match, field)


def _metric(text: str, plain: str, field: str) -> ThreadDesignation:
    match = _METRIC.fullmatch(plain)
    if match is None:
        raise Unreadable(field, text, "it starts as a metric thread and then cannot be read", ACCEPTS)
    nominal = Fraction(match["size"].replace(",", ".")) * NM_PER_MM
    if nominal <= 0:
        raise OutOfRange(field, text, "the diameter of a thread is more than nothing", ACCEPTS)
    written = match["pitch"] or match["dashed"]
    if written is not None:
        pitch = Fraction(written.replace(",", ".")) * NM_PER_MM
    elif int(nominal) in COARSE_NM:
        pitch = Fraction(COARSE_NM[int(nominal)])
    else:
        raise Unreadable(
            field,
            text,
            f"ISO 261 has no coarse pitch for {match['size']} mm, so the pitch must be written",
            f"M{match['size']}× and the pitch in mm",
        )
    if nominal.denominator != 1 or pitch.denominator != 1:
        raise Unreadable(field, text, "it is written finer than a millionth of a millimetre", ACCEPTS)
    pitch_fits(int(nominal), pitch, field=field, read=text)
    thread_class = match["thread_class"]
    found = ThreadDesignation(
        system="metric",
        nominal_nm=int(nominal),
        pitch_nm=pitch,
        turns_per_inch=None,
        series=pitch_series(int(nominal), int(pitch)),
        thread_class=thread_class,
        left_hand=match["left"] is not None,
    )
    if thread_class is not None:
        try:
            read_class(thread_class)
        except Unreadable as error:
            raise Unreadable(field, text, f"{thread_class}: {error.why}", found.classes) from error
    return found


def _unified(text: str, match: re.Match[str], field: str) -> ThreadDesignation | None:
    turns = sum((Fraction(part) for part in match["turns"].split()), Fraction(0))
    size, series_text, thread_class = match["size"], match["series"], match["thread_class"]
    told = series_text is not None or thread_class is not None or match["number"] is not None
    if turns == 0:
        if told:
            raise Unreadable(field, text, "a thread has more than no threads per inch", ACCEPTS)
        return None
    nominal = _unified_nominal(size, turns, match["number"] is not None, told, text, field)
    if nominal is None:
        return None
    if not told and not _plainly_a_thread(size, nominal, turns):
        return None
    pitch_fits(nominal, NM_PER_IN / turns, field=field, read=text)
    own = series_of(nominal, turns)
    series = own if series_text is None else _series(series_text, own, turns, nominal, text, field)
    if thread_class is not None and thread_class.upper() not in UNIFIED_CLASSES:
        raise Unreadable(
            field, text, f"{thread_class} is not a class of ASME B1.1", "external 1A, 2A, 3A; internal 1B, 2B, 3B"
        )
    return ThreadDesignation(
        system="unified",
        nominal_nm=nominal,
        pitch_nm=NM_PER_IN / turns,
        turns_per_inch=turns,
        series=series,
        thread_class=thread_class.upper() if thread_class else None,
        left_hand=match["left"] is not None,
    )


def _unified_nominal(size: str, turns: Fraction, numbered: bool, told: bool, text: str, field: str) -> int | None:
    if numbered:
        if not size.isdecimal() or int(size) not in NUMBER_SIZES:
            raise Unreadable(
                field, text, f"#{size} is not a numbered size", ", ".join(f"#{number}" for number in NUMBER_SIZES)
            )
        return number_size_nm(int(size))
    if not size.isdecimal():
        parts = re.split(r"[-\s]+", size)
        if "/" in size and int(size.split("/")[1]) not in _INCH_FRACTIONS:
            if told:
                raise Unreadable(
                    field, text, f"{size} is no fraction of an inch on a rule", "halves to 64ths, or a decimal"
                )
            return None
        nominal = sum((Fraction(part) for part in parts), Fraction(0)) * NM_PER_IN
        if nominal.denominator != 1:
            if told:
                raise Unreadable(field, text, f"{size} in is no whole number of nanometres", ACCEPTS)
            return None
        return int(nominal)
    inches = int(size) * NM_PER_IN
    if int(size) not in NUMBER_SIZES:
        return inches
    number = number_size_nm(int(size))
    number_known, inches_known = series_of(number, turns) != "UNS", series_of(inches, turns) != "UNS"
    if number_known != inches_known:
        return number if number_known else inches
    if not told:
        return None
    if NM_PER_IN / turns > coarsest_pitch_nm(number):
        return inches  # 1-14 UNS: on #1 the pitch would be as large as the screw
    if inches > 6 * NM_PER_IN:
        return number
    raise Unreadable(
        field,
        text,
        f"it reads two ways: #{size}, or {size} in",
        f"#{size}-{pitch_name(turns)} or {size}.0-{pitch_name(turns)}",
    )


def _plainly_a_thread(size: str, nominal: int, turns: Fraction) -> bool:
    """Whether a size and a figure with nothing beside them are a thread rather than, say, two limits."""
    if "/" in size:
        return turns.denominator == 1 and 4 <= turns <= 80 and nominal > 2 * NM_PER_IN / turns
    if size.startswith((".", "0.")):
        return turns.denominator == 1 and 10 <= turns <= 80 and nominal > 2 * NM_PER_IN / turns
    # "1.5-6" and "3-4" may be threads and may be two limits; "10-32" and "1-8" are threads.
    return size.isdecimal() and turns >= 8 and series_of(nominal, turns) in ("UNC", "UNF", "UNEF")


def _series(series_text: str, own: Series, turns: Fraction, nominal: int, text: str, field: str) -> Series:
    """The series written, UNR and its like meaning the same limits with a rounded root; checked against the pair's."""
    pair = pair_name(nominal, turns)
    letters = re.sub(r"[\d\s-]", "", series_text).upper()
    constant = re.sub(r"\D", "", series_text)
    plain = letters.replace("UNR", "UN", 1)
    for series in get_args(Series):
        if plain == series and (not constant or (series == "UN" and constant == pitch_name(turns))):
            if series not in (own, "UNS"):
                raise Impossible(field, text, f"{pair} is {own}, not {series}", f"{pair} {own}")
            found: Series = series
            return found
    raise Unreadable(field, text, f"{series_text} is not a series of ASME B1.1", "UNC, UNF, UNEF, UN or UNS")


def thread_limits(
    thread: str | ThreadDesignation, *, internal: bool | None = None, field: str = "thread"
) -> ThreadLimits:
    """Limits of size of a thread.

    thread     a designation, or its text as `parse_thread` reads it
    field      the name of the input, for the message
    internal   which of the two is meant where no class is written: True takes 6H or 2B, False 6g or 2A (5H and 6h up
               to M1.4; ISO 965-1: what is meant where no class is given; for Unified the usual class, common
               practice). None: a thread without a class is an error that lists the classes

    Raises Unreadable (no thread, no class), Impossible (a class of the other side than `internal` says), OutOfRange.
    Source: ISO 965-1:1998, ASME B1.1-2003; see thread_metric.metric_limits and thread_unified.unified_limits.
    """
    designation = parse_thread(thread, field=field) if isinstance(thread, str) else thread
    if designation is None:
        raise Unreadable(field, thread, "it is not a thread", ACCEPTS)
    assumed = designation.thread_class is None
    if assumed:
        if internal is None:
            raise Unreadable(
                field, designation.text, "no class is given, so there are no limits yet", designation.classes
            )
        designation = replace(designation, thread_class=_usual_class(designation, internal))
    elif internal is not None and designation.internal != internal:
        side, other = ("an internal", "external") if internal else ("an external", "internal")
        raise Impossible(
            field, designation.text, f"{designation.thread_class} is an {other} class, and {side} thread is wanted",
            designation.classes,
        )  # fmt: skip
    thread_class = designation.thread_class or ""
    try:
        limits = _limits(designation, thread_class)
    except TradeError as error:  # the reader typed one text, so that is the field to point at
        raise type(error)(field, designation.text, error.why, error.accepts) from error
    if assumed:
        note = f"no class was given; {thread_class} taken"
        limits = replace(limits, note=f"{note}; {limits.note}" if limits.note else note)
    return limits


def _limits(designation: ThreadDesignation, thread_class: str) -> ThreadLimits:
    if designation.turns_per_inch is None:
        return metric_limits(designation.nominal_nm, int(designation.pitch_nm), thread_class)
    series: Series = next(each for each in get_args(Series) if each == designation.series)
    return unified_limits(designation.nominal_nm, designation.turns_per_inch, thread_class, series)


def _usual_class(designation: ThreadDesignation, internal: bool) -> str:
    if designation.system == "metric":
        return default_class(designation.nominal_nm, internal=internal)
    return "2B" if internal else "2A"


def parse_thread_requirement(text: str, unit: Unit, cutting: Cutting = "neither") -> tuple[int, int, int, str] | None:
    """What a drawing's thread asks of the pitch diameter: basic size, lowest, highest [nm], and by which standard.

    text      the requirement as written; None is returned when it has no thread shape
    unit      the unit of the sheet; a thread says its own, so this changes nothing and keeps the readers of
              requirements alike
    cutting   what removing metal does: "smaller" is an external thread, "larger" an internal one. It decides the class
              where none is written (6g or 2A, 6H or 2B); with "neither" the class must be written

    All three sizes are pitch diameters, so that a reading and its deviation can be set against them; the first is the
    basic pitch diameter, not the 8 of M8.
    Raises Unreadable, Impossible (an external class on a dimension that cutting makes larger, and the other way),
    OutOfRange.
    """
    designation = parse_thread(text)
    if designation is None:
        return None
    internal = {"smaller": False, "larger": True, "neither": None}[cutting]
    limits = thread_limits(designation, internal=internal, field="text")
    standard = f"{limits.standard}, pitch diameter of {limits.designation}"
    if limits.note:
        standard = f"{standard} ({limits.note})"
    return limits.basic_pitch_nm, limits.pitch_low_nm, limits.pitch_high_nm, standard
