"""Chains against worked examples and closed forms: the values, their sources and standing are in chains.csv.

The cases of plain, measured, shared and rectangular members at the end are computed for this project by hand.
"""

from __future__ import annotations

import csv
import itertools
import math
from pathlib import Path
from statistics import NormalDist

import pytest

from server.trade.chain_sampling import sample_chain
from server.trade.chains import (
    Drawn,
    Measured,
    Spread,
    middle_nm,
    probability_inside,
    root_sum_square,
    standard_deviation_nm,
    worst_case,
)

with (Path(__file__).parent / "chains.csv").open(encoding="utf-8", newline="") as _file:
    ROWS = {row["case_id"]: row for row in csv.DictReader(_file)}

INCH = 25_400_000
MM = 1_000_000


def agrees(case_id: str, found: float) -> None:
    row = ROWS[case_id]
    assert found == pytest.approx(float(row["expected"]), abs=float(row["tolerance"])), row


def either(name: str, a: float, size: float, tolerance: float, unit: int = MM, spread: Spread = "normal") -> Drawn:
    low, high = round((size - tolerance) * unit), round((size + tolerance) * unit)
    return Drawn(name, a, low, high, spread)


# Retaining ring, shaft, bearing, sleeves, housing: sizes and tolerances in inches, from memory of the paper.
CHASE = [
    either("A", -1, 0.0505, 0.0015, INCH),
    either("B", 1, 8.000, 0.008, INCH),
    either("C", -1, 0.5093, 0.0025, INCH),
    either("D", 1, 0.400, 0.002, INCH),
    either("E", -1, 7.711, 0.006, INCH),
    either("F", 1, 0.400, 0.002, INCH),
    either("G", -1, 0.5093, 0.0025, INCH),
]


def test_shaft_and_bearings_of_chase() -> None:
    agrees("STK-chase-nominal", float(middle_nm(CHASE)) / INCH)
    agrees("STK-chase-wc", worst_case(CHASE).width_nm / 2 / INCH)
    agrees("STK-chase-rss", root_sum_square(CHASE).width_nm / 2 / INCH)


def test_one_way_clutch_with_sensitivities_for_coefficients() -> None:
    """An angle as the total: degrees stand for nanometres times a million."""
    hub, roller, ring = 27.645, 11.43, 50.8
    angle = math.degrees(math.acos((hub + roller) / (ring - roller)))
    root = math.sqrt((ring - roller) ** 2 - (hub + roller) ** 2)
    by_hub = -math.degrees(1 / root)
    by_roller = -math.degrees((ring + hub) / (ring - roller) / root)
    by_ring = math.degrees((hub + roller) / (ring - roller) / root)
    agrees("STK-clutch-nom", angle)
    agrees("STK-clutch-Sc", by_roller)
    agrees("STK-clutch-Se", by_ring)
    tolerances = (0.05, 0.01, 0.0125)
    chain = [either(name, a, 0, t) for name, a, t in zip("abc", (by_hub, by_roller, by_ring), tolerances, strict=True)]
    agrees("STK-clutch-wc", worst_case(chain).width_nm / 2 / MM)
    agrees("STK-clutch-rss", root_sum_square(chain).width_nm / 2 / MM)
    corners = [
        math.degrees(math.acos((hub + a + roller + c) / (ring + e - roller - c)))
        for a, c, e in itertools.product(*((-t, t) for t in tolerances))
    ]
    agrees("STK-clutch-exact-low", min(corners))
    agrees("STK-clutch-exact-high", max(corners))
    # what a chain leaves out: it is linear, and this much off at the ends
    assert max(corners) - angle < worst_case(chain).width_nm / 2 / MM < angle - min(corners)


def test_three_parts() -> None:
    chain = [either("a", 1, 10, 0.20), either("b", 1, 10, 0.10), either("c", -1, 10, 0.15)]
    agrees("STK-lin-3-wc", worst_case(chain).width_nm / 2 / MM)
    agrees("STK-lin-3-rss", root_sum_square(chain).width_nm / 2 / MM)


def test_factor_of_bender() -> None:
    chain = [either(name, 1, 10, 0.1) for name in "abc"]
    agrees("STK-bender", root_sum_square(chain, inflation=1.5).width_nm / 2 / MM)


def test_limits_on_one_side_are_taken_about_their_middle() -> None:
    chain = [Drawn("bore", 1, 24_900_000, 25_000_000), Drawn("shaft", -1, 24_800_000, 24_850_000)]
    agrees("STK-uneq-1", float(middle_nm(chain)) / MM)
    worst = worst_case(chain)
    assert (worst.low_nm, worst.high_nm) == (50_000, 200_000)
    square = root_sum_square(chain)
    assert square.low_nm + square.high_nm == 2 * 125_000


