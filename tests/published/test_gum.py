"""The GUM, JCGM 100:2008: example H.1 end to end, the type A example of 4.4.3, the type B example of 4.3.7.

Published figures from memory, each worked out again here; H.1 also against GTC, an independent implementation.
"""

from __future__ import annotations

import csv
import math
from pathlib import Path

import GTC
import pytest
import uncertainties

from server.trade.reading_uncertainty import Compared, Warmth, compared_with_standard, u_from_interval_nm
from server.trade.repeats import repeats, t_quantile
from server.trade.uncertainty import (
    BudgetLine,
    arcsine,
    combine,
    from_certificate,
    rectangular,
    repeatability,
    resolution,
)

READINGS_4_4_3 = [
    96.9, 98.18, 98.25, 98.61, 99.03, 99.49, 99.56, 99.74, 99.89, 100.07,
    100.33, 100.42, 100.68, 100.95, 101.11, 101.2, 101.57, 101.84, 102.36, 102.72,
]  # fmt: skip
T_ROWS = list(csv.DictReader(Path(__file__).with_name("student_t.csv").read_text(encoding="utf-8").splitlines()))


def _end_gauge(second_order: bool) -> Compared:
    """H.1: a 50 mm end gauge by comparison with a known one of the same nominal length."""
    standard = from_certificate("standard", 75, k=3, dof=18)
    difference = [
        BudgetLine("five readings, pooled s of 25 earlier ones", 13 / math.sqrt(5), 24),
        BudgetLine("comparator, random: 10 nm at 95 %, six readings", u_from_interval_nm(10, 0.95, 5), 5),
        BudgetLine("comparator, systematic: 20 nm at three sigma, good to 25 %", 20 / 3, 8),
    ]
    at = Warmth(
        standard_per_c=11.5e-6,
        u_standard_per_c=2e-6 / math.sqrt(3),
        difference_per_c=0.0,
        u_difference_per_c=1e-6 / math.sqrt(3),
        difference_per_c_dof=50,
        part_above_c=-0.1,
        u_part_above_c=math.hypot(0.2, 0.5 / math.sqrt(2)),
        difference_c=0.0,
        u_difference_c=0.05 / math.sqrt(3),
        difference_c_dof=2,
    )
    return compared_with_standard(
        50_000_623, 215, standard=standard, difference=difference, at=at, second_order=second_order
    )


def test_h1_length() -> None:
    """Published: l = 50.000 838 mm."""
    assert _end_gauge(second_order=False).size_nm == 50_000_838


def test_h1_combined_standard_uncertainty() -> None:
    """Published: 32 nm, tolerance 0.5 (computed 31.664)."""
    assert _end_gauge(second_order=False).uncertainty.u_nm == pytest.approx(32, abs=0.5)
    assert _end_gauge(second_order=False).uncertainty.u_nm == pytest.approx(31.664, abs=0.03)


def test_h1_expanded_uncertainty_at_99_percent() -> None:
    """Published: ν_eff = 16, t99(16) = 2.92, U99 = 93 nm, tolerance 1 (k must be Student's t, not 2.576)."""
    found = _end_gauge(second_order=False).uncertainty.expanded(0.99)
    assert found.dof == 16
    assert found.k == pytest.approx(2.92, abs=0.005)
    assert found.u_expanded_nm == pytest.approx(93, abs=1)


def test_h1_with_second_order_terms() -> None:
    """Published: 34 nm, tolerance 0.5 (computed 33.84)."""
    assert _end_gauge(second_order=True).uncertainty.u_nm == pytest.approx(34, abs=0.5)


def test_h1_budget_lines() -> None:
    """Published: u(ls) 25, u(d) 9.7, δα 2.9, δθ 16.6, αs and θ 0 [nm], tolerance 0.05."""
    lines = _end_gauge(second_order=False).uncertainty.lines
    by_name = {line.what: line.u_nm for line in lines}
    assert by_name["standard"] == 25
    assert combine(lines[1:4]).u_nm == pytest.approx(9.7, abs=0.05)
    assert by_name["expansion of part against gauge"] == pytest.approx(2.9, abs=0.05)
    assert by_name["part warmer or colder than gauge"] == pytest.approx(16.6, abs=0.05)
    assert by_name["temperature"] == by_name["expansion of gauge"] == 0


