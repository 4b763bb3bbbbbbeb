"""The record of a piece or of a part, gathered from plan and log: everything, good enough to make it again.

Reads only, and in a fixed number of statements however many pieces there are.
"""

from __future__ import annotations

from collections import defaultdict
from datetime import datetime
from typing import Any

from sqlalchemy import Connection, Select, or_, select
from sqlalchemy.orm import aliased

from server.log.kept_tables import PieceOperation, PieceState
from server.log.tables import Entry, Event, Piece, Run, RunEnd, RunPiece
from server.plan.named import the_build, the_part, the_row
from server.plan.tables import Dimension, Limits, Operation, PlanChange
from server.records.record_photos import photos_told
from server.records.record_readings import readings_by_piece
from server.records.record_values import (
    DEAD,
    AtOperationTold,
    BuildTold,
    ChangeTold,
    DimensionTold,
    EventTold,
    LimitsTold,
    OperationTold,
    PartTold,
    PieceTold,
    Record,
    ReplacedTold,
    RunTold,
    file_name,
)
from server.records.what_worked import what_worked
from server.store.base import now

__all__ = ["Record", "file_name", "part_record", "piece_record"]

_Replacing = aliased(Entry.__table__)  # type: ignore[attr-defined]
_entry = Entry.__table__  # type: ignore[attr-defined]


def piece_record(connection: Connection, piece_id: int) -> Record:
    """Everything of one piece, with the plan it was made to. Raises NotThere."""
    piece = the_row(connection, Piece, piece_id, "piece")
    return _record(connection, piece.part_id, piece_id)


def part_record(connection: Connection, part_id: int) -> Record:
    """Everything of a part and of each of its pieces. Raises NotThere."""
    return _record(connection, part_id, None)


def _record(connection: Connection, part_id: int, only: int | None) -> Record:
    part = the_part(connection, part_id)
    build = the_build(connection, part.build_id)
    operations = _operations(connection, part_id)
    dimensions = _dimensions(connection, part_id)
    pieces = connection.execute(_pieces().where(Piece.part_id == part_id).order_by(Piece.id)).all()
    wanted = [piece for piece in pieces if only is None or piece.id == only]
    marks = {piece.id: piece.mark for piece in pieces}
    runs = _runs(connection, part_id, marks)
    at_operations = _at_operations(connection, part_id)
    events = _events(connection, part_id, {run.id: run for run in runs})
    alive = {piece.id for piece in pieces if piece.state not in DEAD}
    good = {
        (piece_id, at.operation_id)
        for piece_id, each in at_operations.items()
        for at in each
        if piece_id in alive and at.state == "done"
    }
    told = _events_of_pieces(events, runs)
    readings = readings_by_piece(connection, part_id, only, dimensions, told)
    photos, setup_photos = photos_told(connection, part_id, runs, told)
    return Record(
        about="part" if only is None else "piece",
        made_at=now(),
        build=BuildTold(build.id, build.name, build.unit, build.general_tolerance, build.note),
        part=PartTold(
            id=part.id,
            number=part.number,
            name=part.name,
            revision=part.revision,
            material=part.material,
            hand=part.hand,
            needed=part.needed,
            spares=part.spares,
            general_tolerance=part.general_tolerance,
            note=part.note,
            operations=operations,
            dimensions=dimensions,
        ),
        what_worked=what_worked(operations, runs, marks, good, [event for _, event in events], only),
        setup_photos=setup_photos,
        pieces=tuple(
            PieceTold(
                id=piece.id,
                mark=piece.mark,
                hand=piece.hand,
                revision=piece.revision,
                started_at=piece.occurred_at,
                who=piece.who,
                state=piece.state,
                next_move=piece.next_move,
                fitted_to=piece.fitted_to,
                fitted_at=_fitted_at(told[piece.id]) if piece.fitted_to else None,
                operations=tuple(at_operations[piece.id]),
                runs=tuple(run for run in runs if run.piece_id == piece.id),
                readings=tuple(readings[piece.id]),
                events=tuple(told[piece.id]),
                photos=tuple(photos[piece.id]),
            )
            for piece in wanted
        ),
        changes=_changes(connection, build.id, part_id),
    )


