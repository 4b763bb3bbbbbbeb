"""Repeated readings: their mean, their spread, and how far the mean may be from the truth.

Source: JCGM 100:2008 (GUM) 4.2 and annex G (from memory); c4 as in any control-chart table (from memory).
"""

from __future__ import annotations

import math
import statistics
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache

from server.trade.bounds import between
from server.trade.errors import Impossible
from server.trade.within import within


@dataclass(frozen=True, slots=True)
class Repeats:
    """n readings of one thing, in the unit they were given in.

    mean    arithmetic mean (GUM 4.2.1)
    s       experimental standard deviation of one reading, n − 1 in the divisor (GUM 4.2.2)
    u_mean  experimental standard deviation of the mean, s/√n (GUM 4.2.3): the type A standard uncertainty
    dof     n − 1
    """

    n: int
    mean: float
    s: float
    u_mean: float
    dof: int

    def half_width(self, coverage: float = 0.95) -> float:
        """Half-width of the interval about the mean that covers the truth with `coverage` [-], by Student's t."""
        return t_quantile(self.dof, coverage) * self.u_mean


def repeats(values: Sequence[float], *, field: str = "values") -> Repeats:
    """Mean and spread of two or more `values` (any one unit), called `field` in messages.

    Assumes independent readings of an unchanged thing.

    Raises Impossible for fewer than two: one reading has no spread of its own, and calling it zero would be a lie.
    """
    for value in values:
        within(field, value)
    if len(values) < 2:
        raise Impossible(field, f"{len(values)} readings", "one reading shows no spread", "two or more readings")
    s = statistics.stdev(values)
    n = len(values)
    return Repeats(n, statistics.fmean(values), s, s / math.sqrt(n), n - 1)


@cache
def t_quantile(dof: float, coverage: float = 0.95) -> float:
    """Student's t [-] such that a fraction `coverage` [-] of the distribution lies within ±t.

    dof  degrees of freedom, 1 or more, infinite allowed (then the normal distribution); index it by degrees of freedom,
         not by the number of readings
    GUM table G.2. Raises OutOfRange.
    """
    between("coverage", coverage, 0.0, 1.0)
    if math.isinf(dof) and dof > 0:
        return statistics.NormalDist().inv_cdf(0.5 + coverage / 2)
    from scipy.special import stdtrit  # type: ignore[import-untyped, unused-ignore]  # a third of a second: only here

    return float(stdtrit(within("dof", dof, 1.0), 0.5 + coverage / 2))


def c4(n: int) -> float:
    """c4 [-]: the mean of s from samples of `n`, over the true standard deviation. n from 2; s/c4 has no bias.

    c4 = √(2/(n−1)) Γ(n/2)/Γ((n−1)/2), normal readings.
    """
    within("n", n, 2, 1_000_000)
    return math.sqrt(2.0 / (n - 1)) * math.exp(math.lgamma(n / 2) - math.lgamma((n - 1) / 2))
