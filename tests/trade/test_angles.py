from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from server.trade.angles import dms, sine_angle_deg, sine_angle_error_deg, sine_stack_nm
from server.trade.errors import Impossible, OutOfRange

BARS = st.integers(10_000_000, 500_000_000)
ANGLES = st.floats(0, 60)


def test_thirty_degrees_is_half_the_bar() -> None:
    assert sine_stack_nm(100_000_000, 30.0) == 50_000_000
    assert sine_angle_deg(100_000_000, 50_000_000) == pytest.approx(30.0, abs=1e-12)


@given(BARS, ANGLES)
def test_stack_and_angle_undo_each_other(bar_nm: int, angle_deg: float) -> None:
    assert sine_angle_deg(bar_nm, sine_stack_nm(bar_nm, angle_deg)) == pytest.approx(angle_deg, abs=1e-5)


@given(BARS, st.floats(0.5, 59), st.integers(-2_000, 2_000), st.integers(-2_000, 2_000))
def test_error_is_what_the_wrong_stack_and_bar_do(bar_nm: int, angle_deg: float, stack: int, bar: int) -> None:
    set_to = sine_stack_nm(bar_nm, angle_deg)
    got = sine_angle_deg(bar_nm + bar, set_to + stack)
    told = sine_angle_error_deg(bar_nm, angle_deg, stack, bar)
    assert abs(got - angle_deg) <= told * 1.01 + 1e-5  # the stack is whole nanometres


@given(BARS, st.floats(0, 59))
def test_error_grows_with_the_angle(bar_nm: int, angle_deg: float) -> None:
    assert sine_angle_error_deg(bar_nm, angle_deg + 1, 1_000) > sine_angle_error_deg(bar_nm, angle_deg, 1_000)


@pytest.mark.parametrize("angle_deg", [-0.1, 60.1, float("nan")])
def test_angle_outside_the_range_is_told_with_it(angle_deg: float) -> None:
    with pytest.raises(OutOfRange, match="0 to 60 °"):
        sine_stack_nm(100_000_000, angle_deg)


def test_stack_over_the_bar_is_refused() -> None:
    with pytest.raises(Impossible, match="higher than the bar is long"):
        sine_angle_deg(100_000_000, 100_000_001)
    with pytest.raises(OutOfRange):
        sine_angle_deg(0, 0)
    with pytest.raises(OutOfRange):
        sine_angle_deg(1, -1)


@pytest.mark.parametrize(
    ("angle", "written"),
    [
        (34.4167, "34° 25′ 00″"),
        (0.0, "0° 00′ 00″"),
        (-0.5, "−0° 30′ 00″"),
        (-0.0001, "0° 00′ 00″"),
        (29.99999, "30° 00′ 00″"),
    ],
)
def test_degrees_minutes_and_seconds(angle: float, written: str) -> None:
    assert dms(angle) == written
