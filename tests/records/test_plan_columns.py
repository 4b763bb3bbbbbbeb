"""Which column of a builder's sheet is which field of the plan."""

from __future__ import annotations

from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from server.records.plan_columns import LEAVE_OUT, Placement, guess_kind, is_known, place_headings
from server.records.plan_fields import KINDS, Kind, fields_of
from server.records.sheet import read_sheet
from server.trade.errors import Unreadable

SHEETS = Path(__file__).parent / "sheets"


def fields(placement: Placement) -> list[str]:
    return [column.field for column in placement.columns]


def placed(*headings: str, kind: Kind = "dimensions") -> dict[str, str]:
    return {column.heading: column.field for column in place_headings(headings, kind).columns}


def test_every_heading_of_the_builders_sheets_is_placed() -> None:
    dimensions = read_sheet((SHEETS / "dimensions.csv").read_bytes()).headings
    placement = place_headings(dimensions, "dimensions")
    assert guess_kind(dimensions) == "dimensions"
    assert fields(placement) == [
        "part", "number", "name", "requirement", "unit", "cutting", "operation", "importance", "gauge",
    ]  # fmt: skip
    assert placement.ready
    assert placement.unplaced == ()

    operations = read_sheet((SHEETS / "operations.csv").read_bytes()).headings
    placement = place_headings(operations, "operations")
    assert guess_kind(operations) == "operations"
    assert fields(placement) == [
        "part", "number", "name", "machine", "setup", "work_offset", "cutters", "planned_minutes", "check_before",
    ]  # fmt: skip
    assert placement.ready
    assert placement.unplaced == ()


@pytest.mark.parametrize("kind", KINDS)
def test_no_heading_means_two_fields_of_one_kind_of_sheet(kind: Kind) -> None:
    for field in fields_of(kind):
        for heading in field.headings:
            assert fields(place_headings([heading], kind)) == [field.name], heading


@pytest.mark.parametrize(
    ("heading", "field"),
    [
        ("PART NO.", "part"),
        ("Part #", "part"),
        ("№", "number"),
        ("Nº", "number"),
        ("Requirements", "requirement"),
        ("Size (mm)", "requirement"),
        ("Size [in]", "requirement"),
        ("Gage", "gauge"),
        ("Gauges used", "gauge"),
        ("Made in op.", "operation"),
        ("Mat'l", "material"),
        ("No. off", "needed"),
        ("Rev.", "revision"),
    ],
)
def test_case_punctuation_plural_and_brackets_make_no_difference(heading: str, field: str) -> None:
    assert placed(heading) == {heading: field}


@pytest.mark.parametrize(
    ("heading", "field"),
    [
        ("Set-up", "setup"),
        ("Set up", "setup"),
        ("SETUPS", "setup"),
        ("Workholding", "setup"),
        ("Work-offset(s)", "work_offset"),
        ("Tools", "cutters"),
        ("Time (min)", "planned_minutes"),
        ("Checks before cutting", "check_before"),
    ],
)
def test_headings_of_operations_are_known_in_the_shops_words(heading: str, field: str) -> None:
    assert placed(heading, kind="operations") == {heading: field}


def test_a_heading_not_known_is_offered_and_not_guessed_at() -> None:
    placement = place_headings(["Part", "No.", "What", "Size", "Remarks", "", "Item"], "dimensions")
    assert [(other.index, other.heading) for other in placement.unplaced] == [(4, "Remarks"), (5, ""), (6, "Item")]
    assert placement.ready
    assert not is_known("Item")


def test_a_required_field_without_a_column_is_told() -> None:
    placement = place_headings(["Part", "What", "Gauge"], "dimensions")
    assert placement.missing == ("number", "requirement")
    assert not placement.ready


def test_two_columns_that_mean_the_same_are_told_and_neither_is_used() -> None:
    placement = place_headings(["Part", "No.", "What", "Size", "Limits"], "dimensions")
    assert fields(placement) == ["part", "number", "name"]
    (duplicate,) = placement.duplicates
    assert (duplicate.field, [column.heading for column in duplicate.columns]) == ("requirement", ["Size", "Limits"])
    assert placement.missing == ()
    assert not placement.ready


