"""The photographs of a record: of each piece with its runs and events, and of the set-ups of the part."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable

from sqlalchemy import Connection, or_, select
from sqlalchemy.orm import aliased

from server.log.tables import Entry, Event, Photo, Piece, Run
from server.plan.tables import Operation
from server.records.record_values import EventTold, PhotoTold, ReplacedTold, RunTold

_Replacing = aliased(Entry.__table__)  # type: ignore[attr-defined]


def photos_told(
    connection: Connection, part_id: int, runs: Iterable[RunTold], events: dict[int, list[EventTold]]
) -> tuple[dict[int, list[PhotoTold]], tuple[PhotoTold, ...]]:
    """The photographs of each piece of a part, by its number, and those of the part's operations; in the order they
    were received. What shows a run is told of every piece in it.

    runs    one for each piece in each run
    events  of each piece, by its number
    """
    in_run: dict[int | None, list[int]] = defaultdict(list)
    for run in runs:
        in_run[run.id].append(run.piece_id)
    at_event: dict[int | None, list[int]] = defaultdict(list)
    for piece_id, each in events.items():
        for event in each:
            at_event[event.id].append(piece_id)
    of_piece: dict[int, list[PhotoTold]] = defaultdict(list)
    of_setup = []
    for piece_id, photo in _of_part(connection, part_id):
        if photo.of == "operation":
            of_setup.append(photo)
        for each_id in [piece_id] if piece_id is not None else in_run[photo.run_id] or at_event[photo.event_id]:
            of_piece[each_id].append(photo)
    return of_piece, tuple(of_setup)


def _of_part(connection: Connection, part_id: int) -> Iterable[tuple[int | None, PhotoTold]]:
    """Each photograph with the piece it names, if it names one."""
    pieces = select(Piece.id).where(Piece.part_id == part_id)
    operations = select(Operation.id).where(Operation.part_id == part_id)
    runs = select(Run.id).where(Run.operation_id.in_(operations))  # type: ignore[attr-defined]
    events = select(Event.id).where(or_(Event.piece_id.in_(pieces), Event.run_id.in_(runs)))  # type: ignore[union-attr]
    of_run = aliased(Operation.__table__)  # type: ignore[attr-defined]
    rows = connection.execute(
        select(
            Photo.__table__,  # type: ignore[attr-defined]
            Entry.occurred_at,
            Entry.received_at,
            Entry.who,
            Operation.number,
            of_run.c.number.label("number_of_run"),
            _Replacing.c.id.label("back_id"),
            _Replacing.c.occurred_at.label("back_at"),
            _Replacing.c.who.label("back_who"),
            _Replacing.c.why.label("back_why"),
        )
        .join(Entry, Entry.id == Photo.id)
        .join(Operation, Operation.id == Photo.operation_id, isouter=True)
        .join(Run, Run.id == Photo.run_id, isouter=True)
        .join(of_run, of_run.c.id == Run.operation_id, isouter=True)
        .join(_Replacing, _Replacing.c.replaces_id == Photo.id, isouter=True)
        .where(
            or_(
                Photo.piece_id.in_(pieces),  # type: ignore[union-attr]
                Photo.run_id.in_(runs),  # type: ignore[union-attr]
                Photo.operation_id.in_(operations),  # type: ignore[union-attr]
                Photo.event_id.in_(events),  # type: ignore[union-attr]
            )
        )
        .order_by(Photo.id)
    )
    for row in rows:
        back = None
        if row.back_id is not None:
            back = ReplacedTold(row.back_id, "taken back", row.back_at, row.back_who, row.back_why)
        of = next(each for each in ("piece", "run", "operation", "event") if getattr(row, f"{each}_id") is not None)
        yield (
            row.piece_id,
            PhotoTold(
                id=row.id,
                of=of,  # type: ignore[arg-type]
                sha256=row.sha256,
                media_type=row.media_type,
                width=row.width,
                height=row.height,
                size_bytes=row.size_bytes,
                caption=row.caption,
                at=row.occurred_at,
                received_at=row.received_at,
                who=row.who,
                run_id=row.run_id,
                operation_id=row.operation_id,
                operation_number=row.number if row.number is not None else row.number_of_run,
                event_id=row.event_id,
                taken_back=back,
            ),
        )
