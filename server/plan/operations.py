"""Operations: the ordered steps of a part."""

from __future__ import annotations

import re
from datetime import datetime
from typing import Annotated, ClassVar

from pydantic import Field
from sqlalchemy import Connection, insert, select, update

from server.plan.changes import differences, note_change
from server.plan.named import the_operation, the_part
from server.plan.tables import Dimension, Operation
from server.store.action import Action, Effect, Problem, Refused

NAMES = {
    "number": "number",
    "name": "name",
    "machine": "machine",
    "setup": "set-up",
    "work_offset": "work offset",
    "cutters": "cutters",
    "planned_minutes": "planned minutes",
    "check_before": "check before starting",
}
# The nine coordinate systems of RS-274/NGC (NIST IR 6556, table 4, modal group 12).
WORK_OFFSETS = ("G54", "G55", "G56", "G57", "G58", "G59", "G59.1", "G59.2", "G59.3")


def read_work_offsets(text: str, field: str = "work_offset") -> str:
    """One or more work offsets as typed ("g54/G55", "G54 + G55") in one spelling ("G54/G55"); empty stays empty."""
    found = [each for each in re.split(r"[\s/+,;&]+", text.strip().upper()) if each]
    for each in found:
        if each not in WORK_OFFSETS:
            raise Refused(Problem(field, text, f"{each} is not a work offset", ", ".join(WORK_OFFSETS)))
    return "/".join(found)


class OperationFields(Action):
    number: Annotated[int, Field(ge=1, le=9999, description="10, 20, 30 …: the order of the sequence")]
    name: Annotated[str, Field(min_length=1, max_length=200)]
    machine: Annotated[str, Field(max_length=200)] = ""
    setup: Annotated[str, Field(max_length=200, description="how the work is held and located")] = ""
    work_offset: Annotated[str, Field(max_length=80)] = ""
    cutters: Annotated[str, Field(max_length=200)] = ""
    planned_minutes: Annotated[float, Field(ge=0, le=100_000, allow_inf_nan=False)] | None = None
    check_before: Annotated[str, Field(max_length=1000, description="one check a line, or separated by commas")] = ""
    who: Annotated[str, Field(max_length=80)] = ""

    def values(self, connection: Connection, part_id: int, operation_id: int | None) -> dict[str, object]:
        same = select(Operation.id).where(
            Operation.part_id == part_id,
            Operation.number == self.number,
            Operation.retired_at.is_(None),  # type: ignore[union-attr]
            Operation.id != (operation_id or 0),
        )
        if connection.execute(same).first() is not None:
            raise Refused(Problem("number", str(self.number), "the part has this operation already", "another number"))
        values = {name: getattr(self, name) for name in NAMES}
        values["work_offset"] = read_work_offsets(self.work_offset)
        return values


class AddOperation(OperationFields):
    path: ClassVar[str] = "add-operation"
    title: ClassVar[str] = "Add an operation to a part's sequence"

    part_id: int

    def carry_out(self, connection: Connection, moment: datetime) -> Effect:
        part = the_part(connection, self.part_id)
        values = self.values(connection, self.part_id, None)
        made = connection.execute(insert(Operation).values(part_id=self.part_id, **values))
        what = f"{part.number}: op {self.number} {self.name} added"
        note_change(connection, moment, self.who, part.build_id, self.part_id, what)
        answer = {"operation_id": made.inserted_primary_key[0], "page": f"/parts/{self.part_id}#operations"}
        return Effect(answer, parts={self.part_id})


class EditOperation(OperationFields):
    path: ClassVar[str] = "edit-operation"
    title: ClassVar[str] = "Change an operation"

    operation_id: int

    def carry_out(self, connection: Connection, moment: datetime) -> Effect:
        before = the_operation(connection, self.operation_id)
        if before.retired_at is not None:
            why = f"op {before.number} was taken out of the sequence"
            raise Refused(Problem("operation_id", str(self.operation_id), why, "an operation of the plan"))
        part = the_part(connection, before.part_id)
        values = self.values(connection, part.id, self.operation_id)
        changed = differences(before, values, NAMES)
        if changed:
            connection.execute(update(Operation).where(Operation.id == self.operation_id).values(**values))
            # What the operation made it still makes under its new number.
            made_here = (Dimension.part_id == part.id, Dimension.operation_number == before.number)
            connection.execute(update(Dimension).where(*made_here).values(operation_number=self.number))
            what = f"{part.number} op {before.number}: {changed}"
            note_change(connection, moment, self.who, part.build_id, part.id, what)
        answer = {"operation_id": self.operation_id, "page": f"/parts/{part.id}#operations"}
        return Effect(answer, parts={part.id})


class RetireOperation(Action):
    path: ClassVar[str] = "retire-operation"
    title: ClassVar[str] = "Take an operation out of the sequence; its runs stay in the log"

    operation_id: int
    who: Annotated[str, Field(max_length=80)] = ""

    def carry_out(self, connection: Connection, moment: datetime) -> Effect:
        before = the_operation(connection, self.operation_id)
        part = the_part(connection, before.part_id)
        if before.retired_at is None:
            connection.execute(update(Operation).where(Operation.id == self.operation_id).values(retired_at=moment))
            what = f"{part.number}: op {before.number} {before.name} taken out of the sequence"
            note_change(connection, moment, self.who, part.build_id, part.id, what)
        answer = {"operation_id": self.operation_id, "page": f"/parts/{part.id}#operations"}
        return Effect(answer, parts={part.id})
