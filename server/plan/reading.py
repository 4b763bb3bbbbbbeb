"""The plan as it is read: parts with their operations and dimensions, and the limits in force."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from typing import Any

from sqlalchemy import Connection, select

from server.plan.tables import Dimension, Limits, Operation, Part, PlanChange


@dataclass(frozen=True, slots=True)
class OperationPlan:
    id: int
    number: int
    name: str
    machine: str
    setup: str
    work_offset: str
    cutters: str
    planned_minutes: float | None
    check_before: str

    @property
    def checks(self) -> list[str]:
        """The check list, a line each: as typed on lines, or else separated by commas or semicolons."""
        text = self.check_before
        pieces = text.splitlines() if "\n" in text else text.replace(";", ",").split(",")
        return [piece.strip() for piece in pieces if piece.strip()]


@dataclass(frozen=True, slots=True)
class DimensionPlan:
    id: int
    number: str
    name: str
    operation_number: int | None
    importance: str
    gauge: str
    requirement: str
    unit: str
    kind: str
    nominal_nm: int | None
    low_nm: int | None
    high_nm: int | None
    standard: str
    cutting: str


@dataclass(frozen=True, slots=True)
class PartPlan:
    id: int
    build_id: int
    number: str
    name: str
    revision: str
    material: str
    hand: str
    needed: int
    spares: int
    general_tolerance: str
    note: str
    operations: list[OperationPlan]
    dimensions: list[DimensionPlan]


@dataclass(frozen=True, slots=True)
class BuildPlan:
    id: int
    name: str
    note: str
    unit: str
    general_tolerance: str
    parts: list[PartPlan]


def build_plan(connection: Connection, build: Any) -> BuildPlan:
    """The plan of the build whose row is given."""
    rows = connection.execute(
        select(Part.__table__).where(Part.build_id == build.id).order_by(Part.id)  # type: ignore[attr-defined]
    ).all()
    parts = [part_plan(connection, row) for row in rows]
    return BuildPlan(build.id, build.name, build.note, build.unit, build.general_tolerance, parts)


def part_plan(connection: Connection, part: Any) -> PartPlan:
    """The plan of the part whose row is given; operations in the order of their numbers, dimensions as entered."""
    operations = connection.execute(
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
        )
        .where(Operation.part_id == part.id, Operation.retired_at.is_(None))  # type: ignore[union-attr]
        .order_by(Operation.number)
    )
    dimensions = connection.execute(
        select(
            Dimension.id,
            Dimension.number,
            Dimension.name,
            Dimension.operation_number,
            Dimension.importance,
            Dimension.gauge,
            Limits.requirement,
            Limits.unit,
            Limits.kind,
            Limits.nominal_nm,
            Limits.low_nm,
            Limits.high_nm,
            Limits.standard,
            Limits.cutting,
        )
        .join(Limits, (Limits.dimension_id == Dimension.id) & Limits.until.is_(None))  # type: ignore[union-attr]
        .where(Dimension.part_id == part.id, Dimension.retired_at.is_(None))  # type: ignore[union-attr]
        .order_by(Dimension.id)
    )
    return PartPlan(
        **part._asdict(),
        operations=[OperationPlan(*row) for row in operations],
        dimensions=[DimensionPlan(*row) for row in dimensions],
    )


@dataclass(frozen=True, slots=True)
class Change:
    at: datetime
    who: str
    what: str


def plan_changes(connection: Connection, build_id: int, limit: int = 200, part_id: int | None = None) -> list[Change]:
    """What was changed in the plan, newest first."""
    asked = select(PlanChange.at, PlanChange.who, PlanChange.what).where(PlanChange.build_id == build_id)
    if part_id is not None:
        asked = asked.where(PlanChange.part_id == part_id)
    return [Change(*row) for row in connection.execute(asked.order_by(PlanChange.id.desc()).limit(limit))]  # type: ignore
