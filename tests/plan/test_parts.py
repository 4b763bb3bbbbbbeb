"""Parts: what is told, and what is noted."""

from __future__ import annotations

import sqlite3

import pytest

from server.plan.parts import AddPart, EditPart
from tests.shop import Shop


@pytest.mark.parametrize(
    ("fields", "field"),
    [
        ({"number": ""}, "number"),
        ({"number": "x" * 41}, "number"),
        ({"name": ""}, "name"),
        ({"hand": "middle"}, "hand"),
        ({"needed": -1}, "needed"),
        ({"needed": 1000}, "needed"),
        ({"needed": 1.5}, "needed"),
        ({"needed": 10**30}, "needed"),
        ({"spares": "many"}, "spares"),
        ({"general_tolerance": "tight"}, "general_tolerance"),
        ({"material": "x" * 121}, "material"),
        ({"material": "\ud800"}, "material"),
        ({"build_id": 999}, "build_id"),
        ({"build_id": 2**63}, "build_id"),
        ({"colour": "red"}, "colour"),
    ],
)
def test_what_cannot_be_a_part_is_told(shop: Shop, fields: dict[str, object], field: str) -> None:
    assert shop.refused(AddPart, **{"build_id": shop.build(), "number": "CR", "name": "rod", **fields}).field == field


def test_a_number_is_used_once_in_a_build(shop: Shop) -> None:
    one, two = shop.build("one"), shop.build("two")
    first = shop.part(one, "CR")
    for number in ("CR", "cr"):
        assert shop.refused(AddPart, build_id=one, number=number, name="rod").field == "number"
    other = shop.part(one, "BR")
    assert shop.refused(EditPart, part_id=other, number="CR", name="rod").field == "number"
    shop.do(EditPart, part_id=first, number="CR", name="its own number is no other's")
    shop.part(two, "CR")


@pytest.mark.parametrize("number", [0, -5, 999, 2**63])
def test_a_part_that_is_not_there_is_told(shop: Shop, number: int) -> None:
    assert shop.refused(EditPart, part_id=number, number="CR", name="rod").why == "there is no part with this number"


def test_a_change_is_noted_in_words(shop: Shop, outside: sqlite3.Connection) -> None:
    part = shop.part(shop.build(), needed=2)
    shop.do(EditPart, part_id=part, number="CR", name="connecting rod", needed=3, material="C45", who="me")
    assert outside.execute("SELECT who, part_id, what FROM plan_change ORDER BY id DESC").fetchone() == (
        "me",
        part,
        "part CR: material from nothing to “C45”; needed from 2 to 3",
    )


def test_a_parts_own_figure_without_a_unit_gets_that_of_the_build(shop: Shop, outside: sqlite3.Connection) -> None:
    shop.part(shop.build(unit="in"), general_tolerance="±.005")
    assert outside.execute("SELECT general_tolerance FROM part").fetchone() == ("±.005 in",)
