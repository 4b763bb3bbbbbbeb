"""The window of a dimension not made yet: the sizes still open to it, and why.

Its own limits, cut down by every chain and fit it belongs to: by what the measured members have left, each with its
uncertainty, and by the limits of the members not made yet, at their worst. For a total a·x + rest, with the rest from
r0 to r1 and the total wanted from g0 to g1: x from (g0 − r0)/a to (g1 − r1)/a, the other way about for a < 0 (interval
arithmetic; computed, no source). A fit is a chain of two: hole less shaft.

How far the windows lie inside what would just do (the guard band) is the sum of the expanded uncertainties, that of the
reading still to be taken included: a size read inside the window keeps every total inside its limits.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from typing import Literal

from server.trade.bounds import say_length
from server.trade.chains import Measured, Member, worst_case
from server.trade.errors import Impossible, Unreadable
from server.trade.limits import Cutting
from server.trade.within import within


@dataclass(frozen=True, slots=True)
class Unmade:
    """The dimension the window is for.

    low_nm, high_nm  its own limits [nm]; None: open
    cutting          what removing metal does to it
    u_expanded_nm    expanded uncertainty of the reading that will judge it, U = 2u [nm]
    gauge, u_gauge_nm  gauge whose error it will share with members already measured, and that error's U [nm]
    """

    name: str
    low_nm: int | None
    high_nm: int | None
    cutting: Cutting
    u_expanded_nm: float = 0.0
    gauge: str = ""
    u_gauge_nm: float = 0.0

    def __post_init__(self) -> None:
        if self.cutting not in ("smaller", "larger", "neither"):
            raise Unreadable("cutting", self.cutting, "it is not what cutting does", "smaller, larger or neither")
        within("u_expanded_nm", self.u_expanded_nm, 0.0, unit="nm")
        within("u_gauge_nm", self.u_gauge_nm, 0.0, unit="nm")
        if self.low_nm is not None and self.high_nm is not None and self.low_nm > self.high_nm:
            why = f"the lower limit is above the upper, {say_length(self.high_nm)}"
            raise Impossible("low_nm", say_length(self.low_nm), why, "a lower limit at or below the upper")


@dataclass(frozen=True, slots=True)
class Demand:
    """A chain or fit that the unmade dimension belongs to: coefficient·dimension + others, wanted from low to high.

    coefficient      of the unmade dimension [-], not 0
    low_nm, high_nm  limits of the total [nm]; None: open
    others           the other members, measured or drawn; at least one
    """

    name: str
    coefficient: float
    low_nm: int | None
    high_nm: int | None
    others: tuple[Member, ...]

    def __post_init__(self) -> None:
        if not self.others:
            raise Impossible("others", "none", "a chain or fit has another member", "one or more members")
        if self.low_nm is None and self.high_nm is None:
            raise Impossible("low_nm", "no limits", "a total without limits asks for nothing", "one limit or two")
        if self.low_nm is not None and self.high_nm is not None and self.low_nm > self.high_nm:
            why = f"the lower limit is above the upper, {say_length(self.high_nm)}"
            raise Impossible("low_nm", say_length(self.low_nm), why, "a lower limit at or below the upper")
        Measured("", self.coefficient, 0)  # refuses a coefficient that does nothing


@dataclass(frozen=True, slots=True)
class Reason:
    """Why an end of the window is where it is.

    source    "own limits", or the name of the chain or fit
    limit     which limit of the source it is, and limit_nm what that is [nm]
    rest_nm   what the other members come to at their worst for this end [nm], uncertainties left out; 0 for own limits
    guard_nm  how far the end was moved inwards for uncertainty [nm]
    measured, drawn  names of the other members that are measured, and of those only drawn
    """

    source: str
    limit: Literal["low", "high"]
    limit_nm: int
    rest_nm: int
    guard_nm: int
    measured: tuple[str, ...] = ()
    drawn: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class End:
    size_nm: int
    reason: Reason


@dataclass(frozen=True, slots=True)
class Window:
    """The sizes still open [nm]. An end is None where nothing limits it. Where `short_nm` is more than 0 there is none:
    the lower end lies that far above the upper, and the two reasons are what cannot be had together."""

    low: End | None
    high: End | None

    @property
    def short_nm(self) -> int:
        if self.low is None or self.high is None:
            return 0
        return max(0, self.low.size_nm - self.high.size_nm)

    @property
    def is_open(self) -> bool:
        return self.short_nm == 0

    @property
    def width_nm(self) -> int | None:
        """Room between the ends [nm]; negative where there is no window; None where an end is open."""
        return None if self.low is None or self.high is None else self.high.size_nm - self.low.size_nm

    def holds(self, size_nm: int) -> bool:
        """Whether a size [nm] is in the window, its ends included."""
        above = self.low is None or size_nm >= self.low.size_nm
        return above and (self.high is None or size_nm <= self.high.size_nm)


def window(unmade: Unmade, demands: Sequence[Demand] = ()) -> Window:
    """The sizes still open to `unmade` under its own limits and every one of `demands`; rounded inwards to whole nm.

    Members that share a gauge with the unmade one count with that error once: what cancels, cancels. Drawn members
    count at their limits, whatever distribution is stated for them.
    """
    found = bounds(unmade, demands)
    lows = [each.end for each in found if each.side == "low"]
    highs = [each.end for each in found if each.side == "high"]
    low = max(lows, key=lambda end: end.size_nm) if lows else None
    high = min(highs, key=lambda end: end.size_nm) if highs else None
    return Window(low, high)


def target_nm(found: Window, cutting: Cutting, lean: float = 0.0) -> int:
    """The size to cut to [nm]: the middle, or nearer the end from which metal can still come off.

    lean  0 the middle, 1 that end itself [-]. Cutting makes smaller: the upper end; larger: the lower; neither: lean is
          not used. Which lean is right hangs on how far a cut misses: see server.trade.next_cut.
    With one end open, that end is all there is to aim at. Raises Impossible where there is no window, or no end.
    """
    within("lean", lean, 0.0, 1.0)
    if not found.is_open:
        raise Impossible("window", say_length(-found.short_nm), "there is no size to aim at", "a window that is open")
    if found.low is None or found.high is None:
        only = found.low or found.high
        if only is None:
            raise Impossible("window", "no limits", "nothing limits this dimension", "a limit, a chain or a fit")
        return only.size_nm
    width = Fraction(found.high.size_nm - found.low.size_nm)
    share = Fraction(1, 2)
    if cutting == "smaller":
        share += Fraction(lean) / 2
    elif cutting == "larger":
        share -= Fraction(lean) / 2
    return found.low.size_nm + math.floor(share * width)


def fit(
    name: str, mate: Member, low_nm: int | None, high_nm: int | None, unmade_is: Literal["hole", "shaft"]
) -> Demand:
    """The demand of a fit: clearance hole less shaft, from low to high [nm] (negative: interference).

    mate  the other side, measured or drawn; its coefficient is set here
    """
    a = 1 if unmade_is == "hole" else -1
    return Demand(name, a, low_nm, high_nm, (replace(mate, coefficient=-a),))


@dataclass(frozen=True, slots=True)
class Bound:
    """One end that the dimension's own limits (demand None) or a demand would set by itself."""

    side: Literal["low", "high"]
    end: End
    demand: Demand | None


