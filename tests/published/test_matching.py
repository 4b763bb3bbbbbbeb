"""Matching against published and worked examples; source and standing beside each."""

from __future__ import annotations

import itertools
import random

from server.trade.matching import Mating, least_cost, match, sorted_to_sorted


def nm(*sizes_mm: float) -> list[list[int]]:
    return [[round(size * 1_000_000)] for size in sizes_mm]


def test_assignment_of_the_scipy_documentation() -> None:
    """scipy.optimize.linear_sum_assignment, example (from memory, and computed): columns 1, 0, 2, cost 5. Taking the
    smallest first comes to 6."""
    costs = [[4, 1, 3], [2, 0, 5], [3, 2, 2]]
    assert [column for _, column in least_cost(costs)] == [1, 0, 2]
    assert sum(costs[row][column] for row, column in least_cost(costs)) == 5


def test_selective_assembly_where_all_fit() -> None:
    """Computed by every order: holes and pins in mm, clearance 0.012 to 0.020: four pairs."""
    holes, pins = nm(20.010, 20.014, 20.018, 20.021), nm(19.994, 19.998, 20.001, 20.004)
    found = match(holes, pins, [Mating(12_000, 20_000)])
    assert found.best.inside == 4
    assert found.best.pairs == ((0, 0), (1, 1), (2, 2), (3, 3))


def test_three_holes_and_five_pins() -> None:
    """Counting: three matched, two pins left over."""
    found = match(nm(10.010, 10.012, 10.014), nm(9.99, 9.992, 9.994, 9.996, 9.998), [Mating(10_000, 30_000)])
    assert found.best.inside == 3
    assert len(found.pieces_left) == 2
    assert found.places_left == ()


def test_equal_ladders() -> None:
    """Computed: sorted to sorted leaves 0.02 everywhere, 0.01 from each limit."""
    found = match(nm(10.0, 10.01, 10.02), nm(9.98, 9.99, 10.0), [Mating(10_000, 30_000)])
    assert (found.best.inside, found.best.worst_margin_nm) == (3, 10_000)
    assert found.best.clearances_nm == ((20_000,),) * 3


def test_sorted_is_not_the_best_for_the_count() -> None:
    """Computed: sorted gives 1.1 three times, of which none fits 0 to 0.2; shifted by one there are two good fits."""
    found = match(nm(1.1, 2.1, 3.1), nm(0, 1, 2), [Mating(0, 200_000)])
    assert (found.best.inside, found.best.worst_margin_nm) == (2, 100_000)
    assert found.best.pairs == ((0, 1), (1, 2))
    assert (found.places_left, found.pieces_left) == ((2,), (0,))


def test_nothing_fits() -> None:
    """Computed: 0.005 lies outside 0.01 to 0.03."""
    found = match(nm(10.005), nm(10.0), [Mating(10_000, 30_000)])
    assert (found.best.inside, found.best.worst_margin_nm, found.best.pairs) == (0, None, ())
    assert found.as_they_lie.worst_margin_nm == -5_000


def test_sorted_is_best_by_every_criterion_for_equal_counts_without_limits() -> None:
    """Exchange argument; 300 sets of five, each against all 120 orders: no order better by any criterion."""
    rng = random.Random(1)
    for _ in range(300):
        holes, pins = ([rng.randrange(10_000) for _ in range(5)] for _ in range(2))
        gaps = [holes[i] - pins[j] for i, j in sorted_to_sorted(holes, pins)]
        orders = [
            [hole - pin for hole, pin in zip(holes, order, strict=True)] for order in itertools.permutations(pins)
        ]
        assert min(gaps) == max(min(order) for order in orders)
        assert max(gaps) == min(max(order) for order in orders)
        assert max(gaps) - min(gaps) == min(max(order) - min(order) for order in orders)
        assert sum(gap * gap for gap in gaps) == min(sum(gap * gap for gap in order) for order in orders)
