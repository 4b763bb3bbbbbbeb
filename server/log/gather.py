"""Gathers from plan and log the facts the rules ask for."""

from __future__ import annotations

from collections import defaultdict
from typing import Any

from sqlalchemy import Connection, func, select

from server.log.kept_tables import LatestReading, PieceState
from server.log.tables import Entry, Event, Piece, Run, RunEnd, RunPiece
from server.plan.tables import Dimension, Limits, Operation, Part
from server.rules.facts import (
    DimensionFacts,
    LimitFacts,
    OperationFacts,
    PartFacts,
    PieceFacts,
    ReadingFacts,
    RunFacts,
)

DEAD = ("scrap", "entered by mistake")
_STATES_ASKED = ("scrap", "entered by mistake", "deviation accepted", "fitted", "taken off")


def operations_of(connection: Connection, part_id: int) -> tuple[OperationFacts, ...]:
    rows = connection.execute(
        select(Operation.id, Operation.number, Operation.name)
        .where(Operation.part_id == part_id, Operation.retired_at.is_(None))  # type: ignore[union-attr]
        .order_by(Operation.number)
    )
    return tuple(OperationFacts(*row) for row in rows)


def dimensions_of(connection: Connection, part_id: int) -> tuple[DimensionFacts, ...]:
    rows = connection.execute(
        select(
            Dimension.id,
            Dimension.number,
            Dimension.name,
            Dimension.operation_number,
            Dimension.importance,
            Limits.nominal_nm,
            Limits.low_nm,
            Limits.high_nm,
            Limits.cutting,
            Limits.kind,
        )
        .join(Limits, (Limits.dimension_id == Dimension.id) & Limits.until.is_(None))  # type: ignore[union-attr]
        .where(Dimension.part_id == part_id, Dimension.retired_at.is_(None))  # type: ignore[union-attr]
        .order_by(Dimension.id)
    )
    return tuple(DimensionFacts(*row[:5], LimitFacts(*row[5:])) for row in rows)


def piece_facts(
    connection: Connection,
    piece: Any,
    operations: tuple[OperationFacts, ...],
    dimensions: tuple[DimensionFacts, ...],
) -> PieceFacts:
    """The facts of one piece; `operations` and `dimensions` are those of its part."""
    events = _standing_events(connection, piece.id)
    kinds = {event.kind for event in events}
    fitted_to = ""
    for event in events:
        if event.kind in ("fitted", "taken off"):
            fitted_to = event.text if event.kind == "fitted" else ""
    return PieceFacts(
        mark=piece.mark,
        operations=operations,
        dimensions=dimensions,
        runs=_runs(connection, piece.id),
        readings=_readings(connection, piece.id),
        accepted=frozenset(event.reading_id for event in events if event.kind == "deviation accepted"),
        scrapped="scrap" in kinds,
        entered_by_mistake="entered by mistake" in kinds,
        fitted_to=fitted_to,
    )


def _runs(connection: Connection, piece_id: int) -> tuple[RunFacts, ...]:
    rows = connection.execute(
        select(Run.id, Run.operation_id, RunEnd.outcome)
        .join(RunPiece, RunPiece.run_id == Run.id)
        .join(RunEnd, RunEnd.run_id == Run.id, isouter=True)
        .where(RunPiece.piece_id == piece_id)
        .order_by(Run.id)
    )
    return tuple(RunFacts(*row) for row in rows)


def _readings(connection: Connection, piece_id: int) -> dict[int, ReadingFacts]:
    rows = connection.execute(
        select(
            LatestReading.reading_id, LatestReading.first_id, LatestReading.dimension_id, LatestReading.value_nm
        ).where(LatestReading.piece_id == piece_id)
    )
    return {row.dimension_id: ReadingFacts(*row) for row in rows}


def _standing_events(connection: Connection, piece_id: int) -> list[Any]:
    """The events that decide the state of a piece, in order, without those taken back."""
    back = select(Entry.replaces_id).where(Entry.replaces_id == Event.id).exists()
    return list(
        connection.execute(
            select(Event.id, Event.kind, Event.reading_id, Event.text)
            .where(Event.piece_id == piece_id, Event.kind.in_(_STATES_ASKED), ~back)  # type: ignore[attr-defined]
            .order_by(Event.id)
        )
    )


def part_facts(connection: Connection, build_id: int) -> list[PartFacts]:
    """One for each part of a build, two for a part made in both hands."""
    counts: dict[tuple[int, str], dict[str, int]] = defaultdict(lambda: defaultdict(int))
    for part_id, hand, state, count in connection.execute(
        select(PieceState.part_id, PieceState.hand, PieceState.state, func.count())
        .where(PieceState.build_id == build_id)
        .group_by(PieceState.part_id, PieceState.hand, PieceState.state)
    ):
        counts[part_id, hand][state] += count
    facts = []
    parts = connection.execute(
        select(Part.id, Part.number, Part.hand, Part.needed, Part.spares)
        .where(Part.build_id == build_id)
        .order_by(Part.id)
    )
    for part in parts:
        hands = ("left", "right") if part.hand == "both" else (part.hand,)
        for hand in hands:
            states = counts[part.id, hand]
            facts.append(
                PartFacts(
                    part_id=part.id,
                    number=part.number,
                    hand=hand,
                    needed=part.needed,
                    spares=part.spares,
                    live=sum(count for state, count in states.items() if state not in DEAD),
                    finished=states["finished"] + states["fitted"],
                    scrapped=states["scrap"],
                )
            )
    return facts


def the_pieces(connection: Connection, piece_ids: set[int]) -> list[Any]:
    wanted = sorted(piece_ids)
    found = []
    # SQLite takes a limited number of values in one statement.
    for start in range(0, len(wanted), 500):
        some = wanted[start : start + 500]
        found.extend(connection.execute(select(Piece.__table__).where(Piece.id.in_(some))))  # type: ignore[attr-defined]
    return found
