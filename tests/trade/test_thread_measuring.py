from __future__ import annotations

import math
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.optimize import brentq, minimize, minimize_scalar

from server.trade.errors import Impossible, OutOfRange, TradeError
from server.trade.thread_designation import parse_thread, thread_limits
from server.trade.thread_measuring import (
    METHODS,
    Method,
    lift_nm,
    over_wires_nm,
    pitch_diameter_nm,
    readings_over_wires,
    wires_for,
)

methods = st.sampled_from(METHODS)


@st.composite
def set_ups(draw: st.DrawFn) -> tuple[int, int, int]:
    """Pitch diameter, pitch and wire that can measure it [nm]."""
    pitch_nm = draw(st.integers(200_000, 8_000_000))
    wires = wires_for(pitch_nm)
    return (
        draw(st.integers(2 * pitch_nm + 1, 300_000_000)),
        pitch_nm,
        draw(st.integers(wires.smallest_nm, wires.largest_nm)),
    )


@given(set_ups(), methods)
def test_reading_and_pitch_diameter_undo_each_other(set_up: tuple[int, int, int], method: Method) -> None:
    diameter_nm, pitch_nm, wire_nm = set_up
    reading_nm = over_wires_nm(diameter_nm, pitch_nm, wire_nm, method)
    assert abs(pitch_diameter_nm(reading_nm, pitch_nm, wire_nm, method) - diameter_nm) <= 1


@given(set_ups(), st.integers(1, 1_000_000), methods)
def test_a_larger_thread_reads_larger(set_up: tuple[int, int, int], more_nm: int, method: Method) -> None:
    diameter_nm, pitch_nm, wire_nm = set_up
    low = over_wires_nm(diameter_nm, pitch_nm, wire_nm, method)
    high = over_wires_nm(diameter_nm + more_nm, pitch_nm, wire_nm, method)
    assert low <= high
    if more_nm > 100:
        assert low < high


@given(set_ups(), st.integers(2, 4))
def test_more_lead_lifts_the_wires_more(set_up: tuple[int, int, int], starts: int) -> None:
    assert 0 < lift_nm(*set_up) < lift_nm(*set_up, starts)
    assert over_wires_nm(*set_up, "simple") <= over_wires_nm(*set_up, "lead angle")


@given(set_ups())
def test_a_best_wire_reads_one_and_a_half_wires_over_the_pitch_diameter(set_up: tuple[int, int, int]) -> None:
    # it touches at the pitch diameter, so its centre is W/2 · sin 30° outside it: M = E + W + W/2
    diameter_nm, pitch_nm, _ = set_up
    wire_nm = wires_for(pitch_nm).best_nm
    assert over_wires_nm(diameter_nm, pitch_nm, wire_nm, "simple") == pytest.approx(diameter_nm + 1.5 * wire_nm, abs=3)


@given(set_ups())
def test_the_wires_stand_above_a_basic_crest(set_up: tuple[int, int, int]) -> None:
    diameter_nm, pitch_nm, wire_nm = set_up
    crest_nm = diameter_nm + 3 * math.sqrt(3) / 8 * pitch_nm
    assert over_wires_nm(diameter_nm, pitch_nm, wire_nm, "simple") >= crest_nm - 2


def true_reading(diameter: float, pitch: float, wire: float, starts: int = 1) -> float:
    """Reading over wires from the screw surface itself: the wire, free to tilt, sunk until it touches the flank.

    The flank is z = L θ/2π + P/4 + (ρ - E/2) tan 30°; the wire a cylinder through (R, 0, 0). The other flank is the
    same turned half over about the x axis, so one serves.
    """
    advance, slope = pitch * starts / (2 * math.pi), math.tan(math.radians(30))

    def clearance(radius: float, tilt: float) -> float:
        along, up = math.cos(tilt), math.sin(tilt)

        def distance(where: tuple[float, float]) -> float:
            rho, theta = where
            x, y = rho * math.cos(theta) - radius, rho * math.sin(theta)
            z = advance * theta + pitch / 4 + (rho - diameter / 2) * slope
            return math.sqrt(x * x + y * y + z * z - (y * along + z * up) ** 2)

        found = minimize(distance, (diameter / 2, 0.0), method="Nelder-Mead", options={"xatol": 1e-10, "fatol": 1e-12})
        return float(found.fun) - wire / 2

    def sunk(tilt: float) -> float:
        near = diameter / 2 - pitch / 4 / slope + wire
        return float(brentq(lambda radius: clearance(radius, tilt), near - 0.05 * pitch, near + 0.2 * pitch, xtol=1e-9))

    lead_angle = math.atan(pitch * starts / (math.pi * diameter))
    bounds = (0.7 * lead_angle, 1.1 * lead_angle)
    found = minimize_scalar(sunk, bounds=bounds, method="bounded", options={"xatol": 1e-5})
    return 2 * float(found.fun) + wire


