"""Dimensions: what has to be held on a part, and the limits it has and has had."""

from __future__ import annotations

from datetime import datetime
from typing import Annotated, Any, ClassVar, Literal

from pydantic import Field
from sqlalchemy import Connection, insert, select, update

from server.plan.changes import differences, note_change
from server.plan.named import the_dimension, the_part
from server.plan.tables import Build, Dimension, Limits, Operation, Part
from server.store.action import Action, Effect, Problem, Refused
from server.trade.errors import TradeError
from server.trade.limits import Cutting, Requirement, parse_requirement

NAMES = {
    "number": "number",
    "name": "name",
    "operation_number": "operation",
    "importance": "importance",
    "gauge": "gauge",
}


def read_general_tolerance(text: str, unit: str) -> str:
    """A general tolerance, proved readable by reading a plain size with it; empty stays empty.

    A figure typed without a unit is in that of the build, and gets it written beside it: the dimensions it will be
    applied to may be in the other unit.
    """
    if not text:
        return text
    try:
        in_mm, in_inches = (parse_requirement("25 mm", each, "neither", general=text) for each in ("mm", "in"))  # type: ignore[arg-type]
    except TradeError as error:
        accepts = "ISO 2768-f, -m, -c or -v, or a figure of your own such as ±0.1"
        raise Refused(Problem("general_tolerance", text, error.why, accepts)) from error
    return text if in_mm.width_nm == in_inches.width_nm else f"{text} {unit}"


def general_tolerance_of(connection: Connection, part_id: int) -> str:
    """The part's own general tolerance, or that of its build."""
    row = connection.execute(
        select(Part.general_tolerance, Build.general_tolerance)
        .join(Build, Build.id == Part.build_id)
        .where(Part.id == part_id)
    ).one()
    return row[0] or row[1]


def limits_values(requirement: Requirement) -> dict[str, object]:
    """The columns of `limits` that a requirement fills."""
    return {
        "requirement": requirement.text,
        "unit": requirement.unit,
        "kind": requirement.kind,
        "nominal_nm": requirement.nominal_nm,
        "low_nm": requirement.low_nm,
        "high_nm": requirement.high_nm,
        "standard": requirement.standard,
        "cutting": requirement.cutting,
    }


def current_limits(connection: Connection, dimension_id: int) -> Any:
    """The row of limits in force, or None for a dimension that has none yet."""
    asked = select(Limits.__table__).where(Limits.dimension_id == dimension_id, Limits.until.is_(None))  # type: ignore
    return connection.execute(asked).first()


def limits_difference(before: Any, requirement: Requirement) -> str:
    """What a requirement would change of the limits in force, in words; empty when nothing."""
    values = limits_values(requirement)
    if all(getattr(before, name) == value for name, value in values.items()):
        return ""
    names = {"requirement": "requirement", "unit": "unit", "cutting": "cutting direction", "standard": "standard"}
    return differences(before, values, names) or "limits"


def put_limits(connection: Connection, dimension_id: int, requirement: Requirement, moment: datetime) -> str:
    """Put limits in force, closing those before. Returns what changed in words, empty when they are the same."""
    before = current_limits(connection, dimension_id)
    said = f"requirement “{requirement.text}”" if before is None else limits_difference(before, requirement)
    if not said:
        return ""
    if before is not None:
        connection.execute(update(Limits).where(Limits.id == before.id).values(until=moment))
    values = limits_values(requirement)
    connection.execute(insert(Limits).values(dimension_id=dimension_id, since=moment, **values))
    return said


def limits_follow_general_tolerance(connection: Connection, part_id: int, moment: datetime) -> None:
    """After a change of general tolerance: every plain size of the part gets the limits it now means."""
    general = general_tolerance_of(connection, part_id)
    rows = connection.execute(
        select(Limits.__table__, Dimension.name)
        .join(Dimension, Dimension.id == Limits.dimension_id)
        .where(Dimension.part_id == part_id, Dimension.retired_at.is_(None), Limits.until.is_(None))  # type: ignore
    ).all()
    for row in rows:
        try:
            requirement = parse_requirement(row.requirement, row.unit, row.cutting, general=general or None)
        except TradeError as error:
            why = f"“{row.requirement}” of {row.name} could not be read with it: {error.why}"
            raise Refused(Problem("general_tolerance", general, why, error.accepts)) from error
        put_limits(connection, row.dimension_id, requirement, moment)


