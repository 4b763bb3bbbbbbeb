"""Rows of a placed sheet as typed rows of the plan, or everything that is wrong with them.

All cells are read before anything is said, so that every problem of a sheet is told at once, each at its cell. Nothing
is written here: the rows are taken only when there is no problem left.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from itertools import product
from typing import Any, Generic, TypeVar

from server.records.plan_cells import (
    Cutting,
    Importance,
    Unit,
    read_count,
    read_cutting,
    read_hand,
    read_importance,
    read_mark,
    read_minutes,
    read_operation_number,
    read_text,
    read_unit,
    read_work_offset,
)
from server.records.plan_columns import PlacedColumn, Placement
from server.records.plan_found import CellProblem, DimensionRow, Note, OperationRow, PartRow, RowsRead
from server.records.sheet import Sheet, SheetRow
from server.trade.errors import Impossible, TradeError
from server.trade.limits import Requirement, parse_requirement


def read_rows(
    sheet: Sheet,
    placement: Placement,
    unit: Unit,
    known: Mapping[str, set[int]],
    general: str | None = None,
    own_general: Mapping[str, str] | None = None,
) -> RowsRead:
    """Read every row of a sheet.

    sheet      as `read_sheet` gives it
    placement  as `place_headings` gives it for the sheet's headings
    unit       unit of a requirement whose row and heading name none, "mm" or "in"
    known      part numbers of the plan, each with the numbers of its operations
    general    general tolerance of the build for a bare size, as `parse_requirement` takes it
    own_general  part numbers that have a general tolerance of their own, with it

    A part cell is a number, or a number and then a name; a blank one means the same part as the row above. Part numbers
    are matched without regard to case. Cutting that is not given is "neither", importance that is not given "working".

    Raises Impossible (field "placement") when the placement is not ready. What is wrong with cells is not raised: it is
    in `problems`.
    """
    if not placement.ready:
        lacking = [*placement.missing, *(duplicate.field for duplicate in placement.duplicates)]
        raise Impossible(
            "placement", ", ".join(lacking), "these fields have no column, or more than one", "one column for each"
        )
    reading = _Reading(sheet, placement, unit, known, general, own_general or {})
    for row in sheet.rows:
        reading.read(row)
    return reading.result()


T = TypeVar("T")


@dataclass(slots=True)
class _Value(Generic[T]):
    """A cell's value; `ok` is False when the cell could not be read (its problem is told) and `value` is a stand-in."""

    value: T
    ok: bool = True


@dataclass(slots=True)
class _Part:
    """What has been gathered of one part: each thing said, and the line that said it first."""

    number: str
    line: int
    said: dict[str, tuple[Any, int]] = field(default_factory=dict)
    lines_of_numbers: dict[str, int] = field(default_factory=dict)


