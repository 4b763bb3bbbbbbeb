"""Starting pieces: marks, hands, and what is told."""

from __future__ import annotations

import pytest

from server.log.events import MistakenPiece, ScrapPiece
from server.log.pieces import MOST_AT_ONCE, StartPieces
from tests.shop import Shop


def test_marks_left_empty_are_the_parts_number_and_the_next_free_count(shop: Shop) -> None:
    part = shop.part(shop.build())
    assert shop.do(StartPieces, part_id=part, count=2)["marks"] == ["CR-1", "CR-2"]
    assert shop.do(StartPieces, part_id=part, marks="CR-4")["marks"] == ["CR-4"]
    assert shop.do(StartPieces, part_id=part, count=2)["marks"] == ["CR-3", "CR-5"]


def test_several_marks_are_read_from_one_line(shop: Shop) -> None:
    answer = shop.do(StartPieces, part_id=shop.part(shop.build()), marks=" A1, A2;A3\nA4 ")
    assert answer["marks"] == ["A1", "A2", "A3", "A4"]


@pytest.mark.parametrize(
    ("marks", "read", "why"),
    [
        ("CR-1", "CR-1", "carries it"),
        ("A A", "A", "twice"),
        ("x" * 41, "x" * 41, "too long"),
        (" ".join(f"m{n}" for n in range(MOST_AT_ONCE + 1)), "51 marks", "too many"),
    ],
)
def test_marks_that_cannot_be_are_told(shop: Shop, marks: str, read: str, why: str) -> None:
    part = shop.part(shop.build())
    shop.piece(part)
    problem = shop.refused(StartPieces, part_id=part, marks=marks)
    assert problem.field == "marks"
    assert problem.read == read
    assert why in problem.why
    assert problem.accepts


def test_a_mark_is_taken_in_its_build_alone(shop: Shop) -> None:
    shop.piece(shop.part(shop.build("one")))
    assert shop.do(StartPieces, part_id=shop.part(shop.build("two")), marks="CR-1")["marks"] == ["CR-1"]


def test_scrap_keeps_its_mark_and_a_piece_entered_by_mistake_gives_it_back(shop: Shop) -> None:
    part = shop.part(shop.build())
    scrap, mistaken = shop.pieces(part, 2)
    shop.do(ScrapPiece, piece_id=scrap, text="bore too large")
    shop.do(MistakenPiece, piece_id=mistaken, text="there is only one blank")
    assert shop.do(StartPieces, part_id=part, count=2)["marks"] == ["CR-2", "CR-3"]


def test_the_hand_is_asked_for_where_there_are_two(shop: Shop) -> None:
    part = shop.part(shop.build(), hand="both")
    assert shop.refused(StartPieces, part_id=part).field == "hand"
    assert shop.standing(shop.piece(part, hand="left")).hand == "left"


def test_the_hand_follows_the_part_and_another_is_refused(shop: Shop) -> None:
    part = shop.part(shop.build(), hand="right")
    assert shop.standing(shop.piece(part)).hand == "right"
    problem = shop.refused(StartPieces, part_id=part, hand="left")
    assert (problem.field, problem.read, problem.accepts) == ("hand", "left", "right")


@pytest.mark.parametrize("count", [0, MOST_AT_ONCE + 1, -1])
def test_a_count_out_of_range_is_told(shop: Shop, count: int) -> None:
    assert shop.refused(StartPieces, part_id=shop.part(shop.build()), count=count).field == "count"


def test_a_piece_keeps_the_revision_its_part_had_when_it_was_started(shop: Shop, outside) -> None:  # type: ignore[no-untyped-def]
    piece = shop.piece(shop.part(shop.build(), revision="B"))
    assert outside.execute("SELECT revision FROM piece WHERE id = ?", (piece,)).fetchone() == ("B",)
