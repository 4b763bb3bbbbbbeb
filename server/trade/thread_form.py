"""The 60° screw thread shared by the Unified and the ISO metric systems: its form, and what limits of size are.

Both systems use one basic profile: a triangle of height H = P·√3/2, cut off H/8 at the crest of the screw and H/4 at
the crest of the nut (ISO 68-1; ASME B1.1-2003 section 2). Everything else (which diameters, which tolerances, which
rounding) is the system's own and stands in thread_metric.py and thread_unified.py.
"""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction
from itertools import pairwise
from typing import Final

from server.trade.errors import Impossible, OutOfRange

SQRT3: Final = Decimal("1.7320508075688772935274463415")

# Multiples of the pitch. Doubled, because they are taken off diameters.
PITCH_DIAMETER_DROP: Final = SQRT3 * 3 / 8  # 2 × 3/8 H = 0.649519 P
MINOR_DIAMETER_DROP: Final = SQRT3 * 5 / 8  # 2 × 5/8 H = 1.082532 P


@dataclass(frozen=True, slots=True)
class ThreadLimits:
    """Limits of size of one thread, as the standard prints them. Lengths in whole nm; None where it sets no limit.

    An external thread has no lower limit on its minor diameter in ASME B1.1, and an internal thread no upper limit on
    its major diameter in either standard: the cutting tool's form decides there.

    designation       in full: "M8×1-6g", "1/4-20 UNC-2A"
    internal          True for a nut or a tapped hole
    allowance_nm      how far the limits stand back from the basic size (es or EI; 0 for h, H, class 3 and B classes)
    basic_pitch_nm    basic pitch diameter, from which deviations of the pitch diameter are counted
    root_high_nm      greatest minor diameter of an external thread with a rounded root (UNR), reference; None elsewhere
    standard          edition and what was applied
    note              what the reader must know besides (class taken because none was given, pair outside the series)
    """

    designation: str
    internal: bool
    major_low_nm: int | None
    major_high_nm: int | None
    pitch_low_nm: int
    pitch_high_nm: int
    minor_low_nm: int | None
    minor_high_nm: int | None
    allowance_nm: int
    basic_pitch_nm: int
    standard: str
    root_high_nm: int | None = None
    note: str = ""


def coarsest_pitch_nm(nominal_nm: int) -> Fraction:
    """Coarsest pitch [nm] taken on a nominal diameter [nm]: 0.4619 d, which leaves a core of half the diameter.

    The bound is our own. No standard series comes near it (the coarsest is a quarter, M1×0.25), so what lies beyond is
    a slip of the keys.
    """
    return Fraction(nominal_nm, 2) / Fraction(MINOR_DIAMETER_DROP)


def pitch_fits(nominal_nm: int, pitch_nm: int | Fraction, *, field: str = "text", read: str = "") -> None:
    """Refuse a pitch [nm] that is too coarse for its nominal diameter [nm] (`coarsest_pitch_nm`).

    Raises OutOfRange for a figure that is not positive, Impossible for a pitch too coarse.
    """
    if nominal_nm <= 0:
        raise OutOfRange(
            field, read or nominal_nm, "the diameter of a thread is more than nothing", "a diameter above 0"
        )
    if pitch_nm <= 0:
        raise OutOfRange(field, read or pitch_nm, "the pitch of a thread is more than nothing", "a pitch above 0")
    coarsest = coarsest_pitch_nm(nominal_nm)
    if pitch_nm > coarsest:
        raise Impossible(
            field,
            read or f"pitch {float(pitch_nm) / 1e6:g} mm on {nominal_nm / 1e6:g} mm",
            "the pitch is too coarse for the diameter: less than half of it would be left under the thread",
            f"a pitch up to {float(coarsest) / 1e6:.3f} mm ({25.4e6 / float(coarsest):.1f} threads per inch or finer) "
            f"on a diameter of {nominal_nm / 1e6:g} mm ({nominal_nm / 25.4e6:.4f} in)",
        )


def limits_in_order(limits: ThreadLimits) -> ThreadLimits:
    """`limits` unchanged, if there is a thread left inside them.

    On a very fine pitch for the diameter, tolerances (which grow with the diameter) can be as large as the thread is
    high, so that a crest within limits could lie on the wrong side of the pitch diameter.
    Raises Impossible.
    """
    sizes = (
        limits.minor_high_nm,
        limits.pitch_low_nm,
        limits.pitch_high_nm,
        limits.major_low_nm,
    )
    known = [size for size in sizes if size is not None]
    if any(low >= high for low, high in pairwise(known)):
        raise Impossible(
            "thread_class",
            limits.designation,
            "the tolerances are as large as the thread is high, so nothing of it need be left",
            "a coarser pitch, or a closer class",
        )
    return limits


def basic_pitch_diameter_nm(nominal_nm: int, pitch_nm: int | Fraction) -> int:
    """Basic pitch diameter [nm] of `nominal_nm` [nm] and `pitch_nm` [nm]: d - 0.649519 P, to the nearest nm, not
    rounded as a standard rounds it. Source: ISO 68-1, ASME B1.1-2003 section 2.
    """
    return nominal_nm - round(Fraction(PITCH_DIAMETER_DROP) * Fraction(pitch_nm))


def basic_minor_diameter_nm(nominal_nm: int, pitch_nm: int | Fraction) -> int:
    """Basic minor diameter [nm] of `nominal_nm` [nm] and `pitch_nm` [nm]: d - 1.082532 P, to the nearest nm, not
    rounded as a standard rounds it. Source: ISO 68-1, ASME B1.1-2003 section 2.
    """
    return nominal_nm - round(Fraction(MINOR_DIAMETER_DROP) * Fraction(pitch_nm))
