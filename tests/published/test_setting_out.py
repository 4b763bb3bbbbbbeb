"""Indicators, sine bars, bolt circles and positions against published and worked figures."""

from __future__ import annotations

import csv
import re
from pathlib import Path

import pytest

from server.trade.angles import sine_angle_error_deg, sine_stack_nm
from server.trade.bolt_circle import bolt_circle
from server.trade.indicator import eccentricity_from_run_out_nm, lever_factor, lever_movement_nm
from server.trade.position import (
    AtMaximumMaterial,
    fastener_tolerance,
    position_against,
    position_nm,
    virtual_condition_nm,
)

CIRCLES = list(csv.DictReader(Path(__file__).with_name("bolt_circles.csv").read_text(encoding="utf-8").splitlines()))
IN = 25_400_000
MM = 1_000_000


def test_lever_indicator_at_twenty_degrees() -> None:
    """An indicator maker's catalogue 2019 p. 435 (found; computed 0.18794): 0.200 mm read at 20° is 0.188 mm."""
    assert lever_movement_nm(200_000, 20.0) == pytest.approx(188_000, abs=500)


@pytest.mark.parametrize(("angle", "factor"), [(10.0, 0.98), (20.0, 0.94)])
def test_lever_factors(angle: float, factor: float) -> None:
    """The same catalogue's table, two decimals (found), tolerance 0.005."""
    assert lever_factor(angle) == pytest.approx(factor, abs=0.005)


@pytest.mark.parametrize(
    ("angle", "stack_in", "source"),
    [
        (34.4167, 2.826, "Handbook of Machining and Metalworking Calculations ch. 4 (found; computed 2.82603)"),
        (18.0, 1.545, "shop page, sine 0.309 × 5 (found; computed 1.54508)"),
    ],
)
def test_sine_bar_stack(angle: float, stack_in: float, source: str) -> None:
    assert sine_stack_nm(5 * IN, angle) / IN == pytest.approx(stack_in, abs=0.0005), source


def test_sine_bar_sensitivity() -> None:
    """Machinist forum text (found; computed 0.001323°): 0.0001 in on a 5 in bar at 30° is 0.00132°."""
    assert sine_angle_error_deg(5 * IN, 30.0, 2_540) == pytest.approx(0.00132, abs=0.000005)


def test_throw_is_half_the_total_reading() -> None:
    """Computed: 0.250 in total reading, 0.125 in throw, exactly."""
    assert eccentricity_from_run_out_nm(6_350_000) == 3_175_000


def test_position_is_a_diameter() -> None:
    """Public question-and-answer text (found): 0.15 off one way is a position of 0.30, past 0.25 though 0.15 is not."""
    assert position_nm(150_000, 0) == 300_000
    assert not position_against(150_000, 0, 250_000).holds


def test_bonus_of_a_pin() -> None:
    """Computed, rule found: pin 12.00 −0/−0.05, position 0.1 at maximum material, actual 11.97: 0.03 more, 0.13."""
    pin = AtMaximumMaterial("pin", 11_950_000, 12_000_000, 11_970_000)
    assert pin.bonus_nm == 30_000
    assert position_against(0, 0, 100_000, pin).allowed_nm == 130_000


def test_square_corner_is_outside_the_round_zone() -> None:
    """Computed: the corner of ±0.1 is at 0.2828 diameter, tolerance 1e-4 mm; a round zone of 0.2 refuses it."""
    assert position_nm(100_000, 100_000) / MM == pytest.approx(0.2828, abs=1e-4)
    assert not position_against(100_000, 100_000, 200_000).holds


def test_virtual_conditions() -> None:
    """Computed: hole 10.0 at maximum material with 0.2 gives 9.8; a pin is the other way about."""
    assert virtual_condition_nm("hole", 10 * MM, 200_000) == 9_800_000
    assert virtual_condition_nm("pin", 10 * MM, 200_000) == 10_200_000


def test_fastener_tolerances() -> None:
    """ASME Y14.5 appendix B formulas (from memory), computed: 6.0 bolt in 6.6 holes: fixed 0.3 each, floating 0.6."""
    found = fastener_tolerance(6_600_000, 6_000_000)
    assert (found.fixed_each_nm, found.floating_nm) == (300_000, 600_000)


@pytest.mark.parametrize(
    "row", CIRCLES, ids=[f"{r['holes']} on {r['diameter']} from {r['first_deg']}" for r in CIRCLES]
)
def test_bolt_circle(row: dict[str, str]) -> None:
    """Coordinates to 1e-4; as millimetres here."""
    wanted = [float(n) for n in re.findall(r"-?[\d.]+", row["coordinates"])]
    holes = bolt_circle(int(row["holes"]), int(row["diameter"]) * MM, first_deg=float(row["first_deg"]))
    found = [n / MM for hole in holes for n in (hole.x_nm, hole.y_nm)]
    assert found == pytest.approx(wanted, abs=1e-4)
