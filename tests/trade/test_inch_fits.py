"""ANSI B4.1: its classes against the grades they are built from, and what is refused."""

from __future__ import annotations

from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from server.trade import inch_fits_tables as tables
from server.trade.errors import OutOfRange, Unreadable
from server.trade.inch_fits import ANSI_CLASSES, AnsiFit, ansi_fit

INCH = 25_400_000
THOU = 25_400
KINDS = {"RC": "clearance", "LC": "clearance", "LT": "transition", "LN": "interference", "FN": "interference"}
# Printed otherwise than their symbols would have it; see server/trade/inch_fits_tables.py.
AS_PRINTED = {("LN1", 0.71), ("LN1", 1.19), ("LN1", 1.97), ("FN1", 15.75)}


def _ends(fit_class: str) -> list[int]:
    sizes = (tables.FN_SIZES_IN if fit_class.startswith("FN") else tables.SIZES_IN).split()
    skipped = tables.CLASSES[fit_class][2].split().count("-")
    return [round(float(size) * INCH) for size in sizes[skipped:]]


def _fits(fit_class: str) -> list[AnsiFit]:
    return [ansi_fit(end, fit_class) for end in _ends(fit_class)]


def _tolerance(found: AnsiFit, grade: int) -> int:
    """Tolerance of an ABC grade, from the hole of that grade at the same size [nm]."""
    holes = {5: "RC1", 6: "RC2", 7: "RC3", 8: "RC4", 9: "RC6", 10: "RC8"}
    hole = ansi_fit(found.nominal_nm, holes[grade])
    return hole.hole_high_nm - hole.hole_low_nm


def test_all_classes_of_the_standard_are_here() -> None:
    counts = {"RC": 9, "LC": 11, "LT": 6, "LN": 3, "FN": 5}
    expected = [f"{family}{n}" for family, count in counts.items() for n in range(1, count + 1)]
    assert list(ANSI_CLASSES) == expected


@pytest.mark.parametrize("fit_class", ANSI_CLASSES)
def test_every_row_is_complete_and_of_its_kind(fit_class: str) -> None:
    fits = _fits(fit_class)
    for row, found in enumerate(fits):
        assert found.hole_low_nm == found.nominal_nm == found.to_nm
        assert found.hole_low_nm < found.hole_high_nm
        assert found.shaft_low_nm < found.shaft_high_nm
        assert found.kind == KINDS[fit_class[:2]]
        assert found.standing.startswith(("found", "computed", "from memory"))
        assert found.over_nm < found.to_nm
        if row:
            assert found.over_nm == fits[row - 1].to_nm
    assert fits[-1].to_nm == round(19.69 * INCH)


@pytest.mark.parametrize("fit_class", ANSI_CLASSES)
def test_tolerances_and_distances_do_not_shrink_with_size(fit_class: str) -> None:
    for small, large in pairwise(_fits(fit_class)):
        assert large.hole_high_nm - large.nominal_nm >= small.hole_high_nm - small.nominal_nm
        assert abs(large.shaft_low_nm - large.nominal_nm) >= abs(small.shaft_low_nm - small.nominal_nm)
        assert abs(large.shaft_high_nm - large.nominal_nm) >= abs(small.shaft_high_nm - small.nominal_nm)


# The American-British-Canadian construction: a shaft symbol's grade is the tolerance of the hole of that grade.


@pytest.mark.parametrize("fit_class", [name for name in ANSI_CLASSES if tables.CLASSES[name][1]])
def test_shaft_tolerance_is_that_of_its_symbol(fit_class: str) -> None:
    grade = tables.CLASSES[fit_class][1].lstrip("abcdefghijklmnopqrstuvwxyz")
    for found in _fits(fit_class):
        width = found.shaft_high_nm - found.shaft_low_nm
        if (fit_class, found.to_nm / INCH) in AS_PRINTED:
            assert width == _tolerance(found, int(grade)) + 0.1 * THOU
        elif grade == "4":  # no hole has this grade; it is finer than IT5 and no less than half of it
            assert _tolerance(found, 5) / 2 <= width < _tolerance(found, 5)
        elif "js" in tables.CLASSES[fit_class][1]:  # each half is rounded down to a printed figure
            assert 0 <= _tolerance(found, int(grade)) - width <= 0.2 * THOU
        else:
            assert width == pytest.approx(_tolerance(found, int(grade)), abs=1)


def test_fn1_shaft_has_the_tolerance_of_the_fifth_grade() -> None:
    for found in _fits("FN1"):
        extra = 0.1 * THOU if ("FN1", found.to_nm / INCH) in AS_PRINTED else 0
        assert found.shaft_high_nm - found.shaft_low_nm == _tolerance(found, 5) + extra


