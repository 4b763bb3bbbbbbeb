"""AIAG Measurement Systems Analysis: the reference data of three appraisers, ten parts and three trials.

Intermediate averages and ranges found on a public form; the results by averages and ranges and by analysis of variance
from memory, each worked out again.
"""

from __future__ import annotations

import csv
from itertools import pairwise
from pathlib import Path
from statistics import fmean

import numpy as np
import pytest
from scipy import optimize, stats

from server.trade.gauge_bias import RANGE_OF_ONE_GROUP, gauge_bias
from server.trade.gauge_study import K1, K2, K3, analysis_of_variance, average_and_range, variance_table
from server.trade.repeats import c4

ROWS = list(csv.DictReader(Path(__file__).with_name("gauge_study_aiag.csv").read_text(encoding="utf-8").splitlines()))
READINGS = [
    [[round(float(row[f"part{part}"]) * 1e6) for row in ROWS if row["appraiser"] == who] for part in range(1, 11)]
    for who in "ABC"
]  # the data has no unit; it is read as millimetres, so that 1 is 1e6 nm
BIAS = [5.8, 5.7, 5.9, 5.9, 6.0, 6.1, 6.0, 6.1, 6.4, 6.3, 6.0, 6.1, 6.2, 5.6, 6.0]


@pytest.mark.parametrize(("who", "published"), [(0, 0.184), (1, 0.513), (2, 0.328)])
def test_data_has_the_published_ranges(who: int, published: float) -> None:
    """Found: Ra 0.184, Rb 0.513, Rc 0.328, tolerance 0.0002."""
    assert fmean(max(c) - min(c) for c in READINGS[who]) / 1e6 == pytest.approx(published, abs=0.0002)


def test_data_has_the_published_differences() -> None:
    """Found: R̄ 0.3417, X̄diff 0.4447, Rp 3.511."""
    means = [fmean(v for cell in appraiser for v in cell) for appraiser in READINGS]
    parts = [fmean(v for appraiser in READINGS for v in appraiser[p]) for p in range(10)]
    ranges = fmean(max(c) - min(c) for appraiser in READINGS for c in appraiser)
    assert ranges / 1e6 == pytest.approx(0.3417, abs=0.0002)
    assert (max(means) - min(means)) / 1e6 == pytest.approx(0.4447, abs=0.0002)
    assert (max(parts) - min(parts)) / 1e6 == pytest.approx(3.511, abs=0.0002)


def test_averages_and_ranges() -> None:
    """From memory, computed 0.20186, 0.22967, 0.30577, 1.14613, 26.678 %, 5; tolerance 0.0002, 0.01 for the percentage.
    A published form prints ndc = 1.41 √(PV/GRR), which would be 2."""
    found = average_and_range(READINGS)
    assert found.reproducibility is not None
    assert found.repeatability.s_nm / 1e6 == pytest.approx(0.20188, abs=0.0002)
    assert found.reproducibility.s_nm / 1e6 == pytest.approx(0.22963, abs=0.0002)
    assert found.gauge.s_nm / 1e6 == pytest.approx(0.30575, abs=0.0002)
    assert found.total.s_nm / 1e6 == pytest.approx(1.1461, abs=0.0002)
    assert found.gauge.percent == pytest.approx(26.68, abs=0.01)
    assert found.categories == 5
    assert found.judgement == "may do"


def test_analysis_of_variance_table() -> None:
    """From memory, AIAG MSA 4th ed. table of the same data: sums of squares 3.1673, 88.3619, 0.3590, 2.7589, 94.6471 on
    2, 9, 18, 60, 89 degrees of freedom; F 79.406 for appraisers and 492.291 for parts, each against the interaction,
    and 0.434 for the interaction."""
    rows = variance_table(READINGS)
    assert [row.dof for row in rows] == [2, 9, 18, 60, 89]
    published = [3.1673, 88.3619, 0.3590, 2.7589, 94.6471]
    assert [row.sum_of_squares / 1e12 for row in rows] == pytest.approx(published, abs=0.0001)
    assert [row.f for row in rows[:3]] == pytest.approx([79.406, 492.291, 0.434], abs=0.0005)
    assert rows[2].p == pytest.approx(stats.f.sf(0.43372103, 18, 60), rel=1e-6)


