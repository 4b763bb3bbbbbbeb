"""What is meant: builds, parts, operations, dimensions, and the limits each dimension has had.

Limits have a table of their own and are never overwritten: a reading names the limits that were in force when it was
made, and can always be shown with them.
"""

from __future__ import annotations

from datetime import datetime

from sqlalchemy import BigInteger, CheckConstraint, Index, UniqueConstraint, text
from sqlmodel import Field, SQLModel

from server.store.base import Moment


class Build(SQLModel, table=True):
    """One machine being made or rebuilt."""

    __tablename__ = "build"
    __table_args__ = (
        UniqueConstraint("name"),
        CheckConstraint("unit IN ('mm', 'in')", name="unit_known"),
    )

    id: int | None = Field(default=None, primary_key=True)
    name: str
    note: str = ""
    unit: str = "mm"
    general_tolerance: str = ""
    created_at: datetime = Field(sa_type=Moment)


class Part(SQLModel, table=True):
    """One drawing item. With hand 'both', `needed` and `spares` are of each hand."""

    __tablename__ = "part"
    __table_args__ = (
        UniqueConstraint("build_id", "number"),
        CheckConstraint("hand IN ('none', 'left', 'right', 'both')", name="hand_known"),
        CheckConstraint("needed >= 0 AND spares >= 0", name="counts_not_negative"),
    )

    id: int | None = Field(default=None, primary_key=True)
    build_id: int = Field(foreign_key="build.id")
    number: str
    name: str
    revision: str = ""
    material: str = ""
    hand: str = "none"
    needed: int = 1
    spares: int = 0
    general_tolerance: str = ""  # empty: that of the build
    note: str = ""


class Operation(SQLModel, table=True):
    """One step of a part's sequence. A retired one keeps its runs and is no longer asked for."""

    __tablename__ = "operation"
    __table_args__ = (
        Index(
            "uq_operation_part_id_number",
            "part_id",
            "number",
            unique=True,
            sqlite_where=text("retired_at IS NULL"),
            postgresql_where=text("retired_at IS NULL"),
        ),
    )

    id: int | None = Field(default=None, primary_key=True)
    part_id: int = Field(foreign_key="part.id")
    number: int
    name: str
    machine: str = ""
    setup: str = ""
    work_offset: str = ""
    cutters: str = ""
    planned_minutes: float | None = None
    check_before: str = ""
    retired_at: datetime | None = Field(default=None, sa_type=Moment)


class Dimension(SQLModel, table=True):
    """One thing to hold on a part. `operation_number` is the operation that makes it, by its number: sheets of
    dimensions and of operations are loaded in either order."""

    __tablename__ = "dimension"
    __table_args__ = (
        Index(
            "uq_dimension_part_id_number",
            "part_id",
            "number",
            unique=True,
            sqlite_where=text("retired_at IS NULL"),
            postgresql_where=text("retired_at IS NULL"),
        ),
        CheckConstraint("importance IN ('fit', 'working', 'cosmetic')", name="importance_known"),
    )

    id: int | None = Field(default=None, primary_key=True)
    part_id: int = Field(foreign_key="part.id")
    number: str
    name: str
    operation_number: int | None = None
    importance: str = "working"
    gauge: str = ""
    retired_at: datetime | None = Field(default=None, sa_type=Moment)


class Limits(SQLModel, table=True):
    """The limits of a dimension from one moment on. The row in force has no `until`."""

    __tablename__ = "limits"
    __table_args__ = (
        Index(
            "uq_limits_dimension_id",
            "dimension_id",
            unique=True,
            sqlite_where=text("until IS NULL"),
            postgresql_where=text("until IS NULL"),
        ),
        CheckConstraint("cutting IN ('smaller', 'larger', 'neither')", name="cutting_known"),
        CheckConstraint("kind IN ('size', 'at most', 'at least', 'reference')", name="kind_known"),
    )

    id: int | None = Field(default=None, primary_key=True)
    dimension_id: int = Field(foreign_key="dimension.id", index=True)
    requirement: str
    unit: str
    kind: str
    nominal_nm: int | None = Field(default=None, sa_type=BigInteger)
    low_nm: int | None = Field(default=None, sa_type=BigInteger)
    high_nm: int | None = Field(default=None, sa_type=BigInteger)
    standard: str = ""
    cutting: str = "neither"
    since: datetime = Field(sa_type=Moment)
    until: datetime | None = Field(default=None, sa_type=Moment)


class PlanChange(SQLModel, table=True):
    """What was changed in the plan, by whom, from what to what. Only grows."""

    __tablename__ = "plan_change"

    id: int | None = Field(default=None, primary_key=True)
    build_id: int = Field(foreign_key="build.id", index=True)
    part_id: int | None = Field(default=None, foreign_key="part.id")
    at: datetime = Field(sa_type=Moment)
    who: str = ""
    what: str
