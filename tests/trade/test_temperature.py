from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from server.trade.errors import OutOfRange, Unreadable
from server.trade.temperature import (
    EXPANSIONS,
    c_from_f,
    corrected_reading_nm,
    expansion_of,
    expected_reading_nm,
    growth,
    per_c_from_per_f,
    size_at_reference_nm,
    size_at_temperature_nm,
)

SIZES = st.integers(-2_000_000_000, 2_000_000_000)
WARMTHS = st.floats(-10, 60)
COEFFICIENTS = st.floats(0, 300e-6)


@given(SIZES, WARMTHS, COEFFICIENTS)
def test_warming_and_cooling_undo_each_other(size_nm: int, temperature_c: float, per_c: float) -> None:
    warm = size_at_temperature_nm(size_nm, temperature_c, per_c)
    assert abs(size_at_reference_nm(warm, temperature_c, per_c) - size_nm) <= 1


@given(SIZES, WARMTHS, COEFFICIENTS, WARMTHS, COEFFICIENTS)
def test_correction_and_its_inverse_undo_each_other(
    size_nm: int, part_c: float, part_per_c: float, gauge_c: float, gauge_per_c: float
) -> None:
    at = {"part_c": part_c, "part_per_c": part_per_c, "gauge_c": gauge_c, "gauge_per_c": gauge_per_c}
    assert abs(corrected_reading_nm(expected_reading_nm(size_nm, **at), **at) - size_nm) <= 1


@given(SIZES, COEFFICIENTS, COEFFICIENTS)
def test_nothing_is_corrected_at_twenty_degrees(size_nm: int, part_per_c: float, gauge_per_c: float) -> None:
    at = {"part_c": 20.0, "part_per_c": part_per_c, "gauge_c": 20.0, "gauge_per_c": gauge_per_c}
    assert corrected_reading_nm(size_nm, **at) == size_nm


def test_warm_aluminium_is_read_too_large_with_a_steel_gauge() -> None:
    """100 mm, 30 °C both: 10 × (23.3 − 11.5)e-6 × 100 mm = 11.8 µm to take off (first order)."""
    size = corrected_reading_nm(100_000_000, part_c=30.0, part_per_c=23.3e-6, gauge_c=30.0, gauge_per_c=11.5e-6)
    assert 100_000_000 - size == pytest.approx(11_800, abs=5)


def test_a_coefficient_typed_without_its_millionths_is_refused() -> None:
    with pytest.raises(OutOfRange) as refused:
        growth(11.5, 25.0)
    assert refused.value.field == "per_c"
    assert "0.0000115" in refused.value.accepts


@pytest.mark.parametrize("temperature_c", [-10.1, 60.1, float("nan")])
def test_temperature_outside_the_range_is_told_with_it(temperature_c: float) -> None:
    with pytest.raises(OutOfRange, match="-10 to 60 °C") as refused:
        corrected_reading_nm(1, part_c=20.0, part_per_c=0.0, gauge_c=temperature_c, gauge_per_c=0.0)
    assert refused.value.field == "gauge_c"


def test_material_is_found_however_it_is_written() -> None:
    assert expansion_of("  Carbon Steel ").per_c == 11.5e-6


def test_unknown_material_is_told_with_the_known_ones() -> None:
    with pytest.raises(Unreadable) as refused:
        expansion_of("unobtainium")
    assert all(name in refused.value.accepts for name in EXPANSIONS)


def test_fahrenheit_fixed_points() -> None:
    assert (c_from_f(32.0), c_from_f(212.0), c_from_f(-40.0)) == (0.0, 100.0, -40.0)
    with pytest.raises(OutOfRange):
        per_c_from_per_f(6.4)
