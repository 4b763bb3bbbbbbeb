"""The log as it is read: what happened, in the order it was received, of a build or of one piece."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from sqlalchemy import Connection, Select, or_, select

from server.log.photos import PhotoSeen, photo_ids_of_piece, photos_by_id
from server.log.readings import limit_facts
from server.log.runs import feed_as_said
from server.log.tables import Entry, Event, Piece, Reading, Run, RunEnd, RunPiece
from server.plan.tables import Dimension, Limits, Operation
from server.rules.verdict import judge


@dataclass(frozen=True, slots=True)
class OnRun:
    """A piece in a run, as the story tells it."""

    piece_id: int
    mark: str
    work_offset: str


@dataclass(frozen=True, slots=True)
class Line:
    """One line of the story. `kind` is the entry's kind, or the event's own."""

    id: int
    kind: str
    occurred_at: datetime
    received_at: datetime
    who: str
    replaces_id: int | None
    replaced_by: int | None
    why: str
    pieces: tuple[OnRun, ...] = ()
    run_id: int | None = None
    operation_number: int | None = None
    operation_name: str = ""
    outcome: str = ""
    rpm: float | None = None
    feed: str = ""
    dimension_id: int | None = None
    dimension: str = ""
    requirement: str = ""
    value_nm: int | None = None
    typed: str = ""
    unit: str = ""
    gauge: str = ""
    verdict: str = ""
    beyond_nm: int = 0
    text: str = ""
    photo: PhotoSeen | None = None


def lines_of_build(connection: Connection, build_id: int, before: int | None, limit: int) -> list[Line]:
    """The newest `limit` lines of a build's log, newest first, older than entry `before` where that is given."""
    asked = select(Entry.__table__).where(Entry.build_id == build_id)  # type: ignore[attr-defined]
    if before is not None:
        asked = asked.where(Entry.id < before)
    return _lines(connection, asked.order_by(Entry.id.desc()).limit(limit))  # type: ignore[union-attr]


def lines_since(connection: Connection, build_id: int, after: int, limit: int) -> list[Line]:
    """The lines of a build's log that came after entry `after`, oldest first, `limit` at most."""
    asked = select(Entry.__table__).where(Entry.build_id == build_id, Entry.id > after)  # type: ignore
    return _lines(connection, asked.order_by(Entry.id).limit(limit))


def lines_of_piece(connection: Connection, piece_id: int) -> list[Line]:
    """The whole story of one piece, oldest first."""
    runs = select(RunPiece.run_id).where(RunPiece.piece_id == piece_id)
    asked = select(Entry.__table__).where(  # type: ignore[attr-defined]
        or_(
            Entry.id == piece_id,
            Entry.id.in_(runs),  # type: ignore[union-attr]
            Entry.id.in_(select(RunEnd.id).where(RunEnd.run_id.in_(runs))),  # type: ignore
            Entry.id.in_(select(Reading.id).where(Reading.piece_id == piece_id)),  # type: ignore[union-attr]
            Entry.id.in_(  # type: ignore[union-attr]
                select(Event.id).where(
                    or_(Event.piece_id == piece_id, Event.piece_id.is_(None) & Event.run_id.in_(runs))  # type: ignore
                )
            ),
            Entry.id.in_(photo_ids_of_piece(piece_id)),  # type: ignore[union-attr]
        )
    )
    return _lines(connection, asked.order_by(Entry.id))


def _lines(connection: Connection, asked: Select[Any]) -> list[Line]:
    entries = connection.execute(asked).all()
    ids = [entry.id for entry in entries]
    told: dict[int, dict[str, Any]] = {}
    for gather in (_pieces, _runs, _run_ends, _readings, _events, _photos):
        told.update(gather(connection, ids))
    replaced = {
        row.replaces_id: row.id
        for row in connection.execute(select(Entry.id, Entry.replaces_id).where(Entry.replaces_id.in_(ids)))  # type: ignore
    }
    return [
        Line(
            **{
                "id": entry.id,
                "kind": entry.kind,
                "occurred_at": entry.occurred_at,
                "received_at": entry.received_at,
                "who": entry.who,
                "replaces_id": entry.replaces_id,
                "replaced_by": replaced.get(entry.id),
                "why": entry.why,
                **told.get(entry.id, {}),
            }
        )
        for entry in entries
    ]


def _pieces(connection: Connection, ids: list[int]) -> dict[int, dict[str, Any]]:
    rows = connection.execute(select(Piece.id, Piece.mark).where(Piece.id.in_(ids)))  # type: ignore[attr-defined]
    return {row.id: {"pieces": (OnRun(row.id, row.mark, ""),)} for row in rows}


def _runs(connection: Connection, ids: list[int]) -> dict[int, dict[str, Any]]:
    rows = connection.execute(
        select(Run.id, Run.rpm, Run.feed_typed, Run.feed_unit, Operation.number, Operation.name)
        .join(Operation, Operation.id == Run.operation_id)
        .where(Run.id.in_(ids))  # type: ignore[attr-defined]
    ).all()
    on_run = _on_runs(connection, [row.id for row in rows])
    return {
        row.id: {
            "run_id": row.id,
            "pieces": on_run[row.id],
            "rpm": row.rpm,
            "feed": feed_as_said(row.feed_typed, row.feed_unit),
            "operation_number": row.number,
            "operation_name": row.name,
        }
        for row in rows
    }


