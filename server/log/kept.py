"""Keeps ready what screens read: written in the same transaction as the log row, made again from the log on demand."""

from __future__ import annotations

from typing import Any

from sqlalchemy import Connection, delete, insert, select

from server.log.gather import dimensions_of, operations_of, piece_facts, the_pieces
from server.log.kept_tables import LatestReading, PieceOperation, PieceState
from server.log.tables import Entry, Piece, Reading
from server.rules.facts import DimensionFacts, OperationFacts, PieceFacts
from server.rules.progress import Standing, standing
from server.rules.verdict import judge

_TABLES = (LatestReading, PieceOperation, PieceState)


def refresh(connection: Connection, pieces: set[int], parts: set[int]) -> None:
    """Bring the kept rows of these pieces, and of every piece of these parts, up to what the log now says."""
    touched = set(pieces)
    for part_id in parts:
        touched.update(connection.execute(select(Piece.id).where(Piece.part_id == part_id)).scalars())
    plans: dict[int, tuple[tuple[OperationFacts, ...], tuple[DimensionFacts, ...]]] = {}
    for piece in the_pieces(connection, touched):
        if piece.part_id not in plans:
            plans[piece.part_id] = (
                operations_of(connection, piece.part_id),
                dimensions_of(connection, piece.part_id),
            )
        operations, dimensions = plans[piece.part_id]
        _put_latest(connection, piece.id, dimensions)
        facts = piece_facts(connection, piece, operations, dimensions)
        _put_standing(connection, piece, facts, standing(facts))


def rebuild(connection: Connection) -> None:
    """Throw every kept row away and make it again from plan and log."""
    for table in _TABLES:
        connection.execute(delete(table))
    refresh(connection, set(connection.execute(select(Piece.id)).scalars()), set())


def kept_rows(connection: Connection) -> dict[str, list[tuple[Any, ...]]]:
    """Every kept row, in an order that does not depend on how it came to be: to compare kept with rebuilt."""
    return {
        table.__tablename__: sorted(tuple(row) for row in connection.execute(select(table.__table__)))  # type: ignore
        for table in _TABLES
    }


def _put_latest(connection: Connection, piece_id: int, dimensions: tuple[DimensionFacts, ...]) -> None:
    """The standing reading of each dimension. One index seek a dimension, however long the history is."""
    connection.execute(delete(LatestReading).where(LatestReading.piece_id == piece_id))
    replaced = select(Entry.id).where(Entry.replaces_id == Reading.id).exists()
    rows = []
    for dimension in dimensions:
        latest = connection.execute(
            select(Reading.id, Reading.first_id, Reading.value_nm)
            .where(
                Reading.piece_id == piece_id,
                Reading.dimension_id == dimension.id,
                Reading.value_nm.is_not(None),  # type: ignore[union-attr]
                ~replaced,
            )
            .order_by(Reading.first_id.desc())  # type: ignore[attr-defined]
            .limit(1)
        ).first()
        if latest is not None:
            rows.append(
                {
                    "piece_id": piece_id,
                    "dimension_id": dimension.id,
                    "reading_id": latest.id,
                    "first_id": latest.first_id,
                    "value_nm": latest.value_nm,
                    "verdict": judge(latest.value_nm, dimension.limits).word,
                }
            )
    if rows:
        connection.execute(insert(LatestReading), rows)


def _put_standing(connection: Connection, piece: Any, facts: PieceFacts, now: Standing) -> None:
    connection.execute(delete(PieceOperation).where(PieceOperation.piece_id == piece.id))
    if now.operations:
        connection.execute(
            insert(PieceOperation),
            [
                {
                    "piece_id": piece.id,
                    "operation_id": at.operation.id,
                    "state": at.state,
                    "runs": at.runs,
                    "why": at.why,
                }
                for at in now.operations
            ],
        )
    connection.execute(delete(PieceState).where(PieceState.piece_id == piece.id))
    connection.execute(
        insert(PieceState).values(
            piece_id=piece.id,
            build_id=piece.build_id,
            part_id=piece.part_id,
            mark=piece.mark,
            hand=piece.hand,
            state=now.state,
            next_move=now.next_move,
            operation_id=now.operation_id,
            run_id=now.open_run_id,
            fitted_to=facts.fitted_to,
        )
    )
