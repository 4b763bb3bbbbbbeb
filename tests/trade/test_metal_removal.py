"""Metal removed, power, torque and force."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from server.trade.cutting import spindle_speed_rpm
from server.trade.errors import OutOfRange
from server.trade.metal_removal import (
    SPECIFIC_FORCES,
    cutting_power_kw,
    drilling_rate_cm3_per_min,
    milling_rate_cm3_per_min,
    specific_force_n_per_mm2,
    spindle_torque_newton_m,
    tangential_force_n,
    turning_rate_cm3_per_min,
)

MM = 1_000_000
lengths = st.integers(1000, 100 * MM)
amounts = st.floats(0.01, 1000)


@given(lengths, lengths, amounts)
def test_twice_the_feed_removes_twice_the_metal(depth: int, width: int, feed: float) -> None:
    once = milling_rate_cm3_per_min(depth, width, feed * MM)
    assert milling_rate_cm3_per_min(depth, width, 2 * feed * MM) == pytest.approx(2 * once)


@given(st.integers(MM, 50 * MM), st.floats(0.01, 0.99), st.floats(0.01, 1), st.floats(10, 5000))
def test_drilling_in_two_steps_removes_what_one_does(diameter: int, share: float, feed: float, rpm: float) -> None:
    hole = int(diameter * share)
    small = drilling_rate_cm3_per_min(hole, feed * MM, rpm)
    rest = drilling_rate_cm3_per_min(diameter, feed * MM, rpm, hole)
    assert small + rest == pytest.approx(drilling_rate_cm3_per_min(diameter, feed * MM, rpm))


def test_turning_agrees_with_the_ring_cut_away_for_a_thin_cut() -> None:
    # 50 mm round, 0.5 mm deep, 0.2 mm/rev at 30 m/min: ring area × feed × rev/min, 1 % less than speed × depth × feed
    rpm = spindle_speed_rpm(30, 50 * MM)
    ring = math.pi / 4 * (50**2 - 49**2) * 0.2 * rpm / 1000
    assert turning_rate_cm3_per_min(30, MM // 2, 0.2 * MM) == pytest.approx(ring, rel=0.011)


@given(amounts, amounts, st.floats(0.1, 1))
def test_a_worse_machine_takes_more_power(rate: float, force: float, efficiency: float) -> None:
    at_cutter = cutting_power_kw(rate, force)
    assert cutting_power_kw(rate, force, efficiency) == pytest.approx(at_cutter / efficiency)


@given(st.floats(0.01, 100), st.floats(1, 500), st.integers(MM, 200 * MM))
def test_torque_is_force_at_the_radius(power: float, speed: float, diameter: int) -> None:
    torque = spindle_torque_newton_m(power, spindle_speed_rpm(speed, diameter))
    assert torque == pytest.approx(tangential_force_n(power, speed) * diameter / 2e9)


def test_one_kilowatt_at_a_thousand_is_nine_and_a_half_newton_metres() -> None:
    assert spindle_torque_newton_m(1, 1000) == pytest.approx(9.549, abs=5e-4)


@pytest.mark.parametrize("name", SPECIFIC_FORCES)
def test_thinner_chips_take_more_force_a_square_millimetre(name: str) -> None:
    force = SPECIFIC_FORCES[name]
    at_1_mm = specific_force_n_per_mm2(force.kc11_n_per_mm2, force.mc, MM)
    assert at_1_mm == pytest.approx(force.kc11_n_per_mm2)
    assert specific_force_n_per_mm2(force.kc11_n_per_mm2, force.mc, 100_000) > at_1_mm
    assert force.standing


def test_figures_of_nothing_are_refused() -> None:
    for refused in (
        lambda: milling_rate_cm3_per_min(0, MM, 1),
        lambda: milling_rate_cm3_per_min(MM, -MM, 1),
        lambda: milling_rate_cm3_per_min(MM, MM, 0),
        lambda: drilling_rate_cm3_per_min(0, 1, 1),
        lambda: turning_rate_cm3_per_min(0, MM, 1),
        lambda: spindle_torque_newton_m(0, 100),
        lambda: spindle_torque_newton_m(1, 0),
        lambda: specific_force_n_per_mm2(0, 0.2, MM),
        lambda: specific_force_n_per_mm2(2000, 0.2, 0),
        lambda: tangential_force_n(1, 0),
    ):
        with pytest.raises(OutOfRange, match="more than 0"):
            refused()


@pytest.mark.parametrize("efficiency", [0, -0.5, 1.01, float("nan")])
def test_an_efficiency_outside_one_is_refused(efficiency: float) -> None:
    with pytest.raises(OutOfRange, match="more than 0, up to 1"):
        cutting_power_kw(1, 1, efficiency)


def test_a_hole_as_large_as_the_drill_and_an_odd_exponent_are_refused() -> None:
    with pytest.raises(OutOfRange, match="less than the drill"):
        drilling_rate_cm3_per_min(MM, 1, 1, MM)
    with pytest.raises(OutOfRange, match="less than 1"):
        specific_force_n_per_mm2(2000, 1.0, MM)
