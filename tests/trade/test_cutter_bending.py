"""Bending of slender cutters, checked by integrating the curvature as well."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from server.trade.cutter_bending import Overhang, compliance_nm_per_n, deflection_nm, force_for_deflection_n, plain_bar
from server.trade.errors import OutOfRange

MM = 1_000_000
diameters = st.integers(MM, 25 * MM)
lengths = st.integers(5 * MM, 150 * MM)


def integrated(overhang: Overhang, steps: int = 20_000) -> float:
    """∫ x² / (E I) dx from the end inwards [m/N for E = 1 Pa]: the unit-load theorem, by the midpoint rule."""
    whole = (overhang.flute_length_nm + overhang.shank_length_nm) / 1e9
    step = whole / steps
    total = 0.0
    for index in range(steps):
        x = (index + 0.5) * step
        fluted = x < overhang.flute_length_nm / 1e9
        d = (overhang.flute_diameter_nm * overhang.fluted_share if fluted else overhang.shank_diameter_nm) / 1e9
        total += x * x / (math.pi * d**4 / 64) * step
    return total


def test_a_stepped_cutter_bends_as_the_integral_says() -> None:
    stepped = Overhang(4 * MM, 12 * MM, 6 * MM, 18 * MM)
    assert compliance_nm_per_n(stepped, 600) == pytest.approx(integrated(stepped) / 600e9 * 1e9, rel=1e-3)


@given(diameters, lengths, lengths)
def test_a_step_between_equal_diameters_is_no_step(diameter: int, first: int, second: int) -> None:
    stepped = Overhang(diameter, first, diameter, second, fluted_share=1.0)
    whole = plain_bar(diameter, first + second)
    assert compliance_nm_per_n(stepped, 210) == pytest.approx(compliance_nm_per_n(whole, 210))


@given(diameters, lengths)
def test_flutes_at_eight_tenths_bend_two_and_a_half_times_a_solid_rod(diameter: int, length: int) -> None:
    ratio = compliance_nm_per_n(Overhang(diameter, length), 600) / compliance_nm_per_n(plain_bar(diameter, length), 600)
    assert ratio == pytest.approx(0.8**-4)


@given(diameters, lengths, st.floats(100, 5000))
def test_force_and_deflection_undo_each_other(diameter: int, length: int, force: float) -> None:
    bar = plain_bar(diameter, length)
    pushed = deflection_nm(bar, force, 210)
    if pushed > 0:
        slack = 0.5 / (pushed - 0.5) + 1e-9  # the deflection is rounded to whole nm
        assert force_for_deflection_n(bar, pushed, 210) == pytest.approx(force, rel=slack)


@given(diameters, lengths)
def test_steel_bends_more_than_carbide_and_longer_more_than_shorter(diameter: int, length: int) -> None:
    bar = plain_bar(diameter, length)
    assert compliance_nm_per_n(bar, 210) > compliance_nm_per_n(bar, 600)
    assert compliance_nm_per_n(plain_bar(diameter, length + MM), 210) > compliance_nm_per_n(bar, 210)


def test_the_ratio_counts_all_that_sticks_out() -> None:
    assert Overhang(5 * MM, 10 * MM, 6 * MM, 15 * MM).ratio == 5


def test_figures_of_nothing_are_refused() -> None:
    bar = plain_bar(10 * MM, 40 * MM)
    for refused in (
        lambda: plain_bar(0, MM),
        lambda: plain_bar(MM, 0),
        lambda: Overhang(MM, MM, 0, MM),
        lambda: deflection_nm(bar, 0, 210),
        lambda: deflection_nm(bar, -5, 210),
        lambda: deflection_nm(bar, 100, 0),
        lambda: force_for_deflection_n(bar, 0, 210),
        lambda: Overhang(MM, MM, fluted_share=0),
        lambda: Overhang(MM, MM, fluted_share=1.2),
    ):
        with pytest.raises(OutOfRange, match="more than 0"):
            refused()
    with pytest.raises(OutOfRange, match="0 or more"):
        Overhang(MM, MM, MM, -1)
