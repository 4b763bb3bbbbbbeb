"""Expansion figures and corrections for warmth against published tables and worked sums."""

from __future__ import annotations

import csv
from pathlib import Path

import pytest

from server.trade.temperature import (
    EXPANSIONS,
    c_from_f,
    corrected_reading_nm,
    expansion_of,
    per_c_from_per_f,
    size_at_temperature_nm,
)

ROWS = list(csv.DictReader(Path(__file__).with_name("thermal_expansion.csv").read_text(encoding="utf-8").splitlines()))


@pytest.mark.parametrize("row", ROWS, ids=[f"{row['material']} {row['millionths_per_c']}" for row in ROWS])
def test_tabled_expansion_agrees_with_the_published_one(row: dict[str, str]) -> None:
    ours = expansion_of(row["material"])
    assert ours.per_c * 1e6 == pytest.approx(float(row["millionths_per_c"]), abs=float(row["tolerance"]) + 1e-9)


@pytest.mark.parametrize("row", ROWS, ids=[f"{row['material']} {row['millionths_per_c']}" for row in ROWS])
def test_published_expansion_lies_in_the_range_we_give(row: dict[str, str]) -> None:
    ours = expansion_of(row["material"])
    assert abs(ours.per_c - float(row["millionths_per_c"]) * 1e-6) <= ours.half_width_per_c + 1e-12


def test_every_tabled_material_says_where_it_comes_from() -> None:
    for row in EXPANSIONS.values():
        assert "found" in row.source or "from memory" in row.source
        assert 0 < row.half_width_per_c < row.per_c


# L α (t − 20), computed
@pytest.mark.parametrize(("per_c", "grown_nm"), [(11.5e-6, 9_200), (23e-6, 18_400)])
def test_a_hundred_millimetres_eight_degrees_warm(per_c: float, grown_nm: int) -> None:
    assert size_at_temperature_nm(100_000_000, 28.0, per_c) - 100_000_000 == pytest.approx(grown_nm, abs=1)


def test_part_and_gauge_of_one_material_and_warmth_need_no_correction() -> None:
    """Computed: 50.000 mm read steel on steel at 30 °C is 50.000 mm at 20 °C; correcting the part alone would take off
    5.75 µm."""
    read = corrected_reading_nm(50_000_000, part_c=30.0, part_per_c=11.5e-6, gauge_c=30.0, gauge_per_c=11.5e-6)
    assert read == 50_000_000


def test_inch_and_fahrenheit() -> None:
    """2.0000 in of steel, 6.4e-6 per °F, at 86 °F grows by 0.00023 in (computed 0.000230, tolerance 2e-6 in)."""
    grown = size_at_temperature_nm(50_800_000, c_from_f(86.0), per_c_from_per_f(6.4e-6)) - 50_800_000
    assert grown / 25_400_000 == pytest.approx(0.00023, abs=2e-6)


def test_steel_per_fahrenheit_is_steel_per_celsius() -> None:
    assert per_c_from_per_f(6.4e-6) == pytest.approx(11.5e-6, abs=0.05e-6)
    assert c_from_f(68.0) == 20.0
