"""Ball-nose cutters, cones and drill points: laws and refusals."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from server.trade.cutter_shape import (
    ball_effective_diameter_nm,
    cone_depth_nm,
    cone_diameter_nm,
    cusp_height_nm,
    drill_point_length_nm,
    step_over_for_cusp_nm,
)
from server.trade.errors import OutOfRange

MM = 1_000_000
diameters = st.integers(MM // 10, 100 * MM)
shares = st.floats(0.001, 1)


@given(diameters, st.floats(0.0001, 0.5))
def test_a_step_over_for_a_cusp_never_leaves_a_higher_one(diameter: int, share: float) -> None:
    cusp = max(1, int(share * diameter))
    step = step_over_for_cusp_nm(diameter, cusp)
    left = cusp_height_nm(diameter, step)
    assert left <= cusp
    # one nm of step-over is worth s / (4 √(R² − s²/4)) of cusp, without bound as the step-over nears the diameter
    assert cusp_height_nm(diameter, min(diameter, step + 2)) >= cusp - 1


@given(diameters, st.floats(0.001, 0.5))
def test_a_smaller_step_over_leaves_a_lower_cusp(diameter: int, share: float) -> None:
    step = max(2, int(share * diameter))
    assert cusp_height_nm(diameter, step // 2) <= cusp_height_nm(diameter, step)


@given(diameters, st.floats(0.01, 0.2))
def test_the_cusp_is_close_to_the_square_rule_where_the_step_over_is_small(diameter: int, share: float) -> None:
    step = int(share * diameter)
    assert cusp_height_nm(diameter, step) == pytest.approx(step**2 / (4 * diameter), rel=0.011, abs=1)


def test_a_step_over_of_the_whole_diameter_leaves_the_whole_radius() -> None:
    assert cusp_height_nm(6 * MM, 6 * MM) == 3 * MM


@given(diameters, shares)
def test_the_effective_diameter_never_passes_the_cutter(diameter: int, share: float) -> None:
    depth = max(1, int(share * diameter))
    effective = ball_effective_diameter_nm(diameter, depth)
    assert 0 < effective <= diameter
    assert effective <= ball_effective_diameter_nm(diameter, depth + 1)


@given(diameters, shares)
def test_the_effective_diameter_is_the_nearest_whole_nanometre(diameter: int, share: float) -> None:
    depth = max(1, int(share * diameter / 2))
    effective = ball_effective_diameter_nm(diameter, depth)
    square = 4 * depth * (diameter - depth)
    assert (2 * effective - 1) ** 2 <= 4 * square <= (2 * effective + 1) ** 2


def test_below_its_radius_a_ball_cuts_on_its_full_diameter() -> None:
    assert ball_effective_diameter_nm(6 * MM, 3 * MM) == 6 * MM
    assert ball_effective_diameter_nm(6 * MM, 20 * MM) == 6 * MM


@given(diameters, st.floats(10, 170))
def test_cone_depth_and_diameter_undo_each_other(diameter: int, angle: float) -> None:
    small = diameter // 3
    back = cone_diameter_nm(cone_depth_nm(diameter, angle, small), angle, small)
    assert abs(back - diameter) <= 25  # half a nm of depth, times 2 tan 85° at the bluntest


@given(diameters, st.floats(10, 160))
def test_a_blunter_point_is_shorter(diameter: int, point: float) -> None:
    assert drill_point_length_nm(diameter, point + 10) < drill_point_length_nm(diameter, point)


@pytest.mark.parametrize("angle", [0, 180, -90, float("nan")])
def test_an_angle_that_makes_no_cone_is_refused(angle: float) -> None:
    with pytest.raises(OutOfRange, match="less than 180"):
        cone_depth_nm(MM, angle)
    with pytest.raises(OutOfRange, match="less than 180"):
        drill_point_length_nm(MM, angle)


@pytest.mark.parametrize("bad", [0, -1])
def test_lengths_of_nothing_are_refused(bad: int) -> None:
    for refused in (
        lambda: cusp_height_nm(bad, MM),
        lambda: cusp_height_nm(MM, bad),
        lambda: ball_effective_diameter_nm(MM, bad),
        lambda: ball_effective_diameter_nm(bad, MM),
        lambda: step_over_for_cusp_nm(MM, bad),
        lambda: cone_depth_nm(bad, 90),
    ):
        with pytest.raises(OutOfRange, match="more than 0"):
            refused()


def test_a_cusp_higher_than_the_radius_is_refused() -> None:
    with pytest.raises(OutOfRange, match="up to 3 mm"):
        step_over_for_cusp_nm(6 * MM, 3 * MM + 1)


def test_a_hole_as_large_as_the_countersink_is_refused() -> None:
    with pytest.raises(OutOfRange, match="smaller than the large"):
        cone_depth_nm(5 * MM, 90, 5 * MM)
