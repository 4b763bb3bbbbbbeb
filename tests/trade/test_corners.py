"""Round cutters in square corners."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from server.trade.corners import corner_left_nm, corner_seat, largest_cutter_nm
from server.trade.errors import OutOfRange

MM = 1_000_000
radii = st.integers(1, 50 * MM)


@given(radii)
def test_the_largest_cutter_leaves_nothing_and_a_larger_one_something(radius: int) -> None:
    assert corner_left_nm(largest_cutter_nm(radius), radius) == 0
    assert corner_left_nm(largest_cutter_nm(radius) + 10, radius) > 0


def test_a_cutter_leaves_0_414_of_its_radius_in_a_sharp_square_corner() -> None:
    assert corner_left_nm(6 * MM) == round(3 * MM * (math.sqrt(2) - 1)) == 1_242_641


@given(st.integers(2, 50 * MM), st.floats(20, 150))
def test_a_wider_corner_keeps_less(diameter: int, angle: float) -> None:
    assert corner_left_nm(diameter, 0, angle + 20) <= corner_left_nm(diameter, 0, angle)


def test_an_edge_chamfered_by_the_radius_seats_and_one_by_the_quoted_0_59_rides_up() -> None:
    seated = corner_seat(2 * MM, 2 * MM)
    assert seated.seats
    assert seated.clearance_nm == round(2 * MM * (1 / math.sqrt(2) - math.sqrt(2) + 1))
    riding = corner_seat(2 * MM, round(0.5858 * 2 * MM))
    assert not riding.seats
    assert riding.stand_off_nm > 100_000


@given(radii, st.floats(0, 0.999), st.sampled_from(["chamfer", "round"]))
def test_an_edge_that_stands_off_just_touches_the_fillet(radius: int, share: float, edge: str) -> None:
    size = int(radius * share)
    seat = corner_seat(radius, size, edge)  # type: ignore[arg-type]
    assert not seat.seats
    # distance of the edge's nearest point from the fillet's centre: at the radius, or inside by the rounding up
    off = seat.stand_off_nm
    if edge == "chamfer":
        reach = math.hypot(radius - off - size, radius - off)
    else:
        reach = math.sqrt(2) * (radius - off - size) + size
    assert reach <= radius * (1 + 1e-12) + 1e-6
    assert reach >= radius - 3


def test_a_sharp_edge_stands_off_by_0_293_of_the_radius() -> None:
    for edge in ("chamfer", "round"):
        assert corner_seat(10 * MM, 0, edge).stand_off_nm == pytest.approx(2_928_932, abs=1)  # type: ignore[arg-type]


def test_a_larger_round_clears_the_corner() -> None:
    seat = corner_seat(1 * MM, 2 * MM, "round")
    assert seat.seats
    assert seat.clearance_nm == pytest.approx(414_214, abs=1)


def test_a_sharp_corner_takes_a_sharp_edge() -> None:
    assert corner_seat(0, 0).seats


def test_what_makes_no_corner_is_refused() -> None:
    with pytest.raises(OutOfRange, match="more than 0"):
        largest_cutter_nm(0)
    with pytest.raises(OutOfRange, match="more than 0"):
        corner_left_nm(0)
    with pytest.raises(OutOfRange, match="0 or more"):
        corner_seat(-1, 0)
    with pytest.raises(OutOfRange, match="0 or more"):
        corner_seat(1, -1)
    with pytest.raises(OutOfRange, match="chamfer, round"):
        corner_seat(1, 1, "square")  # type: ignore[arg-type]
    with pytest.raises(OutOfRange, match="less than 180"):
        corner_left_nm(MM, 0, 180)