def test_the_coarsest_holes_are_ten_times_the_fifth_grade_below() -> None:
    for coarse, fine in (("LC10", 7), ("LC11", 8)):
        for found in _fits(coarse):
            assert found.hole_high_nm - found.hole_low_nm == 10 * _tolerance(found, fine)


@pytest.mark.parametrize("fit_class", ["LC10", "LC11"])
def test_shafts_of_the_loosest_locational_fits_are_as_wide_as_their_holes(fit_class: str) -> None:
    for found in _fits(fit_class):
        assert found.shaft_high_nm - found.shaft_low_nm == found.hole_high_nm - found.hole_low_nm


@pytest.mark.parametrize(
    ("one", "other", "to"),
    [("RC1", "RC2", 19.69), ("RC3", "RC4", 19.69), ("RC5", "RC6", 19.69), ("RC2", "LC5", 9.85), ("RC3", "LC6", 9.85),
     ("RC6", "LC7", 9.85), ("RC7", "LC8", 9.85), ("RC8", "LC9", 19.69)],
)  # fmt: skip
def test_classes_with_one_letter_have_one_upper_deviation(one: str, other: str, to: float) -> None:
    """g, f, e, d and c are each one row, but above 9.85 in the RC tables go their own way."""
    for first, second in zip(_fits(one), _fits(other), strict=True):
        if first.to_nm <= to * INCH:
            assert first.shaft_high_nm == second.shaft_high_nm


def test_letters_shared_by_transition_and_interference_fits_agree() -> None:
    assert [each.shaft_low_nm for each in _fits("LT3")] == [each.shaft_low_nm for each in _fits("LT4")]
    assert [each.shaft_low_nm for each in _fits("LT5")] == [each.shaft_low_nm for each in _fits("LT6")]


# Ranges and refusals


def test_a_size_at_the_end_of_a_range_belongs_to_it() -> None:
    end = round(0.71 * INCH)
    assert ansi_fit(end, "RC4").to_nm == end
    assert ansi_fit(end + 1, "RC4").over_nm == end
    assert ansi_fit(end, "RC4").shaft_high_nm - end == -0.6 * THOU
    assert ansi_fit(end + 1, "RC4").shaft_high_nm - (end + 1) == -0.8 * THOU


@given(st.integers(1, round(19.69 * INCH)), st.sampled_from(ANSI_CLASSES))
def test_deviations_depend_on_the_range_alone(nominal_nm: int, fit_class: str) -> None:
    if nominal_nm <= _ends(fit_class)[0] and "-" in tables.CLASSES[fit_class][2]:
        return
    found = ansi_fit(nominal_nm, fit_class)
    at_end = ansi_fit(found.to_nm, fit_class)
    assert found.over_nm < nominal_nm <= found.to_nm
    assert found.least_clearance_nm == at_end.least_clearance_nm
    assert found.greatest_clearance_nm == at_end.greatest_clearance_nm
    assert found.shaft_high_nm - nominal_nm == at_end.shaft_high_nm - found.to_nm


@pytest.mark.parametrize(
    ("nominal_nm", "fit_class", "covered"),
    [
        (0, "RC4", "over 0 up to and including 19.69 in"),
        (-INCH, "RC4", "over 0 up to and including 19.69 in"),
        (round(19.69 * INCH) + 1, "LC11", "over 0 up to and including 19.69 in"),
        (round(0.24 * INCH), "LT3", "over 0.24 up to and including 19.69 in"),
        (round(0.24 * INCH), "LT4", "over 0.24 up to and including 19.69 in"),
        (round(0.95 * INCH), "FN3", "over 0.95 up to and including 19.69 in"),
    ],
)
def test_sizes_without_a_row_are_refused_with_the_range(nominal_nm: int, fit_class: str, covered: str) -> None:
    with pytest.raises(OutOfRange, match=covered) as refused:
        ansi_fit(nominal_nm, fit_class)
    assert refused.value.field == "nominal_nm"


@pytest.mark.parametrize("fit_class", ["RC10", "LC0", "H7/g6", "", "XX1", "LT7", "FN"])
def test_unknown_classes_are_refused(fit_class: str) -> None:
    with pytest.raises(Unreadable, match="FN1–FN5"):
        ansi_fit(INCH, fit_class)


def test_a_class_is_read_with_a_space_and_in_small_letters() -> None:
    assert ansi_fit(INCH, "rc 4") == ansi_fit(INCH, "RC4")


def test_standing_is_told_with_the_figures() -> None:
    assert ansi_fit(INCH, "RC4").standing == "found"
    assert ansi_fit(INCH, "LC10").standing == "found"
    assert ansi_fit(2 * INCH, "LC10").standing.startswith("from memory")
    assert ansi_fit(INCH, "LC1").standing.startswith("computed")
    assert ansi_fit(4 * INCH, "FN2").standing.startswith("from memory")
    assert ansi_fit(5 * INCH, "FN2").standing == "found"