def _operations(connection: Connection, part_id: int) -> tuple[OperationTold, ...]:
    rows = connection.execute(
        select(
            Operation.id,
            Operation.number,
            Operation.name,
            Operation.machine,
            Operation.setup,
            Operation.work_offset,
            Operation.cutters,
            Operation.planned_minutes,
            Operation.check_before,
            Operation.retired_at,
        )
        .where(Operation.part_id == part_id)
        .order_by(Operation.number, Operation.id)
    )
    return tuple(OperationTold(*row) for row in rows)


def _dimensions(connection: Connection, part_id: int) -> tuple[DimensionTold, ...]:
    limits: dict[int, list[LimitsTold]] = defaultdict(list)
    for row in connection.execute(
        select(
            Limits.dimension_id,
            Limits.id,
            Limits.requirement,
            Limits.unit,
            Limits.kind,
            Limits.nominal_nm,
            Limits.low_nm,
            Limits.high_nm,
            Limits.standard,
            Limits.cutting,
            Limits.since,
            Limits.until,
        )
        .join(Dimension, Dimension.id == Limits.dimension_id)
        .where(Dimension.part_id == part_id)
        .order_by(Limits.id)
    ):
        limits[row.dimension_id].append(LimitsTold(*row[1:]))
    rows = connection.execute(
        select(
            Dimension.id,
            Dimension.number,
            Dimension.name,
            Dimension.operation_number,
            Dimension.importance,
            Dimension.gauge,
            Dimension.retired_at,
        )
        .where(Dimension.part_id == part_id)
        .order_by(Dimension.id)
    )
    return tuple(DimensionTold(*row, tuple(limits[row.id])) for row in rows)


def _pieces() -> Select[Any]:
    return (
        select(
            Piece.id,
            Piece.mark,
            Piece.hand,
            Piece.revision,
            Entry.occurred_at,
            Entry.who,
            PieceState.state,
            PieceState.next_move,
            PieceState.fitted_to,
        )
        .join(Entry, Entry.id == Piece.id)
        .join(PieceState, PieceState.piece_id == Piece.id)
    )


def _runs(connection: Connection, part_id: int, marks: dict[int, str]) -> list[RunTold]:
    """One for each piece in each run, in the order the runs were received."""
    end = aliased(_entry)
    rows = connection.execute(
        select(
            Run.id,
            RunPiece.piece_id,
            Run.operation_id,
            Operation.number,
            Operation.name,
            Run.machine,
            Run.setup,
            Run.cutters,
            RunPiece.work_offset,
            Run.rpm,
            Run.feed_typed,
            Run.feed_unit,
            Run.feed_nm,
            Entry.occurred_at,
            end.c.occurred_at.label("ended_at"),
            RunEnd.outcome,
            Entry.who,
            end.c.who.label("ended_by"),
        )
        .join(RunPiece, RunPiece.run_id == Run.id)
        .join(Operation, Operation.id == Run.operation_id)
        .join(Entry, Entry.id == Run.id)
        .join(RunEnd, RunEnd.run_id == Run.id, isouter=True)
        .join(end, end.c.id == RunEnd.id, isouter=True)
        .where(Operation.part_id == part_id)
        .order_by(Run.id, RunPiece.piece_id)
    ).all()
    in_run: dict[int, list[int]] = defaultdict(list)
    for row in rows:
        in_run[row.id].append(row.piece_id)
    return [
        RunTold(
            *row[:16],
            minutes=_minutes(row.occurred_at, row.ended_at),
            who=row.who,
            ended_by=row.ended_by or "",
            together=tuple(marks[other] for other in in_run[row.id] if other != row.piece_id),
        )
        for row in rows
    ]


