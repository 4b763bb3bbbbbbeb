"""What the machine page needs: runs in hand, what can be run now, and one run with everything to measure on it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from sqlalchemy import Connection, select

from server.log.gather import DEAD, dimensions_of, operations_of, piece_facts
from server.log.kept_tables import PieceOperation, PieceState
from server.log.runs import feed_as_said, the_run
from server.log.tables import Entry, Piece, Reading, Run, RunPiece
from server.plan.named import the_operation, the_part
from server.plan.tables import Dimension, Limits, Operation, Part
from server.rules.facts import LimitFacts
from server.rules.next_move import NextMove, next_move
from server.rules.verdict import Verdict, judge
from server.trade.length import Unit
from server.trade.thread_over_wires import OverWires, over_wires

# In the order in which a builder should see them: what was missed or is unfinished before what is next in turn.
RUNNABLE = ("forgotten", "to be cut again", "ready")


@dataclass(frozen=True, slots=True)
class CanRun:
    """An operation with the pieces that stand alike before it: to be run on them now."""

    operation_id: int
    number: int
    name: str
    part_number: str
    part_name: str
    machine: str
    setup: str
    planned_minutes: float | None
    state: str
    pieces: tuple[tuple[int, str], ...]  # id, mark


def can_be_run(connection: Connection, build_id: int) -> list[CanRun]:
    """Everything that can be run now, forgotten and unfinished operations first."""
    rows = connection.execute(
        select(
            Operation.id,
            Operation.number,
            Operation.name,
            Part.number.label("part_number"),  # type: ignore[attr-defined]
            Part.name.label("part_name"),  # type: ignore[attr-defined]
            Operation.machine,
            Operation.setup,
            Operation.planned_minutes,
            PieceState.piece_id,
            PieceState.mark,
            PieceOperation.state,
        )
        .join(PieceOperation, PieceOperation.operation_id == Operation.id)
        .join(PieceState, PieceState.piece_id == PieceOperation.piece_id)
        .join(Part, Part.id == Operation.part_id)
        .where(
            PieceState.build_id == build_id,
            PieceState.run_id.is_(None),  # type: ignore[union-attr]
            PieceState.state.not_in((*DEAD, "to be decided")),  # type: ignore[attr-defined]
            PieceOperation.state.in_(RUNNABLE),  # type: ignore[attr-defined]
        )
        .order_by(Part.id, Operation.number, PieceState.piece_id)
    ).all()
    grouped: dict[tuple[int, str], list[Any]] = {}
    for row in rows:
        grouped.setdefault((row.id, row.state), []).append(row)
    found = [
        CanRun(*group[0][:8], state, tuple((row.piece_id, row.mark) for row in group))
        for (_, state), group in grouped.items()
    ]
    return sorted(found, key=lambda each: RUNNABLE.index(each.state))


@dataclass(frozen=True, slots=True)
class Waits:
    """A piece that waits for a gauge or a decision before it can be cut on."""

    piece_id: int
    mark: str
    state: str
    next_move: str


def waits_for_a_hand(connection: Connection, build_id: int) -> list[Waits]:
    rows = connection.execute(
        select(PieceState.piece_id, PieceState.mark, PieceState.state, PieceState.next_move)
        .where(PieceState.build_id == build_id, PieceState.state.in_(("to be decided", "to be measured")))  # type: ignore
        .order_by(PieceState.state, PieceState.piece_id)
    )
    return [Waits(*row) for row in rows]


@dataclass(frozen=True, slots=True)
class InHand:
    """A run that is open."""

    run_id: int
    operation_number: int
    operation_name: str
    part_number: str
    marks: tuple[str, ...]


def in_hand(connection: Connection, build_id: int) -> list[InHand]:
    rows = connection.execute(
        select(PieceState.run_id, PieceState.mark, Operation.number, Operation.name, Part.number)
        .join(Run, Run.id == PieceState.run_id)
        .join(Operation, Operation.id == Run.operation_id)
        .join(Part, Part.id == PieceState.part_id)
        .where(PieceState.build_id == build_id)
        .order_by(PieceState.run_id, PieceState.piece_id)
    ).all()
    grouped: dict[int, list[Any]] = {}
    for row in rows:
        grouped.setdefault(row.run_id, []).append(row)
    return [
        InHand(run_id, group[0][2], group[0][3], group[0][4], tuple(row.mark for row in group))
        for run_id, group in grouped.items()
    ]


@dataclass(frozen=True, slots=True)
class Measured:
    """One dimension of one piece: what is asked for, what stands, and what to do about it."""

    piece_id: int
    dimension_id: int
    number: str
    name: str
    importance: str
    operation_number: int | None
    requirement: str
    requirement_unit: str
    standard: str
    gauge: str
    limits: LimitFacts
    history_nm: tuple[int, ...]  # every reading that was not replaced, oldest first
    reading_id: int | None
    value_nm: int | None
    verdict: Verdict | None
    accepted: bool
    move: NextMove | None
    over_wires: OverWires | None  # for a thread: what a micrometer reads over the best wires

    @property
    def required(self) -> bool:
        return self.importance != "cosmetic" and self.limits.kind != "reference"


@dataclass(frozen=True, slots=True)
class RunPieceView:
    piece_id: int
    mark: str
    hand: str
    work_offset: str
    state: str
    next_move: str
    dimensions: list[Measured]


@dataclass(frozen=True, slots=True)
class RunView:
    id: int
    build_id: int
    nth: int  # 1 for the first run of this operation on these pieces, 2 for the first re-run
    outcome: str | None
    started_at: Any
    who: str
    operation: Any
    part: Any
    rpm: float | None
    feed: str
    pieces: list[RunPieceView]


def run_view(connection: Connection, run_id: int, unit: Unit) -> RunView:
    """One run with, for each piece in it, the dimensions its operation makes (all of them, where it makes none)."""
    run = the_run(connection, run_id)
    operation = the_operation(connection, run.operation_id)
    part = the_part(connection, operation.part_id)
    entry = connection.execute(select(Entry.occurred_at, Entry.who).where(Entry.id == run_id)).one()
    pieces = []
    for row in connection.execute(
        select(
            RunPiece.piece_id,
            PieceState.mark,
            PieceState.hand,
            RunPiece.work_offset,
            PieceState.state,
            PieceState.next_move,
        )
        .join(PieceState, PieceState.piece_id == RunPiece.piece_id)
        .where(RunPiece.run_id == run_id)
        .order_by(RunPiece.piece_id)
    ).all():
        dimensions = measured(connection, row.piece_id, unit)
        made_here = [each for each in dimensions if each.operation_number == operation.number]
        pieces.append(RunPieceView(*row, made_here or dimensions))
    return RunView(
        run_id,
        part.build_id,
        _nth_run(connection, run),
        run.outcome,
        entry.occurred_at,
        entry.who,
        operation,
        part,
        run.rpm,
        feed_as_said(run.feed_typed, run.feed_unit),
        pieces,
    )


def _nth_run(connection: Connection, run: Any) -> int:
    here = select(RunPiece.piece_id).where(RunPiece.run_id == run.id)
    runs = (
        select(RunPiece.run_id)
        .join(Run, Run.id == RunPiece.run_id)
        .where(Run.operation_id == run.operation_id, Run.id <= run.id, RunPiece.piece_id.in_(here))  # type: ignore
        .distinct()
    )
    return len(connection.execute(runs).all())


def measured(connection: Connection, piece_id: int, unit: Unit) -> list[Measured]:
    """Every dimension of a piece with its readings and the next move, told in `unit`."""
    piece = connection.execute(select(Piece.__table__).where(Piece.id == piece_id)).one()  # type: ignore[attr-defined]
    dimensions = dimensions_of(connection, piece.part_id)
    facts = piece_facts(connection, piece, operations_of(connection, piece.part_id), dimensions)
    said = {
        row.id: row
        for row in connection.execute(
            select(Dimension.id, Dimension.gauge, Limits.requirement, Limits.unit, Limits.standard)
            .join(Limits, (Limits.dimension_id == Dimension.id) & Limits.until.is_(None))  # type: ignore[union-attr]
            .where(Dimension.part_id == piece.part_id, Dimension.retired_at.is_(None))  # type: ignore[union-attr]
        )
    }
    history: dict[int, list[int]] = {}
    replaced = select(Entry.id).where(Entry.replaces_id == Reading.id).exists()
    for row in connection.execute(
        select(Reading.dimension_id, Reading.value_nm)
        .where(Reading.piece_id == piece_id, Reading.value_nm.is_not(None), ~replaced)  # type: ignore[union-attr]
        .order_by(Reading.first_id)
    ):
        history.setdefault(row.dimension_id, []).append(row.value_nm)
    found = []
    for dimension in dimensions:
        reading = facts.readings.get(dimension.id)
        verdict = move = None
        if reading is not None:
            verdict = judge(reading.value_nm, dimension.limits)
            move = next_move(
                dimension.name, reading.value_nm, dimension.limits, verdict, dimension.operation_number, unit
            )
        about = said[dimension.id]
        found.append(
            Measured(
                piece_id=piece_id,
                dimension_id=dimension.id,
                number=dimension.number,
                name=dimension.name,
                importance=dimension.importance,
                operation_number=dimension.operation_number,
                requirement=about.requirement,
                requirement_unit=about.unit,
                standard=about.standard,
                gauge=about.gauge,
                limits=dimension.limits,
                history_nm=tuple(history.get(dimension.id, ())),
                reading_id=reading.id if reading else None,
                value_nm=reading.value_nm if reading else None,
                verdict=verdict,
                accepted=reading is not None and reading.id in facts.accepted,
                move=move,
                over_wires=over_wires(about.requirement, dimension.limits.cutting),
            )
        )
    return found
