from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest
from hypothesis import given

from server.trade.errors import TradeError
from server.trade.turnover_first_order import first_order, gradients
from server.trade.turnover_train import CrankSide, Dimension, TrainGeometry
from tests.trade.turnover_sets import larger, trains, two_shafts

GOOD = CrankSide((120_000_000,), (120_000_000,), (20_000_000, 20_000_000), ((50_000, 50_000),))
THREE = CrankSide((120_000_000,) * 2, (120_000_000,) * 2, (20_000_000,) * 3, ((50_000, 50_000),) * 2)


@pytest.mark.parametrize(
    ("far", "field"),
    [
        ({"rod_clearances_nm": ((50_000, -1),)}, "far_rod_clearance_2_nm"),
        ({"shaft_clearances_nm": (-1, 0)}, "far_shaft_clearance_1_nm"),
        ({"shaft_clearances_nm": (0,)}, "far_shaft_clearances_nm"),
        ({"throws_nm": (20_000_000,)}, "far_throws_nm"),
        ({"throws_nm": (20_000_000, 0)}, "far_throw_2_nm"),
        ({"throws_nm": (20_000_000, 26_000_000)}, "far_throw_1_nm"),
        ({"rods_nm": ()}, "far_rods_nm"),
        ({"rods_nm": (79_000_000,)}, "far_rod_1_nm"),  # 41 mm short: closes nowhere
        ({"rods_nm": (117_000_000,)}, "far_rod_1_nm"),  # closes, and is too far off for the sums
        ({"rods_nm": (-120_000_000,)}, "far_rod_1_nm"),
        ({"centres_nm": (120_000_000, 120_000_000)}, "far_centres_nm"),
        ({"rod_clearances_nm": ((50_000,),)}, "far_rod_clearances_nm of rod 1"),
        ({"rod_clearances_nm": ((50_000, 2_000_001),)}, "far_rod_clearance_2_nm"),
        ({"shaft_clearances_nm": (0, 2_000_001)}, "far_shaft_clearance_2_nm"),
        ({"joints": ("pin",)}, "far_joints"),
    ],
)
def test_what_cannot_be_is_refused_by_name(far: dict[str, Any], field: str) -> None:
    with pytest.raises(TradeError) as refusal:
        TrainGeometry(GOOD, replace(GOOD, **far))
    assert refusal.value.field == field
    assert refusal.value.accepts


@pytest.mark.parametrize(
    ("near", "field"),
    [
        ({"joints": ("hook",)}, "near_joint_2"),
        ({"joints": ("knuckle before",)}, "near_knuckle_offset_2_nm"),
        ({"knuckle_offsets_nm": (30_000_000,)}, "near_knuckle_offset_2_nm"),
        ({"joints": ("knuckle after",), "knuckle_offsets_nm": (-1,)}, "near_knuckle_offset_2_nm"),
        ({"rods_nm": (118_500_000, 118_500_000)}, "near_rods_nm"),  # each within a tenth, together not
    ],
)
def test_knuckles_and_sums_that_cannot_be_are_refused(near: dict[str, Any], field: str) -> None:
    with pytest.raises(TradeError) as refusal:
        TrainGeometry(replace(THREE, **near), THREE)
    assert refusal.value.field == field


def test_one_crank_is_no_set() -> None:
    lone = CrankSide((), (), (20_000_000,), ())
    with pytest.raises(TradeError, match="near_throws_nm"):
        TrainGeometry(lone, lone)


@pytest.mark.parametrize("angle", [0.0, 9.9, -9.9, 170.1, 180.0, -180.0])
def test_sides_in_line_are_refused_with_the_reason(angle: float) -> None:
    with pytest.raises(TradeError, match="in line") as refusal:
        TrainGeometry(GOOD, GOOD, between_sides_deg=angle)
    assert refusal.value.field == "between_sides_deg"


def test_it_is_the_angle_as_made_that_must_not_stand_in_line() -> None:
    TrainGeometry(GOOD, GOOD, between_sides_deg=10.5)
    with pytest.raises(TradeError, match="in line"):
        TrainGeometry(GOOD, GOOD, (-1.0, -1.0), 10.5)