def _minutes(start: datetime, end: datetime | None) -> float | None:
    """A run whose end is not after its start was put in the log when it was over: how long it took is not known."""
    if end is None or end <= start:
        return None
    return round((end - start).total_seconds() / 60, 1)


def _at_operations(connection: Connection, part_id: int) -> dict[int, list[AtOperationTold]]:
    found: dict[int, list[AtOperationTold]] = defaultdict(list)
    for row in connection.execute(
        select(
            PieceOperation.piece_id,
            Operation.id,
            Operation.number,
            Operation.name,
            PieceOperation.state,
            PieceOperation.runs,
            PieceOperation.why,
        )
        .join(Operation, Operation.id == PieceOperation.operation_id)
        .where(Operation.part_id == part_id)
        .order_by(Operation.number)
    ):
        found[row.piece_id].append(AtOperationTold(*row[1:]))
    return found


def _events(connection: Connection, part_id: int, runs: dict[int, RunTold]) -> list[tuple[int | None, EventTold]]:
    """Each event of the part's pieces and runs, with the piece it names, if it names one. One taken back says so."""
    pieces = select(Piece.id).where(Piece.part_id == part_id)
    run_ids = select(Run.id).join(Operation, Operation.id == Run.operation_id).where(Operation.part_id == part_id)
    rows = connection.execute(
        select(
            Event.__table__,  # type: ignore[attr-defined]
            Entry.occurred_at,
            Entry.received_at,
            Entry.who,
            _Replacing.c.id.label("back_id"),
            _Replacing.c.occurred_at.label("back_at"),
            _Replacing.c.who.label("back_who"),
            _Replacing.c.why.label("back_why"),
        )
        .join(Entry, Entry.id == Event.id)
        .join(_Replacing, _Replacing.c.replaces_id == Event.id, isouter=True)
        .where(
            or_(Event.piece_id.in_(pieces), Event.run_id.in_(run_ids)),  # type: ignore[union-attr]
            Event.kind != "taken back",
        )
        .order_by(Event.id)
    )
    found: list[tuple[int | None, EventTold]] = []
    for row in rows:
        back = None
        if row.back_id is not None:
            back = ReplacedTold(row.back_id, "taken back", row.back_at, row.back_who, row.back_why)
        run = runs.get(row.run_id)
        event = EventTold(
            id=row.id,
            kind=row.kind,
            at=row.occurred_at,
            received_at=row.received_at,
            who=row.who,
            text=row.text,
            run_id=row.run_id,
            operation_number=run.operation_number if run else None,
            dimension_id=row.dimension_id,
            reading_id=row.reading_id,
            taken_back=back,
        )
        found.append((row.piece_id, event))
    return found


def _events_of_pieces(events: list[tuple[int | None, EventTold]], runs: list[RunTold]) -> dict[int, list[EventTold]]:
    """What is said of a run alone is said of every piece in it."""
    in_run: dict[int | None, list[int]] = defaultdict(list)
    for run in runs:
        in_run[run.id].append(run.piece_id)
    of_piece: dict[int, list[EventTold]] = defaultdict(list)
    for piece_id, event in events:
        for each in [piece_id] if piece_id is not None else in_run[event.run_id]:
            of_piece[each].append(event)
    return of_piece


def _fitted_at(events: list[EventTold]) -> datetime | None:
    return next((each.at for each in reversed(events) if each.kind == "fitted" and each.taken_back is None), None)


def _changes(connection: Connection, build_id: int, part_id: int) -> tuple[ChangeTold, ...]:
    """The changes of the part and, for its general tolerance and unit, of the build itself."""
    rows = connection.execute(
        select(PlanChange.id, PlanChange.part_id, PlanChange.at, PlanChange.who, PlanChange.what)
        .where(
            PlanChange.build_id == build_id,
            or_(PlanChange.part_id == part_id, PlanChange.part_id.is_(None)),  # type: ignore[union-attr]
        )
        .order_by(PlanChange.id)
    )
    return tuple(ChangeTold(*row) for row in rows)
