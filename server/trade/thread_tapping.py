"""Holes for tapping: the drill for a wanted percentage of thread, and the percentage a drill leaves.

"Percent of full thread" has two published meanings, and one drill scores 75 % by the one and 90 % by the other:

- "1.299P": full thread is a height of 0.6495 P on each side (three quarters of H, the old American National depth), so
  a drill is D - 1.299 P × percent. Machinery's Handbook's tap drill table is made so (31st ed., "Tap Drill Sizes";
  found: the table comes out only with 1.299/n).
- "1.0825P": full thread is the basic height of 0.5413 P on each side (five eighths of H, ISO 68-1 and ASME B1.1), so
  that 100 % is the basic minor diameter.

The second figure is always 1.2 times the first. Charts mostly mean the first.
"""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from typing import Final, Literal

from server.trade.bounds import positive_length, say_length
from server.trade.drills import KINDS, Drill, DrillKind, nearest_drills
from server.trade.errors import Impossible, OutOfRange
from server.trade.thread_form import MINOR_DIAMETER_DROP, SQRT3, pitch_fits
from server.trade.within import within

Method = Literal["1.299P", "1.0825P"]
METHODS: Final[tuple[Method, ...]] = ("1.299P", "1.0825P")
# What is taken off the diameter for 100 %, in pitches.
_FULL: Final[dict[Method, Fraction]] = {
    "1.299P": Fraction(SQRT3 * 3 / 4),
    "1.0825P": Fraction(MINOR_DIAMETER_DROP),
}
MOST_PERCENT: Final = 120.0


def tap_drill_nm(nominal_nm: int, pitch_nm: int | Fraction, percent: float, method: Method = "1.299P") -> int:
    """Diameter of the hole [nm] that leaves `percent` of full thread.

    nominal_nm   nominal diameter of the thread [nm]
    pitch_nm     pitch [nm]
    percent      wanted percentage of full thread [%], above 0 to 120
    method       "1.299P" or "1.0825P": what full thread means (see the head of this file)

    Assumes the hole comes out at the drill's size; a twist drill usually cuts larger, which leaves less thread.
    Raises OutOfRange, Impossible (pitch too coarse for the diameter).
    Source: Machinery's Handbook 31st ed., tap drill formula (1.299/n); ISO 68-1 and ASME B1.1 (1.0825 P).
    """
    pitch_fits(nominal_nm, pitch_nm, field="pitch_nm")
    within("percent", percent, 0.0, MOST_PERCENT, "%")
    if percent <= 0:
        raise OutOfRange("percent", percent, "a thread of no height holds nothing", f"above 0 to {MOST_PERCENT:g} %")
    return nominal_nm - round(_full(method) * Fraction(pitch_nm) * Fraction(percent) / 100)


def thread_percent(nominal_nm: int, pitch_nm: int | Fraction, hole_nm: int, method: Method = "1.299P") -> float:
    """Percentage of full thread [%] that a tapped hole has.

    nominal_nm   nominal diameter of the thread [nm]
    pitch_nm     pitch [nm]
    hole_nm      diameter of the hole before tapping [nm], less than the nominal diameter
    method       "1.299P" or "1.0825P"

    Raises OutOfRange, Impossible (the hole is as large as the thread).
    Source: as `tap_drill_nm`.
    """
    pitch_fits(nominal_nm, pitch_nm, field="pitch_nm")
    positive_length("hole_nm", hole_nm)
    if hole_nm >= nominal_nm:
        raise Impossible(
            "hole_nm",
            say_length(hole_nm),
            "the hole is as large as the thread, so the tap would cut nothing",
            f"less than {say_length(nominal_nm)}",
        )
    return float((nominal_nm - hole_nm) * 100 / (_full(method) * Fraction(pitch_nm)))


def _full(method: Method) -> Fraction:
    if method not in _FULL:
        raise OutOfRange("method", method, "there is no such definition of full thread", " or ".join(METHODS))
    return _FULL[method]


@dataclass(frozen=True, slots=True)
class TapDrill:
    """A drill for a tapped hole, with what it leaves by either definition of full thread [%]."""

    drill: Drill
    percent_by_1299: float
    percent_by_10825: float


def tap_drills(
    nominal_nm: int,
    pitch_nm: int | Fraction,
    percent: float,
    method: Method = "1.299P",
    *,
    kinds: tuple[DrillKind, ...] = KINDS,
    each_side: int = 2,
) -> tuple[TapDrill, ...]:
    """The drills nearest to the wanted percentage, nearest first, with what each leaves.

    Arguments as `tap_drill_nm`; kinds: the gauges to choose from; each_side: how many smaller and how many larger.
    Raises OutOfRange, Impossible.
    """
    wanted = tap_drill_nm(nominal_nm, pitch_nm, percent, method)
    below, above = nearest_drills(wanted, each_side=each_side, kinds=kinds)
    found = sorted((*below, *above), key=lambda drill: abs(drill.diameter_nm - wanted))
    return tuple(
        TapDrill(
            drill,
            thread_percent(nominal_nm, pitch_nm, drill.diameter_nm, "1.299P"),
            thread_percent(nominal_nm, pitch_nm, drill.diameter_nm, "1.0825P"),
        )
        for drill in found
        if drill.diameter_nm < nominal_nm
    )
