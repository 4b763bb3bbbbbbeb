"""The board: pieces against operations, and what still needs finishing. Reads kept rows only."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass, field

from sqlalchemy import Connection, select

from server.log.gather import part_facts
from server.log.kept_tables import PieceOperation, PieceState
from server.plan.tables import Operation, Part
from server.rules.blanks import blanks_to_start, shortage
from server.rules.finding import Finding
from server.rules.progress import URGENCY


@dataclass(frozen=True, slots=True)
class Cell:
    state: str
    runs: int
    why: str


@dataclass(frozen=True, slots=True)
class Row:
    """One piece on the board."""

    piece_id: int
    part_id: int
    mark: str
    hand: str
    state: str
    next_move: str
    operation_id: int | None
    run_id: int | None
    fitted_to: str
    cells: dict[int, Cell]

    @property
    def holds_up(self) -> bool:
        return self.state in URGENCY


@dataclass(frozen=True, slots=True)
class Column:
    id: int
    number: int
    name: str
    machine: str


@dataclass(slots=True)
class PartBoard:
    """One part of the build: its operations, its pieces, and how many are there of how many wanted."""

    id: int
    number: str
    name: str
    hand: str
    wanted: int = 0
    needed: int = 0
    live: int = 0
    finished: int = 0
    short: int = 0
    columns: list[Column] = field(default_factory=list)
    rows: list[Row] = field(default_factory=list)


@dataclass(frozen=True, slots=True)
class Board:
    parts: list[PartBoard]
    shortages: list[Finding]

    @property
    def to_finish(self) -> list[Row]:
        """What still needs finishing, the most pressing first; what only waits for its next turn comes last."""
        rows = [row for part in self.parts for row in part.rows if row.holds_up]
        return sorted(rows, key=lambda row: (URGENCY.index(row.state), row.part_id, row.piece_id))  # type: ignore


def board(connection: Connection, build_id: int) -> Board:
    """The board of one build, parts in the order they were planned, pieces in the order they were started."""
    parts: dict[int, PartBoard] = {}
    for part in connection.execute(
        select(Part.id, Part.number, Part.name, Part.hand).where(Part.build_id == build_id).order_by(Part.id)
    ):
        parts[part.id] = PartBoard(*part)
    for operation in connection.execute(
        select(Operation.part_id, Operation.id, Operation.number, Operation.name, Operation.machine)
        .join(Part, Part.id == Operation.part_id)
        .where(Part.build_id == build_id, Operation.retired_at.is_(None))  # type: ignore[union-attr]
        .order_by(Operation.number)
    ):
        parts[operation.part_id].columns.append(Column(*operation[1:]))
    cells: dict[int, dict[int, Cell]] = defaultdict(dict)
    for row in connection.execute(
        select(
            PieceOperation.piece_id,
            PieceOperation.operation_id,
            PieceOperation.state,
            PieceOperation.runs,
            PieceOperation.why,
        )
        .join(PieceState, PieceState.piece_id == PieceOperation.piece_id)
        .where(PieceState.build_id == build_id)
    ):
        cells[row.piece_id][row.operation_id] = Cell(*row[2:])
    for row in connection.execute(
        select(
            PieceState.piece_id,
            PieceState.part_id,
            PieceState.mark,
            PieceState.hand,
            PieceState.state,
            PieceState.next_move,
            PieceState.operation_id,
            PieceState.run_id,
            PieceState.fitted_to,
        )
        .where(PieceState.build_id == build_id, PieceState.state != "entered by mistake")
        .order_by(PieceState.piece_id)
    ):
        parts[row.part_id].rows.append(Row(*row, cells[row.piece_id]))
    shortages = []
    for facts in part_facts(connection, build_id):
        part = parts[facts.part_id]
        part.needed += facts.needed
        part.wanted += facts.needed + facts.spares
        part.live += facts.live
        part.finished += facts.finished
        part.short += blanks_to_start(facts)
        found = shortage(facts)
        if found is not None:
            shortages.append(found)
    return Board(list(parts.values()), shortages)