# Geometry worked out here, independent of the handbook's formula. mm; within [mm].
@pytest.mark.parametrize(
    ("diameter", "pitch", "wire", "starts", "within"),
    [
        (7.188, 1.25, 0.7217, 1, 0.0001),
        (2.675, 0.5, 0.2887, 1, 0.0001),
        (18.376, 2.5, 1.4434, 1, 0.0001),
        (7.188, 1.25, 0.7217, 2, 0.0004),
    ],
)
def test_the_lead_angle_formula_agrees_with_the_screw_surface(
    diameter: float, pitch: float, wire: float, starts: int, within: float
) -> None:
    sizes = [round(size * 1_000_000) for size in (diameter, pitch, wire)]
    true = true_reading(diameter, pitch, wire, starts)
    assert over_wires_nm(*sizes, "lead angle", starts) / 1e6 == pytest.approx(true, abs=within)
    # and the simple one reads low, by more than that
    assert over_wires_nm(*sizes, "simple", starts) / 1e6 < true - 5 * within


def test_the_limits_of_a_class_give_the_limits_of_the_reading() -> None:
    limits = thread_limits("M8×1-6g")
    low, high = readings_over_wires(limits, 1_000_000, 577_350, "simple")
    assert high - low == limits.pitch_high_nm - limits.pitch_low_nm
    assert pitch_diameter_nm(low, 1_000_000, 577_350, "simple") == limits.pitch_low_nm


def test_an_inch_pitch_loses_nothing() -> None:
    thread = parse_thread("1/2-13")
    assert thread is not None
    assert thread.pitch_nm == Fraction(25_400_000, 13)
    for diameter_nm in range(11_000_000, 11_000_200, 7):
        reading_nm = over_wires_nm(diameter_nm, thread.pitch_nm, 1_128_014, "simple")
        assert pitch_diameter_nm(reading_nm, thread.pitch_nm, 1_128_014, "simple") == diameter_nm


def test_wires_do_not_measure_a_nut() -> None:
    with pytest.raises(Impossible, match="external threads only"):
        readings_over_wires(thread_limits("M8-6H"), 1_250_000, 721_688)


@pytest.mark.parametrize(
    ("diameter", "pitch", "wire", "method", "starts", "error", "says"),
    [
        (0, 1_000_000, 577_000, "simple", 1, OutOfRange, "more than 0"),
        (8_000_000, 0, 577_000, "simple", 1, OutOfRange, "more than 0"),
        (8_000_000, 1_000_000, 0, "simple", 1, OutOfRange, "more than 0"),
        (8_000_000, 1_000_000, 505_000, "simple", 1, OutOfRange, r"0\.505182 mm .* to 1\.010362 mm .*best 0\.57735 mm"),
        (8_000_000, 1_000_000, 1_011_000, "simple", 1, OutOfRange, "best 0.57735 mm"),
        (900_000, 1_000_000, 577_000, "simple", 1, Impossible, "less than 0.9 mm"),
        (8_000_000, 1_000_000, 577_000, "exact", 1, OutOfRange, "simple or lead angle"),
        (8_000_000, 1_000_000, 577_000, "simple", 0, OutOfRange, "1 to 12"),
    ],
)
def test_what_cannot_be_measured_is_told(
    diameter: int, pitch: int, wire: int, method: Method, starts: int, error: type[TradeError], says: str
) -> None:
    with pytest.raises(error, match=says):
        over_wires_nm(diameter, pitch, wire, method, starts)


def test_a_reading_too_small_for_its_wires_is_told() -> None:
    with pytest.raises(Impossible, match="more than"):
        pitch_diameter_nm(1_500_000, 1_000_000, 577_350)
    with pytest.raises(OutOfRange, match="more than 0"):
        pitch_diameter_nm(0, 1_000_000, 577_350)
    with pytest.raises(OutOfRange, match="best"):
        pitch_diameter_nm(8_000_000, 1_000_000, 2_000_000)
    with pytest.raises(OutOfRange, match="more than 0"):
        wires_for(0)
