from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from server.trade.errors import Impossible, OutOfRange
from server.trade.reading_uncertainty import (
    Warmth,
    reading_budget,
    thermal_correction_nm,
    thermal_lines,
    tilt_error_nm,
    tilt_line,
    u_from_interval_nm,
    warmth,
)
from server.trade.temperature import corrected_reading_nm, expansion_of
from server.trade.uncertainty import combine, rectangular

STEEL, ALUMINIUM, GAUGE = expansion_of("carbon steel"), expansion_of("aluminium alloy"), expansion_of("gauge steel")


def _budget(**changed: float) -> float:
    figures = {"mpe": 4_000.0, "step": 1_000.0, "s": 1_200.0, "t": 1.0, "apart": 0.5, "tilt": 0.1} | changed
    at = warmth(
        ALUMINIUM,
        GAUGE,
        part_c=24.0,
        temperature_half_width_c=figures["t"],
        difference_half_width_c=figures["apart"],
    )
    return reading_budget(
        [100_000_000],
        permissible_error_nm=figures["mpe"],
        step_nm=figures["step"],
        prior_s_nm=figures["s"],
        at=at,
        greatest_tilt_deg=figures["tilt"],
    ).u_nm


@given(st.sampled_from(["mpe", "step", "s", "t", "apart", "tilt"]), st.floats(1.05, 3))
def test_every_component_makes_the_uncertainty_grow(which: str, times: float) -> None:
    figures = {"mpe": 4_000.0, "step": 1_000.0, "s": 1_200.0, "t": 1.0, "apart": 0.5, "tilt": 0.1}
    assert _budget(**{which: figures[which] * times}) > _budget()


def test_thermal_budget_agrees_with_drawing_lots() -> None:
    """100 mm of aluminium at 24 °C ± 1 °C, gauge apart by ± 0.5 °C: 400,000 draws of the exact correction."""
    draw = np.random.default_rng(1)
    n = 400_000
    part_c = 24 + draw.uniform(-1, 1, n)
    gauge_c = part_c - draw.uniform(-0.5, 0.5, n)
    part = ALUMINIUM.per_c + draw.uniform(-1, 1, n) * ALUMINIUM.half_width_per_c
    gauge = GAUGE.per_c + draw.uniform(-1, 1, n) * GAUGE.half_width_per_c
    sizes = 100e6 * (1 + gauge * (gauge_c - 20)) / (1 + part * (part_c - 20))
    at = warmth(ALUMINIUM, GAUGE, part_c=24.0, temperature_half_width_c=1.0, difference_half_width_c=0.5)
    assert combine(thermal_lines(100_000_000, at)).u_nm == pytest.approx(sizes.std(), rel=0.01)


def test_at_twenty_degrees_the_second_order_still_counts() -> None:
    at = warmth(STEEL, GAUGE, part_c=20.0, temperature_half_width_c=3.0)
    assert combine(thermal_lines(100_000_000, at, second_order=False)).u_nm == 0
    assert combine(thermal_lines(100_000_000, at)).u_nm > 100


@given(st.floats(15, 25), st.floats(15, 25))
def test_first_order_correction_is_near_the_exact_one(part_c: float, gauge_c: float) -> None:
    at = warmth(ALUMINIUM, GAUGE, part_c=part_c, gauge_c=gauge_c, temperature_half_width_c=0)
    exact = corrected_reading_nm(
        100_000_000, part_c=part_c, part_per_c=ALUMINIUM.per_c, gauge_c=gauge_c, gauge_per_c=GAUGE.per_c
    )
    assert thermal_correction_nm(100_000_000, at) == pytest.approx(exact - 100_000_000, abs=3)


def test_tilt_error_by_hand() -> None:
    """1 − cos 1° = 0.000152305 (table): 15.23 µm in 100 mm."""
    assert tilt_error_nm(100_000_000, 1.0) == pytest.approx(15_230.5, abs=0.1)


def test_tilt_line_is_the_root_mean_square_of_every_tilt_alike() -> None:
    tilts = np.radians(np.linspace(0, 3, 100_001))
    rms = math.sqrt(np.mean((1 - np.cos(tilts)) ** 2)) * 100e6
    assert tilt_line(100_000_000, 3.0).u_nm == pytest.approx(rms, rel=1e-3)


def test_several_readings_need_no_prior() -> None:
    found = reading_budget([10_000, 12_000, 11_000], permissible_error_nm=0, step_nm=0)
    assert found.u_nm == pytest.approx(1_000 / math.sqrt(3))
    assert found.expanded().dof == 2


def test_further_lines_are_added() -> None:
    found = reading_budget([1], permissible_error_nm=0, step_nm=0, prior_s_nm=3, more=[rectangular("form", 4 * 3**0.5)])
    assert found.u_nm == pytest.approx(5)


def test_no_reading_and_a_lone_reading_are_refused() -> None:
    for readings in ([], [10_000]):
        with pytest.raises(Impossible):
            reading_budget(readings, permissible_error_nm=1, step_nm=1)


def test_interval_and_its_uncertainty_undo_each_other() -> None:
    """GUM H.1.3.2: 0.01 µm at 95 % with 5 degrees of freedom is u = 3.9 nm (from memory)."""
    assert u_from_interval_nm(10, 0.95, 5) == pytest.approx(3.9, abs=0.05)


def test_bad_figures_are_told_under_their_names() -> None:
    with pytest.raises(OutOfRange) as refused:
        reading_budget([1, 2], permissible_error_nm=-1, step_nm=1)
    assert refused.value.field == "permissible_error_nm"
    with pytest.raises(OutOfRange) as refused:
        warmth(STEEL, GAUGE, part_c=20.0, temperature_half_width_c=-1.0)
    assert refused.value.field == "temperature_half_width_c"
    with pytest.raises(OutOfRange) as refused:
        Warmth(11.5, 0, 0, 0, 0, 0, 0, 0)
    assert refused.value.field == "standard_per_c"
    with pytest.raises(OutOfRange) as refused:
        tilt_line(1, 21)
    assert (refused.value.field, refused.value.accepts) == ("greatest_tilt_deg", "0 to 20 °")
