from __future__ import annotations

import math
from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import stats

from server.trade.errors import TradeError
from server.trade.turnover import turn_over
from server.trade.turnover_forecast import Spread, forecast
from server.trade.turnover_train import CrankSide, Dimension, TrainGeometry
from tests.trade.turnover_sets import trains, two_shafts

NEAR_ROD, FAR_ROD = Dimension("rod", "near", 0), Dimension("rod", "far", 0)
QUARTERS = [Dimension("quartering", "", shaft) for shaft in (0, 1)]


def three(play_nm: int, off_nm: int = 0) -> TrainGeometry:
    side = CrankSide((120_000_000 + off_nm,) * 2, (120_000_000,) * 2, (20_000_000,) * 3, ((0, 0),) * 2, (play_nm,) * 3)
    return TrainGeometry(side, side)


@pytest.mark.parametrize(("half_width", "turns"), [(20_000, 0.5), (40_000, 0.25), (9_999, 1.0)])
def test_a_rod_between_limits_turns_in_the_share_its_clearance_covers(half_width: int, turns: float) -> None:
    found = forecast(two_shafts(clearance=10_000), [Spread.between_limits(NEAR_ROD, half_width)], samples=4_000)
    assert found.turns == pytest.approx(turns, abs=0.03)


def test_normal_limits_stand_three_standard_deviations_off() -> None:
    spread = Spread.between_limits(NEAR_ROD, 30_000, "normal")
    found = forecast(two_shafts(clearance=10_000), [spread], samples=20_000)
    assert found.turns == pytest.approx(stats.norm.cdf(1) - stats.norm.cdf(-1), abs=0.014)


def test_an_error_of_the_one_quartering_gauge_cancels() -> None:
    train = two_shafts(clearance=30_000)
    alone = forecast(train, [Spread(each, 0.5) for each in QUARTERS], samples=1_000)
    together = forecast(train, [Spread(each, 0.5, shared="gauge") for each in QUARTERS], samples=1_000)
    assert alone.turns < 0.5
    assert together.turns == 1.0


def test_an_error_two_rods_share_moves_both_at_once() -> None:
    # over the first to the last shaft 2 d ≤ 0.06; neighbours alone would allow d ≤ 0.06
    rods = [Dimension("rod", side, space) for side in ("near", "far") for space in (0, 1)]
    spreads = [replace(Spread.between_limits(rod, 60_000), shared="micrometer") for rod in rods]
    found = forecast(three(60_000), spreads, samples=4_000)
    assert found.turns == pytest.approx(0.5, abs=0.03)


@settings(max_examples=30)
@given(trains(), st.sampled_from((-3, 2)))
def test_without_any_spread_the_forecast_is_the_turn_over_to_a_few_nanometres(train: TrainGeometry, more: int) -> None:
    """Every bore is opened until the set just turns, or just does not."""
    opening = math.ceil(turn_over(train, 180).shortage_nm) + more
    if opening + train.least_rod_clearance_nm >= 0:
        near, far = (
            replace(side, rod_clearances_nm=tuple((a + opening, b + opening) for a, b in side.rod_clearances_nm))
            for side in (train.near, train.far)
        )
        told = forecast(replace(train, near=near, far=far), [], samples=100)
        assert told.turns == (1.0 if more > 0 else 0.0)
        assert told.without_clearance == 0.0


def test_neighbours_and_every_two_tell_the_same_of_the_same_draws() -> None:
    """A nanometre of play in the middle bearing ties the pairs together and changes nothing else."""
    alone = three(0, 3_000)
    tied = replace(alone, near=replace(alone.near, shaft_clearances_nm=(0, 1, 0)))
    spreads = [Spread(each, 4_000.0) for each in alone.dimensions() if each.kind in ("rod", "throw")]
    loose = replace(alone, near=replace(alone.near, rod_clearances_nm=((20_000,) * 2,) * 2),
                    far=replace(alone.far, rod_clearances_nm=((20_000,) * 2,) * 2))  # fmt: skip
    tied = replace(loose, near=replace(loose.near, shaft_clearances_nm=(0, 1, 0)))
    assert loose.pairs_stand_alone
    assert not tied.pairs_stand_alone
    one, other = forecast(loose, spreads, 3_000), forecast(tied, spreads, 3_000)
    assert 0.2 < one.turns < 0.98
    assert other.turns == pytest.approx(one.turns, abs=0.002)


def test_a_bearing_drawn_without_clearance_does_not_go_on() -> None:
    bore = Dimension("rod bearing", "far", 1)
    found = forecast(two_shafts(clearance=10_000), [Spread(bore, 10_000.0)], samples=10_000)
    assert found.without_clearance == pytest.approx(stats.norm.cdf(-1), abs=0.012)
    assert found.turns == pytest.approx(1 - found.without_clearance)
    box = Dimension("shaft bearing", "near", 0)
    assert forecast(two_shafts(), [Spread(box, 1_000.0)]).without_clearance == pytest.approx(0.5, abs=0.02)


def test_the_interval_told_is_wilsons_and_the_draws_are_settled_by_the_seed() -> None:
    train, spreads = two_shafts(clearance=10_000), [Spread(NEAR_ROD, 12_000.0), Spread(NEAR_ROD, 5_000.0)]
    found = forecast(train, spreads, samples=500, seed=7)
    assert found == forecast(train, spreads, samples=500, seed=7)
    interval = stats.binomtest(round(found.turns * 500), 500).proportion_ci(method="wilson")
    assert (found.from_, found.to) == pytest.approx((interval.low, interval.high))
    right = 2 * stats.norm.cdf(10 / 13) - 1  # 12 and 5 add to 13
    holds = [forecast(train, spreads, 500, 36, seed) for seed in range(40)]
    assert sum(each.from_ <= right <= each.to for each in holds) >= 34


def test_far_and_near_count_alike() -> None:
    train = two_shafts(clearance=10_000)
    near, far = (forecast(train, [Spread(rod, 9_000.0)], 2_000).turns for rod in (NEAR_ROD, FAR_ROD))
    assert near == far


@pytest.mark.parametrize(
    ("spreads", "field"),
    [
        ([Spread(Dimension("rod", "near", 1), 1.0)], "spreads"),
        ([Spread(NEAR_ROD, -1.0)], "spreads"),
        ([Spread(NEAR_ROD, float("nan"))], "spreads"),
        ([Spread(NEAR_ROD, 1.0, "round")], "spreads"),  # type: ignore[arg-type]
        ([Spread(NEAR_ROD, 1.0, shared="a"), Spread(FAR_ROD, 1.0, "rectangular", "a")], "spreads"),
    ],
)
def test_spreads_that_cannot_be_are_refused(spreads: list[Spread], field: str) -> None:
    with pytest.raises(TradeError) as refusal:
        forecast(two_shafts(), spreads)
    assert refusal.value.field == field


@pytest.mark.parametrize(
    ("samples", "evenly", "field"), [(99, 180, "samples"), (10_000_000, 180, "samples"), (100, 3, "evenly")]
)
def test_too_many_or_too_few_are_refused(samples: int, evenly: int, field: str) -> None:
    with pytest.raises(TradeError) as refusal:
        forecast(two_shafts(), [], samples, evenly)
    assert refusal.value.field == field
