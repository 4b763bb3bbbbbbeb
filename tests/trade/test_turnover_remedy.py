from __future__ import annotations

import math
from dataclasses import replace

import pytest
from hypothesis import given, settings

from server.trade.errors import TradeError
from server.trade.turnover import turn_over
from server.trade.turnover_remedy import bearing_openings, changes
from server.trade.turnover_train import Dimension, TrainGeometry
from tests.trade.turnover_sets import trains, two_shafts


def with_opening(train: TrainGeometry, which: Dimension, nm: int) -> TrainGeometry:
    assert which.side
    side, place = train.side(which.side), which.place
    if which.kind == "shaft bearing":
        plays = [side.shaft_clearance_nm(shaft) for shaft in range(train.shafts)]
        plays[place] += nm
        return replace(train, **{which.side: replace(side, shaft_clearances_nm=tuple(plays))})
    flat = [each for pair in side.rod_clearances_nm for each in pair]
    flat[place] += nm
    pairs = tuple(zip(flat[::2], flat[1::2], strict=True))
    return replace(train, **{which.side: replace(side, rod_clearances_nm=pairs)})


@settings(max_examples=30)
@given(trains())
def test_a_bearing_opened_as_told_frees_the_set_and_a_little_less_does_not(train: TrainGeometry) -> None:
    found = bearing_openings(train, evenly=36)
    assert [each.opening_nm for each in found] == pytest.approx(sorted(each.opening_nm for each in found), abs=1e-2)
    turns = turn_over(train, 36).turns
    for each in found:
        if turns:
            assert each.opening_nm == pytest.approx(0, abs=0.5)
        elif math.isfinite(each.opening_nm) and each.opening_nm < 1_800_000:
            opened = with_opening(train, each.bearing, math.ceil(each.opening_nm) + 1)
            assert turn_over(opened, 36).shortage_nm <= 0.01
            if each.opening_nm > 10:
                assert not turn_over(with_opening(train, each.bearing, math.floor(each.opening_nm) - 5), 36).turns


def test_no_bore_of_the_other_side_helps_a_side_at_its_own_dead_centre() -> None:
    for each in bearing_openings(two_shafts(near_rod_off=40_000, clearance=10_000)):
        if each.bearing.side == "near":
            assert each.opening_nm == pytest.approx(60_000)
        else:
            assert math.isinf(each.opening_nm)


def test_of_three_shafts_only_the_bores_of_the_pair_that_binds_help() -> None:
    side = replace(
        two_shafts().near,
        centres_nm=(120_000_000, 120_030_000),
        rods_nm=(120_000_000,) * 2,
        throws_nm=(20_000_000,) * 3,
        rod_clearances_nm=((10_000, 10_000),) * 2,
    )
    straight = replace(side, centres_nm=(120_000_000,) * 2)
    found = {each.bearing: each.opening_nm for each in bearing_openings(TrainGeometry(side, straight))}
    assert math.isinf(found[Dimension("rod bearing", "near", 1)])
    assert found[Dimension("rod bearing", "near", 2)] == pytest.approx(40_000)
    assert found[Dimension("shaft bearing", "near", 2)] == pytest.approx(40_000)


@settings(max_examples=15)
@given(trains(most_shafts=3))
def test_a_rod_made_as_told_frees_the_set(train: TrainGeometry) -> None:
    rods = [each for each in train.dimensions() if each.kind == "rod"]
    now = turn_over(train, 36).shortage_nm
    for each in changes(train, rods, evenly=36):
        assert each.shortage_nm <= now + 0.01
        assert each.dimension.side
        side, place = train.side(each.dimension.side), each.dimension.place

        def made(change: float, side=side, place=place, name=each.dimension.side) -> float:  # type: ignore[no-untyped-def]
            lengths = [*side.rods_nm]
            lengths[place] += round(change)
            return turn_over(replace(train, **{name: replace(side, rods_nm=tuple(lengths))}), 36).shortage_nm

        assert made(each.best_change) == pytest.approx(each.shortage_nm, abs=1.5)
        if each.window is None:
            assert each.least_change is None
            assert each.shortage_nm > 0
            assert min(made(each.best_change + off) for off in (-2_000, 2_000)) >= each.shortage_nm - 1.5
        else:
            low, high = each.window
            assert each.least_change is not None
            assert low <= each.least_change <= high
            assert (each.least_change == 0) == (low <= 0 <= high)
            assert max(made(low), made(high)) <= 1.5
            for change in (low - 100, high + 100):
                if abs(change) < 1_900_000:
                    assert made(change) > 0


def test_a_short_rod_is_made_longer_by_what_it_lacks_and_best_by_all_of_it() -> None:
    train = two_shafts(near_rod_off=40_000, clearance=10_000)
    best, *rest = changes(train, [each for each in train.dimensions() if each.kind in ("rod", "throw", "quartering")])
    assert best.dimension == Dimension("rod", "near", 0)
    assert best.window == pytest.approx((30_000, 50_000), abs=1)
    assert best.least_change == pytest.approx(30_000, abs=1)
    assert best.best_change == pytest.approx(40_000, abs=1)
    assert best.shortage_nm == pytest.approx(-10_000, abs=1)
    assert all(each.window is None for each in rest)


def test_a_set_that_turns_leaves_each_dimension_a_window_round_nothing() -> None:
    (rod,) = changes(two_shafts(clearance=10_000), [Dimension("rod", "far", 0)])
    assert rod.window == pytest.approx((-10_000, 10_000), abs=1)
    assert rod.least_change == 0


def test_quartering_is_changed_in_degrees() -> None:
    train = two_shafts(clearance=20_000, quartering_deg=0.3)
    (shaft,) = changes(train, [Dimension("quartering", "", 1)])
    limit = math.degrees(20_000 * 2 * math.sqrt(2) / 20_000_000)
    assert shaft.window == pytest.approx((-0.3 - limit, -0.3 + limit), rel=1e-2)


@pytest.mark.parametrize("which", [Dimension("rod bearing", "near", 0), Dimension("rod", "near", 1)])
def test_a_clearance_or_a_dimension_the_set_has_not_is_refused(which: Dimension) -> None:
    with pytest.raises(TradeError, match="open_to_change"):
        changes(two_shafts(), [which])
