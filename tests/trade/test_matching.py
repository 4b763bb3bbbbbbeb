"""Matching against every order there is, and by hand. Published values: tests/published/test_matching.py."""

from __future__ import annotations

import itertools
import random

import pytest

from server.trade.errors import Impossible, OutOfRange, TradeError
from server.trade.matching import Mating, Pair, match, sorted_to_sorted

Key = tuple[int, int, int]


def every_choice(
    holes: list[list[int]], pins: list[list[int]], matings: list[Mating], forbidden: set[Pair]
) -> dict[frozenset[Pair], Key]:
    """Every set of pairs inside their limits that an order of the pieces can give, and what it is worth."""
    margins: dict[Pair, int] = {}
    uneven: dict[Pair, int] = {}
    for i, j in itertools.product(range(len(holes)), range(len(pins))):
        if (i, j) in forbidden:
            continue
        rooms, squares = [], 0
        for a, b, mating in zip(holes[i], pins[j], matings, strict=True):
            gap = a - b if mating.place_is_hole else b - a
            assert mating.low_nm is not None
            rooms.append(gap - mating.low_nm)
            if mating.high_nm is not None:
                rooms.append(mating.high_nm - gap)
                squares += (2 * gap - mating.low_nm - mating.high_nm) ** 2
        if min(rooms) >= 0:
            margins[i, j], uneven[i, j] = min(rooms), squares
    found: dict[frozenset[Pair], Key] = {}
    few, many = sorted((len(holes), len(pins)))
    for order in itertools.permutations(range(many), few):
        lined = enumerate(order) if len(holes) == few else ((hole, pin) for pin, hole in enumerate(order))
        pairs = frozenset(pair for pair in lined if pair in margins)
        if pairs:
            worst = min(margins[pair] for pair in pairs)
            found[pairs] = (-len(pairs), -worst, sum(uneven[pair] for pair in pairs))
    return found


@pytest.mark.parametrize("seed", range(200))
def test_best_choice_and_runner_up_are_those_of_every_order(seed: int) -> None:
    rng = random.Random(seed)
    largest = 7 if seed % 25 == 0 else 5
    n, m = (largest, largest) if seed % 25 == 0 else (rng.randint(1, largest), rng.randint(1, largest))
    count = rng.randint(1, 2)
    holes = [[rng.randrange(0, 40) for _ in range(count)] for _ in range(n)]
    pins = [[rng.randrange(-30, 20) for _ in range(count)] for _ in range(m)]
    matings = []
    for _ in range(count):
        around = rng.randint(5, 20)
        if rng.random() < 0.7:
            matings.append(Mating(around - 15, around + 25))
        else:
            matings.append(Mating(-around - 25, None, place_is_hole=False))
    forbidden = {(i, j) for i in range(n) for j in range(m) if rng.random() < 0.15}
    found = match(holes, pins, matings, forbidden=forbidden)
    choices = every_choice(holes, pins, matings, forbidden)
    if not choices:
        assert found.best.inside == 0
        return
    best = min(choices.values())
    pairs = frozenset(found.best.pairs)
    assert pairs in choices
    assert choices[pairs] == best
    assert (found.best.inside, found.best.worst_margin_nm) == (-best[0], -best[1])
    others = [key for other, key in choices.items() if other != pairs and key[0] == best[0]]
    if not others:
        assert found.runner_up is None
    else:
        assert found.runner_up is not None
        assert choices[frozenset(found.runner_up.pairs)] == min(others)
        assert found.tied == (min(others) == best)


def test_order_of_the_pieces_does_not_change_what_the_choice_is_worth() -> None:
    rng = random.Random(5)
    holes = [[20_000_000 + rng.randrange(20_000)] for _ in range(8)]
    pins = [[19_980_000 + rng.randrange(20_000)] for _ in range(10)]
    first = match(holes, pins, [Mating(5_000, 35_000)]).best
    rng.shuffle(pins)
    rng.shuffle(holes)
    other = match(holes, pins, [Mating(5_000, 35_000)]).best
    assert (first.inside, first.worst_margin_nm, first.unevenness_nm2) == (
        other.inside,
        other.worst_margin_nm,
        other.unevenness_nm2,
    )


def test_other_hand_is_never_paired() -> None:
    """By hand: the only fit of place 0 is piece 0, of the other hand."""
    found = match([[10], [20]], [[0], [10]], [Mating(5, 15)], forbidden=[(0, 0)])
    assert found.best.pairs == ((1, 1),)
    assert found.places_left == (0,)
    assert found.as_they_lie.inside == 1


def test_gain_over_the_order_they_lie_in() -> None:
    """By hand: as they lie 0 and 20 from 0 to 20: no margin; the other way 10 and 10: a margin of 10."""
    found = match([[30], [40]], [[30], [20]], [Mating(0, 20)])
    assert found.best.pairs == ((0, 1), (1, 0))
    assert (found.pairs_gained, found.margin_gained_nm) == (0, 10)


def test_ties_and_near_ties_are_told() -> None:
    alike = match([[20], [20]], [[10], [10]], [Mating(5, 15)])
    assert alike.tied
    assert alike.near
    by_three = [[20], [23]], [[10], [10 + 1]]
    close = match(*by_three, [Mating(5, 15)], near_nm=2)
    assert not close.tied
    assert close.near
    assert not match(*by_three, [Mating(5, 15)]).near


def test_spare_piece_replaces_the_one_that_fits_worst() -> None:
    """By hand: two places, three pieces, the middle one best left out."""
    found = match([[100], [120]], [[90], [99], [110]], [Mating(5, 15)])
    assert found.best.pairs == ((0, 0), (1, 2))
    assert found.pieces_left == (1,)


def test_fifty_of_each_are_matched() -> None:
    rng = random.Random(1)
    holes = [[rng.randrange(30_000)] for _ in range(50)]
    pins = [[rng.randrange(-30_000, 0)] for _ in range(50)]
    found = match(holes, pins, [Mating(10_000, 50_000)])
    assert found.best.inside >= found.as_they_lie.inside


@pytest.mark.parametrize(
    ("field", "error", "wrong"),
    [
        ("pieces_nm", Impossible, lambda: sorted_to_sorted([1], [1, 2])),
        ("matings", Impossible, lambda: match([[1]], [[1]], [])),
        ("matings", Impossible, lambda: match([[1]], [[1]], [Mating()])),
        ("low_nm", Impossible, lambda: Mating(2, 1)),
        ("places_nm", OutOfRange, lambda: match([], [[1]], [Mating(0)])),
        ("pieces_nm", OutOfRange, lambda: match([[1]], [], [Mating(0)])),
        ("pieces_nm", Impossible, lambda: match([[1]], [[1, 2]], [Mating(0)])),
        ("forbidden", OutOfRange, lambda: match([[1]], [[1]], [Mating(0)], forbidden=[(1, 0)])),
        ("near_nm", OutOfRange, lambda: match([[1]], [[1]], [Mating(0)], near_nm=-1)),
    ],
)
def test_bad_input_is_told_with_its_field(field: str, error: type[TradeError], wrong: object) -> None:
    with pytest.raises(error) as told:
        wrong()  # type: ignore[operator]
    assert told.value.field == field
