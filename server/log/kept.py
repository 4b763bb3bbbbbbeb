"""Keeps ready what screens read: written in the same transaction as the log row, made again from the log on demand."""

from __future__ import annotations

from typing import Any

from sqlalchemy import Connection, Select, bindparam, delete, insert, select
from sqlalchemy.orm import aliased

from server.log.gather import AT_ONCE, PartPlan, dimensions_of, facts_of_pieces, operations_of, the_pieces
from server.log.kept_tables import LatestReading, PieceOperation, PieceState
from server.log.tables import Entry, Piece, Reading
from server.plan.tables import Dimension
from server.rules.progress import standing
from server.rules.verdict import judge

_TABLES = (LatestReading, PieceOperation, PieceState)


def _latest() -> Select[Any]:
    """The standing reading of each dimension: one index seek a piece and dimension, however long the history is."""
    candidate = aliased(Reading)
    latest = (
        select(candidate.id)
        .where(
            candidate.piece_id == Piece.id,
            candidate.dimension_id == Dimension.id,
            candidate.value_nm.is_not(None),
            ~select(Entry.id).where(Entry.replaces_id == candidate.id).exists(),
        )
        .order_by(candidate.first_id.desc())
        .limit(1)
        .correlate(Piece, Dimension)
        .scalar_subquery()
    )
    of_these = (
        select(latest)
        .select_from(Piece)
        .join(Dimension, Dimension.part_id == Piece.part_id)  # type: ignore[arg-type]
        .where(Piece.id.in_(_THESE_PIECES), Dimension.retired_at.is_(None))  # type: ignore
    )
    columns = (Reading.id, Reading.first_id, Reading.piece_id, Reading.dimension_id, Reading.value_nm)
    return select(*columns).where(Reading.id.in_(of_these))  # type: ignore


# Ready-made, as those in gather.py and for the same reason.
_THESE_PIECES = bindparam("piece_ids", expanding=True)
_LATEST = _latest()
_DELETES = [delete(table).where(table.piece_id.in_(_THESE_PIECES)) for table in _TABLES]  # type: ignore[attr-defined]
_INSERT_LATEST, _INSERT_OPERATIONS, _INSERT_STATES = insert(LatestReading), insert(PieceOperation), insert(PieceState)


def refresh(connection: Connection, pieces: set[int], parts: set[int]) -> None:
    """Bring the kept rows of these pieces, and of every piece of these parts, up to what the log now says."""
    touched = set(pieces)
    for part_id in parts:
        touched.update(connection.execute(select(Piece.id).where(Piece.part_id == part_id)).scalars())
    pieces_touched = the_pieces(connection, touched)
    for start in range(0, len(pieces_touched), AT_ONCE):
        _refresh(connection, pieces_touched[start : start + AT_ONCE])


def _refresh(connection: Connection, pieces: list[Any]) -> None:
    plans: dict[int, PartPlan] = {
        part_id: (operations_of(connection, part_id), dimensions_of(connection, part_id))
        for part_id in {piece.part_id for piece in pieces}
    }
    ids = [piece.id for piece in pieces]
    for statement in _DELETES:
        connection.execute(statement, {"piece_ids": ids})
    _put_latest(connection, ids, plans)
    facts = facts_of_pieces(connection, pieces, plans)
    states, at_operations = [], []
    for piece in pieces:
        now = standing(facts[piece.id])
        at_operations += [
            {
                "piece_id": piece.id,
                "operation_id": at.operation.id,
                "state": at.state,
                "runs": at.runs,
                "why": at.why,
            }
            for at in now.operations
        ]
        states.append(
            {
                "piece_id": piece.id,
                "build_id": piece.build_id,
                "part_id": piece.part_id,
                "mark": piece.mark,
                "hand": piece.hand,
                "state": now.state,
                "next_move": now.next_move,
                "operation_id": now.operation_id,
                "run_id": now.open_run_id,
                "fitted_to": facts[piece.id].fitted_to,
            }
        )
    if at_operations:
        connection.execute(_INSERT_OPERATIONS, at_operations)
    connection.execute(_INSERT_STATES, states)


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


def kept_and_rebuilt(connection: Connection) -> tuple[dict[str, Any], dict[str, Any]]:
    """What is kept and what the log says it should be. The kept rows are left exactly as they were."""
    kept = kept_rows(connection)
    looking = connection.begin_nested()
    rebuild(connection)
    rebuilt = kept_rows(connection)
    looking.rollback()
    return kept, rebuilt


def _put_latest(connection: Connection, piece_ids: list[int], plans: dict[int, PartPlan]) -> None:
    limits = {dimension.id: dimension.limits for _, dimensions in plans.values() for dimension in dimensions}
    rows = [
        {
            "piece_id": row.piece_id,
            "dimension_id": row.dimension_id,
            "reading_id": row.id,
            "first_id": row.first_id,
            "value_nm": row.value_nm,
            "verdict": judge(row.value_nm, limits[row.dimension_id]).word,
        }
        for row in connection.execute(_LATEST, {"piece_ids": piece_ids})
    ]
    if rows:
        connection.execute(_INSERT_LATEST, rows)
