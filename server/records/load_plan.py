"""Loading a sheet of dimensions or operations into the plan: a preview first, then all of it or nothing."""

from __future__ import annotations

import base64
import binascii
from dataclasses import dataclass, replace
from datetime import datetime
from typing import Annotated, ClassVar, Literal

from pydantic import Field, StringConstraints
from sqlalchemy import Connection, insert, select, update

from server.plan.changes import differences, note_change
from server.plan.dimensions import put_limits
from server.plan.named import the_build, the_part
from server.plan.parts import NAMES as PART_NAMES
from server.plan.tables import Dimension, Operation, Part
from server.records.plan_columns import Placement, guess_kind, place_headings
from server.records.plan_compare import RowChange, row_change
from server.records.plan_fields import Kind, fields_of
from server.records.plan_found import DimensionRow, PartRow, RowsRead
from server.records.plan_rows import read_rows
from server.records.sheet import Sheet, SheetRow, read_sheet
from server.store.action import Action, Effect, Problem, Refused
from server.trade.errors import TradeError


class SheetRequest(Action):
    """A sheet, pasted as text or as a file's bytes in base64. With `part_id`, rows without a part are that part's."""

    path: ClassVar[str] = "preview-sheet"
    title: ClassVar[str] = "Read a sheet and tell everything that stands in its way; nothing is taken"

    build_id: int
    part_id: int | None = None
    kind: Literal["dimensions", "operations"] | None = None
    # Not stripped: a tab at the start is a first column without a heading.
    text: Annotated[str, Field(max_length=5_000_000), StringConstraints(strip_whitespace=False)] = ""
    file: Annotated[str, Field(max_length=7_500_000, description="the file's bytes in base64")] = ""
    columns: Annotated[
        dict[int, str], Field(description="column (from 0) to field, or 'leave out', for headings not known")
    ] = {}  # noqa: RUF012  (pydantic copies defaults)


@dataclass(frozen=True, slots=True)
class Preview:
    """Everything a sheet says and everything that stands in its way."""

    kind: Kind | None
    sheet: Sheet
    placement: Placement | None
    rows: RowsRead | None
    changes: tuple[RowChange, ...] = ()

    @property
    def can_be_taken(self) -> bool:
        return self.rows is not None and self.rows.can_be_taken


def preview(connection: Connection, asked: SheetRequest) -> Preview:
    """Read the sheet against the plan as it is now. Raises Refused when it is no sheet at all."""
    build = the_build(connection, asked.build_id)
    try:
        sheet = read_sheet(_bytes(asked.file) if asked.file else asked.text)
    except TradeError as error:
        raise Refused(Problem.of(error, "sheet")) from error
    kind = asked.kind or guess_kind(sheet.headings)
    if kind is None:
        return Preview(None, sheet, None, None)
    if asked.part_id is not None:
        part = the_part(connection, asked.part_id)
        if part.build_id != build.id:
            why = f"{part.number} is a part of another build"
            raise Refused(Problem("part_id", str(asked.part_id), why, "a part of this build"))
        sheet = _of_one_part(sheet, kind, part.number)
    try:
        placement = place_headings(sheet.headings, kind, asked.columns)
    except TradeError as error:
        raise Refused(Problem.of(error, "columns")) from error
    if not placement.ready:
        return Preview(kind, sheet, placement, None)
    known = _known(connection, build.id)
    own = select(Part.number, Part.general_tolerance).where(Part.build_id == build.id, Part.general_tolerance != "")
    own_general = dict(connection.execute(own).all())
    rows = read_rows(sheet, placement, build.unit, known, build.general_tolerance or None, own_general)
    return Preview(kind, sheet, placement, rows, _changes(connection, build.id, rows, placement))


class LoadPlan(SheetRequest):
    """Rows of parts, dimensions and operations that are in the plan already are changed to what the sheet says."""

    path: ClassVar[str] = "load-plan"
    title: ClassVar[str] = "Load a sheet of dimensions or operations, all of it or nothing"

    who: Annotated[str, Field(max_length=80)] = ""

    def carry_out(self, connection: Connection, moment: datetime) -> Effect:
        found = preview(connection, self)
        if found.rows is None or found.placement is None:
            raise Refused(_headings_problem(found))
        if found.rows.problems:
            raise Refused(
                *(
                    Problem(f"line {each.line}, {each.heading}", each.read, each.why, each.accepts)
                    for each in found.rows.problems
                )
            )
        counts = {"new": 0, "changed": 0, "unchanged": 0}
        parts = {row.number.casefold(): _put_part(connection, self, moment, row) for row in found.rows.parts}

        for row in (*found.rows.dimensions, *found.rows.operations):
            part_id = parts[row.part_number.casefold()]
            change = row_change(connection, part_id, row, found.placement)
            _put(connection, part_id, change, moment)
            counts[change.what] += 1
            if change.said:
                kind = "dimension" if found.kind == "dimensions" else "op"
                said = f"{row.part_number} {kind} {row.number} {row.name}: {change.said}"
                note_change(connection, moment, self.who, self.build_id, part_id, said)
        said = ", ".join(f"{count} {word}" for word, count in counts.items() if count)
        note_change(connection, moment, self.who, self.build_id, self.part_id, f"sheet of {found.kind} loaded: {said}")
        taken = f"?loaded={found.kind}&new={counts['new']}&changed={counts['changed']}"
        page = f"/parts/{self.part_id}" if self.part_id else f"/builds/{self.build_id}/plan{taken}"
        return Effect({"kind": found.kind, "rows": counts, "page": page}, parts=set(parts.values()))