@pytest.mark.parametrize("quartering", [(0.0, 11.0), (float("nan"), 0.0), (0.0,), (0.0, 0.0, 0.0)])
def test_quarterings_too_far_apart_or_too_few_are_refused(quartering: tuple[float, ...]) -> None:
    with pytest.raises(TradeError, match="quartering"):
        TrainGeometry(GOOD, GOOD, quartering)


def test_a_rod_short_by_a_knuckle_is_measured_from_pin_to_pin() -> None:
    joints, offsets = ("knuckle before",), (30_000_000,)
    rods = (90_010_000, 120_000_000)
    side = replace(THREE, rods_nm=rods, joints=joints, knuckle_offsets_nm=offsets)
    assert [side.spacing_error_nm(n) for n in (0, 1)] == [-10_000, 0]
    after = replace(side, rods_nm=rods[::-1], joints=("knuckle after",))
    assert [after.spacing_error_nm(n) for n in (0, 1)] == [0, -10_000]


@pytest.mark.parametrize(
    ("joint", "ways"),
    [
        ("pin", {(0, 1): (0, 1), (1, 2): (2, 3), (0, 2): (0, 1, 2, 3)}),
        ("knuckle before", {(0, 1): (0, 1, 2), (1, 2): (2, 3), (0, 2): (0, 1, 3)}),
        ("knuckle after", {(0, 1): (0, 1), (1, 2): (1, 2, 3), (0, 2): (0, 2, 3)}),
    ],
)
def test_ways_from_pin_to_pin_pass_by_the_pin_at_a_knuckle(joint: Any, ways: dict[Any, Any]) -> None:
    offset = 0 if joint == "pin" else 30_000_000
    side = replace(THREE, joints=(joint,), knuckle_offsets_nm=(offset,))
    assert {pair: side.bearings_between(*pair) for pair in ways} == ways


def test_dimensions_are_named_as_the_shop_would() -> None:
    train = TrainGeometry(replace(THREE, joints=("knuckle before",), knuckle_offsets_nm=(30_000_000,),
                                  rods_nm=(90_000_000, 120_000_000)), THREE)  # fmt: skip
    words = [train.words(each) for each in train.dimensions()]
    assert len(set(words)) == len(words) == 2 + 2 + 1 + 3 + 3 + 4 + 2 + 2 + 3 + 3 + 4 + 3
    assert train.words(Dimension("rod bearing", "near", 1)) == "near rod 1–2 bore at the knuckle of shaft 2"
    assert train.words(Dimension("rod bearing", "far", 2)) == "far rod 2–3 bore at shaft 2"
    assert train.words(Dimension("quartering", "", 2)) == "quartering of shaft 3"


def test_pairs_stand_alone_unless_a_knuckle_or_an_inner_bearing_ties_them() -> None:
    assert TrainGeometry(THREE, THREE).pairs_stand_alone
    assert TrainGeometry(replace(THREE, shaft_clearances_nm=(9, 0, 9)), THREE).pairs_stand_alone
    assert not TrainGeometry(replace(THREE, shaft_clearances_nm=(0, 1, 0)), THREE).pairs_stand_alone
    knuckled = replace(
        THREE, joints=("knuckle after",), knuckle_offsets_nm=(30_000_000,), rods_nm=(120_000_000, 90_000_000)
    )
    assert not TrainGeometry(THREE, knuckled).pairs_stand_alone
    assert two_shafts(shaft_clearances_nm=(5, 5)).pairs_stand_alone


@given(trains())
def test_gradients_are_what_the_equations_do_when_a_dimension_grows(train: TrainGeometry) -> None:
    """Against the equations of the set with that dimension larger; a throw and a quartering also move R and Φ."""
    before = first_order(train)
    for which, gradient in gradients(train, train.dimensions()).items():
        if which.kind in ("quartering", "throw"):
            continue
        after = first_order(larger(train, which, 1_000))
        moved = before.moved(gradient, 1_000.0)
        assert after.spacing == pytest.approx(moved.spacing)
        assert after.play == pytest.approx(moved.play)
        assert after.throw == pytest.approx(moved.throw)
