"""Ranges and refusals of the general tolerances; the values are checked in tests/published/."""

from __future__ import annotations

from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from server.trade.errors import OutOfRange, Unreadable
from server.trade.general_tolerances import Grade, general_angle_tolerance, general_tolerance
from server.trade.length import NM_PER_MM, parse_length

covered_nm = st.integers(3 * NM_PER_MM + 1, 2000 * NM_PER_MM)
GRADES: tuple[Grade, ...] = ("f", "m", "c", "v")


@pytest.mark.parametrize(
    ("nominal", "grade", "accepts"),
    [
        ("0.499999", "m", "from 0.5 to 4000 mm"),
        ("4000.000001", "m", "from 0.5 to 4000 mm"),
        ("4000.000001", "c", "from 0.5 to 4000 mm"),
        ("2000.000001", "f", "from 0.5 to 2000 mm"),
        ("4001", "f", "from 0.5 to 2000 mm"),
        ("3", "v", "over 3 and up to 4000 mm"),
        ("0", "c", "from 0.5 to 4000 mm"),
        ("-25", "m", "from 0.5 to 4000 mm"),
    ],
)
def test_a_size_outside_the_table_is_told_its_range(nominal: str, grade: Grade, accepts: str) -> None:
    with pytest.raises(OutOfRange) as refusal:
        general_tolerance(parse_length(nominal), grade)
    assert refusal.value.field == "nominal_nm"
    assert refusal.value.read == f"{nominal} mm"
    assert f"class {grade} has no general tolerance for {nominal} mm" in refusal.value.why
    assert accepts in refusal.value.accepts


def test_a_chamfer_under_half_a_millimetre_has_no_general_tolerance() -> None:
    with pytest.raises(OutOfRange, match=r"from 0\.5 mm"):
        general_tolerance(parse_length("0.4"), "m", "broken edge")


@pytest.mark.parametrize("side_nm", [0, -1])
def test_an_angle_needs_a_side(side_nm: int) -> None:
    with pytest.raises(OutOfRange, match="longer than 0 mm"):
        general_angle_tolerance(side_nm, "m")


def test_unknown_names_are_errors_and_not_guesses() -> None:
    with pytest.raises(Unreadable, match=r"'k' is not a grade of ISO 2768-1.*f or m or c or v"):
        general_tolerance(NM_PER_MM, "k")  # type: ignore[arg-type]
    with pytest.raises(Unreadable, match="'' is not a grade"):
        general_angle_tolerance(NM_PER_MM, "")  # type: ignore[arg-type]
    with pytest.raises(Unreadable, match="'round' is not a kind"):
        general_tolerance(NM_PER_MM, "m", "round")  # type: ignore[arg-type]


@given(covered_nm)
def test_a_coarser_grade_is_never_tighter(nominal_nm: int) -> None:
    assert all(general_tolerance(nominal_nm, a) < general_tolerance(nominal_nm, b) for a, b in pairwise(GRADES))
    angles = [general_angle_tolerance(nominal_nm, grade) for grade in GRADES]
    assert angles == sorted(angles)


@given(covered_nm, covered_nm, st.sampled_from(GRADES))
def test_a_longer_size_is_never_held_tighter_and_a_longer_side_never_looser(one: int, other: int, grade: Grade) -> None:
    shorter, longer = sorted((one, other))
    assert general_tolerance(shorter, grade) <= general_tolerance(longer, grade)
    assert general_angle_tolerance(shorter, grade) >= general_angle_tolerance(longer, grade)