def _changes(connection: Connection, build_id: int, rows: RowsRead, placement: Placement) -> tuple[RowChange, ...]:
    """What the rows would change, where all of them can be taken."""
    if rows.problems:
        return ()
    asked = select(Part.number, Part.id).where(Part.build_id == build_id)
    parts = {number.casefold(): part_id for number, part_id in connection.execute(asked)}
    return tuple(
        row_change(connection, parts.get(row.part_number.casefold()), row, placement)
        for row in (*rows.dimensions, *rows.operations)
    )


def _bytes(file: str) -> bytes:
    try:
        return base64.b64decode(file, validate=True)
    except (binascii.Error, ValueError) as error:
        raise Refused(Problem("file", file[:40], "it is not base64", "the file's bytes in base64")) from error


def _of_one_part(sheet: Sheet, kind: Kind, number: str) -> Sheet:
    """On a part's own page a sheet needs no part column: every row is that part's."""
    if place_headings(sheet.headings, kind).column("part") is not None:
        return sheet
    rows = tuple(SheetRow(row.line, (*row.cells, number), row.extra) for row in sheet.rows)
    return replace(sheet, headings=(*sheet.headings, "Part"), rows=rows)


def _headings_problem(found: Preview) -> Problem:
    read = ", ".join(found.sheet.headings)[:300]
    if found.placement is None:
        why = "the headings say neither that it is a sheet of dimensions nor one of operations"
        return Problem("kind", read, why, "dimensions or operations")
    labels = {field.name: field.label for field in fields_of(found.placement.kind)}
    lacking = [labels[name] for name in found.placement.missing]
    twice = [labels[each.field] for each in found.placement.duplicates]
    why = "; ".join(
        each
        for each in (
            f"no column for {', '.join(lacking)}" if lacking else "",
            f"more than one column for {', '.join(twice)}" if twice else "",
        )
        if each
    )
    return Problem("columns", read, why, "one column for each; place the headings that are not known")


def _known(connection: Connection, build_id: int) -> dict[str, set[int]]:
    known: dict[str, set[int]] = {}
    for number, operation in connection.execute(
        select(Part.number, Operation.number)
        .join(Operation, (Operation.part_id == Part.id) & Operation.retired_at.is_(None), isouter=True)  # type: ignore
        .where(Part.build_id == build_id)
    ):
        known.setdefault(number, set())
        if operation is not None:
            known[number].add(operation)
    return known


def _put_part(connection: Connection, action: LoadPlan, moment: datetime, row: PartRow) -> int:
    """The part's id; it is added where the plan has none of this number, and told what the sheet says of it."""
    said = {
        name: getattr(row, name)
        for name in ("name", "material", "hand", "needed", "spares", "revision")
        if getattr(row, name) is not None
    }
    for part in connection.execute(select(Part.__table__).where(Part.build_id == action.build_id)):  # type: ignore
        if part.number.casefold() == row.number.casefold():
            changed = differences(part, said, {name: called for name, called in PART_NAMES.items() if name in said})
            if changed:
                connection.execute(update(Part).where(Part.id == part.id).values(**said))
                what = f"part {part.number}: {changed}"
                note_change(connection, moment, action.who, action.build_id, part.id, what)
            return int(part.id)
    values = {"name": row.number, **said}
    made = connection.execute(insert(Part).values(build_id=action.build_id, number=row.number, **values))
    part_id = int(made.inserted_primary_key[0])
    note_change(connection, moment, action.who, action.build_id, part_id, f"part {row.number} {values['name']} added")
    return part_id


def _put(connection: Connection, part_id: int, change: RowChange, moment: datetime) -> None:
    table = Dimension if isinstance(change.row, DimensionRow) else Operation
    row_id = change.old_id
    if row_id is None:
        made = connection.execute(insert(table).values(part_id=part_id, **change.values))
        row_id = int(made.inserted_primary_key[0])
    elif change.said and change.values:
        connection.execute(update(table).where(table.id == row_id).values(**change.values))  # type: ignore
    if change.requirement is not None:
        put_limits(connection, row_id, change.requirement, moment)
