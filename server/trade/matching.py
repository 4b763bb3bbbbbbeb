"""Matching: which piece to which place.

With as many pieces as places, one size and no limits, the smallest goes to the smallest and so on: no other order has a
larger least clearance, a smaller greatest one, or a smaller spread (exchange argument; tested against every order).
With spare pieces, limits, several sizes or forbidden pairs that no longer holds. Then, in this order: most pairs inside
their limits; the largest worst margin; the most even, which is the least sum of squared distances from the middle of
the limits. Bottleneck assignment by a threshold and bipartite matching, then the assignment problem: H. W. Kuhn, The
Hungarian method for the assignment problem, 1955 (from memory), through scipy.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

from server.trade.bounds import say_length
from server.trade.errors import Impossible, OutOfRange, TradeError

if TYPE_CHECKING:
    from numpy import bool_
    from numpy.typing import NDArray

MOST: Final = 60  # pieces or places

Sizes = Sequence[Sequence[int]]
Pair = tuple[int, int]


@dataclass(frozen=True, slots=True)
class Mating:
    """One of the sizes in which a piece mates with its place, and the clearance wanted [nm] (negative: interference).

    place_is_hole  clearance is the place's size less the piece's; False: the piece's less the place's
    low_nm, high_nm  None: open
    """

    low_nm: int | None = None
    high_nm: int | None = None
    place_is_hole: bool = True

    def __post_init__(self) -> None:
        if self.low_nm is not None and self.high_nm is not None and self.low_nm > self.high_nm:
            why = f"the lower limit is above the upper, {say_length(self.high_nm)}"
            raise Impossible("low_nm", say_length(self.low_nm), why, "a lower limit at or below the upper")


@dataclass(frozen=True, slots=True)
class Choice:
    """One way of sharing out the pieces.

    pairs            (place, piece), by index from 0, in the order of the places; only pairs inside their limits, except
                     in `Matching.as_they_lie`
    inside           how many pairs are inside all their limits
    worst_margin_nm  least distance of a clearance from a limit, inside them [nm]; None where no pair is inside or there
                     are no limits; negative only in `as_they_lie`
    unevenness_nm2   sum of squared distances from the middle of the limits [nm²]; matings with both limits count
    clearances_nm    one for each mating, for each of `pairs` [nm]
    """

    pairs: tuple[Pair, ...]
    inside: int
    worst_margin_nm: int | None
    unevenness_nm2: int
    clearances_nm: tuple[tuple[int, ...], ...]


@dataclass(frozen=True, slots=True)
class Matching:
    """The best choice, what it is worth, and what is nearly as good.

    as_they_lie    the first piece in the first place, and so on
    runner_up      the best of all other choices with as many pairs inside; None where there is none
    tied           the runner-up is exactly as good: take the one that is handier
    near           the runner-up's worst margin is less by no more than `near_nm` of `match`: not to be told apart by
                   measurement; also true of a tie
    """

    best: Choice
    as_they_lie: Choice
    runner_up: Choice | None
    tied: bool
    near: bool
    places_left: tuple[int, ...]
    pieces_left: tuple[int, ...]

    @property
    def pairs_gained(self) -> int:
        """How many more pairs are inside their limits than as they lie."""
        return self.best.inside - self.as_they_lie.inside

    @property
    def margin_gained_nm(self) -> int | None:
        """How much larger the worst margin is than as they lie [nm]; None where there is none to compare."""
        if self.best.worst_margin_nm is None or self.as_they_lie.worst_margin_nm is None:
            return None
        return self.best.worst_margin_nm - self.as_they_lie.worst_margin_nm


def sorted_to_sorted(places_nm: Sequence[int], pieces_nm: Sequence[int]) -> tuple[Pair, ...]:
    """Smallest to smallest: the best order for equal counts, one size [nm] and no limits. Raises Impossible."""
    if len(places_nm) != len(pieces_nm):
        why = "with spares the sorted order is not the best: limits are wanted to choose by"
        raise Impossible("pieces_nm", f"{len(pieces_nm)} sizes", why, f"{len(places_nm)} sizes, as many as places")
    by_place = sorted(range(len(places_nm)), key=lambda i: places_nm[i])
    by_piece = sorted(range(len(pieces_nm)), key=lambda i: pieces_nm[i])
    return tuple(sorted(zip(by_place, by_piece, strict=True)))


def match(
    places_nm: Sizes,
    pieces_nm: Sizes,
    matings: Sequence[Mating],
    *,
    forbidden: Collection[Pair] = (),
    near_nm: int = 0,
) -> Matching:
    """The best choice of pieces for places.

    places_nm, pieces_nm  for each place and each piece, its size for each of `matings` [nm]
    matings    one or more, each with at least one limit; with one mating, no limits, equal counts and nothing
               forbidden, see `sorted_to_sorted`
    forbidden  (place, piece) that must not be paired: the other hand
    near_nm    difference in margin that measurement cannot tell [nm]: the uncertainty of a clearance

    A clearance on its limit is inside. Sizes are taken as measured; leave the uncertainty out of the limits beforehand
    where every pair must be proved. Raises OutOfRange, Impossible, naming the list that is wrong.
    """
    _check(places_nm, pieces_nm, matings, forbidden, near_nm)
    table = _Table(places_nm, pieces_nm, matings, frozenset(forbidden))
    best = table.best(frozenset())
    # Any other choice leaves out at least one of the best one's pairs: the best of those is the runner-up.
    others = [table.best(frozenset((pair,))) for pair in best.pairs]
    others = [each for each in others if each.inside == best.inside]
    runner_up = min(others, key=_worth, default=None)
    near = tied = False
    if runner_up is not None:
        assert best.worst_margin_nm is not None
        assert runner_up.worst_margin_nm is not None
        tied = _worth(runner_up) == _worth(best)
        near = best.worst_margin_nm - runner_up.worst_margin_nm <= near_nm and (near_nm > 0 or tied)
    taken = {place for place, _ in best.pairs}, {piece for _, piece in best.pairs}
    return Matching(
        best,
        table.choice([(i, i) for i in range(min(len(places_nm), len(pieces_nm)))]),
        runner_up,
        tied,
        near,
        tuple(i for i in range(len(places_nm)) if i not in taken[0]),
        tuple(i for i in range(len(pieces_nm)) if i not in taken[1]),
    )


def least_cost(costs: Sequence[Sequence[float]]) -> tuple[Pair, ...]:
    """(row, column) for as many rows as there can be, so that the sum of their costs is least. Any shape of table."""
    import numpy as np
    from scipy.optimize import linear_sum_assignment  # type: ignore[import-untyped, unused-ignore]

    rows, columns = linear_sum_assignment(np.asarray(costs, dtype=float))
    return tuple((int(row), int(column)) for row, column in zip(rows, columns, strict=True))


def _worth(choice: Choice) -> tuple[int, int, int]:
    """Smaller is better."""
    margin = choice.worst_margin_nm
    return -choice.inside, 0 if margin is None else -margin, choice.unevenness_nm2


class _Table:
    """Margins and unevenness of every pair."""

    def __init__(
        self, places_nm: Sizes, pieces_nm: Sizes, matings: Sequence[Mating], forbidden: frozenset[Pair]
    ) -> None:
        self.clearances: dict[Pair, tuple[int, ...]] = {}
        self.margins: dict[Pair, int] = {}
        self.uneven: dict[Pair, int] = {}  # four times the square, so that half nanometres stay whole
        self.forbidden = forbidden
        self.shape = len(places_nm), len(pieces_nm)
        for i, place in enumerate(places_nm):
            for j, piece in enumerate(pieces_nm):
                gaps = tuple(
                    (a - b if mating.place_is_hole else b - a)
                    for a, b, mating in zip(place, piece, matings, strict=True)
                )
                self.clearances[i, j] = gaps
                self.margins[i, j] = min(
                    room
                    for gap, mating in zip(gaps, matings, strict=True)
                    for room in (
                        None if mating.low_nm is None else gap - mating.low_nm,
                        None if mating.high_nm is None else mating.high_nm - gap,
                    )
                    if room is not None
                )
                self.uneven[i, j] = sum(
                    (2 * gap - mating.low_nm - mating.high_nm) ** 2
                    for gap, mating in zip(gaps, matings, strict=True)
                    if mating.low_nm is not None and mating.high_nm is not None
                )

    def choice(self, pairs: Sequence[Pair]) -> Choice:
        pairs = tuple(sorted(pairs))
        inside = [pair for pair in pairs if self.margins[pair] >= 0 and pair not in self.forbidden]
        worst = min((self.margins[pair] for pair in pairs if pair not in self.forbidden), default=None)
        return Choice(
            pairs,
            len(inside),
            worst,
            sum(self.uneven[pair] for pair in pairs) // 4,
            tuple(self.clearances[pair] for pair in pairs),
        )

    def best(self, without: frozenset[Pair]) -> Choice:
        """The best choice with the pairs of `without` left out."""
        import numpy as np

        margins = np.full(self.shape, -1, dtype=np.int64)
        for pair, margin in self.margins.items():
            if margin >= 0 and pair not in self.forbidden and pair not in without:
                margins[pair] = margin
        most = _pairs_at_most(margins >= 0)
        if most == 0:
            return self.choice([])
        # the largest threshold that still gives as many pairs
        steps = sorted({int(margin) for margin in margins.flat if margin >= 0})
        first, last = 0, len(steps) - 1
        while first < last:
            middle = (first + last + 1) // 2
            if _pairs_at_most(margins >= steps[middle]) == most:
                first = middle
            else:
                last = middle - 1
        allowed = margins >= steps[first]
        return self.choice(_most_even(allowed, lambda pair: self.uneven[pair], most))


def _pairs_at_most(allowed: NDArray[bool_]) -> int:
    from scipy.sparse import csr_array  # type: ignore[import-untyped, unused-ignore]
    from scipy.sparse.csgraph import maximum_bipartite_matching  # type: ignore[import-untyped, unused-ignore]

    return int((maximum_bipartite_matching(csr_array(allowed), perm_type="column") >= 0).sum())


def _most_even(allowed: NDArray[bool_], uneven: Callable[[Pair], int], most: int) -> list[Pair]:
    """`most` of the allowed pairs with the least unevenness in all.

    A pair that is not allowed costs more than all allowed ones together could: the fewest of them are used, and those
    stand for places left empty.
    """
    import numpy as np

    pairs = [(int(i), int(j)) for i, j in zip(*np.nonzero(allowed), strict=True)]
    greatest = max(uneven(pair) for pair in pairs)
    never = (greatest + 1) * (min(allowed.shape) + 1)
    costs = np.full(allowed.shape, float(never))
    for pair in pairs:
        costs[pair] = float(uneven(pair))
    chosen = [pair for pair in least_cost(costs.tolist()) if allowed[pair]]
    assert len(chosen) == most
    return chosen


def _check(
    places_nm: Sizes, pieces_nm: Sizes, matings: Sequence[Mating], forbidden: Collection[Pair], near_nm: int
) -> None:
    if not matings:
        raise Impossible("matings", "none", "nothing is said of how they mate", "one mating or more")
    for mating in matings:
        if mating.low_nm is None and mating.high_nm is None:
            why = "without limits there is nothing to choose by"
            raise Impossible("matings", "no limits", why, "one limit or two for each; else sorted_to_sorted")
    for field, lists in (("places_nm", places_nm), ("pieces_nm", pieces_nm)):
        if not 1 <= len(lists) <= MOST:
            raise OutOfRange(field, f"{len(lists)} of them", "that many cannot be matched", f"1 to {MOST}")
        for number, sizes in enumerate(lists, 1):
            if len(sizes) != len(matings):
                raise _wrong_sizes(field, number, len(sizes), len(matings))
    for i, j in forbidden:
        if not (0 <= i < len(places_nm) and 0 <= j < len(pieces_nm)):
            accepts = f"places 0 to {len(places_nm) - 1}, pieces 0 to {len(pieces_nm) - 1}"
            raise OutOfRange("forbidden", (i, j), "there is no such pair", accepts)
    if near_nm < 0:
        raise OutOfRange("near_nm", near_nm, "it must not be negative", "a length of 0 or more")


def _wrong_sizes(field: str, number: int, count: int, wanted: int) -> TradeError:
    return Impossible(field, f"{count} sizes", f"number {number} has another count of sizes than matings", f"{wanted}")
