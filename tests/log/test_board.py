"""The board reads kept rows: as many statements for many pieces as for one."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager

from sqlalchemy import event

from server.log.board import board
from server.log.events import MistakenPiece, ScrapPiece
from server.plan.dimensions import EditDimension
from server.store.database import Database
from tests.shop import Shop


@contextmanager
def statements(database: Database) -> Iterator[list[str]]:
    """Every statement carried out meanwhile, by readers and the writer."""
    seen: list[str] = []

    def see(connection: object, cursor: object, statement: str, *_: object) -> None:
        seen.append(statement)

    engines = (database._readers, database._writer._engine)
    for engine in engines:
        event.listen(engine, "before_cursor_execute", see)
    yield seen
    for engine in engines:
        event.remove(engine, "before_cursor_execute", see)


def test_reading_the_board_and_changing_the_plan_take_no_more_statements_for_more_pieces(shop: Shop) -> None:
    build = shop.build()
    part = shop.part(build)
    operation = shop.operation(part)
    bore = shop.dimension(part, operation_number=10)
    counts = []
    for count in (1, 40):
        pieces = shop.pieces(part, count)
        shop.run(operation, *pieces)
        for piece in pieces[:3]:
            shop.read(piece, bore, "25.01")
        with statements(shop.database) as seen:
            with shop.database.read() as connection:
                board(connection, build)
            fields = {"number": "bore", "name": "bore", "requirement": f"25 +0.{count + 30:03d}/0", "cutting": "larger"}
            shop.do(EditDimension, dimension_id=bore, operation_number=10, **fields)
        counts.append(len(seen))
    assert counts[0] == counts[1]


def test_the_board_shows_pieces_against_operations_and_what_still_needs_finishing(shop: Shop) -> None:
    build = shop.build()
    part = shop.part(build, needed=2, spares=1)
    first, second = shop.operation(part, 10), shop.operation(part, 20)
    bore = shop.dimension(part, operation_number=10)
    waiting, past, missed, scrap, mistaken = shop.pieces(part, 5)
    shop.run(first, past)
    shop.read(past, bore, "25.1")
    shop.run(second, missed, sure=True)
    shop.do(ScrapPiece, piece_id=scrap, text="dropped")
    shop.do(MistakenPiece, piece_id=mistaken, text="no such blank")
    with shop.database.read() as connection:
        found = board(connection, build)
    (shown,) = found.parts
    assert [(column.id, column.number) for column in shown.columns] == [(first, 10), (second, 20)]
    assert [(row.mark, row.state, [row.cells[each].state for each in (first, second)]) for row in shown.rows] == [
        ("CR-1", "ready", ["ready", "not ready"]),
        ("CR-2", "to be decided", ["to be decided", "not ready"]),
        ("CR-3", "forgotten", ["forgotten", "done"]),
        ("CR-4", "scrap", ["ready", "not ready"]),
    ]
    assert [row.piece_id for row in found.to_finish] == [past, missed, waiting]
    assert (shown.wanted, shown.needed, shown.live, shown.finished, shown.short) == (3, 2, 3, 0, 0)