def bounds(unmade: Unmade, demands: Sequence[Demand]) -> list[Bound]:
    """Every end that the dimension's own limits and each demand set; the window lies between the innermost two."""
    found: list[Bound] = []
    guard = math.ceil(unmade.u_expanded_nm + unmade.u_gauge_nm)
    if unmade.low_nm is not None:
        reason = Reason("own limits", "low", unmade.low_nm, 0, guard)
        found.append(Bound("low", End(unmade.low_nm + guard, reason), None))
    if unmade.high_nm is not None:
        reason = Reason("own limits", "high", unmade.high_nm, 0, guard)
        found.append(Bound("high", End(unmade.high_nm - guard, reason), None))
    for demand in demands:
        found.extend(_of(demand, unmade))
    return found


def _of(demand: Demand, unmade: Unmade) -> list[Bound]:
    found: list[Bound] = []
    a = Fraction(demand.coefficient)
    itself = Measured("", demand.coefficient, 0, unmade.u_expanded_nm, unmade.gauge, unmade.u_gauge_nm)
    guarded = worst_case((*demand.others, itself))
    bare = worst_case([_without_error(each) for each in demand.others])
    measured = tuple(each.name for each in demand.others if isinstance(each, Measured))
    drawn = tuple(each.name for each in demand.others if not isinstance(each, Measured))
    limits: tuple[tuple[Literal["low", "high"], int | None, int, int], ...] = (
        ("low", demand.low_nm, guarded.low_nm, bare.low_nm),
        ("high", demand.high_nm, guarded.high_nm, bare.high_nm),
    )
    for limit, limit_nm, rest_nm, bare_nm in limits:
        if limit_nm is None:
            continue
        size = Fraction(limit_nm - rest_nm) / a
        moved = math.ceil(abs(Fraction(rest_nm - bare_nm) / a))
        reason = Reason(demand.name, limit, limit_nm, bare_nm, moved, measured, drawn)
        if (limit == "low") == (a > 0):
            found.append(Bound("low", End(math.ceil(size), reason), demand))
        else:
            found.append(Bound("high", End(math.floor(size), reason), demand))
    return found


def _without_error(member: Member) -> Member:
    return Measured(member.name, member.coefficient, member.size_nm) if isinstance(member, Measured) else member
