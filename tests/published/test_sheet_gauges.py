"""Gauge numbers against public tables: sheet_gauges.csv, in inches; −3 to 0 stand for 0000 to 0.

american    a public table of wire gauges (engineersedge.com, found); it rounds some sizes and cuts others off
birmingham  a public table of tube walls (engineeringtoolbox.com, found), the same as Holtzapffel's in Notes on Building
            Construction, part 3 (found), from which the code was written
steel       manufacturers' standard: 3, 10, 18 and 20 found in public pages, the others from memory
"""

from __future__ import annotations

import csv
from pathlib import Path

import pytest

from server.trade.sheet_gauges import thickness_nm

IN = 25_400_000
ROWS = list(csv.DictReader((Path(__file__).parent / "sheet_gauges.csv").read_text(encoding="utf-8").splitlines()))
NUMBERS = [row["number"] for row in ROWS]


@pytest.mark.parametrize("row", ROWS, ids=NUMBERS)
def test_american_gauge(row: dict[str, str]) -> None:
    got = thickness_nm("American", int(row["number"])) / IN
    assert got == pytest.approx(float(row["american_in"]), abs=1e-4)


@pytest.mark.parametrize("row", ROWS, ids=NUMBERS)
def test_birmingham_gauge(row: dict[str, str]) -> None:
    assert thickness_nm("Birmingham", int(row["number"])) == round(float(row["birmingham_in"]) * IN)


@pytest.mark.parametrize("row", [row for row in ROWS if row["steel_in"]], ids=lambda row: row["number"])
def test_manufacturers_standard_gauge(row: dict[str, str]) -> None:
    assert thickness_nm("manufacturers' standard", int(row["number"])) == round(float(row["steel_in"]) * IN)


def test_number_ten_american_is_the_worked_example() -> None:
    # found: a public worked example, 2.588 mm
    assert thickness_nm("American", 10) / 1e6 == pytest.approx(2.588, abs=5e-4)
