from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import stats

from server.trade.errors import Impossible, OutOfRange
from server.trade.gauge_bias import gauge_bias
from server.trade.gauge_study import analysis_of_variance, average_and_range, variance_table

Study = list[list[list[int]]]


def _studies(appraisers: int | None = None) -> st.SearchStrategy[Study]:
    hands = st.integers(1, 3) if appraisers is None else st.just(appraisers)
    shapes = st.tuples(hands, st.integers(2, 10), st.integers(2, 3))
    return shapes.flatmap(
        lambda shape: st.lists(
            st.lists(
                st.lists(st.integers(-50_000, 50_000), min_size=shape[2], max_size=shape[2]),
                min_size=shape[1],
                max_size=shape[1],
            ),
            min_size=shape[0],
            max_size=shape[0],
        )
    ).filter(lambda study: len({value for hand in study for cell in hand for value in cell}) > 1)


def _simulated(seed: int, appraisers: int, parts: int, trials: int, ev: float, av: float, pv: float) -> Study:
    draw = np.random.default_rng(seed)
    hand, part = draw.normal(0, av, (appraisers, 1, 1)), draw.normal(0, pv, (1, parts, 1))
    noise = draw.normal(0, ev, (appraisers, parts, trials))
    found: Study = np.rint(hand + part + noise).astype(int).tolist()
    return found


@given(_studies())
@settings(max_examples=50)
def test_sums_of_squares_make_up_the_total(study: Study) -> None:
    *parts, total = variance_table(study)
    assert math.fsum(row.sum_of_squares for row in parts) == pytest.approx(total.sum_of_squares, rel=1e-9)
    assert sum(row.dof for row in parts) == total.dof
    every = [value for hand in study for cell in hand for value in cell]
    assert total.mean_square == pytest.approx(np.var(every, ddof=1), rel=1e-9)


@given(_studies(), st.sampled_from([average_and_range, analysis_of_variance]))
@settings(max_examples=50)
def test_shares_make_up_the_total(study: Study, method: object) -> None:
    try:
        found = method(study)  # type: ignore[operator]
    except Impossible as refused:
        if "too coarse" not in refused.why:  # every component can come out 0
            raise
        return
    parts = [found.repeatability, found.reproducibility, found.interaction]
    gauge = math.hypot(*(share.s_nm for share in parts if share is not None))
    assert found.gauge.s_nm == pytest.approx(gauge)
    assert math.hypot(found.gauge.percent, found.parts.percent) == pytest.approx(100)
    assert found.total.percent == pytest.approx(100)


@given(_studies(), st.integers(-(10**6), 10**6), st.integers(2, 9))
@settings(max_examples=50)
def test_zero_and_unit_of_the_gauge_do_not_matter(study: Study, shift: int, times: int) -> None:
    moved = [[[shift + times * value for value in cell] for cell in hand] for hand in study]
    for one, other in zip(variance_table(study), variance_table(moved), strict=True):
        tiny = 1e-6 * times**2
        assert other.sum_of_squares == pytest.approx(times**2 * one.sum_of_squares, rel=1e-7, abs=tiny)


@given(_studies(appraisers=1))
@settings(max_examples=50)
def test_one_hand_shows_repeatability_only(study: Study) -> None:
    found = analysis_of_variance(study)
    assert found.reproducibility is None
    assert found.interaction is None
    assert found.gauge == found.repeatability


def test_one_hand_agrees_with_one_way_analysis_elsewhere() -> None:
    study = _simulated(3, 1, 8, 3, ev=900, av=0, pv=2_000)
    parts = variance_table(study)[0]
    f, p = stats.f_oneway(*study[0])
    assert (parts.f, parts.p) == (pytest.approx(f), pytest.approx(p))


def test_analysis_of_variance_finds_what_was_put_in() -> None:
    """400 parts, 40 hands: the components come back within a few per cent of the spreads drawn."""
    found = analysis_of_variance(_simulated(5, 40, 400, 2, ev=1_000, av=2_000, pv=5_000))
    assert found.reproducibility is not None
    assert found.repeatability.s_nm == pytest.approx(1_000, rel=0.02)
    assert found.reproducibility.s_nm == pytest.approx(2_000, rel=0.25)
    assert found.parts.s_nm == pytest.approx(5_000, rel=0.08)