class _Reading:
    """One pass through a sheet."""

    def __init__(
        self,
        sheet: Sheet,
        placement: Placement,
        unit: Unit,
        known: Mapping[str, set[int]],
        general: str | None,
        own_general: Mapping[str, str],
    ) -> None:
        self.sheet, self.placement, self.general = sheet, placement, general
        self.own_general = {number.casefold(): own for number, own in own_general.items()}
        self.columns = {column.field: column for column in placement.columns}
        self.known = {number.casefold(): (number, operations) for number, operations in known.items()}
        self.unit = unit
        self.parts: dict[str, _Part] = {}
        self.above: _Part | None = None
        self.part_seen = False
        self.dimensions: list[DimensionRow] = []
        self.operations: list[OperationRow] = []
        self.problems: list[CellProblem] = []
        self.notes: list[Note] = [Note(None, None, text) for text in sheet.notes]
        # By part number: the operations that dimensions name and the plan lacks, each with the line that named it.
        self.not_planned: dict[str, list[tuple[int, int]]] = {}
        self.noted: set[tuple[str, object]] = set()
        self.row: SheetRow = SheetRow(sheet.heading_line, (), ())
        self.minutes_per_unit = 1.0
        self._read_units_of_headings()
        self._note_columns_not_read()

    # What the headings say

    def _read_units_of_headings(self) -> None:
        requirement = self.columns.get("requirement")
        if requirement is not None and requirement.unit is not None:
            if requirement.unit in ("mm", "in"):
                self.unit = "mm" if requirement.unit == "mm" else "in"
            else:
                self._heading_problem(requirement, 'mm or in, in the heading or in a column "Unit"')
        minutes = self.columns.get("planned_minutes")
        if minutes is not None and minutes.unit is not None:
            if minutes.unit in ("min", "h"):
                self.minutes_per_unit = 60.0 if minutes.unit == "h" else 1.0
            else:
                self._heading_problem(minutes, "min or h")

    def _heading_problem(self, column: PlacedColumn, accepts: str) -> None:
        self.problems.append(
            CellProblem(
                self.sheet.heading_line,
                column.index,
                column.heading,
                column.heading,
                f"its heading names a unit that is not taken here: {column.unit}",
                accepts,
            )
        )

    def _note_columns_not_read(self) -> None:
        for other in self.placement.unplaced:
            if any(row.cells[other.index] for row in self.sheet.rows):
                name = (
                    f'Column "{other.heading}"' if other.heading else f"Column {other.index + 1}, which has no heading,"
                )
                self.notes.append(Note(self.sheet.heading_line, other.index, f"{name} is not read"))

    # Cells

    def _cell(self, name: str) -> str:
        column = self.columns.get(name)
        return self.row.cells[column.index] if column is not None else ""

    def _problem(self, name: str, why: str, accepts: str) -> None:
        column = self.columns.get(name)
        if column is None:  # the field has no column of its own: the part's cell stands for the row
            column = self.columns["part"]
        read = self.row.cells[column.index]
        self.problems.append(CellProblem(self.row.line, column.index, column.heading, read, why, accepts))

    def _note(self, name: str, key: object, text: str) -> None:
        """A note at a cell, said once for each key."""
        if (name, key) not in self.noted:
            self.noted.add((name, key))
            column = self.columns.get(name)
            self.notes.append(Note(self.row.line, column.index if column is not None else None, text))

    def _take(self, name: str, reader: Callable[[str], T], stand_in: T) -> _Value[T]:
        """The cell read by `reader`, or the stand-in and a problem told. A blank cell is the stand-in."""
        cell = self._cell(name)
        if not cell:
            return _Value(stand_in)
        try:
            return _Value(reader(cell))
        except TradeError as error:
            self._problem(name, error.why, error.accepts)
            return _Value(stand_in, ok=False)

    def _required(self, name: str, reader: Callable[[str], T], stand_in: T, what: str, accepts: str) -> _Value[T]:
        if self._cell(name):
            return self._take(name, reader, stand_in)
        self._problem(name, f"{what} is missing", accepts)
        return _Value(stand_in, ok=False)

    # Rows

    def read(self, row: SheetRow) -> None:
        self.row = row
        if row.extra:
            first = next(index for index, cell in enumerate(row.extra) if cell)
            self.problems.append(
                CellProblem(
                    row.line,
                    len(row.cells) + first,
                    "",
                    row.extra[first],
                    "the row has more cells than there are headings, so its cells may stand in the wrong columns",
                    "one cell for each heading; a cell with a comma in it (a decimal comma too) put in quotation marks",
                )
            )
        before = len(self.problems)
        part = self._read_part()
        if self.placement.kind == "dimensions":
            self._read_dimension(part, before)
        else:
            self._read_operation(part, before)

    def _read_part(self) -> _Part | None:
        """The part this row belongs to, None when that cannot be told."""
        cell = self._cell("part")
        if not cell:
            if not self.part_seen:
                self._problem(
                    "part",
                    "it is blank and there is no part above it",
                    'a part number, alone or with its name: "CR Coupling rod"',
                )
            part = self.above
        else:
            self.part_seen = True
            part = self.above = self._part_of(cell)
        if part is None:
            return None
        self._say(part, "name", "part_name", self._take("part_name", read_text, None))
        self._say(part, "material", "material", self._take("material", read_text, None))
        self._say(part, "hand", "hand", self._take("hand", read_hand, None))
        self._say(part, "needed", "needed", self._take("needed", read_count, None))
        self._say(part, "spares", "spares", self._take("spares", read_count, None))
        self._say(part, "revision", "revision", self._take("revision", read_mark, None))
        return part

    def _part_of(self, cell: str) -> _Part | None:
        typed, _, rest = " ".join(cell.split()).partition(" ")
        typed = typed.rstrip(":,;") or typed
        try:
            number = read_mark(typed)
            name = read_text(rest.lstrip("-–—:,; ")) if rest.lstrip("-–—:,; ") else None
        except TradeError as error:
            self._problem("part", error.why, error.accepts)
            return None
        key = number.casefold()
        part = self.parts.get(key)
        if part is None:
            in_plan = self.known.get(key)
            part = self.parts[key] = _Part(in_plan[0] if in_plan else number, self.row.line)
        if number != part.number:
            self._note("part", number, f"{number} is taken as {part.number}")
        self._say(part, "name", "part", _Value(name))
        return part

    def _say(self, part: _Part, what: str, name: str, found: _Value[Any]) -> None:
        """Keep what a row says of its part, or tell that an earlier row said otherwise."""
        if not found.ok or found.value is None:
            return
        said, line = part.said.setdefault(what, (found.value, self.row.line))
        same = said.casefold() == found.value.casefold() if isinstance(said, str) else said == found.value
        if not same:
            label = "name" if what == "name" else what
            self._problem(
                name,
                f"the {label} of {part.number} is {said!s} on line {line} and {found.value!s} here",
                f"{said!s}, or blank for the same as above",
            )

    def _claim_number(self, part: _Part, number: str, thing: str) -> None:
        first = part.lines_of_numbers.setdefault(number.casefold(), self.row.line)
        if first != self.row.line:
            self._problem(
                "number",
                f"{thing} {number} of {part.number} is on line {first} already",
                "a number not used in this part",
            )

    def _read_dimension(self, part: _Part | None, before: int) -> None:
        number = self._required("number", read_mark, "", "the number", "a number or a short mark such as 3 or 3a")
        if number.ok and part is not None:
            self._claim_number(part, number.value, "dimension")
        name = self._required("name", read_text, "", "the name", "what the dimension is, such as Bore or Slot width")
        unit = self._take("unit", read_unit, self.unit)
        cutting: _Value[Cutting] = self._take("cutting", read_cutting, "neither")
        operation: _Value[int | None] = self._take("operation", read_operation_number, None)
        if operation.value is not None and part is not None:
            self._check_operation(part, operation.value)
        importance: _Value[Importance] = self._take("importance", read_importance, "working")
        gauge = self._take("gauge", read_text, "")
        requirement = self._requirement(part, unit, cutting)
        if part is None or requirement is None or len(self.problems) > before or self.row.extra:
            return
        self.dimensions.append(
            DimensionRow(
                line=self.row.line,
                part_number=part.number,
                part_name=_said(part, "name"),
                number=number.value,
                name=name.value,
                requirement=requirement,
                unit=unit.value,
                cutting=cutting.value,
                operation=operation.value,
                importance=importance.value,
                gauge=gauge.value,
            )
        )

    def _requirement(self, part: _Part | None, unit: _Value[Unit], cutting: _Value[Cutting]) -> Requirement | None:
        """The requirement; where unit or cutting could not be read, it is wrong only if wrong with each of them."""
        text = self._cell("requirement")
        if not text:
            self._problem(
                "requirement",
                "the requirement is missing",
                "limits such as 12 ±0.05, 22.000..22.021, 25 H7, max 28.5 or (40)",
            )
            return None
        units: tuple[Unit, ...] = (unit.value,) if unit.ok else (unit.value, "in" if unit.value == "mm" else "mm")
        cuttings: tuple[Cutting, ...] = (cutting.value,) if cutting.ok else ("neither", "larger", "smaller")
        general = self.own_general.get(part.number.casefold(), self.general) if part else self.general
        errors: list[TradeError] = []
        for one_unit, one_cutting in product(units, cuttings):
            try:
                return parse_requirement(text, one_unit, one_cutting, general)
            except TradeError as error:
                errors.append(error)
        self._problem("requirement", errors[0].why, errors[0].accepts)
        return None

    def _check_operation(self, part: _Part, number: int) -> None:
        in_plan = self.known.get(part.number.casefold(), ("", set()))[1]
        if number in in_plan:
            return
        if in_plan:
            self._problem(
                "operation",
                f"{part.number} has no operation {number}",
                f"one of its operations: {', '.join(str(known) for known in sorted(in_plan))}",
            )
        else:
            self.not_planned.setdefault(part.number, []).append((self.row.line, number))

    def _read_operation(self, part: _Part | None, before: int) -> None:
        number = self._required(
            "number", read_operation_number, 0, "the operation number", "a whole number such as 10, 20, 30"
        )
        if number.ok and part is not None:
            self._claim_number(part, str(number.value), "operation")
            if number.value in self.known.get(part.number.casefold(), ("", set()))[1]:
                self._note(
                    "number",
                    (part.number, number.value),
                    f"Operation {number.value} of {part.number} is in the plan already",
                )
        name = self._required("name", read_text, "", "the name", "what is done, such as Face both sides to thickness")
        machine = self._take("machine", read_text, "")
        setup = self._take("setup", read_text, "")
        offset = self._take("work_offset", read_work_offset, "")
        cutters = self._take("cutters", read_text, "")
        minutes: _Value[float | None] = self._take("planned_minutes", self._minutes, None)
        check = self._take("check_before", read_text, "")
        if part is None or len(self.problems) > before or self.row.extra:
            return
        self.operations.append(
            OperationRow(
                line=self.row.line,
                part_number=part.number,
                part_name=_said(part, "name"),
                number=number.value,
                name=name.value,
                machine=machine.value,
                setup=setup.value,
                work_offset=offset.value,
                cutters=cutters.value,
                planned_minutes=minutes.value,
                check_before=check.value,
            )
        )

    def _minutes(self, cell: str) -> float:
        return read_minutes(cell, self.minutes_per_unit)

    def _note_what_is_not_planned(self) -> None:
        column = self.columns.get("operation")
        for part, named in self.not_planned.items():
            numbers = sorted({number for _, number in named})
            which = f"operation {numbers[0]} is" if len(numbers) == 1 else f"operations {_listed(numbers)} are"
            self.notes.append(
                Note(named[0][0], column.index if column else None, f"{part}: {which} not in the plan yet")
            )

    def _note_what_cutting_does(self) -> None:
        if self.dimensions and "cutting" not in self.columns:
            self.notes.append(
                Note(
                    None,
                    None,
                    "No column says what cutting makes a dimension (smaller, larger): a new one is taken as neither, "
                    "and then metal left cannot be told from past the limit",
                )
            )

    def result(self) -> RowsRead:
        self._note_what_is_not_planned()
        self._note_what_cutting_does()
        return RowsRead(
            kind=self.placement.kind,
            parts=tuple(
                PartRow(
                    part.line,
                    part.number,
                    _said(part, "name"),
                    _said(part, "material"),
                    _said(part, "hand"),
                    _said(part, "needed"),
                    _said(part, "spares"),
                    _said(part, "revision"),
                )
                for part in self.parts.values()
            ),
            dimensions=tuple(self.dimensions),
            operations=tuple(self.operations),
            problems=tuple(sorted(self.problems, key=lambda problem: (problem.line, problem.column_index))),
            notes=tuple(self.notes),
        )


def _listed(numbers: list[int]) -> str:
    return ", ".join(str(number) for number in numbers[:-1]) + f" and {numbers[-1]}"


def _said(part: _Part, what: str) -> Any:
    return part.said.get(what, (None, 0))[0]
