"""Parts: adding one to a build and changing what is said of it."""

from __future__ import annotations

from datetime import datetime
from typing import Annotated, ClassVar, Literal

from pydantic import Field
from sqlalchemy import Connection, insert, select, update

from server.plan.changes import differences, note_change
from server.plan.dimensions import limits_follow_general_tolerance, read_general_tolerance
from server.plan.named import the_build, the_part
from server.plan.tables import Part
from server.store.action import Action, Effect, Problem, Refused

Hand = Literal["none", "left", "right", "both"]

NAMES = {
    "number": "number",
    "name": "name",
    "revision": "revision",
    "material": "material",
    "hand": "hand",
    "needed": "needed",
    "spares": "spares",
    "general_tolerance": "general tolerance",
    "note": "note",
}


class _PartFields(Action):
    number: Annotated[str, Field(min_length=1, max_length=40, description="drawing number, short: CR")]
    name: Annotated[str, Field(min_length=1, max_length=120)]
    revision: Annotated[str, Field(max_length=40)] = ""
    material: Annotated[str, Field(max_length=120)] = ""
    hand: Hand = "none"
    needed: Annotated[int, Field(ge=0, le=999, description="of each hand, where the hand is both")] = 1
    spares: Annotated[int, Field(ge=0, le=999)] = 0
    general_tolerance: Annotated[str, Field(max_length=40, description="empty: that of the build")] = ""
    note: str = ""
    who: Annotated[str, Field(max_length=80)] = ""

    def _values(self, connection: Connection, build_id: int, unit: str, part_id: int | None) -> dict[str, object]:
        others = select(Part.number).where(Part.build_id == build_id, Part.id != (part_id or 0))
        # CR and cr are one part to whoever types a sheet.
        if self.number.casefold() in {number.casefold() for number in connection.execute(others).scalars()}:
            raise Refused(Problem("number", self.number, "another part of this build has it", "a number not used yet"))
        values = {name: getattr(self, name) for name in NAMES}
        values["general_tolerance"] = read_general_tolerance(self.general_tolerance, unit)
        return values


class AddPart(_PartFields):
    path: ClassVar[str] = "add-part"
    title: ClassVar[str] = "Add a part to a build"

    build_id: int

    def carry_out(self, connection: Connection, moment: datetime) -> Effect:
        build = the_build(connection, self.build_id)
        values = self._values(connection, self.build_id, build.unit, None)
        part_id = connection.execute(insert(Part).values(build_id=self.build_id, **values)).inserted_primary_key[0]
        note_change(connection, moment, self.who, self.build_id, part_id, f"part {self.number} {self.name} added")
        return Effect({"part_id": part_id, "page": f"/parts/{part_id}"})


class EditPart(_PartFields):
    path: ClassVar[str] = "edit-part"
    title: ClassVar[str] = "Change what is said of a part"

    part_id: int

    def carry_out(self, connection: Connection, moment: datetime) -> Effect:
        before = the_part(connection, self.part_id)
        build = the_build(connection, before.build_id)
        values = self._values(connection, before.build_id, build.unit, self.part_id)
        changed = differences(before, values, NAMES)
        if changed:
            connection.execute(update(Part).where(Part.id == self.part_id).values(**values))
            what = f"part {before.number}: {changed}"
            note_change(connection, moment, self.who, before.build_id, self.part_id, what)
        if before.general_tolerance != values["general_tolerance"]:
            limits_follow_general_tolerance(connection, self.part_id, moment)
        return Effect({"part_id": self.part_id, "page": f"/parts/{self.part_id}"}, parts={self.part_id})
