from __future__ import annotations

import pytest
from hypothesis import given, settings

from server.trade.errors import TradeError
from server.trade.turnover import Arc, turn_over
from server.trade.turnover_sides import second_side
from server.trade.turnover_train import TrainGeometry
from tests.trade.turnover_sets import trains, two_shafts


@settings(max_examples=20)
@given(trains(most_shafts=3))
def test_the_second_side_goes_on_at_the_same_angles_whichever_is_first(train: TrainGeometry) -> None:
    near, far = second_side(train, "near", evenly=36), second_side(train, "far", evenly=36)
    assert near.goes_on == far.goes_on
    assert near.best_deg == far.best_deg
    turning = turn_over(train, 36)
    for angle, s in zip(turning.angles_deg, turning.shortages_nm, strict=True):
        assert any(arc.holds(angle) for arc in near.goes_on) == (s <= 0.001)


@settings(max_examples=20)
@given(trains(most_shafts=3))
def test_a_set_that_turns_takes_its_second_side_anywhere_and_turns_on_its_first(train: TrainGeometry) -> None:
    if turn_over(train, 36).turns:
        for first in ("near", "far"):
            found = second_side(train, first, evenly=36)
            assert found.goes_on == (Arc(0.0, 360.0),)
            assert all(each.lacks_nm <= 0.001 for each in found.dead_centres)


def test_one_side_with_a_short_rod_and_no_clearance_crosses_neither_dead_centre() -> None:
    found = second_side(two_shafts(40_000, 40_000))
    assert [each.angle_deg for each in found.dead_centres] == [0.0, 180.0]
    assert [each.lacks_nm for each in found.dead_centres] == pytest.approx([40_000, 40_000])
    assert found.reach == (Arc(0.0, 180.0), Arc(180.0, 360.0))
    assert found.goes_on == (Arc(45.0, 45.0), Arc(225.0, 225.0))  # F = d (cos − sin)
    assert found.out_of_reach == ()


def test_where_the_second_side_goes_on_may_be_out_of_reach() -> None:
    # far side alone amiss: F = d sin(θ): near dead centres are the only places; between them it goes on nowhere
    found = second_side(two_shafts(near_rod_off=0, far_rod_off=40_000), first="far")
    assert found.goes_on == (Arc(0.0, 0.0), Arc(180.0, 180.0))
    assert found.dead_centres[0].angle_deg == 270.0
    assert found.reach == (Arc(90.0, 270.0), Arc(270.0, 450.0))
    assert found.out_of_reach == ()
    stuck = second_side(two_shafts(near_rod_off=40_000, far_rod_off=0, quartering_deg=2.0), first="near")
    assert not stuck.goes_on or stuck.out_of_reach == ()


def test_a_throw_may_let_one_dead_centre_be_crossed_and_then_all_angles_are_reached() -> None:
    train = two_shafts(20_000, 20_000, throws_nm=(20_000_000, 19_980_000))
    found = second_side(train)
    assert [each.lacks_nm for each in found.dead_centres] == pytest.approx([0, 40_000], abs=1e-6)
    assert found.reach == (Arc(0.0, 360.0),)


def test_where_it_goes_on_nowhere_every_reach_is_out() -> None:
    found = second_side(two_shafts(throws_nm=(20_000_000, 20_030_000)))  # F = e at every angle
    assert found.goes_on == ()
    assert found.spare_nm < 0
    assert found.out_of_reach == found.reach


def test_asking_for_something_to_spare_narrows_the_arcs() -> None:
    train = two_shafts(30_000, 30_000, 20_000)
    tight, easy = second_side(train, to_spare_nm=10_000), second_side(train)
    width = [sum(arc.to_deg - arc.from_deg for arc in each.goes_on) for each in (tight, easy)]
    assert 0 < width[0] < width[1] < 360
    assert easy.best_deg == pytest.approx(45.0)
    assert easy.spare_nm == pytest.approx(20_000)


@pytest.mark.parametrize(("how", "field"), [({"first": "left"}, "first"), ({"to_spare_nm": -1}, "to_spare_nm")])
def test_bad_wishes_are_refused(how: dict[str, object], field: str) -> None:
    with pytest.raises(TradeError) as refusal:
        second_side(two_shafts(), **how)  # type: ignore[arg-type]
    assert refusal.value.field == field