def _on_runs(connection: Connection, run_ids: list[int]) -> dict[int, tuple[OnRun, ...]]:
    found: dict[int, tuple[OnRun, ...]] = defaultdict(tuple)
    for row in connection.execute(
        select(RunPiece.run_id, RunPiece.piece_id, Piece.mark, RunPiece.work_offset)
        .join(Piece, Piece.id == RunPiece.piece_id)
        .where(RunPiece.run_id.in_(run_ids))  # type: ignore[attr-defined]
        .order_by(RunPiece.piece_id)
    ):
        found[row.run_id] += (OnRun(*row[1:]),)
    return found


def _run_ends(connection: Connection, ids: list[int]) -> dict[int, dict[str, Any]]:
    rows = connection.execute(
        select(RunEnd.id, RunEnd.run_id, RunEnd.outcome, Operation.number, Operation.name)
        .join(Run, Run.id == RunEnd.run_id)
        .join(Operation, Operation.id == Run.operation_id)
        .where(RunEnd.id.in_(ids))  # type: ignore[attr-defined]
    ).all()
    on_run = _on_runs(connection, [row.run_id for row in rows])
    return {
        row.id: {
            "run_id": row.run_id,
            "outcome": row.outcome,
            "pieces": on_run[row.run_id],
            "operation_number": row.number,
            "operation_name": row.name,
        }
        for row in rows
    }


def _readings(connection: Connection, ids: list[int]) -> dict[int, dict[str, Any]]:
    rows = connection.execute(
        select(
            Reading.id.label("reading_id"),  # type: ignore[attr-defined]
            Reading.piece_id,
            Piece.mark,
            Reading.run_id,
            Reading.dimension_id,
            Dimension.name,
            Reading.value_nm,
            Reading.typed,
            Reading.unit.label("typed_unit"),  # type: ignore[attr-defined]
            Reading.gauge,
            *Limits.__table__.columns,  # type: ignore[attr-defined]
        )
        .join(Piece, Piece.id == Reading.piece_id)
        .join(Dimension, Dimension.id == Reading.dimension_id)
        .join(Limits, Limits.id == Reading.limits_id)
        .where(Reading.id.in_(ids))  # type: ignore[attr-defined]
    )
    found = {}
    for row in rows:
        judged = judge(row.value_nm, limit_facts(row)) if row.value_nm is not None else None
        found[row.reading_id] = {
            "pieces": (OnRun(row.piece_id, row.mark, ""),),
            "run_id": row.run_id,
            "dimension_id": row.dimension_id,
            "dimension": row.name,
            "requirement": row.requirement,
            "value_nm": row.value_nm,
            "typed": row.typed,
            "unit": row.typed_unit,
            "gauge": row.gauge,
            "verdict": judged.word if judged else "",
            "beyond_nm": judged.beyond_nm if judged else 0,
        }
    return found


def _events(connection: Connection, ids: list[int]) -> dict[int, dict[str, Any]]:
    rows = connection.execute(
        select(Event.id, Event.kind, Event.text, Event.run_id, Event.piece_id, Piece.mark, Dimension.name)
        .join(Piece, Piece.id == Event.piece_id, isouter=True)
        .join(Dimension, Dimension.id == Event.dimension_id, isouter=True)
        .where(Event.id.in_(ids))  # type: ignore[attr-defined]
    ).all()
    on_run = _on_runs(connection, [row.run_id for row in rows if row.run_id and row.piece_id is None])
    return {
        row.id: {
            "kind": row.kind,
            "text": row.text,
            "run_id": row.run_id,
            "dimension": row.name or "",
            "pieces": (OnRun(row.piece_id, row.mark, ""),) if row.piece_id else on_run.get(row.run_id, ()),
        }
        for row in rows
    }


def _photos(connection: Connection, ids: list[int]) -> dict[int, dict[str, Any]]:
    """With what each is about: its piece, or the pieces of its run; the operation; the event's own text."""
    photos = photos_by_id(connection, ids)
    events = _events(connection, [each.event_id for each in photos.values() if each.event_id is not None])
    runs = _runs(connection, [each.run_id for each in photos.values() if each.run_id is not None])
    pieces = _pieces(connection, [each.piece_id for each in photos.values() if each.piece_id is not None])
    operations = {
        row.id: {"operation_number": row.number, "operation_name": row.name}
        for row in connection.execute(
            select(Operation.id, Operation.number, Operation.name).where(
                Operation.id.in_([each.operation_id for each in photos.values()])  # type: ignore[union-attr]
            )
        )
    }
    found = {}
    for photo in photos.values():
        of_event = events.get(photo.event_id or 0, {})
        of_run = {name: runs.get(photo.run_id or 0, {}).get(name) for name in _OF_RUN if photo.run_id}
        about = of_event or of_run or operations.get(photo.operation_id or 0) or pieces.get(photo.piece_id or 0, {})
        text = f"{of_event['kind']}: {of_event['text']}" if of_event else ""
        found[photo.id] = {**about, "kind": "photo", "text": text, "photo": photo}
    return found


_OF_RUN = ("run_id", "pieces", "operation_number", "operation_name")
