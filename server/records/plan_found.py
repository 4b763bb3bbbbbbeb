"""What the reading of a plan's sheet gives: typed rows, what is wrong with cells, and what the builder should know."""

from __future__ import annotations

from dataclasses import dataclass

from server.records.plan_cells import Cutting, Hand, Importance, Unit
from server.records.plan_fields import Kind
from server.trade.limits import Requirement


@dataclass(frozen=True, slots=True)
class DimensionRow:
    """One dimension as the sheet gives it. Lengths are in `requirement`; texts not given are ""."""

    line: int
    part_number: str
    part_name: str | None
    number: str
    name: str
    requirement: Requirement
    unit: Unit
    cutting: Cutting
    operation: int | None
    importance: Importance
    gauge: str


@dataclass(frozen=True, slots=True)
class OperationRow:
    """One operation as the sheet gives it. `work_offset` is "G54" or several as "G54/G55"; texts not given are ""."""

    line: int
    part_number: str
    part_name: str | None
    number: int
    name: str
    machine: str
    setup: str
    work_offset: str
    cutters: str
    planned_minutes: float | None
    check_before: str


@dataclass(frozen=True, slots=True)
class PartRow:
    """What the rows of one part say of the part itself; None where they say nothing. `line` is where it comes first."""

    line: int
    number: str
    name: str | None
    material: str | None
    hand: Hand | None
    needed: int | None
    spares: int | None
    revision: str | None


@dataclass(frozen=True, slots=True)
class CellProblem:
    """One cell that cannot be read. `column_index` counts from 0; `line` is the line of the file, counted from 1."""

    line: int
    column_index: int
    heading: str
    read: str
    why: str
    accepts: str


@dataclass(frozen=True, slots=True)
class Note:
    """Something the builder should know that stands in nobody's way. Without a cell it is about the whole sheet."""

    line: int | None
    column_index: int | None
    text: str


@dataclass(frozen=True, slots=True)
class RowsRead:
    """What a sheet says. `dimensions` or `operations` has the rows that can be read, in the order of the sheet."""

    kind: Kind
    parts: tuple[PartRow, ...]
    dimensions: tuple[DimensionRow, ...]
    operations: tuple[OperationRow, ...]
    problems: tuple[CellProblem, ...]
    notes: tuple[Note, ...]

    @property
    def can_be_taken(self) -> bool:
        """True when every cell could be read."""
        return not self.problems
