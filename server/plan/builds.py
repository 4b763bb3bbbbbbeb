"""Builds: adding one and changing what is said of it."""

from __future__ import annotations

from datetime import datetime
from typing import Annotated, ClassVar, Literal

from pydantic import Field
from sqlalchemy import Connection, insert, select, update

from server.plan.changes import differences, note_change
from server.plan.dimensions import limits_follow_general_tolerance, read_general_tolerance
from server.plan.named import the_build
from server.plan.tables import Build, Part
from server.store.action import Action, Effect, Problem, Refused

_NAMES = {"name": "name", "note": "note", "unit": "unit", "general_tolerance": "general tolerance"}


class _BuildFields(Action):
    name: Annotated[str, Field(min_length=1, max_length=120)]
    note: str = ""
    unit: Literal["mm", "in"] = "mm"
    general_tolerance: Annotated[str, Field(max_length=40)] = ""
    who: Annotated[str, Field(max_length=80)] = ""

    def _values(self, connection: Connection, build_id: int | None) -> dict[str, object]:
        same = select(Build.id).where(Build.name == self.name, Build.id != (build_id or 0))
        if connection.execute(same).first() is not None:
            raise Refused(Problem("name", self.name, "another build has this name", "a name not used yet"))
        return {
            "name": self.name,
            "note": self.note,
            "unit": self.unit,
            "general_tolerance": read_general_tolerance(self.general_tolerance, self.unit),
        }


class AddBuild(_BuildFields):
    path: ClassVar[str] = "add-build"
    title: ClassVar[str] = "Add a build"

    def carry_out(self, connection: Connection, moment: datetime) -> Effect:
        values = self._values(connection, None)
        build_id = connection.execute(insert(Build).values(created_at=moment, **values)).inserted_primary_key[0]
        note_change(connection, moment, self.who, build_id, None, f"build {self.name} added")
        return Effect({"build_id": build_id, "page": f"/builds/{build_id}"})


class EditBuild(_BuildFields):
    path: ClassVar[str] = "edit-build"
    title: ClassVar[str] = "Change what is said of a build"

    build_id: int

    def carry_out(self, connection: Connection, moment: datetime) -> Effect:
        before = the_build(connection, self.build_id)
        values = self._values(connection, self.build_id)
        changed = differences(before, values, _NAMES)
        parts: set[int] = set()
        if changed:
            connection.execute(update(Build).where(Build.id == self.build_id).values(**values))
            note_change(connection, moment, self.who, self.build_id, None, f"build {before.name}: {changed}")
        if before.general_tolerance != values["general_tolerance"]:
            own = select(Part.id).where(Part.build_id == self.build_id, Part.general_tolerance == "")
            for part_id in connection.execute(own).scalars().all():
                limits_follow_general_tolerance(connection, part_id, moment)
                parts.add(part_id)
        return Effect({"build_id": self.build_id, "page": f"/builds/{self.build_id}"}, parts=parts)