def test_h1_agrees_with_an_independent_implementation() -> None:
    ls = GTC.ureal(50_000_623, 25, 18)
    d = sum(
        (
            GTC.ureal(215, 13 / math.sqrt(5), 24),
            GTC.ureal(0, u_from_interval_nm(10, 0.95, 5), 5),
            GTC.ureal(0, 20 / 3, 8),
        )
    )
    alpha_s = GTC.ureal(11.5e-6, GTC.type_b.uniform(2e-6))
    theta = GTC.ureal(-0.1, 0.2) + GTC.ureal(0, GTC.type_b.arcsine(0.5))
    d_alpha = GTC.ureal(0, GTC.type_b.uniform(1e-6), 50)
    d_theta = GTC.ureal(0, GTC.type_b.uniform(0.05), 2)
    length = ls + d - ls * (d_alpha * theta + alpha_s * d_theta)
    ours = _end_gauge(second_order=False)
    assert ours.uncertainty.u_nm == pytest.approx(GTC.uncertainty(length), rel=1e-9)
    assert ours.uncertainty.dof == pytest.approx(GTC.dof(length), rel=1e-9)
    assert ours.size_nm == round(GTC.value(length))


def test_4_4_3_mean_and_spread() -> None:
    """Published: 100.14, 1.49, 0.33 °C, tolerance 0.005 (s needs n − 1; with n it would be 1.45)."""
    found = repeats(READINGS_4_4_3)
    assert found.mean == pytest.approx(100.145, abs=0.005)
    assert found.s == pytest.approx(1.49, abs=0.005)
    assert found.u_mean == pytest.approx(0.33, abs=0.005)


def test_4_3_7_rectangular() -> None:
    """Published: 16.52e-6 ± 0.40e-6 per °C gives u = 0.23e-6, tolerance 0.005e-6; in whole figures here."""
    assert rectangular("copper", 0.40).u_nm == pytest.approx(0.23, abs=0.005)


def test_micrometer_budget() -> None:
    """Computed: MPE 2, resolution 1, s = 1.2 of n = 3, warmth ±1.5 [µm]: u = 1.6269, U (k = 2) = 3.2537 µm."""
    found = combine(
        [
            rectangular("permissible error", 2000),
            resolution(1000),
            repeatability([0, 0, 0], prior_s_nm=1200),
            rectangular("warmth", 1500),
        ]
    )
    assert found.u_nm / 1000 == pytest.approx(1.6269, abs=1e-4)
    assert 2 * found.u_nm / 1000 == pytest.approx(3.2537, abs=1e-4)


def test_budget_agrees_with_linear_propagation_elsewhere() -> None:
    lines = [rectangular("a", 2000), arcsine("b", 700), BudgetLine("c", 350.0)]
    total = sum(uncertainties.ufloat(0, line.u_nm) for line in lines)
    assert combine(lines).u_nm == pytest.approx(total.std_dev, rel=1e-12)


@pytest.mark.parametrize("row", T_ROWS, ids=[row["dof"] for row in T_ROWS])
def test_student_t(row: dict[str, str]) -> None:
    """GOST R 56604 t table (found, two decimals) and computed; tolerance 0.0005. Indexed by degrees of freedom."""
    assert t_quantile(int(row["dof"]), 0.95) == pytest.approx(float(row["t95"]), abs=0.0005)
    assert t_quantile(int(row["dof"]), 0.99) == pytest.approx(float(row["t99"]), abs=0.0005)


def test_three_readings_need_t_not_two() -> None:
    """Computed: 12.004, 12.006, 12.005 mm: mean 12.005, s 0.001, U95 = 4.303 × 0.001/√3 = 0.00248 mm."""
    found = repeats([12_004_000, 12_006_000, 12_005_000])
    assert (found.mean, found.s) == (12_005_000, pytest.approx(1000))
    assert found.half_width(0.95) == pytest.approx(2480, abs=10)
    assert found.half_width(0.95) / (2 * found.u_mean) == pytest.approx(2.15, abs=0.005)
