"""Gathers from plan and log the facts the rules ask for.

The statements stand ready at the top: building one anew takes SQLAlchemy longer than SQLite takes to answer it, and
these are asked for every reading.
"""

from __future__ import annotations

from collections import defaultdict
from typing import Any

from sqlalchemy import Connection, bindparam, func, select

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

PartPlan = tuple[tuple[OperationFacts, ...], tuple[DimensionFacts, ...]]
AT_ONCE = 500  # SQLite takes a limited number of values in one statement
DEAD = ("scrap", "entered by mistake")
_STATES_ASKED = ("scrap", "entered by mistake", "deviation accepted", "fitted", "taken off")


_THESE_PIECES = bindparam("piece_ids", expanding=True)
_OPERATIONS = (
    select(Operation.id, Operation.number, Operation.name)
    .where(Operation.part_id == bindparam("part_id"), Operation.retired_at.is_(None))  # type: ignore[union-attr]
    .order_by(Operation.number)
)
_DIMENSIONS = (
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
    .where(Dimension.part_id == bindparam("part_id"), Dimension.retired_at.is_(None))  # type: ignore[union-attr]
    .order_by(Dimension.id)
)
_RUNS = (
    select(RunPiece.piece_id, Run.id, Run.operation_id, RunEnd.outcome)
    .join(Run, Run.id == RunPiece.run_id)
    .join(RunEnd, RunEnd.run_id == Run.id, isouter=True)
    .where(RunPiece.piece_id.in_(_THESE_PIECES))  # type: ignore[attr-defined]
    .order_by(Run.id)
)
_READINGS = select(
    LatestReading.piece_id,
    LatestReading.reading_id,
    LatestReading.first_id,
    LatestReading.dimension_id,
    LatestReading.value_nm,
).where(LatestReading.piece_id.in_(_THESE_PIECES))  # type: ignore[attr-defined]
_STANDING_EVENTS = (
    select(Event.piece_id, Event.id, Event.kind, Event.reading_id, Event.text)
    .where(
        Event.piece_id.in_(_THESE_PIECES),  # type: ignore[union-attr]
        Event.kind.in_(_STATES_ASKED),  # type: ignore[attr-defined]
        ~select(Entry.replaces_id).where(Entry.replaces_id == Event.id).exists(),
    )
    .order_by(Event.id)
)
_PIECES = select(Piece.__table__).where(Piece.id.in_(_THESE_PIECES))  # type: ignore[attr-defined]


def operations_of(connection: Connection, part_id: int) -> tuple[OperationFacts, ...]:
    return tuple(OperationFacts(*row) for row in connection.execute(_OPERATIONS, {"part_id": part_id}))


def dimensions_of(connection: Connection, part_id: int) -> tuple[DimensionFacts, ...]:
    rows = connection.execute(_DIMENSIONS, {"part_id": part_id})
    return tuple(DimensionFacts(*row[:5], LimitFacts(*row[5:])) for row in rows)


def piece_facts(
    connection: Connection,
    piece: Any,
    operations: tuple[OperationFacts, ...],
    dimensions: tuple[DimensionFacts, ...],
) -> PieceFacts:
    """The facts of one piece; `operations` and `dimensions` are those of its part."""
    return facts_of_pieces(connection, [piece], {piece.part_id: (operations, dimensions)})[piece.id]


def facts_of_pieces(connection: Connection, pieces: list[Any], plans: dict[int, PartPlan]) -> dict[int, PieceFacts]:
    """The facts of each piece by its id, with as many statements for five hundred as for one.

    `plans` has the operations and dimensions of each part there is a piece of. No more than AT_ONCE pieces.
    """
    ids = [piece.id for piece in pieces]
    runs, readings, events = _runs(connection, ids), _readings(connection, ids), _standing_events(connection, ids)
    found = {}
    for piece in pieces:
        operations, dimensions = plans[piece.part_id]
        fitted_to = ""
        for event in events[piece.id]:
            if event.kind in ("fitted", "taken off"):
                fitted_to = event.text if event.kind == "fitted" else ""
        kinds = {event.kind for event in events[piece.id]}
        found[piece.id] = PieceFacts(
            mark=piece.mark,
            operations=operations,
            dimensions=dimensions,
            runs=tuple(runs[piece.id]),
            readings=readings[piece.id],
            accepted=frozenset(event.reading_id for event in events[piece.id] if event.kind == "deviation accepted"),
            scrapped="scrap" in kinds,
            entered_by_mistake="entered by mistake" in kinds,
            fitted_to=fitted_to,
        )
    return found


def _runs(connection: Connection, piece_ids: list[int]) -> dict[int, list[RunFacts]]:
    found: dict[int, list[RunFacts]] = defaultdict(list)
    for row in connection.execute(_RUNS, {"piece_ids": piece_ids}):
        found[row.piece_id].append(RunFacts(*row[1:]))
    return found


def _readings(connection: Connection, piece_ids: list[int]) -> dict[int, dict[int, ReadingFacts]]:
    found: dict[int, dict[int, ReadingFacts]] = defaultdict(dict)
    for row in connection.execute(_READINGS, {"piece_ids": piece_ids}):
        found[row.piece_id][row.dimension_id] = ReadingFacts(*row[1:])
    return found


def _standing_events(connection: Connection, piece_ids: list[int]) -> dict[int, list[Any]]:
    """The events that decide the state of each piece, in order, without those taken back."""
    found: dict[int, list[Any]] = defaultdict(list)
    for row in connection.execute(_STANDING_EVENTS, {"piece_ids": piece_ids}):
        found[row.piece_id].append(row)
    return found


def accepted_readings(connection: Connection, piece_id: int) -> set[int]:
    """The readings of a piece whose deviation was accepted and still is."""
    events = _standing_events(connection, [piece_id])[piece_id]
    return {event.reading_id for event in events if event.kind == "deviation accepted"}


def part_facts(connection: Connection, build_id: int) -> list[PartFacts]:
    """One for each part of a build, two for a part made in both hands."""
    counts: dict[tuple[int, str], dict[str, int]] = defaultdict(lambda: defaultdict(int))
    parts = connection.execute(
        select(Part.id, Part.number, Part.hand, Part.needed, Part.spares)
        .where(Part.build_id == build_id)
        .order_by(Part.id)
    ).all()
    hands_of = {part.id: part.hand for part in parts}
    for part_id, hand, state, count in connection.execute(
        select(PieceState.part_id, PieceState.hand, PieceState.state, func.count())
        .where(PieceState.build_id == build_id)
        .group_by(PieceState.part_id, PieceState.hand, PieceState.state)
    ):
        # The hand of a part may have been changed after its first pieces: made in one hand, they all count.
        counts[part_id, hand if hands_of[part_id] == "both" else hands_of[part_id]][state] += count
    facts = []
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
    for start in range(0, len(wanted), AT_ONCE):
        found.extend(connection.execute(_PIECES, {"piece_ids": wanted[start : start + AT_ONCE]}))
    return found
