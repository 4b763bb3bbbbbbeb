from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from server.trade.errors import Impossible, OutOfRange
from server.trade.repeats import c4, repeats, t_quantile

READINGS = st.lists(st.integers(-(10**9), 10**9), min_size=2, max_size=12)


@given(READINGS)
def test_mean_and_spread_agree_with_numpy(values: list[int]) -> None:
    found = repeats(values)
    assert found.mean == pytest.approx(np.mean(values), rel=1e-9, abs=1e-6)
    assert found.s == pytest.approx(np.std(values, ddof=1), rel=1e-9, abs=1e-6)
    assert found.u_mean == pytest.approx(found.s / math.sqrt(len(values)))
    assert found.dof == len(values) - 1


@given(READINGS, st.integers(-(10**9), 10**9))
def test_spread_does_not_depend_on_the_size(values: list[int], shift: int) -> None:
    assert repeats([v + shift for v in values]).s == repeats(values).s


@pytest.mark.parametrize("values", [[], [12_004_000]])
def test_fewer_than_two_readings_have_no_spread(values: list[int]) -> None:
    with pytest.raises(Impossible, match="one reading shows no spread"):
        repeats(values)


def test_a_reading_that_is_no_number_is_refused_under_its_name() -> None:
    with pytest.raises(OutOfRange) as refused:
        repeats([1.0, math.nan], field="readings_nm")
    assert refused.value.field == "readings_nm"


@given(st.floats(1, 500), st.floats(0.01, 0.999))
def test_quantile_holds_the_coverage_it_says(dof: float, coverage: float) -> None:
    t = t_quantile(dof, coverage)
    assert stats.t.cdf(t, dof) - stats.t.cdf(-t, dof) == pytest.approx(coverage, abs=1e-9)


def test_quantile_of_endless_degrees_is_the_normal_one() -> None:
    assert t_quantile(math.inf, 0.95) == pytest.approx(1.959964, abs=1e-6)
    assert t_quantile(1e7, 0.95) == pytest.approx(t_quantile(math.inf, 0.95), abs=1e-5)


def test_quantile_shrinks_with_degrees_of_freedom() -> None:
    values = [t_quantile(dof, 0.95) for dof in (1, 2, 3, 5, 10, 100, math.inf)]
    assert values == sorted(values, reverse=True)


@pytest.mark.parametrize(("dof", "coverage"), [(0.5, 0.95), (math.nan, 0.95), (-math.inf, 0.95), (5, 0.0), (5, 1.0)])
def test_quantile_that_does_not_exist_is_refused(dof: float, coverage: float) -> None:
    with pytest.raises(OutOfRange):
        t_quantile(dof, coverage)


def test_c4_is_the_mean_of_s() -> None:
    for n in (2, 5, 25):
        assert c4(n) == pytest.approx(stats.chi(n - 1).mean() / math.sqrt(n - 1), rel=1e-9)
    with pytest.raises(OutOfRange):
        c4(1)
