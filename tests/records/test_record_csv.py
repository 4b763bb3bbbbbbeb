"""The readings of a record as CSV: exact in both units, and safe to open in a spreadsheet."""

from __future__ import annotations

import re
from datetime import datetime, timedelta
from fractions import Fraction

import pytest

from server.records.record_csv import BYTE_ORDER_MARK, HEADINGS, as_csv
from server.records.record_html import as_html
from server.store.database import Database
from tests.records.rods import Page, Rods, csv_rows


@pytest.fixture
def rods(database: Database) -> Rods:
    return Rods(database)


def test_inches_and_millimetres_meet_without_loss(rods: Rods) -> None:
    [piece] = rods.pieces()
    rods.read(piece, rods.eye, "1.2505", unit="in")
    rods.read(piece, rods.width, "25.0001")
    rods.read(piece, rods.width, "+.001", unit="in", entered_as="deviation")
    rows = csv_rows(rods.record(piece))
    assert [row["value mm"] for row in rows] == ["31.7627", "25.0001", "25.0254"]
    assert rows[0]["value in"] == "1.2505"
    for row in rows:
        assert round(Fraction(row["value in"]) * 25_400_000) == Fraction(row["value mm"]) * 1_000_000
    assert [row["typed"] for row in rows] == ["1.2505", "25.0001", "+.001"]
    in_mm, in_inch = (Page(as_html(rods.record(piece), unit)).text for unit in ("mm", "in"))  # type: ignore[arg-type]
    assert "31.7627" in in_mm
    assert "typed 1.2505 in" in in_mm
    assert "typed 25.0001 mm" in in_inch
    assert "typed +.001 in from nominal" in in_inch


def test_no_cell_is_a_formula_and_numbers_stay_numbers(rods: Rods) -> None:
    record = rods.hostile_record()
    [old, new] = csv_rows(record)
    for row in (old, new):
        for value in row.values():
            assert value[:1] not in "=@" or value == ""
            assert value[:1] not in "+-" or value == "" or re.fullmatch(r"[+-][0-9.]+", value)
    assert old["part"] == "'=cmd|'/C calc'!A0"
    assert old["dimension"] == "-1"
    assert old["gauge"].startswith("'=1+1")
    assert old["why replaced"].endswith("\n=second line")  # a line within a cell begins no formula
    rods.read(record.pieces[0].id, record.part.dimensions[0].id, "-0.03", entered_as="deviation")
    rods.read(record.pieces[0].id, record.part.dimensions[0].id, "+2 thou", entered_as="deviation")
    assert [row["typed"] for row in csv_rows(rods.record(record.pieces[0].id))[2:]] == ["-0.03", "'+2 thou"]


def test_the_csv_has_one_row_of_headings_and_a_byte_order_mark(rods: Rods) -> None:
    [piece] = rods.pieces()
    rods.good(piece)
    text = as_csv(rods.record())
    assert text.startswith(BYTE_ORDER_MARK + "reading,")
    lines = text.removesuffix("\r\n").split("\r\n")
    assert len(lines) == 2
    assert len(set(HEADINGS)) == len(HEADINGS)
    row = csv_rows(rods.record())[0]
    assert datetime.fromisoformat(row["measured at"]).utcoffset() == timedelta(0)
    assert row["requirement"] == "25 ±0.02"