def test_averages_and_ranges_find_what_was_put_in_on_the_whole() -> None:
    studies = [average_and_range(_simulated(seed, 3, 10, 3, ev=1_000, av=0, pv=5_000)) for seed in range(60)]
    assert np.mean([study.repeatability.s_nm for study in studies]) == pytest.approx(1_000, rel=0.05)
    assert np.mean([study.parts.s_nm for study in studies]) == pytest.approx(5_000, rel=0.1)


def test_interaction_is_kept_where_it_shows() -> None:
    study = [[[0, 1], [1_000, 1_001]], [[1_000, 1_001], [0, 1]]]  # the two hands see the parts the other way about
    found = analysis_of_variance(study)
    assert found.interaction is not None
    assert found.interaction.s_nm > 100 * found.repeatability.s_nm
    assert found.judgement == "not good enough"
    assert found.categories == 1
    assert analysis_of_variance(study, keep_interaction_below=0.0).interaction is None


def test_interaction_beside_a_gauge_without_scatter_is_certain() -> None:
    study = [[[0, 0], [1_000, 1_000]], [[1_000, 1_000], [100, 100]]]
    interaction = variance_table(study)[2]
    assert (interaction.f, interaction.p) == (math.inf, 0.0)
    assert analysis_of_variance(study).interaction is not None


def test_gauge_without_scatter_tells_any_number_apart() -> None:
    found = analysis_of_variance([[[0, 0], [1_000, 1_000], [2_000, 2_000]]])
    assert (found.gauge.s_nm, found.categories, found.judgement) == (0, None, "good")


def test_percentage_of_tolerance_is_six_spreads() -> None:
    found = average_and_range(_simulated(1, 2, 5, 2, ev=1_000, av=0, pv=5_000), tolerance_nm=60_000)
    assert found.gauge.percent_of_tolerance == pytest.approx(100 * 6 * found.gauge.s_nm / 60_000)


def test_readings_all_alike_show_the_gauge_is_too_coarse() -> None:
    with pytest.raises(Impossible, match="too coarse"):
        average_and_range([[[1, 1], [1, 1]]])


@pytest.mark.parametrize(
    ("study", "told"),
    [
        ([], "too few"),
        ([[[1, 2]]], "too few"),
        ([[[1, 2], [1, 2]], [[1, 2]]], "appraiser 2 measured 1 parts, the first 2"),
        ([[[1, 2], [1]]], "part 2 has 1 readings by appraiser 1, the first has 2"),
        ([[[1], [2]]], "one trial"),
    ],
)
def test_ragged_and_small_studies_are_refused(study: Study, told: str) -> None:
    with pytest.raises(Impossible, match=told):
        analysis_of_variance(study)


def test_counts_without_a_constant_are_told_with_those_that_have_one() -> None:
    with pytest.raises(OutOfRange, match="2 to 10") as refused:
        average_and_range([[[1, 2]] * 11])
    assert refused.value.field == "parts"
    with pytest.raises(OutOfRange, match="2 to 3"):
        average_and_range([[[1, 2, 3, 4]] * 5])
    with pytest.raises(OutOfRange, match="1 to 3"):
        average_and_range([[[1, 2]] * 5] * 4)


def test_tolerance_of_nothing_and_readings_that_are_no_figures_are_refused() -> None:
    with pytest.raises(OutOfRange):
        average_and_range([[[1, 2], [3, 4]]], tolerance_nm=0)
    with pytest.raises(OutOfRange):
        analysis_of_variance([[[1, math.nan], [3, 4]]])


def test_bias_agrees_with_the_one_sample_t_test_elsewhere() -> None:
    readings = [6_001_000, 6_002_500, 6_001_500, 6_003_000]
    found = gauge_bias(readings, 6_000_000)
    interval = stats.ttest_1samp(readings, 6_000_000).confidence_interval(0.95)
    assert (found.low_nm, found.high_nm) == pytest.approx((interval.low - 6e6, interval.high - 6e6), abs=1e-3)
    assert found.shown


def test_bias_by_range_needs_a_tabled_number_of_readings() -> None:
    with pytest.raises(OutOfRange, match="2 to 20 readings"):
        gauge_bias(list(range(21)), 0, method="range")
    with pytest.raises(Impossible) as refused:
        gauge_bias([1], 0)
    assert refused.value.field == "readings_nm"
