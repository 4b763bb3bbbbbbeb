"""Bolts: laws and refusals. Published values are in tests/published/test_fastening.py."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from server.trade.errors import OutOfRange
from server.trade.fastening import (
    NUT_FACTORS,
    STRENGTH_CLASSES,
    bolt_tension_n,
    metric_stress_area_mm2,
    preload_n,
    proof_load_n,
    strength,
    tightening_torque_newton_m,
    unified_stress_area_mm2,
)

MM, IN = 1_000_000, 25_400_000


@given(st.floats(1, 1e6), st.integers(MM, 50 * MM), st.floats(0.05, 0.5))
def test_torque_and_tension_undo_each_other(tension: float, diameter: int, k: float) -> None:
    assert bolt_tension_n(tightening_torque_newton_m(tension, diameter, k), diameter, k) == pytest.approx(tension)


@given(st.integers(2 * MM, 50 * MM), st.floats(0.05, 0.3))
def test_a_stress_area_lies_between_core_and_nominal(diameter: int, share: float) -> None:
    pitch = int(diameter * share)
    area = metric_stress_area_mm2(diameter, pitch)
    core = math.pi / 4 * ((diameter - 1.226869 * pitch) / 1e6) ** 2  # ISO 898-1 d3, from memory
    assert core < area < math.pi / 4 * (diameter / 1e6) ** 2


@given(st.integers(6 * MM, 40 * MM), st.floats(6, 40))
def test_inch_and_metric_formulas_agree(diameter: int, n: float) -> None:
    # the inch rule takes 0.9743 of the pitch off the diameter, the metric one 0.9382
    if 25.4 / n < diameter / 1e6 / 5:
        metric = metric_stress_area_mm2(diameter, round(IN / n))
        assert unified_stress_area_mm2(diameter, n) == pytest.approx(metric, rel=0.03)


@given(st.floats(1, 1000), st.floats(100, 1200), st.floats(0.1, 1))
def test_preload_never_passes_the_proof_load(area: float, proof: float, share: float) -> None:
    assert preload_n(area, proof, share) <= proof_load_n(area, proof)


@pytest.mark.parametrize("name", STRENGTH_CLASSES)
def test_every_class_is_proved_below_its_breaking(name: str) -> None:
    for each in STRENGTH_CLASSES[name]:
        assert each.proof_mpa < each.tensile_mpa
        assert strength(name, each.up_to_nm) == each


@pytest.mark.parametrize("surface", NUT_FACTORS)
def test_every_nut_factor_is_a_range_around_its_usual_value(surface: str) -> None:
    factor = NUT_FACTORS[surface]
    assert factor.least < factor.usual < factor.greatest
    assert factor.standing


def test_a_screw_too_small_or_large_for_its_class_is_refused_with_the_range() -> None:
    with pytest.raises(OutOfRange, match=r"6\.35 to 38\.1 mm"):
        strength("grade 5", 4 * MM)
    with pytest.raises(OutOfRange, match="0 to 39 mm"):
        strength("8.8", 40 * MM)
    with pytest.raises(OutOfRange, match=r"8\.8, 10\.9"):
        strength("9.9", 8 * MM)


def test_figures_that_make_no_bolt_are_refused() -> None:
    for refused in (
        lambda: bolt_tension_n(0, 8 * MM),
        lambda: bolt_tension_n(10, 0),
        lambda: bolt_tension_n(10, 8 * MM, 0),
        lambda: tightening_torque_newton_m(-1, 8 * MM),
        lambda: tightening_torque_newton_m(1, 8 * MM, 1.5),
        lambda: metric_stress_area_mm2(0, MM),
        lambda: metric_stress_area_mm2(8 * MM, 0),
        lambda: unified_stress_area_mm2(IN, 0),
        lambda: preload_n(10, 600, 0),
        lambda: preload_n(10, 600, 1.2),
    ):
        with pytest.raises(OutOfRange, match="more than 0"):
            refused()
    with pytest.raises(OutOfRange, match="under half"):
        metric_stress_area_mm2(2 * MM, MM)
    with pytest.raises(OutOfRange, match="under half"):
        unified_stress_area_mm2(IN // 10, 20)


def test_the_high_strength_area_needs_its_pitch_diameter() -> None:
    with pytest.raises(OutOfRange, match="least pitch diameter"):
        unified_stress_area_mm2(IN // 2, 13, "least pitch diameter")
    with pytest.raises(OutOfRange, match="basic, least pitch diameter"):
        unified_stress_area_mm2(IN // 2, 13, "guess")  # type: ignore[arg-type]