def test_interference_of_a_shaft_and_a_bearing() -> None:
    chain = [either("bearing", 1, 1.063, 3 * 0.0025, INCH), either("shaft", -1, 1.048, 3 * 0.0050, INCH)]
    agrees("STK-int-1", 1 - probability_inside(chain, 0, None))
    at_one_percent = float(middle_nm(chain)) + NormalDist().inv_cdf(0.01) * standard_deviation_nm(chain)
    agrees("STK-int-1-c", at_one_percent / INCH)
    sampled = sample_chain(chain, 0, None, samples=400_000, coverage=0.98)
    assert sampled.below == pytest.approx(0.00365, abs=4 * sampled.inside_error)
    assert sampled.low_nm / INCH == pytest.approx(0.00200, abs=0.00010)


def test_transition_fit_clears_two_times_in_three() -> None:
    chain = [either("hole", 1, 25.0105, 3 * 0.0035), either("shaft", -1, 25.0085, 3 * 0.002167)]
    agrees("STK-int-2", probability_inside(chain, 0, None))


@pytest.mark.parametrize("k", ["1", "2", "3", "1.96", "1.645", "2.576", "4", "6"])
def test_normal_fraction_within_k_sigma(k: str) -> None:
    sigma = 1_000_000
    chain = [Drawn("one", 1, -3 * sigma, 3 * sigma, "normal")]
    reach = round(float(k) * sigma)
    agrees(f"NORM-{k}", probability_inside(chain, -reach, reach))


def test_out_of_tolerance_with_limits_at_three_sigma() -> None:
    chain = [Drawn("one", 1, -3_000_000, 3_000_000, "normal")]
    agrees("NORM-27", 1e6 * (1 - probability_inside(chain, -3_000_000, 3_000_000)))


def test_three_groups_leave_a_third_of_the_variation() -> None:
    whole = [Drawn("hole", 1, 0, 30_000), Drawn("pin", -1, 0, 30_000)]
    assert worst_case(whole).width_nm == 60_000
    group = [Drawn("hole", 1, 10_000, 20_000), Drawn("pin", -1, 10_000, 20_000)]
    agrees("SEL-4", worst_case(group).width_nm / MM)


def test_plain_chain() -> None:
    """Computed: 60 ±0.05 less 20 ±0.03 less 39.9 ±0.04: worst −0.02 and 0.22, root-sum-square 0.02929 and 0.17071."""
    chain = [either("a", 1, 60, 0.05), either("b", -1, 20, 0.03), either("c", -1, 39.9, 0.04)]
    worst, square = worst_case(chain), root_sum_square(chain)
    assert (worst.low_nm, worst.high_nm) == (-20_000, 220_000)
    assert square.low_nm == pytest.approx(29_289.32, abs=1)
    assert square.high_nm == pytest.approx(170_710.68, abs=1)


def test_measured_member_counts_with_its_uncertainty_for_its_tolerance() -> None:
    """Computed: 0.088 ±(0.05 + 0.004 + 0.04): −0.006 and 0.182."""
    chain = [either("a", 1, 60, 0.05), Measured("b", -1, 20_012_000, 4_000), either("c", -1, 39.9, 0.04)]
    worst = worst_case(chain)
    assert float(middle_nm(chain)) == 88_000
    assert (worst.low_nm, worst.high_nm) == (-6_000, 182_000)


def test_error_of_one_gauge_in_both_members_cancels() -> None:
    """Computed: coefficients 1 and −1, one gauge, nothing else: no spread at all."""
    chain = [
        Measured("a", 1, 30_000_000, gauge="m", u_gauge_nm=10_000),
        Measured("b", -1, 20_000_000, gauge="m", u_gauge_nm=10_000),
    ]
    assert standard_deviation_nm(chain) == 0
    assert worst_case(chain).width_nm == 0
    assert sample_chain(chain, samples=1000).sd_nm == 0


def test_two_rectangular_members_make_a_triangle() -> None:
    """Computed: 95 % within 0.2 (1 − √0.05) = 0.155279; a normal of the same spread would say 0.16003."""
    chain = [either("a", 1, 10, 0.1, spread="rectangular"), either("b", -1, 10, 0.1, spread="rectangular")]
    sampled = sample_chain(chain, samples=1_000_000)
    assert sampled.low_nm == pytest.approx(-155_279, abs=400)
    assert sampled.high_nm == pytest.approx(155_279, abs=400)
    assert 1.959964 * standard_deviation_nm(chain) == pytest.approx(160_030, abs=5)