class DimensionFields(Action):
    number: Annotated[str, Field(min_length=1, max_length=40)]
    name: Annotated[str, Field(min_length=1, max_length=200)]
    requirement: Annotated[str, Field(min_length=1, max_length=200, description="25 ±0.02, max 0.8, (30) …")]
    unit: Literal["mm", "in"] = "mm"
    cutting: Annotated[Cutting, Field(description="what removing metal does to it")] = "neither"
    operation_number: Annotated[int, Field(ge=1, le=9999)] | None = None
    importance: Literal["fit", "working", "cosmetic"] = "working"
    gauge: Annotated[str, Field(max_length=200)] = ""
    who: Annotated[str, Field(max_length=80)] = ""

    def values(self, connection: Connection, part_id: int, dimension_id: int | None) -> dict[str, Any]:
        problems = []
        same = select(Dimension.id).where(
            Dimension.part_id == part_id,
            Dimension.number == self.number,
            Dimension.retired_at.is_(None),  # type: ignore[union-attr]
            Dimension.id != (dimension_id or 0),
        )
        if connection.execute(same).first() is not None:
            problems.append(Problem("number", self.number, "the part has this dimension already", "another number"))
        numbers = operation_numbers(connection, part_id)
        if self.operation_number is not None and numbers and self.operation_number not in numbers:
            accepts = "one of " + ", ".join(str(each) for each in numbers)
            problems.append(
                Problem("operation_number", str(self.operation_number), "the part has no such operation", accepts)
            )
        if problems:
            raise Refused(*problems)
        return {name: getattr(self, name) for name in NAMES}

    def requirement_of(self, connection: Connection, part_id: int) -> Requirement:
        general = general_tolerance_of(connection, part_id) or None
        try:
            return parse_requirement(self.requirement, self.unit, self.cutting, general=general)
        except TradeError as error:
            raise Refused(Problem.of(error, "requirement")) from error


def operation_numbers(connection: Connection, part_id: int) -> list[int]:
    asked = select(Operation.number).where(
        Operation.part_id == part_id,
        Operation.retired_at.is_(None),  # type: ignore[union-attr]
    )
    return list(connection.execute(asked.order_by(Operation.number)).scalars())


class AddDimension(DimensionFields):
    path: ClassVar[str] = "add-dimension"
    title: ClassVar[str] = "Add a dimension to a part"

    part_id: int

    def carry_out(self, connection: Connection, moment: datetime) -> Effect:
        part = the_part(connection, self.part_id)
        requirement = self.requirement_of(connection, self.part_id)
        values = self.values(connection, self.part_id, None)
        made = connection.execute(insert(Dimension).values(part_id=self.part_id, **values))
        dimension_id = made.inserted_primary_key[0]
        put_limits(connection, dimension_id, requirement, moment)
        what = f"{part.number}: dimension {self.number} {self.name} added, {self.requirement}"
        note_change(connection, moment, self.who, part.build_id, self.part_id, what)
        answer = {"dimension_id": dimension_id, "page": f"/parts/{self.part_id}#dimensions"}
        return Effect(answer, parts={self.part_id})


class EditDimension(DimensionFields):
    path: ClassVar[str] = "edit-dimension"
    title: ClassVar[str] = "Change a dimension; readings keep the limits they were made under"

    dimension_id: int

    def carry_out(self, connection: Connection, moment: datetime) -> Effect:
        before = the_dimension(connection, self.dimension_id)
        if before.retired_at is not None:
            why = f"{before.name} was taken off the part"
            raise Refused(Problem("dimension_id", str(self.dimension_id), why, "a dimension of the plan"))
        part = the_part(connection, before.part_id)
        requirement = self.requirement_of(connection, part.id)
        values = self.values(connection, part.id, self.dimension_id)
        changed = [differences(before, values, NAMES)]
        connection.execute(update(Dimension).where(Dimension.id == self.dimension_id).values(**values))
        changed.append(put_limits(connection, self.dimension_id, requirement, moment))
        said = "; ".join(each for each in changed if each)
        if said:
            what = f"{part.number} dimension {before.number} {before.name}: {said}"
            note_change(connection, moment, self.who, part.build_id, part.id, what)
        answer = {"dimension_id": self.dimension_id, "page": f"/parts/{part.id}#dimensions"}
        return Effect(answer, parts={part.id})


class RetireDimension(Action):
    path: ClassVar[str] = "retire-dimension"
    title: ClassVar[str] = "Take a dimension off a part; its readings stay in the log"

    dimension_id: int
    who: Annotated[str, Field(max_length=80)] = ""

    def carry_out(self, connection: Connection, moment: datetime) -> Effect:
        before = the_dimension(connection, self.dimension_id)
        part = the_part(connection, before.part_id)
        if before.retired_at is None:
            asked = update(Dimension).where(Dimension.id == self.dimension_id)
            connection.execute(asked.values(retired_at=moment))
            what = f"{part.number}: dimension {before.number} {before.name} taken off"
            note_change(connection, moment, self.who, part.build_id, part.id, what)
        answer = {"dimension_id": self.dimension_id, "page": f"/parts/{part.id}#dimensions"}
        return Effect(answer, parts={part.id})