def test_the_builder_settles_two_columns_that_mean_the_same() -> None:
    headings = ["Part", "No.", "What", "Size", "Limits"]
    placement = place_headings(headings, "dimensions", {4: "requirement"})
    assert placement.ready
    assert placement.column("requirement") == place_headings(headings, "dimensions", {3: LEAVE_OUT}).column(
        "requirement"
    )
    assert [other.heading for other in placement.unplaced] == ["Size"]


def test_what_the_builder_chose_goes_before_what_a_heading_says() -> None:
    placement = place_headings(["Part", "No.", "What", "Size", "Piece"], "dimensions", {4: "part", 0: LEAVE_OUT})
    column = placement.column("part")
    assert column is not None
    assert column.heading == "Piece"
    assert [other.heading for other in placement.left_out] == ["Part"]
    assert placement.unplaced == ()


def test_one_field_chosen_for_two_columns_is_a_duplicate() -> None:
    placement = place_headings(["a", "b"], "dimensions", {0: "part", 1: "part"})
    assert [duplicate.field for duplicate in placement.duplicates] == ["part"]


@pytest.mark.parametrize("chosen", [{7: "part"}, {-1: "part"}, {0: "machine"}, {0: "colour"}])
def test_a_choice_that_cannot_be_is_an_error(chosen: dict[int, str]) -> None:
    with pytest.raises(Unreadable) as told:
        place_headings(["Part", "No."], "dimensions", chosen)
    assert told.value.field == "chosen"


def test_operation_beside_a_number_is_what_is_done() -> None:
    assert placed("Part", "No.", "Operation", kind="operations") == {
        "Part": "part",
        "No.": "number",
        "Operation": "name",
    }
    assert placed("Part", "Operation", "What", kind="operations")["Operation"] == "number"


def test_a_heading_with_two_meanings_that_are_both_taken_is_a_duplicate() -> None:
    (duplicate,) = place_headings(["Part", "No.", "Operation", "What"], "operations").duplicates
    assert (duplicate.field, [column.heading for column in duplicate.columns]) == ("number", ["No.", "Operation"])


def test_dimension_beside_what_is_the_requirement() -> None:
    assert placed("Part", "No.", "What", "Dimension")["Dimension"] == "requirement"
    assert placed("Part", "No.", "Dimension", "Limits")["Dimension"] == "name"


def test_the_unit_in_a_heading_is_kept() -> None:
    def unit(heading: str, kind: Kind) -> str | None:
        (column,) = place_headings([heading], kind).columns
        return column.unit

    assert unit("Size (in)", "dimensions") == "in"
    assert unit("Size [MM]", "dimensions") == "mm"
    assert unit("Size (limits)", "dimensions") is None
    assert unit("Size (cm)", "dimensions") == "cm"
    assert unit("Time (h)", "operations") == "h"
    assert unit("Hours", "operations") == "h"
    assert unit("Min", "operations") is None


def test_headings_both_kinds_have_do_not_say_which_it_is() -> None:
    assert guess_kind(["Part", "No.", "What", "Op"]) is None
    assert guess_kind([]) is None
    assert guess_kind(["Part", "No.", "Limits"]) == "dimensions"
    assert guess_kind(["Part", "Op", "What", "Minutes"]) == "operations"


@given(
    st.lists(st.sampled_from(["Part", "No.", "What", "Size", "Limits", "Op", "Dimension", "Remarks", "", "x"])),
    st.data(),
)
def test_every_column_ends_in_exactly_one_place(headings: list[str], data: st.DataObject) -> None:
    kind = data.draw(st.sampled_from(KINDS))
    names = [field.name for field in fields_of(kind)]
    chosen = (
        data.draw(st.dictionaries(st.integers(0, len(headings) - 1), st.sampled_from([*names, LEAVE_OUT])))
        if headings
        else {}
    )
    placement = place_headings(headings, kind, chosen)
    indexes = [
        *(column.index for column in placement.columns),
        *(other.index for other in placement.unplaced),
        *(other.index for other in placement.left_out),
        *(column.index for duplicate in placement.duplicates for column in duplicate.columns),
    ]
    assert sorted(indexes) == list(range(len(headings)))
    assert len(set(fields(placement))) == len(placement.columns)
    for index, field in chosen.items():
        if list(chosen.values()).count(field) == 1 and field != LEAVE_OUT:
            column = placement.column(field)
            assert column is not None
            assert column.index == index
