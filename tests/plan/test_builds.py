"""Builds: names, units, and the general tolerance every plain size follows."""

from __future__ import annotations

import sqlite3

import pytest

from server.plan.builds import AddBuild, EditBuild
from server.plan.parts import EditPart
from tests.shop import Shop


@pytest.mark.parametrize(
    ("fields", "field"),
    [
        ({"name": ""}, "name"),
        ({"name": "  "}, "name"),
        ({"name": "x" * 121}, "name"),
        ({"name": "\udcff"}, "name"),
        ({"name": "a\x00"}, "name"),
        ({"name": None}, "name"),
        ({"unit": "cm"}, "unit"),
        ({"general_tolerance": "H7"}, "general_tolerance"),
        ({"general_tolerance": "-0.1"}, "general_tolerance"),
        ({"general_tolerance": "0"}, "general_tolerance"),
        ({"note": "x" * 4001}, "note"),
        ({"who": "x" * 81}, "who"),
        ({"id": 7}, "id"),
    ],
)
def test_what_cannot_be_a_build_is_told(shop: Shop, fields: dict[str, object], field: str) -> None:
    assert shop.refused(AddBuild, **{"name": "press", **fields}).field == field


def test_a_name_is_used_once(shop: Shop) -> None:
    first, second = shop.build("one"), shop.build("two")
    assert shop.refused(AddBuild, name="one").field == "name"
    assert shop.refused(EditBuild, build_id=second, name="one").field == "name"
    shop.do(EditBuild, build_id=first, name="one", note="its own name is no other's")


@pytest.mark.parametrize("number", [0, 999, 2**64])
def test_a_build_that_is_not_there_is_told(shop: Shop, number: int) -> None:
    assert shop.refused(EditBuild, build_id=number, name="x").why == "there is no build with this number"


def test_a_change_is_noted_in_words(shop: Shop, outside: sqlite3.Connection) -> None:
    build = shop.build("press")
    shop.do(EditBuild, build_id=build, name="press", unit="in", note="from drawings", who="me")
    shop.do(EditBuild, build_id=build, name="press", unit="in", note="from drawings")  # changes nothing
    assert outside.execute("SELECT who, what FROM plan_change ORDER BY id").fetchall() == [
        ("", "build press added"),
        ("me", "build press: note from nothing to “from drawings”; unit from “mm” to “in”"),
    ]


def limits(outside: sqlite3.Connection) -> list[tuple[object, ...]]:
    return outside.execute("SELECT low_nm, high_nm, standard FROM limits WHERE until IS NULL ORDER BY id").fetchall()


def test_plain_sizes_follow_a_change_of_the_general_tolerance(shop: Shop, outside: sqlite3.Connection) -> None:
    build = shop.build(general_tolerance="ISO 2768-m")
    part, own = shop.part(build), shop.part(build, "BR", general_tolerance="ISO 2768-c")
    shop.dimension(part, "plain", "25")
    shop.dimension(part, "with limits", "25 ±0.02")
    shop.dimension(own, "plain", "25")
    shop.do(EditBuild, build_id=build, name="proof press", general_tolerance="ISO 2768-f")
    # ISO 2768-1:1989 table 1, over 6 to 30 mm: f ±0.1, m ±0.2, c ±0.5 (from memory)
    assert limits(outside) == [
        (24_980_000, 25_020_000, ""),
        (24_500_000, 25_500_000, "ISO 2768-1 c"),
        (24_900_000, 25_100_000, "ISO 2768-1 f"),
    ]
    shop.do(EditPart, part_id=own, number="BR", name="brass", general_tolerance="")
    assert limits(outside)[-1] == (24_900_000, 25_100_000, "ISO 2768-1 f")
    assert outside.execute("SELECT count(*) FROM limits WHERE until IS NOT NULL").fetchone() == (2,)


def test_pieces_are_judged_anew_after_a_change_of_the_general_tolerance(shop: Shop) -> None:
    build = shop.build(general_tolerance="ISO 2768-m")
    part = shop.part(build)
    width = shop.dimension(part, "width", "25", "smaller")
    piece = shop.piece(part)
    shop.read(piece, width, "25.15")
    assert shop.latest(piece, width).verdict == "good"
    shop.do(EditBuild, build_id=build, name="proof press", general_tolerance="ISO 2768-f")
    assert shop.latest(piece, width).verdict == "metal left"


def test_a_general_tolerance_that_plain_sizes_need_cannot_be_taken_away(shop: Shop) -> None:
    build = shop.build(general_tolerance="ISO 2768-m")
    shop.dimension(shop.part(build), "width", "25")
    problem = shop.refused(EditBuild, build_id=build, name="proof press", general_tolerance="")
    assert problem.field == "general_tolerance"
    assert "“25” of width" in problem.why


@pytest.mark.parametrize(
    ("typed", "kept"),
    [
        ("±0.1", "±0.1 mm"),
        ("0,1", "0,1 mm"),
        ("±0.1 mm", "±0.1 mm"),
        ("±4 thou", "±4 thou"),
        ("ISO 2768-m", "ISO 2768-m"),
        ("m", "m"),
        ("", ""),
    ],
)
def test_a_figure_without_a_unit_gets_that_of_the_build(
    shop: Shop, outside: sqlite3.Connection, typed: str, kept: str
) -> None:
    shop.build(general_tolerance=typed)
    assert outside.execute("SELECT general_tolerance FROM build").fetchone() == (kept,)


def test_a_general_tolerance_means_the_same_for_sizes_in_either_unit(shop: Shop, outside: sqlite3.Connection) -> None:
    part = shop.part(shop.build(general_tolerance="±0.1"))
    shop.dimension(part, "a", "25.4", unit="mm")
    shop.dimension(part, "b", "1", unit="in")
    assert [row[:2] for row in limits(outside)] == [(25_300_000, 25_500_000)] * 2
