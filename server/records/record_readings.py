"""The readings of a record: every value ever logged, what became of it, and what its limits say of it."""

from __future__ import annotations

from collections import defaultdict
from typing import Any

from sqlalchemy import Connection, select
from sqlalchemy.orm import aliased

from server.log.tables import Entry, Piece, Reading, Run
from server.plan.tables import Operation
from server.records.record_values import DimensionTold, EventTold, LimitsTold, ReadingTold, ReplacedTold
from server.rules.verdict import judge

_Replacing = aliased(Entry.__table__)  # type: ignore[attr-defined]


def readings_by_piece(
    connection: Connection,
    part_id: int,
    only: int | None,
    dimensions: tuple[DimensionTold, ...],
    events: dict[int, list[EventTold]],
) -> dict[int, list[ReadingTold]]:
    """Every reading that had a value, by piece, in the order received. Taking one back is told on the one taken."""
    taking = aliased(Reading.__table__)  # type: ignore[attr-defined]
    asked = (
        select(
            Reading.__table__,  # type: ignore[attr-defined]
            Entry.occurred_at,
            Entry.received_at,
            Entry.who,
            Entry.replaces_id,
            Operation.number.label("operation_number"),  # type: ignore[attr-defined]
            _Replacing.c.id.label("by_id"),
            _Replacing.c.occurred_at.label("by_at"),
            _Replacing.c.who.label("by_who"),
            _Replacing.c.why.label("by_why"),
            taking.c.value_nm.label("by_value_nm"),
        )
        .join(Entry, Entry.id == Reading.id)
        .join(Piece, Piece.id == Reading.piece_id)
        .join(Run, Run.id == Reading.run_id, isouter=True)
        .join(Operation, Operation.id == Run.operation_id, isouter=True)
        .join(_Replacing, _Replacing.c.replaces_id == Reading.id, isouter=True)
        .join(taking, taking.c.id == _Replacing.c.id, isouter=True)
        .where(Piece.part_id == part_id, Reading.value_nm.is_not(None))  # type: ignore[union-attr]
        .order_by(Reading.id)
    )
    if only is not None:
        asked = asked.where(Reading.piece_id == only)
    rows = connection.execute(asked).all()
    planned = {dimension.id: dimension for dimension in dimensions}
    limits = {each.id: each for dimension in dimensions for each in dimension.limits}
    latest: dict[tuple[int, int], int] = {}
    for row in rows:
        if row.by_id is None:
            key = (row.piece_id, row.dimension_id)
            latest[key] = max(latest.get(key, 0), row.first_id)
    accepted = {
        event.reading_id: event.text
        for each in events.values()
        for event in each
        if event.kind == "deviation accepted" and event.taken_back is None
    }
    found: dict[int, list[ReadingTold]] = defaultdict(list)
    for row in rows:
        counts = latest.get((row.piece_id, row.dimension_id)) == row.first_id
        told = _reading(row, planned[row.dimension_id], limits[row.limits_id], counts, accepted.get(row.id, ""))
        found[row.piece_id].append(told)
    return found


def _reading(row: Any, dimension: DimensionTold, made_under: LimitsTold, counts: bool, accepted: str) -> ReadingTold:
    replaced = None
    if row.by_id is not None:
        how = "taken back" if row.by_value_nm is None else "corrected"
        replaced = ReplacedTold(row.by_id, how, row.by_at, row.by_who, row.by_why)  # type: ignore[arg-type]
    verdict = judge(row.value_nm, made_under.facts)
    in_force = dimension.limits[-1]
    changed = in_force.id != made_under.id and dimension.retired_at is None
    return ReadingTold(
        id=row.id,
        first_id=row.first_id,
        dimension_id=dimension.id,
        number=dimension.number,
        name=dimension.name,
        value_nm=row.value_nm,
        typed=row.typed,
        unit=row.unit,
        entered_as=row.entered_as,
        gauge=row.gauge,
        temperature_c=row.temperature_c,
        run_id=row.run_id,
        operation_number=row.operation_number,
        at=row.occurred_at,
        received_at=row.received_at,
        who=row.who,
        limits=made_under,
        verdict=verdict.word,
        beyond_nm=verdict.beyond_nm,
        verdict_now=judge(row.value_nm, in_force.facts).word if changed else None,
        standing=replaced.how if replaced else "latest" if counts else "earlier",
        replaces_id=row.replaces_id,
        replaced=replaced,
        accepted=accepted,
    )
