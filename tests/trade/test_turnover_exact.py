from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings

from server.trade.errors import TradeError
from server.trade.turnover import turn_over
from server.trade.turnover_exact import crosses_dead_centres, exact_shortage_nm, passes
from server.trade.turnover_first_order import crank_angles
from server.trade.turnover_train import CrankSide, TrainGeometry
from tests.trade.turnover_sets import trains, two_shafts


def order_nm(train: TrainGeometry) -> float:
    """The square of all errors and clearances together over the throw: what the first order may leave out [nm]."""
    total = 0.0
    for side in (train.near, train.far):
        total += abs(side.spacing_error_nm(0)) + abs(side.throws_nm[1] - side.throws_nm[0])
        total += (sum(side.rod_clearances_nm[0]) + sum(side.shaft_clearances_nm)) / 2
    total += 20e6 * abs(np.radians(train.quartering(1) - train.quartering(0)))
    return float(total**2 / 20e6)


@settings(max_examples=40)
@given(trains(most_shafts=2))
def test_first_order_agrees_with_the_exact_check_within_its_order(train: TrainGeometry) -> None:
    exact, first = exact_shortage_nm(train, 72), turn_over(train, 72).shortage_nm
    least = -min(sum(side.rod_clearances_nm[0]) + sum(side.shaft_clearances_nm) for side in (train.near, train.far)) / 2
    assert max(first, least) == pytest.approx(exact, abs=2 * order_nm(train) + 1)


@settings(max_examples=40)
@given(trains(most_shafts=2))
def test_what_the_exact_check_passes_at_an_angle_the_first_order_passes_within_its_order(train: TrainGeometry) -> None:
    found = turn_over(train, 36)
    angles = np.array(found.angles_deg)
    stands = passes(train, angles)
    near_dead = np.abs(np.sin(np.radians(2 * angles))) < 0.1  # there a position may lean onto the other branch
    slack = 20 * order_nm(train) + 1
    for angle, ok, s, skip in zip(angles, stands, found.shortages_nm, near_dead, strict=True):
        if not skip and abs(s) > slack:
            assert ok == (s < 0), angle


def test_a_perfect_set_without_clearance_passes_everywhere() -> None:
    train = two_shafts()
    assert passes(train, crank_angles(90.0, 36)).all()
    assert crosses_dead_centres(train)
    assert exact_shortage_nm(train) == pytest.approx(0.0, abs=1e-3)


def test_at_a_dead_centre_a_position_exists_that_turning_cannot_use() -> None:
    """A rod 0.1 µm longer than its clearance covers: leaning over finds a place at 180°, the pins do not line up."""
    train = two_shafts(near_rod_off=-10_100, far_rod_off=0, clearance=10_000)
    leaning = replace(train, far=replace(train.far, rod_clearances_nm=((200_000, 200_000),)))
    assert passes(leaning, np.array([0.0, 90.0, 180.0])).tolist() == [False, True, True]
    assert not crosses_dead_centres(leaning)
    assert exact_shortage_nm(leaning) == pytest.approx(100, abs=1)
    assert turn_over(leaning).shortage_nm == pytest.approx(100, abs=1)


def test_the_pins_must_line_up_even_where_a_position_is_found_at_every_angle() -> None:
    """Rod long and second throw long: nothing amiss at 0°, 10.1 µm at 180°, where only leaning over finds a place."""
    near = {"rods_nm": (120_005_050,), "throws_nm": (20_000_000, 20_005_050), "rod_clearances_nm": ((10_000, 10_000),)}
    far = two_shafts(clearance=200_000).far
    train = TrainGeometry(replace(far, **near), far)
    assert passes(train, crank_angles(90.0)).all()
    assert not crosses_dead_centres(train)
    assert exact_shortage_nm(train) == pytest.approx(100, abs=1)
    assert turn_over(train).shortage_nm == pytest.approx(100, abs=1)


def test_rods_with_more_than_their_clearance_amiss_do_not_pass_half_way() -> None:
    train = two_shafts(40_000, -40_000, 10_000)
    stands = passes(train, np.array([45.0, 135.0]))
    assert stands.tolist() != [True, True]


def test_exact_check_is_for_two_shafts() -> None:
    side = CrankSide((120_000_000,) * 2, (120_000_000,) * 2, (20_000_000,) * 3, ((0, 0),) * 2)
    for check in (exact_shortage_nm, crosses_dead_centres):
        with pytest.raises(TradeError, match="two shafts"):
            check(TrainGeometry(side, side))
