"""Tapers and wedges: laws and refusals. Published values are in tests/published/test_fastening.py."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from server.trade.errors import Impossible, OutOfRange
from server.trade.tapers import (
    compound_travel_nm,
    diameter_change_nm,
    half_angle_deg,
    plug_travel_nm,
    self_locking_deg,
    small_diameter_nm,
    tailstock_set_over_nm,
    taper_of_angle,
    taper_of_foot,
    taper_of_ratio,
    taper_of_sizes,
    wedge_rise_nm,
    wedge_slope,
    wedge_travel_nm,
)

MM = 1_000_000


@given(st.floats(0.01, 170))
def test_taper_and_angle_undo_each_other(included: float) -> None:
    assert 2 * half_angle_deg(taper_of_angle(included)) == pytest.approx(included)


@given(st.floats(1, 1000))
def test_one_in_n_is_twelve_over_n_to_the_foot(n: float) -> None:
    assert taper_of_ratio(n) == pytest.approx(taper_of_foot(12 / n))


@given(st.integers(10 * MM, 100 * MM), st.integers(0, 9 * MM), st.integers(MM, 500 * MM))
def test_a_taper_found_from_sizes_gives_the_sizes_back(large: int, change: int, length: int) -> None:
    small = large - change - 1
    assert abs(small_diameter_nm(large, taper_of_sizes(large, small, length), length) - small) <= 1


@given(st.floats(0.001, 0.5), st.integers(1, 10 * MM))
def test_travel_for_a_size_and_size_for_a_travel_undo_each_other(taper: float, change: int) -> None:
    assert abs(diameter_change_nm(taper, plug_travel_nm(change, taper)) - change) <= 1
    assert abs(wedge_rise_nm(taper, wedge_travel_nm(taper, change)) - change) <= 1


def test_half_a_thou_of_size_on_one_in_twenty_is_ten_thou_of_travel() -> None:
    assert plug_travel_nm(12_700, taper_of_ratio(20)) == 254_000


def test_set_over_counts_the_whole_work_not_only_its_tapered_part() -> None:
    taper = taper_of_ratio(20)
    assert tailstock_set_over_nm(taper, 200 * MM) == 5 * MM
    assert tailstock_set_over_nm(taper, 40 * MM) == MM


@given(st.integers(1, 10 * MM), st.floats(0, 85))
def test_a_compound_set_over_travels_further_than_it_feeds_in(depth: int, angle: float) -> None:
    assert compound_travel_nm(depth, angle) >= depth
    assert compound_travel_nm(depth, 0) == depth


def test_a_wedge_stays_put_at_a_flatter_slope_than_its_friction() -> None:
    assert wedge_slope(self_locking_deg(0.12)) == pytest.approx(0.12)


def test_a_taper_longer_than_its_point_is_impossible() -> None:
    with pytest.raises(Impossible, match="come to a point"):
        small_diameter_nm(10 * MM, 0.5, 21 * MM)
    with pytest.raises(Impossible, match="less than the large"):
        taper_of_sizes(10 * MM, 10 * MM, MM)


def test_figures_that_make_no_taper_are_refused() -> None:
    for refused in (
        lambda: taper_of_ratio(0),
        lambda: taper_of_foot(-1),
        lambda: taper_of_angle(0),
        lambda: taper_of_sizes(2, 1, 0),
        lambda: half_angle_deg(0),
        lambda: plug_travel_nm(1, 0),
        lambda: wedge_travel_nm(0, 1),
        lambda: wedge_rise_nm(float("nan"), 1),
        lambda: wedge_slope(90),
        lambda: tailstock_set_over_nm(0.05, 0),
        lambda: self_locking_deg(0),
        lambda: compound_travel_nm(0, 30),
    ):
        with pytest.raises(OutOfRange, match="more than 0"):
            refused()
    with pytest.raises(OutOfRange, match="1 or 2"):
        self_locking_deg(0.1, 3)
    with pytest.raises(OutOfRange, match="less than 90"):
        compound_travel_nm(MM, 90)
