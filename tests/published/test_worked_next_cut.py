"""The next cut against cases worked out for this project: standing computed, by closed forms."""

from __future__ import annotations

import pytest

from server.trade.next_cut import Cut, Prior, advise, learn

MM = 1_000_000
PRIOR = Prior(0, 20_000, 0.02, 0.02, 3_000, "the shop's log")


def test_prior_alone() -> None:
    """Computed: (20 − 0.02 × 20.5)/0.98 = 19.989795918."""
    assert learn(PRIOR).command_for(20 * MM, 20_500_000) == 19_989_796


def test_two_exact_cuts_tell_offset_and_spring() -> None:
    """Computed: cuts without scatter, b 0.010 and k 0.03 found; (19.99 − 0.03 × 20.21684)/0.97 = 19.982984330."""
    wide = Prior(0, 1e9, 0.02, 10.0, 1.0)
    known = learn(wide, [Cut(21_000_000, 20_400_000, 20_428_000), Cut(20_428_000, 20_200_000, 20_216_840)])
    assert known.offset_nm == pytest.approx(10_000, abs=1)
    assert known.spring == pytest.approx(0.03, abs=1e-5)
    assert known.command_for(20 * MM, 20_216_840) == pytest.approx(19_982_984.33, abs=2)


def test_equal_depths_cancel_the_spring() -> None:
    """Computed for an unknown offset: one cut 0.5 deep known, another as deep: s √2 = 0.0042426; one 0.1 deep:
    √(2 s² + (0.02 × 0.4)²) = 0.0090554."""
    known = learn(Prior(0, 1e9, 0.02, 0.02, 3_000), [Cut(21 * MM, 20_500_000, 20_510_000)])
    assert known.predict(20_510_000, 20_010_000).sd_nm == pytest.approx(4_242.64, abs=0.5)
    assert known.predict(20_510_000, 20_410_000).sd_nm == pytest.approx(9_055.39, abs=0.5)


def test_half_a_band_of_five_micrometres_is_too_risky_in_one_cut() -> None:
    """Computed: limits 19.990 and 20.000, from 20.52, standard deviation 0.0043: aimed at 19.995, one in eight would
    come out under: not to be done in one cut."""
    cuts = [Cut(21_040_000, 20_520_000, 20_520_000)]
    known = learn(PRIOR, cuts)
    middle = known.predict(20_520_000, known.command_for(19_995_000, 20_520_000))
    assert middle.size_nm == pytest.approx(19_995_000, abs=1)
    assert middle.sd_nm == pytest.approx(4_300, abs=100)
    assert middle.below(19_990_000) > 0.01
    advice = advise(19_990_000, 20_000_000, "smaller", 20_520_000, cuts, PRIOR)
    assert advice.kind == "first of two"
    assert advice.predicted is not None
    assert advice.predicted.size_nm == pytest.approx((20_520_000 + 19_995_000) / 2, abs=1)
