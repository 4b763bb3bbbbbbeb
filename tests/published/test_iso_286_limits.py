"""ISO 286 against 273 published limits, tolerances and fits: iso_286_limits.csv, each with its standing and source."""

from __future__ import annotations

import csv
from fractions import Fraction
from pathlib import Path

import pytest

from server.trade.iso286 import fit, iso286_deviations, iso286_limits, it_tolerance, parse_iso286_requirement

ROWS = list(csv.DictReader((Path(__file__).parent / "iso_286_limits.csv").read_text(encoding="utf-8").splitlines()))


def _nm(text: str, nm_each: int) -> int:
    exact = Fraction(text) * nm_each
    assert exact.denominator == 1, text
    return int(exact)


def _rows(*kinds: str) -> list[object]:
    return [pytest.param(row, id=row["case"]) for row in ROWS if row["kind"] in kinds]


def test_every_published_row_is_of_a_kind_checked_here() -> None:
    assert len(ROWS) == 273
    assert {row["kind"] for row in ROWS} == {"IT grade", "shaft", "hole", "fit"}
    assert all(row["standing"] and row["source"] for row in ROWS)


@pytest.mark.parametrize("row", _rows("IT grade"))
def test_standard_tolerance_is_the_published_one(row: dict[str, str]) -> None:
    assert it_tolerance(_nm(row["nominal_mm"], 1_000_000), row["code"]) == _nm(row["tolerance_um"], 1_000)


@pytest.mark.parametrize("row", _rows("hole", "shaft"))
def test_deviations_and_limits_are_the_published_ones(row: dict[str, str]) -> None:
    nominal_nm = _nm(row["nominal_mm"], 1_000_000)
    deviations = _nm(row["lower_um"], 1_000), _nm(row["upper_um"], 1_000)
    limits = _nm(row["low_mm"], 1_000_000), _nm(row["high_mm"], 1_000_000)
    assert iso286_deviations(nominal_nm, row["code"]) == deviations
    assert iso286_limits(nominal_nm, row["code"]) == limits
    read = parse_iso286_requirement(f"Ø{row['nominal_mm']} {row['code']}")
    assert read == (nominal_nm, *limits, f"ISO 286 {row['code']}")


@pytest.mark.parametrize("row", _rows("fit"))
def test_clearances_of_a_fit_are_the_published_ones(row: dict[str, str]) -> None:
    found = fit(_nm(row["nominal_mm"], 1_000_000), row["code"])
    assert found.least_clearance_nm == _nm(row["least_clearance_um"], 1_000)
    assert found.greatest_clearance_nm == _nm(row["greatest_clearance_um"], 1_000)
    if row["note"] in ("clearance", "transition", "interference"):
        assert found.kind == row["note"]
