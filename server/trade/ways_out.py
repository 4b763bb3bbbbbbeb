"""Ways out where a dimension has no window: what one change would open it, the cheapest first.

Each way moves one thing by the least that helps. Cheapest first means: hold a member closer that is not made yet (no
metal has been cut), measure again and better, cut again a mate that has metal left, give way on a limit (common
practice, no source); within a kind, the smallest change.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from fractions import Fraction
from typing import Final, Literal

from server.trade.bounds import length_not_negative
from server.trade.chains import Drawn, Member
from server.trade.errors import Unreadable
from server.trade.windows import Bound, Demand, Unmade, bounds

Kind = Literal["hold closer", "measure better", "cut again", "give way"]
_CHEAPEST_FIRST: Final[tuple[Kind, ...]] = ("hold closer", "measure better", "cut again", "give way")


@dataclass(frozen=True, slots=True)
class Recut:
    """A measured member that could be cut again: what cutting does to it, and the limit beyond which it is scrap [nm]
    (None: none is known)."""

    name: str
    cutting: Literal["smaller", "larger"]
    far_limit_nm: int | None = None

    def __post_init__(self) -> None:
        if self.cutting not in ("smaller", "larger"):
            raise Unreadable("cutting", self.cutting, "it is not what cutting again does", "smaller or larger")


@dataclass(frozen=True, slots=True)
class Way:
    """One change that opens a window.

    name   the member, the chain or fit, "own limits", or the dimension itself (its own reading)
    what   what of it is changed: its low or high limit, its measured size, or its uncertainty U
    by_nm  by how much [nm], the least that helps
    to_nm  what it becomes [nm]
    """

    kind: Kind
    name: str
    what: Literal["low", "high", "size", "uncertainty"]
    by_nm: int
    to_nm: int


@dataclass(frozen=True, slots=True)
class _Change:
    """A way before its amount is known: `rate` says how fast it moves a bound [nm/nm]; `most_nm` how far it can go;
    the thing itself goes from `from_nm` in the direction of `sign`."""

    kind: Kind
    name: str
    what: Literal["low", "high", "size", "uncertainty"]
    sign: int
    from_nm: float
    most_nm: float
    rate: Callable[[Bound], Fraction]


def ways_out(
    unmade: Unmade, demands: Sequence[Demand], recuts: Sequence[Recut] = (), room_nm: int = 0
) -> tuple[Way, ...]:
    """Every single change that gives `unmade` a window at least `room_nm` [nm] wide, cheapest first.

    Nothing where the window is that wide already, and nothing where no one change is enough. Members are the same one
    where they have the same name, also in several demands. Amounts are exact for coefficients of 1 and −1, good to a
    few nm for others. Raises OutOfRange.
    """
    length_not_negative("room_nm", room_nm)
    found = bounds(unmade, demands)
    ways: list[Way] = []
    for change in _changes(unmade, demands, recuts):
        by_nm = _least(change, found, room_nm)
        if by_nm is not None and 0 < by_nm <= change.most_nm:
            to_nm = math.floor(change.from_nm) + change.sign * by_nm
            ways.append(Way(change.kind, change.name, change.what, by_nm, to_nm))
    return tuple(sorted(ways, key=lambda way: (_CHEAPEST_FIRST.index(way.kind), way.by_nm, way.name, way.what)))


def _least(change: _Change, found: Sequence[Bound], room_nm: int) -> int | None:
    """The least amount that brings every lower bound under every upper one, room included; None where none does."""
    least, most = Fraction(0), Fraction(10**18)
    highs = [(each.end.size_nm, change.rate(each)) for each in found if each.side == "high"]
    for low, low_rate in ((each.end.size_nm, change.rate(each)) for each in found if each.side == "low"):
        for high, high_rate in highs:
            closing, gap = high_rate - low_rate, low + room_nm - high  # wanted: gap <= closing × amount
            if closing > 0:
                least = max(least, gap / closing)
            elif closing < 0:
                most = min(most, gap / closing)
            elif gap > 0:
                return None
    return math.ceil(least) if math.ceil(least) <= most else None


def _changes(unmade: Unmade, demands: Sequence[Demand], recuts: Sequence[Recut]) -> Iterator[_Change]:
    owners: list[tuple[str, Demand | None, Unmade | Demand]] = [("own limits", None, unmade)]
    owners.extend((each.name, each, each) for each in demands)
    for name, demand, limits in owners:
        if limits.low_nm is not None:
            yield _limit(name, demand, "low", -1, limits.low_nm)
        if limits.high_nm is not None:
            yield _limit(name, demand, "high", 1, limits.high_nm)
    yield _Change(
        "measure better", unmade.name, "uncertainty", -1, unmade.u_expanded_nm, unmade.u_expanded_nm, _own_reading
    )
    can_cut = {each.name: each for each in recuts}
    members = {each.name: each for demand in demands for each in demand.others}
    for name, member in members.items():
        if isinstance(member, Drawn):
            width = member.high_nm - member.low_nm
            yield _Change("hold closer", name, "low", 1, member.low_nm, width, _closer(name, "low"))
            yield _Change("hold closer", name, "high", -1, member.high_nm, width, _closer(name, "high"))
            continue
        u = member.u_expanded_nm
        yield _Change("measure better", name, "uncertainty", -1, u, u, _better(name))
        if recut := can_cut.get(name):
            sign = -1 if recut.cutting == "smaller" else 1
            room = math.inf if recut.far_limit_nm is None else sign * (recut.far_limit_nm - member.size_nm)
            yield _Change("cut again", name, "size", sign, member.size_nm, room, _shifted(name, sign))


def _limit(name: str, demand: Demand | None, side: Literal["low", "high"], sign: int, limit_nm: int) -> _Change:
    def rate(bound: Bound) -> Fraction:
        if bound.demand is not demand or bound.end.reason.limit != side:
            return Fraction(0)
        return sign / (Fraction(demand.coefficient) if demand else Fraction(1))

    return _Change("give way", name, side, sign, limit_nm, math.inf, rate)


def _own_reading(bound: Bound) -> Fraction:
    return Fraction(-1 if bound.side == "low" else 1)


def _coefficients(bound: Bound, name: str) -> list[Fraction]:
    """The coefficients of a member in the demand behind a bound, over that of the unmade dimension."""
    if bound.demand is None:
        return []
    named: list[Member] = [each for each in bound.demand.others if each.name == name]
    return [Fraction(each.coefficient) for each in named]


def _over(bound: Bound, moved: Fraction) -> Fraction:
    """What a bound does when the rest of its demand moves by `moved`."""
    return -moved / Fraction(bound.demand.coefficient) if bound.demand else Fraction(0)


def _closer(name: str, end: Literal["low", "high"]) -> Callable[[Bound], Fraction]:
    """A drawn member's limit moved inwards: it tells in the least of the rest where it is its least that counts."""

    def rate(bound: Bound) -> Fraction:
        moved = Fraction(0)
        for c in _coefficients(bound, name):
            in_the_least = (c > 0) == (end == "low")
            if in_the_least == (bound.end.reason.limit == "low"):
                moved += abs(c) if in_the_least else -abs(c)
        return _over(bound, moved)

    return rate


def _better(name: str) -> Callable[[Bound], Fraction]:
    def rate(bound: Bound) -> Fraction:
        moved = sum((abs(c) for c in _coefficients(bound, name)), Fraction(0))
        return _over(bound, moved if bound.end.reason.limit == "low" else -moved)

    return rate


def _shifted(name: str, sign: int) -> Callable[[Bound], Fraction]:
    return lambda bound: _over(bound, sign * sum(_coefficients(bound, name), Fraction(0)))
