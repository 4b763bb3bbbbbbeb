from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from server.trade.errors import Impossible, OutOfRange
from server.trade.uncertainty import (
    BudgetLine,
    arcsine,
    combine,
    from_certificate,
    rectangular,
    repeatability,
    resolution,
    triangular,
)

SPREADS = st.floats(0, 1e6)
DOFS = st.one_of(st.just(math.inf), st.floats(1, 1000))
LINES = st.builds(BudgetLine, st.just("a line"), SPREADS, DOFS)


@given(st.lists(LINES, max_size=8), LINES)
def test_uncertainty_grows_with_every_line(lines: list[BudgetLine], one_more: BudgetLine) -> None:
    assert combine([*lines, one_more]).u_nm >= combine(lines).u_nm * (1 - 1e-15)


@given(st.lists(LINES, min_size=1, max_size=8), st.integers(0, 7), st.floats(1, 100))
def test_uncertainty_grows_with_any_one_line(lines: list[BudgetLine], which: int, times: float) -> None:
    which %= len(lines)
    larger = BudgetLine("larger", lines[which].u_nm * times, lines[which].dof)
    assert combine([*lines[:which], larger, *lines[which + 1 :]]).u_nm >= combine(lines).u_nm * (1 - 1e-15)


@given(st.lists(LINES, max_size=8), LINES)
def test_expanded_uncertainty_of_well_known_lines_grows_too(lines: list[BudgetLine], one_more: BudgetLine) -> None:
    lines = [BudgetLine(line.what, line.u_nm) for line in lines]
    more = BudgetLine("one more", one_more.u_nm)
    before, after = combine(lines).expanded(), combine([*lines, more]).expanded()
    assert after.u_expanded_nm >= before.u_expanded_nm * (1 - 1e-15)


@given(st.lists(LINES, min_size=1, max_size=8))
def test_effective_degrees_lie_between_the_least_and_the_sum(lines: list[BudgetLine]) -> None:
    found = combine(lines)
    counted = [line.dof for line in lines if line.u_nm]
    if counted and found.u_nm > 1e-3:
        assert min(counted) * (1 - 1e-9) <= found.dof <= sum(counted) * (1 + 1e-9)


def test_one_line_keeps_its_own_degrees() -> None:
    assert combine([BudgetLine("three readings", 5.0, 2.0)]).expanded().dof == 2


def test_degrees_are_cut_down_not_rounded() -> None:
    found = combine([BudgetLine("a", 1.0, 2.0), BudgetLine("b", 1.0, 3.0)])  # 4 / (1/2 + 1/3) = 4.8
    assert found.dof == pytest.approx(4.8)
    assert found.expanded().dof == 4


@given(st.lists(LINES, max_size=8))
def test_normal_stand_in_is_never_less_than_u(lines: list[BudgetLine]) -> None:
    found = combine(lines)
    assert found.u_as_normal_nm >= found.u_nm * (1 - 1e-12)


def test_normal_stand_in_of_three_readings_and_of_endless_ones() -> None:
    """t 4.303 against 1.960 for 2 degrees of freedom."""
    assert combine([BudgetLine("three readings", 100, 2)]).u_as_normal_nm == pytest.approx(
        100 * 4.3027 / 1.95996, rel=1e-4
    )
    assert combine([BudgetLine("known", 100)]).u_as_normal_nm == pytest.approx(100)


def test_no_lines_and_lines_of_nothing_give_nothing() -> None:
    for found in (combine([]), combine([rectangular("none", 0)])):
        assert found.u_nm == found.expanded().u_expanded_nm == 0
        assert found.expanded().dof == math.inf


def test_shapes_of_the_same_half_width() -> None:
    """GUM: a/√3, a/√6, a/√2."""
    shapes = [rectangular("r", 600).u_nm, triangular("t", 600).u_nm, arcsine("c", 600).u_nm]
    assert shapes == pytest.approx([346.41, 244.95, 424.26], abs=0.01)
    assert from_certificate("block", 200, 2).u_nm == 100


def test_resolution_of_a_display_and_of_a_scale_read_to_the_line() -> None:
    assert resolution(1000).u_nm == pytest.approx(rectangular("half a step", 500).u_nm)
    assert resolution(10_000, parts_estimated=5).u_nm == pytest.approx(resolution(2_000).u_nm)


def test_repeats_give_s_over_root_n() -> None:
    line = repeatability([12_004_000, 12_006_000, 12_005_000])
    assert (line.u_nm, line.dof) == (pytest.approx(1000 / math.sqrt(3)), 2)


def test_one_reading_alone_is_refused_and_never_zero() -> None:
    with pytest.raises(Impossible, match="not the same as none"):
        repeatability([12_004_000])


def test_one_reading_takes_the_gauges_known_repeatability() -> None:
    line = repeatability([12_004_000], prior_s_nm=1_200, prior_dof=20)
    assert (line.u_nm, line.dof) == (1_200, 20)


def test_no_reading_is_refused() -> None:
    with pytest.raises(Impossible, match="nothing to judge"):
        repeatability([], prior_s_nm=1_200)


@pytest.mark.parametrize(("u_nm", "dof"), [(-1.0, 5.0), (math.nan, 5.0), (math.inf, 5.0), (1.0, 0.5), (1.0, math.nan)])
def test_line_that_means_nothing_is_refused(u_nm: float, dof: float) -> None:
    with pytest.raises(OutOfRange):
        BudgetLine("nonsense", u_nm, dof)
