"""Dimensions: what is told, and limits that keep their past."""

from __future__ import annotations

import sqlite3

import pytest

from server.plan.dimensions import AddDimension, EditDimension, RetireDimension
from tests.shop import Shop

BORE = {"number": "D1", "name": "bore", "requirement": "25 +0.021/0", "cutting": "larger"}


@pytest.fixture
def part(shop: Shop) -> int:
    return shop.part(shop.build())


@pytest.mark.parametrize(
    ("fields", "field"),
    [
        ({"number": ""}, "number"),
        ({"name": ""}, "name"),
        ({"name": "x" * 201}, "name"),
        ({"requirement": ""}, "requirement"),
        ({"requirement": "25"}, "requirement"),  # no general tolerance is set
        ({"requirement": "about 25"}, "requirement"),
        ({"requirement": "25.1 to 24.9"}, "requirement"),
        ({"requirement": "2 km ±1"}, "requirement"),
        ({"requirement": "25 ±0.02\ud800"}, "requirement"),
        ({"requirement": "9" * 201}, "requirement"),
        ({"unit": "ft"}, "unit"),
        ({"cutting": "sideways"}, "cutting"),
        ({"operation_number": 0}, "operation_number"),
        ({"operation_number": 30}, "operation_number"),
        ({"operation_number": 10**30}, "operation_number"),
        ({"importance": "great"}, "importance"),
        ({"gauge": "x" * 201}, "gauge"),
        ({"part_id": 999}, "part_id"),
        ({"part_id": 2**63}, "part_id"),
        ({"low_nm": 5}, "low_nm"),
    ],
)
def test_what_cannot_be_a_dimension_is_told(shop: Shop, part: int, fields: dict[str, object], field: str) -> None:
    shop.operation(part, 10)
    problem = shop.refused(AddDimension, **{"part_id": part, **BORE, **fields})
    assert problem.field == field


def test_an_operation_may_be_named_before_there_are_any_and_not_a_wrong_one_after(shop: Shop, part: int) -> None:
    shop.do(AddDimension, part_id=part, **BORE, operation_number=30)
    shop.operation(part, 10)
    problem = shop.refused(AddDimension, **{**BORE, "number": "D2"}, part_id=part, operation_number=30)
    assert problem.accepts == "one of 10"


def test_a_number_is_used_once_in_a_part_and_is_free_when_its_dimension_is_taken_off(shop: Shop, part: int) -> None:
    first = shop.do(AddDimension, part_id=part, **BORE)["dimension_id"]
    second = shop.do(AddDimension, part_id=part, **{**BORE, "number": "D2"})["dimension_id"]
    assert shop.refused(AddDimension, part_id=part, **BORE).field == "number"
    assert shop.refused(EditDimension, dimension_id=second, **BORE).field == "number"
    shop.do(RetireDimension, dimension_id=first)
    shop.do(EditDimension, dimension_id=second, **BORE)


def test_a_dimension_taken_off_is_not_changed(shop: Shop, part: int) -> None:
    bore = shop.do(AddDimension, part_id=part, **BORE)["dimension_id"]
    shop.do(RetireDimension, dimension_id=bore)
    shop.do(RetireDimension, dimension_id=bore)  # a second time does no harm
    problem = shop.refused(EditDimension, dimension_id=bore, **BORE)
    assert (problem.field, problem.why) == ("dimension_id", "bore was taken off the part")


@pytest.mark.parametrize("number", [0, 999, 2**63])
def test_a_dimension_that_is_not_there_is_told(shop: Shop, number: int) -> None:
    for action, fields in ((EditDimension, BORE), (RetireDimension, {})):
        assert shop.refused(action, dimension_id=number, **fields).field == "dimension_id"


def test_new_limits_are_a_new_row_that_begins_when_the_old_one_ends(
    shop: Shop, part: int, outside: sqlite3.Connection
) -> None:
    bore = shop.do(AddDimension, part_id=part, **BORE)["dimension_id"]
    shop.do(EditDimension, dimension_id=bore, **BORE)  # the same
    shop.do(EditDimension, dimension_id=bore, **{**BORE, "requirement": "25 ±0.05"})
    rows = outside.execute("SELECT requirement, low_nm, high_nm, since, until FROM limits ORDER BY id").fetchall()
    assert [row[:3] for row in rows] == [("25 +0.021/0", 25_000_000, 25_021_000), ("25 ±0.05", 24_950_000, 25_050_000)]
    assert rows[0][4] == rows[1][3]
    assert rows[1][4] is None
    said = outside.execute("SELECT what FROM plan_change ORDER BY id DESC").fetchone()[0]
    assert said == "CR dimension D1 bore: requirement from “25 +0.021/0” to “25 ±0.05”"


def test_a_change_of_the_cutting_direction_is_a_change_of_limits(
    shop: Shop, part: int, outside: sqlite3.Connection
) -> None:
    bore = shop.do(AddDimension, part_id=part, **BORE)["dimension_id"]
    piece = shop.piece(part)
    shop.read(piece, bore, "24.9")
    assert shop.latest(piece, bore).verdict == "metal left"
    shop.do(EditDimension, dimension_id=bore, **{**BORE, "cutting": "smaller"})
    assert shop.latest(piece, bore).verdict == "past the limit"
    assert outside.execute("SELECT cutting FROM limits ORDER BY id").fetchall() == [("larger",), ("smaller",)]


def test_more_than_one_problem_is_told_at_once(shop: Shop, part: int) -> None:
    shop.operation(part, 10)
    shop.do(AddDimension, part_id=part, **BORE)
    error = shop._refusal(AddDimension, {"part_id": part, **BORE, "operation_number": 30})
    assert [each.field for each in error.problems] == ["number", "operation_number"]
