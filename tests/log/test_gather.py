"""Counting pieces: what there is of what is wanted, each hand for itself."""

from __future__ import annotations

from server.log.board import board
from server.log.events import MistakenPiece, ScrapPiece
from server.log.gather import part_facts
from server.plan.parts import EditPart
from server.rules.facts import PartFacts
from tests.shop import Shop


def facts(shop: Shop, build: int) -> list[PartFacts]:
    with shop.database.read() as connection:
        return part_facts(connection, build)


def test_pieces_are_counted_as_live_finished_and_scrap(shop: Shop) -> None:
    build = shop.build()
    part = shop.part(build, needed=3, spares=1)
    bore = shop.dimension(part)
    done, _, scrap, mistaken = shop.pieces(part, 4)
    shop.read(done, bore, "25.01")
    shop.do(ScrapPiece, piece_id=scrap, text="x")
    shop.do(MistakenPiece, piece_id=mistaken, text="x")
    assert facts(shop, build) == [
        PartFacts(part, "CR", "none", needed=3, spares=1, live=2, finished=1, scrapped=1),
    ]


def test_each_hand_is_counted_for_itself(shop: Shop) -> None:
    build = shop.build()
    part = shop.part(build, hand="both", needed=2)
    left = shop.pieces(part, 2, hand="left")
    shop.piece(part, hand="right")
    shop.do(ScrapPiece, piece_id=left[0], text="x")
    assert [(each.hand, each.live, each.scrapped) for each in facts(shop, build)] == [("left", 1, 1), ("right", 1, 0)]


def test_a_scrapped_piece_shows_at_once_that_one_more_blank_is_needed(shop: Shop) -> None:
    build = shop.build()
    part = shop.part(build, hand="both", needed=2)
    left = shop.pieces(part, 2, hand="left")
    shop.pieces(part, 2, hand="right")
    with shop.database.read() as connection:
        assert board(connection, build).shortages == []
    shop.do(ScrapPiece, piece_id=left[1], text="bore too large")
    with shop.database.read() as connection:
        found = board(connection, build)
    assert [(each.subject, each.what) for each in found.shortages] == [
        ("CR left", "CR: one more left-handed blank needed")
    ]
    assert found.parts[0].short == 1


def test_pieces_started_before_the_hand_of_their_part_was_changed_still_count(shop: Shop) -> None:
    build = shop.build()
    part = shop.part(build, needed=2)
    shop.pieces(part, 2)
    shop.do(EditPart, part_id=part, number="CR", name="rod", hand="left", needed=2)
    assert [each.live for each in facts(shop, build)] == [2]


def test_a_build_counts_its_own_pieces_alone(shop: Shop) -> None:
    one, two = shop.build("one"), shop.build("two")
    shop.pieces(shop.part(one), 2)
    shop.part(two)
    assert [each.live for each in facts(shop, two)] == [0]
