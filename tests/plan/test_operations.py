"""Operations: the order of the sequence, renumbering, and taking one out."""

from __future__ import annotations

import sqlite3

import pytest

from server.plan.operations import AddOperation, EditOperation, RetireOperation, read_work_offsets
from server.store.action import Refused
from tests.shop import Shop


@pytest.fixture
def part(shop: Shop) -> int:
    return shop.part(shop.build())


@pytest.mark.parametrize(
    ("fields", "field"),
    [
        ({"number": 0}, "number"),
        ({"number": 10_000}, "number"),
        ({"number": "ten"}, "number"),
        ({"number": 10**25}, "number"),
        ({"name": ""}, "name"),
        ({"name": "x" * 201}, "name"),
        ({"work_offset": "G60"}, "work_offset"),
        ({"planned_minutes": -1}, "planned_minutes"),
        ({"planned_minutes": "nan"}, "planned_minutes"),
        ({"planned_minutes": float("inf")}, "planned_minutes"),
        ({"planned_minutes": "20 min"}, "planned_minutes"),
        ({"check_before": "x" * 1001}, "check_before"),
        ({"cutters": "\udfff"}, "cutters"),
        ({"part_id": 999}, "part_id"),
        ({"part_id": 2**63}, "part_id"),
    ],
)
def test_what_cannot_be_an_operation_is_told(shop: Shop, part: int, fields: dict[str, object], field: str) -> None:
    assert shop.refused(AddOperation, **{"part_id": part, "number": 10, "name": "bore", **fields}).field == field


def test_a_number_is_used_once_in_a_part_and_is_free_when_its_operation_is_taken_out(shop: Shop, part: int) -> None:
    first, second = shop.operation(part, 10), shop.operation(part, 20)
    assert shop.refused(AddOperation, part_id=part, number=10, name="x").field == "number"
    assert shop.refused(EditOperation, operation_id=second, number=10, name="x").field == "number"
    shop.do(RetireOperation, operation_id=first)
    shop.do(EditOperation, operation_id=second, number=10, name="x")
    shop.operation(part, 20)


def test_dimensions_go_with_their_operation_when_it_is_renumbered(shop: Shop, part: int) -> None:
    operation = shop.operation(part, 10)
    shop.dimension(part, operation_number=10)
    piece = shop.piece(part)
    shop.run(operation, piece)
    shop.do(EditOperation, operation_id=operation, number=15, name="bore")
    assert shop.state_at(piece, operation) == "to be measured"


def test_a_retired_operation_is_not_changed_and_takes_no_dimensions_from_its_successor(shop: Shop, part: int) -> None:
    old = shop.operation(part, 10)
    shop.do(RetireOperation, operation_id=old)
    new = shop.operation(part, 10)
    shop.dimension(part, operation_number=10)
    piece = shop.piece(part)
    shop.run(new, piece)
    problem = shop.refused(EditOperation, operation_id=old, number=15, name="x")
    assert (problem.field, problem.why) == ("operation_id", "op 10 was taken out of the sequence")
    assert shop.state_at(piece, new) == "to be measured"


def test_taking_an_operation_out_twice_is_noted_once(shop: Shop, part: int, outside: sqlite3.Connection) -> None:
    operation = shop.operation(part, 10, "bore")
    for _ in range(2):
        shop.do(RetireOperation, operation_id=operation)
    said = "SELECT count(*) FROM plan_change WHERE what = 'CR: op 10 bore taken out of the sequence'"
    assert outside.execute(said).fetchone() == (1,)


def test_what_an_operation_taken_out_made_still_has_to_come_out_right(shop: Shop, part: int) -> None:
    operation = shop.operation(part, 10)
    shop.dimension(part, operation_number=10)
    piece = shop.piece(part)
    shop.do(RetireOperation, operation_id=operation)
    assert (shop.standing(piece).state, shop.standing(piece).next_move) == ("to be measured", "to be measured: bore")


@pytest.mark.parametrize(
    ("typed", "read"),
    [
        ("", ""),
        ("G54", "G54"),
        ("g54/g55", "G54/G55"),
        ("G54, G59.3", "G54/G59.3"),
        ("G54 & G55; G56", "G54/G55/G56"),
    ],
)
def test_work_offsets_are_read_in_any_plain_spelling(typed: str, read: str) -> None:
    assert read_work_offsets(typed) == read
    assert read_work_offsets(read) == read


@pytest.mark.parametrize("typed", ["G53", "G59.4", "G5 4", "54", "G54-G56", "G54 P1"])
def test_what_is_no_work_offset_is_told(typed: str) -> None:
    with pytest.raises(Refused) as caught:
        read_work_offsets(typed, "pieces")
    (problem,) = caught.value.problems
    assert (problem.field, problem.read) == ("pieces", typed)
    assert problem.accepts == "G54, G55, G56, G57, G58, G59, G59.1, G59.2, G59.3"
