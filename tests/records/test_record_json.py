"""A record as JSON: that the schema beside the program describes what the program writes."""

from __future__ import annotations

import json
from fractions import Fraction

import pytest

from server.log.events import AcceptDeviation, ScrapPiece
from server.log.readings import CorrectReading
from server.records.record_json import SCHEMA
from server.store.database import Database
from tests.records.rods import HOSTILE, Rods, objects_in, valid_json


@pytest.fixture
def rods(database: Database) -> Rods:
    return Rods(database)


def test_the_json_is_as_its_schema_says_and_its_lengths_agree(rods: Rods) -> None:
    first, second = rods.pieces(2)
    run = rods.run(rods.mill, first, second, rpm=900.5, feed="250")
    rods.run(rods.bore, first, end=False)
    wrong = rods.read(first, rods.width, "24.900001", run_id=run)
    rods.do(CorrectReading(reading_id=wrong, value="24.97", why="slip"))
    rods.read(first, rods.eye, "1.25", unit="in", temperature_c=19.5)
    rods.do(AcceptDeviation(reading_id=rods.record(first).pieces[0].readings[1].id, text="will do"))
    rods.do(ScrapPiece(piece_id=second, text="dropped"))
    read = valid_json(rods.record())
    lengths = 0
    for each in objects_in(read):
        for name in [name for name in each if name.endswith("_nm")]:
            millimetres = each[name.removesuffix("_nm") + "_mm"]
            assert (None if millimetres is None else Fraction(millimetres) * 1_000_000) == each[name]
            lengths += each[name] is not None
    assert lengths > 20
    assert read["pieces"][0]["readings"][0]["value_mm"] == "24.900001"
    assert valid_json(rods.hostile_record())["build"]["note"] == HOSTILE


def test_every_field_of_the_json_is_described(rods: Rods) -> None:
    schema = json.loads(SCHEMA.read_text(encoding="utf-8"))
    fields = [
        (name, about)
        for each in objects_in(schema)
        if each.get("type") == "object"
        for name, about in each["properties"].items()
    ]
    assert len(fields) > 100
    assert [name for name, about in fields if len(about.get("description", "")) < 3] == []
