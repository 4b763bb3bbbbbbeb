from __future__ import annotations

import math
from dataclasses import replace
from itertools import combinations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from server.trade.errors import TradeError
from server.trade.turnover import Arc, turn_over
from server.trade.turnover_first_order import FirstOrder, at_angles, crank_angles, first_order
from server.trade.turnover_pair import openings
from server.trade.turnover_train import CrankSide, TrainGeometry
from tests.trade.turnover_sets import larger, trains, two_shafts


def needed(model: FirstOrder, angles: np.ndarray) -> np.ndarray:
    return openings(model, angles, model.bores / 2).needed


def opened_by(train: TrainGeometry, nm: int) -> TrainGeometry:
    near, far = (
        replace(side, rod_clearances_nm=tuple((a + nm, b + nm) for a, b in side.rod_clearances_nm))
        for side in (train.near, train.far)
    )
    return replace(train, near=near, far=far)


@settings(max_examples=30)
@given(trains(), st.integers(0, 100_000), st.data())
def test_more_clearance_never_makes_a_set_bind(train: TrainGeometry, more: int, data: st.DataObject) -> None:
    angles = crank_angles(train.far_from_near_deg, 36)
    before = needed(first_order(train), angles)
    side = train.near
    bearing = data.draw(st.integers(0, 2 * (train.shafts - 1) - 1))
    pairs = [list(pair) for pair in side.rod_clearances_nm]
    pairs[bearing // 2][bearing % 2] += more
    after = needed(
        first_order(replace(train, near=replace(side, rod_clearances_nm=tuple((a, b) for a, b in pairs)))), angles
    )
    assert (after <= before + 1e-5).all()
    plays = tuple(nm + more for nm in side.shaft_clearances_nm)
    looser = needed(first_order(replace(train, near=replace(side, shaft_clearances_nm=plays))), angles)
    assert (looser <= before + 1e-5).all()


@settings(max_examples=30)
@given(trains(), st.integers(1, 40_000))
def test_opening_every_bore_takes_just_that_off_the_shortage(train: TrainGeometry, nm: int) -> None:
    angles = crank_angles(train.far_from_near_deg, 36)
    before, after = needed(first_order(train), angles), needed(first_order(opened_by(train, nm)), angles)
    assert after == pytest.approx(before - nm, abs=1e-4)


@settings(max_examples=30)
@given(trains())
def test_swapping_the_sides_changes_nothing(train: TrainGeometry) -> None:
    swapped = TrainGeometry(
        train.far, train.near, tuple(-error for error in train.quartering_deg), -train.between_sides_deg
    )
    angles = crank_angles(train.far_from_near_deg, 36)
    one = needed(first_order(train), angles)
    other = needed(first_order(swapped), angles + train.far_from_near_deg)
    assert other == pytest.approx(one, abs=1e-3)


@settings(max_examples=30)
@given(trains(), st.integers(2, 7))
def test_a_set_made_larger_in_all_its_lengths_lacks_as_many_times_more(train: TrainGeometry, times: int) -> None:
    def scaled(side: CrankSide) -> CrankSide:
        return replace(
            side,
            centres_nm=tuple(nm * times for nm in side.centres_nm),
            rods_nm=tuple(nm * times for nm in side.rods_nm),
            throws_nm=tuple(nm * times for nm in side.throws_nm),
            rod_clearances_nm=tuple((a * times, b * times) for a, b in side.rod_clearances_nm),
            shaft_clearances_nm=tuple(nm * times for nm in side.shaft_clearances_nm),
            knuckle_offsets_nm=tuple(nm * times for nm in side.knuckle_offsets_nm),
        )

    angles = crank_angles(train.far_from_near_deg, 36)
    bigger = replace(train, near=scaled(train.near), far=scaled(train.far))
    wanted = times * needed(first_order(train), angles)
    assert needed(first_order(bigger), angles) == pytest.approx(wanted, abs=1e-3)


@settings(max_examples=30)
@given(trains(), st.floats(0.1, 3))
def test_errors_and_clearances_together_times_a_number_give_that_much_more(train: TrainGeometry, times: float) -> None:
    model, angles = first_order(train), crank_angles(train.far_from_near_deg, 36)
    bigger = replace(
        model,
        spacing=model.spacing * times,
        throw=model.throw * times,
        ahead=model.ahead * times,
        play=model.play * times,
    )
    assert needed(bigger, angles) == pytest.approx(times * needed(model, angles), abs=1e-3)


def has_negative_round_trip(model: FirstOrder, angle_deg: float, opening_nm: float) -> bool:
    """Whether the bounds on the shafts' phases contradict each other: shortest ways over any number of shafts."""
    at = at_angles(model, np.array([angle_deg]))
    place, weight = at.place[..., 0], at.weight[:, 0]
    play = (model.play + model.bores * opening_nm / 2) * weight[:, None, None]
    shortest = (place[:, None, :] - place[:, :, None] + play).min(axis=0)
    for by in range(shortest.shape[0]):
        shortest = np.minimum(shortest, shortest[:, by, None] + shortest[None, by, :])
    return bool((np.diag(shortest) < -1e-3).any())


@settings(max_examples=60)
@given(trains(most_shafts=7), st.floats(0, 360))
def test_if_every_two_shafts_pass_no_round_trip_over_more_of_them_binds(train: TrainGeometry, angle: float) -> None:
    model = first_order(train)
    shortage = float(needed(model, np.array([angle]))[0])
    least = float(-train.least_rod_clearance_nm)  # below it a bore's own two bounds cross
    assert not has_negative_round_trip(model, angle, max(shortage, least) + 0.1)
    if shortage > least + 1:
        assert has_negative_round_trip(model, angle, shortage - 1)


@settings(max_examples=20)
@given(trains())
def test_neighbours_alone_never_ask_for_more_than_every_two(train: TrainGeometry) -> None:
    model, angles = first_order(train), crank_angles(train.far_from_near_deg, 36)
    neighbours = replace(model, pairs=tuple((i, i + 1) for i in range(train.shafts - 1)))
    assert (needed(neighbours, angles) <= needed(model, angles) + 1e-5).all()
    every = replace(model, pairs=tuple(combinations(range(train.shafts), 2)))
    least = -train.least_rod_clearance_nm
    assert np.maximum(needed(model, angles), least) == pytest.approx(np.maximum(needed(every, angles), least), abs=1e-4)


@settings(max_examples=20)
@given(trains())
def test_contributions_add_up_to_the_shortage_exactly(train: TrainGeometry) -> None:
    found = turn_over(train, evenly=24)
    assert sum(part.nm for part in found.contributions) == pytest.approx(found.shortage_nm, abs=1e-2)
    sizes = [abs(part.nm) for part in found.contributions]
    assert sizes == sorted(sizes, reverse=True)


@settings(max_examples=20)
@given(trains())
def test_what_is_told_hangs_together(train: TrainGeometry) -> None:
    found = turn_over(train, evenly=24)
    assert found.shortage_nm == max(found.shortages_nm)
    assert found.turns == (found.shortage_nm <= 0.001)
    assert found.spare_nm <= train.least_rod_clearance_nm
    assert any(arc.holds(found.worst_deg) for arc in found.worst_arcs)
    assert all(0 <= share <= 1 for share in found.near_shares)
    assert found.near_share_range[0] <= found.near_share <= found.near_share_range[1]
    for each in found.sensitivities:
        assert each.least <= each.at_worst <= each.most
        if each.dimension.kind.endswith("bearing"):
            assert each.most <= 0
    for s, near, far in zip(found.shortages_nm, found.near_alone_nm, found.far_alone_nm, strict=True):
        if s > 0.01:  # one side alone must be opened further than both together
            assert min(near, far) >= s - 0.01
            assert not (math.isinf(near) and math.isinf(far)) or not train.pairs_stand_alone


@settings(max_examples=20)
@given(trains(), st.integers(1_000, 20_000))
def test_a_dimension_made_larger_or_smaller_gives_at_least_what_its_slope_says(train: TrainGeometry, nm: int) -> None:
    """The worst shortage is convex in each dimension, so it stands above its tangent; R and Φ move a little too."""
    found = turn_over(train, evenly=36)
    for each in found.sensitivities:
        which = each.dimension
        for change in (nm, -nm):
            if change < 0 and which.kind.endswith("bearing"):
                continue  # a clearance may not have so much to lose
            tangent = found.shortage_nm + each.at_worst * (change / 1e6 if which.kind == "quartering" else change)
            assert turn_over(larger(train, which, change), evenly=36).shortage_nm >= tangent - 100


def test_a_dead_centre_is_bound_by_its_own_side_alone() -> None:
    found = turn_over(two_shafts(near_rod_off=40_000, clearance=10_000))
    at = dict(zip(found.angles_deg, zip(found.near_alone_nm, found.far_alone_nm, strict=True), strict=True))
    assert at[0.0] == pytest.approx((30_000, math.inf))
    assert found.side == "near"
    assert found.near_share == pytest.approx(1.0)
    assert [arc.middle_deg for arc in found.worst_arcs] == [0.0, 180.0]
    assert not found.turns


def test_only_the_difference_of_the_quarterings_binds() -> None:
    one, other = (replace(two_shafts(clearance=30_000), quartering_deg=both) for both in ((0.0, 0.1), (0.5, 0.6)))
    assert turn_over(other).shortage_nm == pytest.approx(
        turn_over(one).shortage_nm, abs=100
    )  # the sides stand at 90.5°
    equal = turn_over(replace(two_shafts(clearance=30_000), quartering_deg=(0.4, 0.4)))
    assert equal.shortage_nm == pytest.approx(-30_000)


def test_a_spare_is_no_more_than_the_smallest_bore_has() -> None:
    tight = CrankSide((120_000_000,), (120_000_000,), (20_000_000, 20_000_000), ((90_000, 10_000),))
    found = turn_over(TrainGeometry(tight, tight))
    assert found.shortage_nm == pytest.approx(-50_000)
    assert found.spare_nm == 10_000


def test_play_of_an_inner_bearing_cannot_be_spent_twice() -> None:
    side = CrankSide(
        (120_050_000,) * 2, (120_000_000,) * 2, (20_000_000,) * 3, ((0, 0),) * 2, shaft_clearances_nm=(60_000,) * 3
    )
    model = first_order(TrainGeometry(side, side))
    angles = crank_angles(90.0, 36)
    neighbours = replace(model, pairs=((0, 1), (1, 2)))
    assert needed(neighbours, angles).max() == pytest.approx(-10_000)  # would pass
    assert needed(model, angles).max() == pytest.approx(20_000)


def test_the_same_errors_worked_at_any_angle_between_the_sides_far_from_line_bind_more_as_it_nears() -> None:
    shortages = [
        turn_over(replace(two_shafts(20_000, -20_000), between_sides_deg=deg)).shortage_nm for deg in (90, 60, 30)
    ]
    assert shortages == sorted(shortages)


def test_the_grid_reads_the_worst_low_by_little() -> None:
    """As said in crank_angles, with other sets: 0.01 µm for 180 angles, 0.7 µm for 24, against 1440."""
    random = np.random.default_rng(3)
    for _ in range(20):
        off = random.integers(-50_000, 50_000, 2).tolist()
        train = two_shafts(*off, quartering_deg=float(random.uniform(-0.3, 0.3)))
        fine = turn_over(train, 1440).shortage_nm
        assert 0 <= fine - turn_over(train, 180).shortage_nm < 30
        assert 0 <= fine - turn_over(train, 24).shortage_nm < 1_500


def test_grid_holds_each_dead_centre_once() -> None:
    for far in (90.0, -90.0, 90.1, 89.99999, 72.3):
        angles = crank_angles(far, 180)
        assert (np.diff(angles) > 0).all()
        assert 180 <= angles.size <= 188
        for dead in (0.0, 180.0, -far % 360, (180 - far) % 360):
            assert np.abs(angles - dead).min() < 1e-6


def test_an_arc_over_the_end_of_the_circle_is_one() -> None:
    arc = Arc(350.0, 370.0)
    assert arc.holds(0.0)
    assert arc.holds(355.0)
    assert not arc.holds(11.0)
    assert arc.middle_deg == 0.0


@pytest.mark.parametrize(("how", "field"), [({"evenly": 12}, "evenly"), ({"worst_within_nm": -1.0}, "worst_within_nm")])
def test_what_is_not_looked_at_is_refused(how: dict[str, float], field: str) -> None:
    with pytest.raises(TradeError) as refusal:
        turn_over(two_shafts(), **how)  # type: ignore[arg-type]
    assert refusal.value.field == field
