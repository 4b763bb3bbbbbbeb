"""Rows of a placed sheet as typed rows of the plan, or everything that is wrong with them, at once."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from server.records.plan_cells import LONGEST_TEXT, Unit
from server.records.plan_columns import guess_kind, place_headings
from server.records.plan_fields import Kind
from server.records.plan_found import CellProblem, DimensionRow, OperationRow, RowsRead
from server.records.plan_rows import read_rows
from server.records.sheet import NotASheet, read_sheet
from server.trade.errors import Impossible

SHEETS = Path(__file__).parent / "sheets"
DIMENSIONS = "Part\tNo.\tWhat\tRequirement\tUnit\tCutting\tOp\tMatters for\tGauge"
OPERATIONS = "Part\tOp\tWhat\tMachine\tSet-up\tOffset\tCutters\tMin\tCheck before"


def read(
    data: bytes | str,
    known: Mapping[str, set[int]] | None = None,
    unit: Unit = "mm",
    general: str | None = None,
    kind: Kind | None = None,
) -> RowsRead:
    sheet = read_sheet(data)
    kind = kind or guess_kind(sheet.headings)
    assert kind is not None
    return read_rows(sheet, place_headings(sheet.headings, kind), unit, known or {}, general)


def dimensions(*rows: str, known: Mapping[str, set[int]] | None = None) -> RowsRead:
    """Rows written with "|" between cells."""
    return read("\n".join([DIMENSIONS, *(row.replace("|", "\t") for row in rows)]), known)


def operations(*rows: str, known: Mapping[str, set[int]] | None = None) -> RowsRead:
    return read("\n".join([OPERATIONS, *(row.replace("|", "\t") for row in rows)]), known)


def dimension(row: str) -> DimensionRow:
    found = dimensions(row)
    assert found.problems == ()
    return found.dimensions[0]


def operation(row: str) -> OperationRow:
    found = operations(row)
    assert found.problems == ()
    return found.operations[0]


def problem(found: RowsRead) -> CellProblem:
    (only,) = found.problems
    return only


# The builder's sheets


def test_the_sheet_of_dimensions_loads_as_it_is() -> None:
    found = read((SHEETS / "dimensions.csv").read_bytes())
    assert found.can_be_taken
    assert len(found.dimensions) == 17
    assert [(part.number, part.name, part.line) for part in found.parts] == [
        ("CR", "Coupling rod", 2), ("BB", "Bearing block", 9), ("BU", "Bush", 13),
        ("DP", "Drive pin", 15), ("WD", "Wedge", 18),
    ]  # fmt: skip
    limits = {
        (row.part_number, row.number): (row.requirement.low_nm, row.requirement.high_nm) for row in found.dimensions
    }
    assert limits["CR", "1"] == (209_970_000, 210_030_000)
    assert limits["CR", "6"] == (31_623_000, 31_877_000)  # 1 1/4 in = 31.75 mm, .005 in = 0.127 mm
    assert limits["BB", "1"] == (31_940_000, 31_960_000)  # decimal commas
    assert limits["BB", "4"] == (None, None)  # for reference only
    assert limits["DP", "2"] == (11_900_000, 11_950_000)
    assert limits["DP", "3"] == (11_988_800, 12_039_600)  # 0.472 in and 2 thou over it
    assert limits["WD", "2"] == (None, 28_500_000)
    fifth = found.dimensions[4]
    assert (fifth.line, fifth.part_number, fifth.part_name, fifth.number) == (6, "CR", "Coupling rod", "5")
    assert (fifth.cutting, fifth.operation, fifth.importance, fifth.gauge) == ("larger", 40, "cosmetic", "depth mic")


def test_the_sheet_of_operations_loads_as_it_is() -> None:
    found = read((SHEETS / "operations.csv").read_bytes())
    assert found.can_be_taken
    assert [(row.part_number, row.number) for row in found.operations] == [
        *(("CR", number) for number in (10, 20, 30, 40, 50, 60)),
        *(("BB", number) for number in (10, 20, 30)),
        ("BU", 10), ("DP", 10), ("DP", 20), ("WD", 10), ("WD", 20),
    ]  # fmt: skip
    assert {row.work_offset for row in found.operations} == {"", "G54", "G54/G55", "G56", "G57"}
    assert sum(row.planned_minutes or 0 for row in found.operations) == 480
    assert found.operations[-1].check_before == "angle set, ½° or better"
    assert ["1252" in note.text for note in found.notes] == [True]


def test_every_error_of_a_sheet_is_told_at_once_at_its_cell() -> None:
    found = read((SHEETS / "errors-in-most-rows.csv").read_bytes())
    assert not found.can_be_taken
    assert [(told.line, told.heading, told.read) for told in found.problems] == [
        (2, "Requirement", "25 H77"),
        (3, "Requirement", "10 +0.1/+0.2"),
        (4, "No.", "2"),
        (4, "Requirement", "thirty"),
        (5, "Unit", "furlong"),
        (6, "Requirement", "50.1..49.9"),
        (6, "Cutting makes it", "sideways"),
        (6, "Op", "ten"),
        (8, "What", ""),
    ]
    assert all(told.why and told.accepts for told in found.problems)
    assert "line 3" in found.problems[2].why
    assert [row.line for row in found.dimensions] == [7]


def test_the_sheet_with_errors_is_also_held_against_operations_already_planned() -> None:
    found = read((SHEETS / "errors-in-most-rows.csv").read_bytes(), known={"QX": {10, 20}})
    (told,) = [told for told in found.problems if told.read == "99"]
    assert (told.line, told.heading) == (7, "Op")
    assert told.accepts == "one of its operations: 10, 20"


# Parts


@pytest.mark.parametrize("cell", ["CR Coupling rod", "CR   Coupling  rod", "CR - Coupling rod", "CR: Coupling rod"])
def test_a_part_cell_is_a_number_and_then_a_name(cell: str) -> None:
    row = dimension(f"{cell}|1|Bore|18 ±0.01")
    assert (row.part_number, row.part_name) == ("CR", "Coupling rod")


def test_a_part_number_alone_is_enough() -> None:
    row = dimension("CR-2|1|Bore|18 ±0.01")
    assert (row.part_number, row.part_name) == ("CR-2", None)


def test_a_blank_part_is_the_same_as_above() -> None:
    found = dimensions("CR Rod|1|Bore|18 ±0.01", "|2|Width|8 ±0.1", "BB|1|Bore|18 ±0.01", "|2|Width|8 ±0.1")
    assert [(row.part_number, row.number) for row in found.dimensions] == [
        ("CR", "1"),
        ("CR", "2"),
        ("BB", "1"),
        ("BB", "2"),
    ]


def test_a_blank_part_with_nothing_above_it_is_an_error_in_each_such_row() -> None:
    found = dimensions("|1|Bore|18 ±0.01", "|2|Width|8 ±0.1", "CR|1|Bore|18 ±0.01")
    assert [(told.line, told.column_index, told.heading) for told in found.problems] == [(2, 0, "Part"), (3, 0, "Part")]
    assert "no part above" in found.problems[0].why


def test_rows_under_a_part_that_cannot_be_read_are_not_blamed_for_it() -> None:
    told = problem(dimensions("??|1|Bore|18 ±0.01", "|2|Width|8 ±0.1"))
    assert (told.line, told.read) == (2, "??")


def test_a_part_named_in_two_ways_is_an_error_naming_the_first_line() -> None:
    told = problem(dimensions("CR Coupling rod|1|Bore|18 ±0.01", "CR Cranked rod|2|Width|8 ±0.1"))
    assert (told.line, told.column_index) == (3, 0)
    assert "line 2" in told.why


def test_a_part_number_in_another_case_is_the_same_part_and_noted() -> None:
    found = dimensions("cr|1|Bore|18 ±0.01|||10", "Cr|2|Width|8 ±0.1", known={"CR": {10}})
    assert found.can_be_taken
    assert {row.part_number for row in found.dimensions} == {"CR"}
    assert [note.text for note in found.notes] == ["cr is taken as CR", "Cr is taken as CR"]


def test_what_rows_say_of_the_part_is_gathered_and_must_agree() -> None:
    head = "Part\tNo.\tWhat\tSize\tMaterial\tHand\tNo. off\tSpares\tIssue\n"
    found = read(head + "CR\t1\tBore\t18 ±0.01\tmild steel\tLH\t2 off\t1\tB\nCR\t2\tWidth\t8 ±0.1\t\t\t2\t\t\n")
    (part,) = found.parts
    assert (part.material, part.hand, part.needed, part.spares, part.revision) == ("mild steel", "left", 2, 1, "B")
    found = read(head + "CR\t1\tBore\t18 ±0.01\t\t\t2\nCR\t2\tWidth\t8 ±0.1\t\tupside down\t3\t-1\n")
    assert [(told.heading, told.read) for told in found.problems] == [
        ("Hand", "upside down"),
        ("No. off", "3"),
        ("Spares", "-1"),
    ]
    assert "line 2" in found.problems[1].why


def test_a_part_name_may_have_its_own_column() -> None:
    found = read("Part\tPart name\tNo.\tWhat\tSize\nCR\tCoupling rod\t1\tBore\t18 ±0.01\n")
    assert found.dimensions[0].part_name == "Coupling rod"


# Dimensions


def test_a_dimension_number_used_twice_in_a_part_is_an_error_and_in_two_parts_is_not() -> None:
    found = dimensions("CR|1a|Bore|18 ±0.01", "BB|1a|Bore|18 ±0.01", "CR|1A|Width|8 ±0.1")
    told = problem(found)
    assert (told.line, told.heading, told.read) == (4, "No.", "1A")
    assert "line 2" in told.why


@pytest.mark.parametrize(
    ("typed", "unit"),
    [("mm", "mm"), ("MM", "mm"), ("millimetres", "mm"), ("in", "in"), ("in.", "in"), ("Inch", "in"), ('"', "in"),
     ("″", "in")],
)  # fmt: skip
def test_units_in_every_spelling(typed: str, unit: Unit) -> None:
    row = dimension(f"CR|1|Bore|1 ±.1|{typed}")
    assert row.unit == row.requirement.unit == unit


def test_a_blank_unit_is_the_one_given_and_a_heading_goes_before_it() -> None:
    def unit(size_heading: str) -> str:
        data = f"Part\tNo.\tWhat\t{size_heading}\nCR\t1\tBore\t1 ±.1\n"
        return read(data, unit="mm").dimensions[0].unit

    assert unit("Size") == "mm"
    assert unit("Size (in)") == "in"
    assert dimension("CR|1|Bore|1 ±.1|").unit == "mm"


def test_a_heading_with_a_unit_not_taken_is_an_error_at_the_heading() -> None:
    told = problem(read("\nPart\tNo.\tWhat\tSize (cm)\nCR\t1\tBore\t1 ±.1\n"))
    assert (told.line, told.column_index, told.heading) == (2, 3, "Size (cm)")


@pytest.mark.parametrize(
    ("typed", "cutting"),
    [("", "neither"), ("smaller", "smaller"), ("Shrinks", "smaller"), ("LARGER", "larger"), ("bigger", "larger"),
     ("–", "neither"), ("n/a", "neither")],
)  # fmt: skip
def test_cutting_in_every_spelling(typed: str, cutting: str) -> None:
    row = dimension(f"CR|1|Bore|18 ±0.01||{typed}")
    assert row.cutting == row.requirement.cutting == cutting


@pytest.mark.parametrize(
    ("typed", "importance"), [("", "working"), ("Fit", "fit"), ("running", "working"), ("looks", "cosmetic")]
)
def test_importance_in_every_spelling(typed: str, importance: str) -> None:
    assert dimension(f"CR|1|Bore|18 ±0.01||||{typed}").importance == importance


def test_a_requirement_is_not_blamed_for_a_unit_or_cutting_that_cannot_be_read() -> None:
    # the first reads in inches only, the second in neither unit
    found = dimensions("CR|1|Bore|1 +.002 in/-0|furlong|sideways", "CR|2|Width|eight|furlong")
    assert [(told.line, told.heading) for told in found.problems] == [
        (2, "Unit"), (2, "Cutting"), (3, "Requirement"), (3, "Unit"),
    ]  # fmt: skip


def test_a_bare_size_needs_a_general_tolerance() -> None:
    data = "Part\tNo.\tWhat\tSize\nCR\t1\tLength\t20\n"
    assert problem(read(data)).heading == "Size"
    requirement = read(data, general="ISO 2768-m").dimensions[0].requirement
    # ISO 2768-1:1989 table 1, class m, over 6 up to 30: ±0.2 mm (from memory)
    assert (requirement.low_nm, requirement.high_nm) == (19_800_000, 20_200_000)


def test_number_name_and_requirement_are_each_missed() -> None:
    found = dimensions("CR||||mm")
    assert [(told.heading, told.read) for told in found.problems] == [("No.", ""), ("What", ""), ("Requirement", "")]
    assert all("missing" in told.why for told in found.problems)


# Operations a dimension is made at


@pytest.mark.parametrize(
    ("typed", "number"), [("10", 10), ("Op 20", 20), ("OP30", 30), ("#40", 40), ("10,0", 10), ("", None)]
)
def test_operation_numbers_as_builders_write_them(typed: str, number: int | None) -> None:
    assert dimension(f"CR|1|Bore|18 ±0.01|||{typed}").operation == number


@pytest.mark.parametrize("typed", ["ten", "10.5", "-10", "0", "10, 20", "10000", "١٠"])
def test_what_is_no_operation_number_is_an_error(typed: str) -> None:
    told = problem(dimensions(f"CR|1|Bore|18 ±0.01|||{typed}"))
    assert (told.heading, told.read) == ("Op", typed)


def test_an_operation_a_planned_part_does_not_have_is_an_error_listing_those_it_has() -> None:
    found = dimensions("CR|1|Bore|18 ±0.01|||20", "CR|2|Width|8 ±0.1|||25", known={"CR": {30, 10, 20}})
    told = problem(found)
    assert (told.line, told.read) == (3, "25")
    assert told.accepts == "one of its operations: 10, 20, 30"


@pytest.mark.parametrize("known", [{}, {"CR": set()}, {"BB": {10}}])
def test_an_operation_of_a_part_that_has_none_yet_is_noted_once(known: dict[str, set[int]]) -> None:
    found = dimensions("CR|1|Bore|18 ±0.01|||20", "CR|2|Width|8 ±0.1|||20", known=known)
    assert found.can_be_taken
    assert [(note.line, note.text) for note in found.notes] == [(2, "CR: operation 20 is not in the plan yet")]


# Operations


def test_an_operation_number_used_twice_in_a_part_is_an_error() -> None:
    told = problem(operations("CR|10|Face", "CR|20|Bore", "CR|Op 10|Turn over"))
    assert (told.line, told.heading) == (4, "Op")
    assert "line 2" in told.why


def test_an_operation_in_the_plan_already_is_noted() -> None:
    found = operations("CR|10|Face", "CR|20|Bore", known={"CR": {20}})
    assert [(note.line, note.column_index, note.text) for note in found.notes] == [
        (3, 1, "Operation 20 of CR is in the plan already")
    ]


@pytest.mark.parametrize(
    ("typed", "minutes"),
    [
        ("25", 25), ("25 min", 25), ("12,5", 12.5), (".5 h", 30), ("1.5 h", 90), ("1,5 hours", 90), ("2hrs", 120),
        ("1 h 30 min", 90), ("1h05", 65), ("0", 0), ("", None),
    ],
)  # fmt: skip
def test_planned_times_as_builders_write_them(typed: str, minutes: float | None) -> None:
    assert operation(f"CR|10|Face|||||{typed}").planned_minutes == minutes


@pytest.mark.parametrize("typed", ["-5", "a while", "1 h 75 min", "nan", "inf", "1e3", "10 s", "1:30", "99999999"])
def test_what_is_no_planned_time_is_an_error(typed: str) -> None:
    told = problem(operations(f"CR|10|Face|||||{typed}"))
    assert (told.heading, told.read) == ("Min", typed)


def test_a_heading_of_hours_makes_bare_numbers_hours_and_leaves_written_minutes_alone() -> None:
    found = read("Part\tOp\tWhat\tMachine\tTime (h)\nCR\t10\tFace\tmill\t1,5\nCR\t20\tBore\tmill\t40 min\n")
    assert [row.planned_minutes for row in found.operations] == [90, 40]


# G54 to G59.3: RS274/NGC, NIST IR 6556 (2000), section 3.5.13 (from memory)
@pytest.mark.parametrize(
    ("typed", "offset"),
    [
        ("G54", "G54"), ("g59.3", "G59.3"), ("G54/G55", "G54/G55"), ("G54+G55", "G54/G55"), ("G54, G55", "G54/G55"),
        ("G54 G55 / G59.1", "G54/G55/G59.1"), ("G55/G54/G55", "G55/G54"), ("", ""),
    ],
)  # fmt: skip
def test_work_offsets_alone_and_together(typed: str, offset: str) -> None:
    assert operation(f"CR|10|Face|||{typed}").work_offset == offset


@pytest.mark.parametrize("typed", ["G53", "G60", "G59.4", "54", "G54-G56", "G59,1", "/", "vice"])
def test_what_is_no_work_offset_is_an_error(typed: str) -> None:
    told = problem(operations(f"CR|10|Face|||{typed}"))
    assert (told.heading, told.read) == ("Offset", typed)
    assert "G59.3" in told.accepts


def test_text_that_is_too_long_or_does_not_print_is_told() -> None:
    assert operation(f"CR|10|{'x' * LONGEST_TEXT}").name == "x" * LONGEST_TEXT
    found = operations(f"CR|10|{'x' * (LONGEST_TEXT + 1)}|mill\x07", "CR|20|Bore \ufffd8")
    assert [(told.line, told.heading) for told in found.problems] == [(2, "What"), (2, "Machine"), (3, "What")]
    assert "201" in found.problems[0].why
    assert "200" in found.problems[0].accepts


# The sheet as a whole


def test_a_row_with_too_many_cells_is_an_error_because_its_cells_may_have_shifted() -> None:
    found = read("Part,No.,What,Requirement,Unit\nBB,1,Width,31,95 ±0,01,mm\nCR,1,Bore,18 ±0.01,mm,,\n")
    extra = [told for told in found.problems if told.column_index == 5]
    assert [(told.line, told.read) for told in extra] == [(2, "01")]
    assert "comma" in extra[0].accepts
    assert [row.part_number for row in found.dimensions] == ["CR"]


def test_a_column_that_is_not_read_is_noted_when_there_is_something_in_it() -> None:
    found = read(
        "Part\tNo.\tWhat\tSize\tRemarks\t\tShelf\tCutting makes it\nCR\t1\tBore\t18 ±0.01\treamed\tx\t\tlarger\n"
    )
    assert [(note.column_index, note.text) for note in found.notes] == [
        (4, 'Column "Remarks" is not read'),
        (5, "Column 6, which has no heading, is not read"),
    ]


def test_rows_are_not_read_before_every_required_field_has_one_column() -> None:
    sheet = read_sheet("Part\tWhat\tSize\nCR\tBore\t18\n")
    with pytest.raises(Impossible) as told:
        read_rows(sheet, place_headings(sheet.headings, "dimensions"), "mm", {})
    assert told.value.field == "placement"
    assert told.value.read == "number"


_cell = st.one_of(
    st.sampled_from(
        [
            "",
            "",
            "CR",
            "CR Rod",
            "1",
            "10",
            "20",
            "Bore",
            "18 ±0.01",
            "mm",
            "in",
            "larger",
            "fit",
            "G54",
            "1 h",
            "\u00bd",
            "H7",
        ]
    ),
    st.text(max_size=8),
)


@given(st.sampled_from([DIMENSIONS, OPERATIONS]), st.lists(st.lists(_cell, max_size=11), min_size=1, max_size=5))
def test_every_row_is_either_read_or_has_a_problem_at_one_of_its_cells(headings: str, rows: list[list[str]]) -> None:
    try:
        sheet = read_sheet("\n".join([headings, *("\t".join(row) for row in rows)]))
    except NotASheet:
        return
    kind = guess_kind(sheet.headings)
    assert kind is not None
    found = read_rows(sheet, place_headings(sheet.headings, kind), "mm", {"CR": {10}})
    taken = {row.line for row in found.dimensions} | {row.line for row in found.operations}
    blamed = {told.line for told in found.problems}
    assert not taken & blamed
    part_unread = any(told.column_index == 0 for told in found.problems)
    assert taken | blamed == {row.line for row in sheet.rows} or part_unread
    assert all(told.why and told.accepts for told in found.problems)
    assert all(told.heading or told.column_index >= len(sheet.headings) for told in found.problems)
