"""The handbook pages on fits answer what is typed and say what stood in the way."""

from __future__ import annotations

import pytest

from server.trade.handbook.calculation import CannotAnswer
from server.trade.handbook.fits import CALCULATIONS

PAGES = {each.id: each for each in CALCULATIONS}


def test_ids_are_unique_and_every_page_has_source_and_formula() -> None:
    assert len(PAGES) == len(CALCULATIONS) == 3
    assert all(each.source and each.formula for each in CALCULATIONS)


def test_limits_of_a_size_are_given_with_their_deviations() -> None:
    found = {each.label: each.value for each in PAGES["iso-limits"].answer({"nominal_nm": "12", "code": "h6"})}
    assert found == {
        "Lowest size": 11_989_000,
        "Highest size": 12_000_000,
        "Lower deviation": -11_000,
        "Upper deviation": 0,
        "Tolerance": 11_000,
    }


def test_iso_fit_gives_both_parts_and_the_kind() -> None:
    found = {each.label: each.value for each in PAGES["iso-fit"].answer({"nominal_nm": "25", "code": "H7/p6"})}
    assert found["Hole, highest"] == 25_021_000
    assert found["Shaft, lowest"] == 25_022_000
    assert (found["Least clearance"], found["Greatest clearance"]) == (-35_000, -1_000)
    assert found["Fit"] == "interference"


def test_inch_fit_takes_inches_and_tells_range_and_standing() -> None:
    outputs = PAGES["ansi-fit"].answer({"nominal_nm": "1 1/2", "fit_class": "RC4"}, "in")
    found = {each.label: each.value for each in outputs}
    assert found["Shaft, highest"] == 38_100_000 - 25_400
    assert found["Fit"] == "clearance"
    assert outputs[-1].note == "range over 1.19 to 1.97 in; figures found"


def test_pages_with_interference_carry_a_caution() -> None:
    assert "makers" in PAGES["iso-fit"].caution
    assert "makers" in PAGES["ansi-fit"].caution


@pytest.mark.parametrize(
    ("page", "typed", "field"),
    [
        ("iso-limits", {"nominal_nm": "25", "code": "H77"}, "code"),
        ("iso-limits", {"nominal_nm": "4000", "code": "H7"}, "nominal_nm"),
        ("iso-limits", {"nominal_nm": "", "code": "H7"}, "nominal_nm"),
        ("iso-fit", {"nominal_nm": "25", "code": "g6/H7"}, "code"),
        ("ansi-fit", {"nominal_nm": "600", "fit_class": "RC4"}, "nominal_nm"),
        ("ansi-fit", {"nominal_nm": "25", "fit_class": "RC10"}, "fit_class"),
    ],
)
def test_what_stands_in_the_way_is_named_by_its_input(page: str, typed: dict[str, str], field: str) -> None:
    with pytest.raises(CannotAnswer) as refused:
        PAGES[page].answer(typed)
    assert [problem.field for problem in refused.value.problems] == [field]
