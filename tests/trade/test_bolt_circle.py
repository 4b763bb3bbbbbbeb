from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from server.trade.bolt_circle import bolt_circle, chord_nm, diameter_from_spacing_nm, hole_spacing_nm
from server.trade.errors import Impossible, OutOfRange

COUNTS = st.integers(2, 60)
DIAMETERS = st.integers(1_000_000, 1_000_000_000)
STARTS = st.floats(-360, 360)


@given(COUNTS, DIAMETERS, STARTS, st.integers(-(10**9), 10**9), st.integers(-(10**9), 10**9))
def test_every_hole_is_on_the_circle_and_the_middle_is_the_centre(
    n: int, diameter: int, first: float, cx: int, cy: int
) -> None:
    holes = bolt_circle(n, diameter, first_deg=first, centre_nm=(cx, cy))
    assert all(abs(math.hypot(h.x_nm - cx, h.y_nm - cy) - diameter / 2) <= 1 for h in holes)
    assert abs(sum(h.x_nm - cx for h in holes)) <= n
    assert abs(sum(h.y_nm - cy for h in holes)) <= n
    assert [h.number for h in holes] == list(range(1, n + 1))
    assert all(0 <= h.angle_deg < 360 for h in holes)


@given(COUNTS, DIAMETERS, STARTS, st.data())
def test_distances_between_holes_are_the_chords_told(n: int, diameter: int, first: float, data: st.DataObject) -> None:
    apart = data.draw(st.integers(1, n - 1))
    holes = bolt_circle(n, diameter, first_deg=first)
    found = math.hypot(holes[apart].x_nm - holes[0].x_nm, holes[apart].y_nm - holes[0].y_nm)
    assert found == pytest.approx(hole_spacing_nm(diameter, n, apart), abs=2)


@given(COUNTS, DIAMETERS, st.data())
def test_spacing_and_diameter_undo_each_other(n: int, diameter: int, data: st.DataObject) -> None:
    apart = data.draw(st.integers(1, n - 1))
    spacing = hole_spacing_nm(diameter, n, apart)
    assert diameter_from_spacing_nm(spacing, n, apart) == pytest.approx(diameter, abs=n)


@given(COUNTS, DIAMETERS, STARTS)
def test_clockwise_is_the_mirror_image(n: int, diameter: int, first: float) -> None:
    one = bolt_circle(n, diameter, first_deg=first)
    other = bolt_circle(n, diameter, first_deg=-first, direction="clockwise")
    assert all(abs(a.x_nm - b.x_nm) <= 1 and abs(a.y_nm + b.y_nm) <= 1 for a, b in zip(one, other, strict=True))


def test_quarter_turns_are_exact() -> None:
    holes = bolt_circle(4, 100_000_000, first_deg=90)
    assert [(h.x_nm, h.y_nm) for h in holes] == [(0, 50_000_000), (-50_000_000, 0), (0, -50_000_000), (50_000_000, 0)]


def test_holes_on_part_of_a_circle() -> None:
    holes = bolt_circle(3, 100_000_000, first_deg=10, step_deg=15)
    assert [h.angle_deg for h in holes] == [10, 25, 40]


def test_step_may_make_a_whole_circle() -> None:
    assert bolt_circle(3, 100_000_000, step_deg=120) == bolt_circle(3, 100_000_000)


def test_six_holes_are_a_radius_apart() -> None:
    assert hole_spacing_nm(100_000_000, 6) == 50_000_000
    assert chord_nm(100_000_000, 180) == 100_000_000


def test_holes_that_come_round_onto_each_other_are_refused() -> None:
    with pytest.raises(Impossible, match="past a whole turn") as refused:
        bolt_circle(7, 100_000_000, step_deg=60)
    assert refused.value.accepts == "less than 60° for 7 holes"


def test_figures_out_of_range_are_told() -> None:
    for bad in ({"holes": 0}, {"holes": 1001}, {"diameter_nm": 0}, {"first_deg": 361.0}, {"step_deg": 0.0}):
        with pytest.raises(OutOfRange) as refused:
            bolt_circle(**({"holes": 3, "diameter_nm": 1_000_000} | bad))  # type: ignore[arg-type]
        assert refused.value.field in bad
    with pytest.raises(OutOfRange, match="1 to 5"):
        hole_spacing_nm(1_000_000, 6, 6)
