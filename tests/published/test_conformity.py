"""What a reading proves, against ISO 14253-1 and JCGM 106:2012."""

from __future__ import annotations

import pytest

from server.trade.conformity import RULES, Rule, decide, probability_of_conformity


def test_guard_band_of_the_whole_u() -> None:
    """Computed by ISO 14253-1:1998: x 10.038, limits 9.95 and 10.05, U 0.010 mm: conforms."""
    found = decide(10_038_000, 5_000, 9_950_000, 10_050_000, rule="ISO 14253-1:1998")
    assert found.verdict == "conforms"
    assert found.guard_band_nm == 10_000
    assert (found.accept_low_nm, found.accept_high_nm) == (9_960_000, 10_040_000)


def test_guard_band_of_the_whole_u_ends_where_it_ends() -> None:
    verdicts = [
        decide(x, 5_000, 9_950_000, 10_050_000, rule="ISO 14253-1:1998").verdict
        for x in (10_040_000, 10_040_001, 10_059_999, 10_060_000)
    ]
    assert verdicts == ["conforms", "too close to call", "too close to call", "does not conform"]


@pytest.mark.parametrize("rule", RULES)
def test_tolerance_smaller_than_the_uncertainty_proves_nothing_good(rule: Rule) -> None:
    """Limits 9.99 and 10.01, U 0.012 mm: no acceptance zone, and the limits must not change places (rule)."""
    found = decide(10_000_000, 6_000, 9_990_000, 10_010_000, rule=rule)
    assert not found.provable
    assert found.verdict == "too close to call"
    assert (found.accept_low_nm, found.accept_high_nm) == (None, None)
    assert decide(10_030_000, 6_000, 9_990_000, 10_010_000, rule=rule).verdict == "does not conform"


def test_zener_diode() -> None:
    """JCGM 106:2012 clause 7 example (from memory; computed 0.9192): upper limit −5.40 V, y −5.47, u 0.05: p = 0.92,
    tolerance 0.005. The figure has no unit in it; volts stand for nanometres here."""
    assert probability_of_conformity(-5.47, 0.05, None, -5.40) == pytest.approx(0.92, abs=0.005)


def test_table_1_of_jcgm_106() -> None:
    """JCGM 106:2012 7.3 table 1 (from memory): z = (T_U − y)/u = 1.64 gives 0.95, tolerance 0.005."""
    assert probability_of_conformity(0, 1, None, 1.64) == pytest.approx(0.95, abs=0.005)


def test_inside_the_limits_and_yet_one_in_six_out() -> None:
    """Computed: limits 10.000 and 10.015, x 10.013, u 0.002 mm: p = 0.8413, tolerance 1e-4."""
    found = decide(10_013_000, 2_000, 10_000_000, 10_015_000)
    assert found.probability == pytest.approx(0.8413, abs=1e-4)
    assert found.verdict == "too close to call"


def test_default_guard_band_is_1_65_u() -> None:
    """ISO 14253-1:2017, 95 % one-sided (from memory): 1.65 u, that is 0.83 U with k = 2."""
    found = decide(0, 1_000, None, 100_000)
    assert found.guard_band_nm == pytest.approx(1_650, abs=6)
    assert found.guard_band_nm == pytest.approx(0.83 * 2_000, abs=16)
