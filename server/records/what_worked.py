"""What worked: for each operation the settings to begin with when the part is made again."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence

from server.records.record_values import EventTold, OperationTold, RunTold, WorkedTold


def what_worked(
    operations: Iterable[OperationTold],
    runs: Sequence[RunTold],
    marks: Mapping[int, str],
    good: set[tuple[int, int]],
    events: Iterable[EventTold],
    own: int | None = None,
) -> tuple[WorkedTold, ...]:
    """For each operation of the plan the last finished run that left a good piece.

    runs    of all pieces of the part, in the order they were received
    marks   of the pieces, by id
    good    (piece id, operation id) where a piece that is not scrap has the operation done
    events  of all pieces of the part
    own     a piece whose own runs are wanted, where it was good: a record of one piece is of that piece first

    A run that has its speed or feed written down goes before a later one that has neither: it is to be made again from.
    """
    told = tuple(events)
    return tuple(
        _at(operation, runs, marks, good, told, own) for operation in operations if operation.retired_at is None
    )


def _at(
    operation: OperationTold,
    runs: Sequence[RunTold],
    marks: Mapping[int, str],
    good: set[tuple[int, int]],
    events: tuple[EventTold, ...],
    own: int | None,
) -> WorkedTold:
    here = [run for run in runs if run.operation_id == operation.id]
    worked = [run for run in here if run.outcome == "finished" and (run.piece_id, operation.id) in good]
    worked = [run for run in worked if run.piece_id == own] or worked
    written = [run for run in worked if run.rpm is not None or run.feed_nm is not None]
    best = next(reversed(written or worked), None)
    made_here = {run.id for run in here}
    remarks = {event.id: event for event in events if event.run_id in made_here and event.taken_back is None}
    return WorkedTold(
        operation=operation,
        run=best,
        mark="" if best is None else marks[best.piece_id],
        on=0 if best is None else [run.id for run in here if run.piece_id == best.piece_id].index(best.id) + 1,
        remarks=tuple(event for event in remarks.values() if event.kind in ("cutter broken", "chatter", "note")),
    )
