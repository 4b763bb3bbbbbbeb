from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from server.trade.errors import Impossible, OutOfRange
from server.trade.indicator import (
    eccentricity_from_readings,
    eccentricity_from_run_out_nm,
    lever_factor,
    lever_movement_nm,
    lever_reading_nm,
    plunger_movement_nm,
    run_out_from_eccentricity_nm,
)


def test_lever_along_the_surface_is_right() -> None:
    assert lever_movement_nm(200_000, 0.0) == 200_000


def test_longer_stylus_moves_further_than_it_shows() -> None:
    assert lever_movement_nm(200_000, 0.0, length_ratio=2.0) == 400_000
    assert lever_factor(60.0, 2.0) == pytest.approx(1.0)


@given(st.integers(-(10**9), 10**9), st.floats(0, 60), st.floats(0.2, 5))
def test_movement_and_reading_undo_each_other(movement_nm: int, contact_deg: float, ratio: float) -> None:
    shown = lever_reading_nm(movement_nm, contact_deg, ratio)
    assert abs(lever_movement_nm(shown, contact_deg, ratio) - movement_nm) <= 3


@given(st.floats(0, 59))
def test_lever_overreads_more_at_a_steeper_angle(contact_deg: float) -> None:
    assert lever_factor(contact_deg + 1) < lever_factor(contact_deg)


def test_leaning_plunger_runs_too_far() -> None:
    """A flat that rises 1 mm pushes a plunger at 60° from square by 2 mm."""
    assert plunger_movement_nm(2_000_000, 60.0) == 1_000_000


@pytest.mark.parametrize("contact_deg", [-1.0, 60.1, math.nan])
def test_angle_outside_the_range_is_told_with_it(contact_deg: float) -> None:
    with pytest.raises(OutOfRange, match="0 to 60 °") as refused:
        lever_movement_nm(1, contact_deg)
    assert refused.value.field == "contact_deg"


@given(st.integers(0, 10**9))
def test_run_out_is_twice_the_eccentricity(eccentricity_nm: int) -> None:
    assert eccentricity_from_run_out_nm(run_out_from_eccentricity_nm(eccentricity_nm)) == eccentricity_nm


def test_negative_run_out_is_refused() -> None:
    with pytest.raises(OutOfRange):
        eccentricity_from_run_out_nm(-1)
    with pytest.raises(OutOfRange):
        run_out_from_eccentricity_nm(-1)


@given(st.integers(1_000, 100_000), st.floats(0, 359), st.integers(4, 36), st.integers(-(10**6), 10**6))
def test_offset_and_its_direction_come_back_from_the_readings(
    offset_nm: int, direction_deg: float, n: int, zero_nm: int
) -> None:
    """Readings of a true circle of 20 mm radius, turned about an axis off its centre: not the cosine that is fitted."""
    radius, where = 20_000_000, math.radians(direction_deg)
    readings = []
    for i in range(n):
        angle = 2 * math.pi * i / n
        along, across = offset_nm * math.cos(angle - where), offset_nm * math.sin(angle - where)
        readings.append(zero_nm + round(along + math.sqrt(radius**2 - across**2) - radius))
    found = eccentricity_from_readings(readings)
    assert found.offset_nm == pytest.approx(offset_nm, abs=2)
    off_deg = (found.high_deg - direction_deg + 180) % 360 - 180
    assert abs(math.radians(off_deg)) * offset_nm <= 2
    assert found.left_over_nm <= offset_nm**2 / radius + 4
    assert found.run_out_nm <= 2 * offset_nm + 1


def test_lobes_are_left_over_and_not_called_eccentric() -> None:
    readings = [round(1_000 * math.cos(3 * 2 * math.pi * i / 12)) for i in range(12)]
    found = eccentricity_from_readings(readings)
    assert (found.offset_nm, found.left_over_nm, found.run_out_nm) == (0, 2_000, 2_000)


def test_direction_is_never_a_whole_turn() -> None:
    assert eccentricity_from_readings([20_000, 0, -20_000, 0]).high_deg < 360


def test_two_readings_are_no_circle() -> None:
    with pytest.raises(Impossible, match="a circle needs three"):
        eccentricity_from_readings([1, 2])
