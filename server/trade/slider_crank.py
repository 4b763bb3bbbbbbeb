"""End clearance of a slide driven by a crank: what is left at both dead centres, and the shim that evens them.

A crank turns a connecting rod that drives a slide to and fro between two stops, one near the crank shaft and one far
from it (in a cylinder: piston between covers). The line the slide moves along may pass the shaft at an offset. At the
dead centres crank and rod lie in one line, so that the pin of the slide stands √((rod ± throw)² − offset²) from the
shaft along the slide's line: exact, by Pythagoras (computed, no source).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

from server.trade.bounds import length_not_negative, positive_length, say_length
from server.trade.errors import Impossible


@dataclass(frozen=True, slots=True)
class SliderCrank:
    """Lengths along the line of the slide [nm].

    throw_nm          from shaft to crank pin
    rod_nm            connecting rod between centres
    pin_to_face_nm    from the slide's pin to the face of the slide that meets the near stop, shims included; may be
                      negative
    slide_nm          from that face to the one that meets the far stop
    near_stop_nm      from the shaft to the near stop; may be negative
    between_stops_nm  from the near stop to the far one
    offset_nm         how far the slide's line passes beside the shaft; its sign does not matter
    clearances_nm     diametral clearances of the bearings between shaft and slide: half their sum is lost at each end
                      when the load takes them up
    """

    throw_nm: int
    rod_nm: int
    pin_to_face_nm: int
    slide_nm: int
    near_stop_nm: int
    between_stops_nm: int
    offset_nm: int = 0
    clearances_nm: tuple[int, ...] = ()

    def __post_init__(self) -> None:
        for field in ("throw_nm", "rod_nm", "slide_nm", "between_stops_nm"):
            positive_length(field, getattr(self, field))
        for clearance in self.clearances_nm:
            length_not_negative("clearances_nm", clearance)
        if self.rod_nm <= self.throw_nm + abs(self.offset_nm):
            why = "the crank cannot turn right round: the rod is no longer than throw and offset together"
            least = say_length(self.throw_nm + abs(self.offset_nm))
            raise Impossible("rod_nm", say_length(self.rod_nm), why, f"more than {least}")


@dataclass(frozen=True, slots=True)
class EndClearances:
    """What is left at the dead centres [nm]; negative: it strikes.

    outer_nm, inner_nm  at the far stop and at the near one, bearings without clearance
    loaded_outer_nm, loaded_inner_nm  the same, with the bearings' clearances all taken up towards that stop
    stroke_nm           from dead centre to dead centre
    shim_nm             shim to put between pin and slide (it adds to pin_to_face_nm) that makes both ends alike;
                        negative: take so much out. A half nanometre is dropped
    """

    outer_nm: int
    inner_nm: int
    loaded_outer_nm: int
    loaded_inner_nm: int
    stroke_nm: int
    shim_nm: int

    @property
    def sum_nm(self) -> int:
        """Both loaded ends together [nm]: no shim changes it."""
        return self.loaded_outer_nm + self.loaded_inner_nm

    def evened_nm(self) -> tuple[int, int]:
        """The loaded clearances, outer and inner [nm], once the shim is in."""
        return self.loaded_outer_nm - self.shim_nm, self.loaded_inner_nm + self.shim_nm

    def short_nm(self, least_nm: int) -> int:
        """How much is missing in all for `least_nm` [nm] at each end; 0 where some shim can give it.

        A shim, another rod, stops moved together only share the sum out; more of it comes from a smaller throw, a
        thinner slide or stops farther apart.
        """
        length_not_negative("least_nm", least_nm)
        return max(0, 2 * least_nm - self.sum_nm)


def end_clearances(mechanism: SliderCrank) -> EndClearances:
    """The clearances at both dead centres [nm, nearest]. Assumes stiff parts, cold, and stops square to the line."""
    m = mechanism
    far, near = _reach_nm(m.rod_nm + m.throw_nm, m.offset_nm), _reach_nm(m.rod_nm - m.throw_nm, m.offset_nm)
    outer = m.near_stop_nm + m.between_stops_nm - (far + m.pin_to_face_nm + m.slide_nm)
    inner = near + m.pin_to_face_nm - m.near_stop_nm
    lost = -(-sum(m.clearances_nm) // 2)  # a half nanometre counts against us
    difference = outer - inner
    shim = difference // 2 if difference >= 0 else -(-difference // 2)
    return EndClearances(outer, inner, outer - lost, inner - lost, far - near, shim)


@dataclass(frozen=True, slots=True)
class Sensitivity:
    """What one length does to each clearance [nm per nm]: the coefficients for chains that sum up errors."""

    length: str
    outer: float
    inner: float


def sensitivities(mechanism: SliderCrank) -> Sequence[Sensitivity]:
    """The change of the outer and of the inner clearance for each length, for small changes.

    Rod, pin to face and near stop move the two opposite ways; the throw takes from both, the more the larger the
    offset; slide and stops tell in the outer one alone. Without clearances.
    """
    m = mechanism
    far = (m.rod_nm + m.throw_nm) / _reach_nm(m.rod_nm + m.throw_nm, m.offset_nm)
    near = (m.rod_nm - m.throw_nm) / _reach_nm(m.rod_nm - m.throw_nm, m.offset_nm)
    by_offset = abs(m.offset_nm)
    return (
        Sensitivity("throw_nm", -far, -near),
        Sensitivity("rod_nm", -far, near),
        Sensitivity("pin_to_face_nm", -1.0, 1.0),
        Sensitivity("slide_nm", -1.0, 0.0),
        Sensitivity("near_stop_nm", 1.0, -1.0),
        Sensitivity("between_stops_nm", 1.0, 0.0),
        Sensitivity(
            "offset_nm",
            by_offset / _reach_nm(m.rod_nm + m.throw_nm, m.offset_nm),
            -by_offset / _reach_nm(m.rod_nm - m.throw_nm, m.offset_nm),
        ),
    )


def greatest_throw_nm(mechanism: SliderCrank, least_nm: int) -> int | None:
    """The greatest throw [nm] that leaves `least_nm` [nm] at each loaded end once they are evened by a shim; None where
    even the smallest throw leaves less. Without an offset: (stops − slide − lost) / 2 − least."""

    def enough(throw_nm: int) -> bool:
        return end_clearances(replace(mechanism, throw_nm=throw_nm)).short_nm(least_nm) == 0

    low, high = 0, mechanism.rod_nm - abs(mechanism.offset_nm) - 1  # the sum falls as the throw grows
    while low < high:
        middle = (low + high + 1) // 2
        low, high = (middle, high) if enough(middle) else (low, middle - 1)
    return low or None


def _reach_nm(line_nm: int, offset_nm: int) -> int:
    """√(line² − offset²) [nm], to the nearest, in whole numbers."""
    return (math.isqrt(4 * (line_nm * line_nm - offset_nm * offset_nm)) + 1) // 2
