"""What a row of a sheet would change in the plan: nothing written here, so that a preview and the loading agree.

A column the sheet does not have leaves its field as it is; an empty cell in a column it has means empty.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any, Literal

from sqlalchemy import Connection, select

from server.plan.changes import differences
from server.plan.dimensions import NAMES as DIMENSION_NAMES
from server.plan.dimensions import current_limits, limits_difference
from server.plan.operations import NAMES as OPERATION_NAMES
from server.plan.tables import Dimension, Operation
from server.records.plan_columns import Placement
from server.records.plan_found import DimensionRow, OperationRow
from server.trade.limits import Requirement

# What a field of a sheet is called in the plan, where the two differ.
_COLUMNS = {"operation": "operation_number"}


@dataclass(frozen=True, slots=True)
class RowChange:
    """One row set against the plan. `old_id` None: new. `values` the columns to write; `said` the change in words."""

    row: DimensionRow | OperationRow
    old_id: int | None
    values: dict[str, Any]
    requirement: Requirement | None
    said: str

    @property
    def what(self) -> Literal["new", "changed", "unchanged"]:
        if self.old_id is None:
            return "new"
        return "changed" if self.said else "unchanged"


def row_change(
    connection: Connection, part_id: int | None, row: DimensionRow | OperationRow, placement: Placement
) -> RowChange:
    """The row set against the part's plan; `part_id` None for a part that is not there yet."""
    if isinstance(row, DimensionRow):
        return _dimension_change(connection, part_id, row, placement)
    return _operation_change(connection, part_id, row, placement)


def _dimension_change(
    connection: Connection, part_id: int | None, row: DimensionRow, placement: Placement
) -> RowChange:
    values: dict[str, Any] = {
        "number": row.number,
        "name": row.name,
        "operation_number": row.operation,
        "importance": row.importance,
        "gauge": row.gauge,
    }
    old = connection.execute(
        select(Dimension.__table__).where(  # type: ignore[attr-defined]
            Dimension.part_id == part_id,
            Dimension.number == row.number,
            Dimension.retired_at.is_(None),  # type: ignore[union-attr]
        )
    ).first()
    if old is None:
        return RowChange(row, None, values, row.requirement, "")
    values = _said(values, placement)
    before = current_limits(connection, old.id)
    requirement = row.requirement
    if placement.column("cutting") is None:
        requirement = replace(requirement, cutting=before.cutting)
    said = (differences(old, values, _called(DIMENSION_NAMES, values)), limits_difference(before, requirement))
    return RowChange(row, old.id, values, requirement, "; ".join(each for each in said if each))


def _operation_change(
    connection: Connection, part_id: int | None, row: OperationRow, placement: Placement
) -> RowChange:
    values = {name: getattr(row, name) for name in OPERATION_NAMES}
    old = connection.execute(
        select(Operation.__table__).where(  # type: ignore[attr-defined]
            Operation.part_id == part_id,
            Operation.number == row.number,
            Operation.retired_at.is_(None),  # type: ignore[union-attr]
        )
    ).first()
    if old is None:
        return RowChange(row, None, values, None, "")
    values = _said(values, placement)
    return RowChange(row, old.id, values, None, differences(old, values, _called(OPERATION_NAMES, values)))


def _said(values: dict[str, Any], placement: Placement) -> dict[str, Any]:
    """Only what the sheet has a column for."""
    placed = {_COLUMNS.get(column.field, column.field) for column in placement.columns}
    return {name: value for name, value in values.items() if name in placed}


def _called(names: dict[str, str], values: dict[str, Any]) -> dict[str, str]:
    return {name: called for name, called in names.items() if name in values}