def test_analysis_of_variance() -> None:
    """From memory, AIAG MSA 4th ed., interaction pooled: EV 0.199933, AV 0.226838, GRR 0.302373, PV 1.042327; 18.4,
    20.9, 27.9 and 96.0 %."""
    found = analysis_of_variance(READINGS)
    assert found.interaction is None
    assert found.reproducibility is not None
    assert found.repeatability.s_nm / 1e6 == pytest.approx(0.199933, abs=2e-6)
    assert found.reproducibility.s_nm / 1e6 == pytest.approx(0.226838, abs=2e-6)
    assert found.gauge.s_nm / 1e6 == pytest.approx(0.302373, abs=2e-6)
    assert found.parts.s_nm / 1e6 == pytest.approx(1.042327, abs=2e-6)
    percentages = [share.percent for share in (found.repeatability, found.reproducibility, found.gauge, found.parts)]
    assert percentages == pytest.approx([18.4, 20.9, 27.9, 96.0], abs=0.05)


def test_bias() -> None:
    """AIAG MSA 3rd ed. p. 86 (data found): mean 6.0067, bias 0.0067, tolerance 0.00005."""
    found = gauge_bias(BIAS, 6.0, method="range")
    assert found.mean_nm == pytest.approx(6.0067, abs=0.00005)
    assert found.bias_nm == pytest.approx(0.0067, abs=0.00005)


def test_bias_interval() -> None:
    """From memory: ν 10.8, −0.1185 to 0.1319, tolerance 0.0005: no bias shown."""
    found = gauge_bias(BIAS, 6.0, method="range")
    assert (found.low_nm, found.high_nm) == pytest.approx((-0.1185, 0.1319), abs=0.0005)
    assert not found.shown


def _range_mean_and_mean_square(n: int) -> tuple[float, float]:
    """Mean (d2) and mean square (d2*²) of the range of n normal readings, summed over a grid of 0.01."""
    step = 0.01
    x = np.arange(-8, 8, step)
    below = stats.norm.cdf(x)
    mean = step * np.sum(1 - below**n - (1 - below) ** n)
    low, high = below[:, None], below[None, :]
    # the least reading below x and the greatest above y, over all x < y
    both = 1 - (1 - low) ** n - high**n + np.clip(high - low, 0, None) ** n
    square = 2 * step**2 * (np.sum(np.triu(both, 1)) + np.sum(np.diag(both)) / 2)
    return float(mean), float(square)


@pytest.mark.parametrize("n", [2, 3, 10, 15])
def test_range_constants_follow_from_the_normal_distribution(n: int) -> None:
    d2, d2_star, dof = RANGE_OF_ONE_GROUP[n]
    mean, square = _range_mean_and_mean_square(n)
    assert d2 == pytest.approx(mean, abs=2e-4)
    assert d2_star == pytest.approx(square**0.5, abs=2e-4)
    # ν is that of the χ distribution with as much spread for its size
    chi = optimize.brentq(lambda v: stats.chi(v).mean() / v**0.5 - mean / square**0.5, 0.5, 20)
    assert dof == pytest.approx(chi, abs=0.06)


def test_range_constants_run_smoothly() -> None:
    values = list(RANGE_OF_ONE_GROUP.values())
    for earlier, later in pairwise(values):
        assert all(a < b for a, b in zip(earlier, later, strict=True))


def test_study_constants_are_the_range_constants_turned_over() -> None:
    for n, k in K1.items():
        assert k == pytest.approx(1 / RANGE_OF_ONE_GROUP[n][0], abs=6e-5)
    for table in (K2, K3):
        for n, k in table.items():
            assert k == pytest.approx(1 / RANGE_OF_ONE_GROUP[n][1], abs=6e-5)


def test_c4_of_three() -> None:
    """From memory and computed: 0.8862, tolerance 0.00005."""
    assert c4(3) == pytest.approx(0.8862, abs=0.00005)
