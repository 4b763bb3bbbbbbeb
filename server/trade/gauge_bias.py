"""A gauge's bias: does it read right on a piece whose size is known?

AIAG Measurement Systems Analysis (MSA), independent sample method: 3rd edition p. 86 for the example it is tested on.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final, Literal

from server.trade.errors import OutOfRange, Unreadable
from server.trade.repeats import repeats, t_quantile
from server.trade.within import within

# Ranges of one group of n: d2; d2* = √(d2² + d3²); degrees of freedom. MSA appendix C, first row (from memory); the
# tests work all three out again from the distribution of the range.
RANGE_OF_ONE_GROUP: Final[dict[int, tuple[float, float, float]]] = {
    2: (1.12838, 1.41421, 1.0),
    3: (1.69257, 1.91155, 2.0),
    4: (2.05875, 2.23887, 2.9),
    5: (2.32593, 2.48124, 3.8),
    6: (2.53441, 2.67253, 4.7),
    7: (2.70436, 2.82981, 5.5),
    8: (2.84720, 2.96288, 6.3),
    9: (2.97003, 3.07794, 7.0),
    10: (3.07751, 3.17905, 7.7),
    11: (3.17287, 3.26909, 8.3),
    12: (3.25846, 3.35016, 9.0),
    13: (3.33598, 3.42378, 9.6),
    14: (3.40676, 3.49116, 10.2),
    15: (3.47183, 3.55333, 10.8),
    16: (3.53198, 3.61071, 11.3),
    17: (3.58788, 3.66422, 11.9),
    18: (3.64006, 3.71424, 12.4),
    19: (3.68896, 3.76118, 12.9),
    20: (3.73495, 3.80537, 13.4),
}


@dataclass(frozen=True, slots=True)
class Bias:
    """Mean of the readings, bias = mean − reference, the interval it lies in with the coverage asked for, repeatability
    (one standard deviation) [nm]. `shown` where the interval does not hold 0: the gauge reads wrong, not by chance."""

    mean_nm: float
    bias_nm: float
    low_nm: float
    high_nm: float
    repeatability_nm: float
    shown: bool


def gauge_bias(
    readings_nm: Sequence[float],
    reference_nm: float,
    *,
    coverage: float = 0.95,
    method: Literal["standard deviation", "range"] = "standard deviation",
) -> Bias:
    """The bias of a gauge from repeated readings of one piece of known size.

    readings_nm   two or more [nm]; by range 2 to 20
    reference_nm  the piece's size by something better [nm]; its own doubt is left out
    coverage      of the interval [-]
    method        "standard deviation": s of the readings, n − 1 degrees of freedom. "range": AIAG's, σ = R/d2*, and the
                  interval bias ± (d2/d2*) t(ν) σ/√n
    Raises Impossible for one reading, OutOfRange, Unreadable.
    """
    found = repeats(readings_nm, field="readings_nm")
    bias = found.mean - within("reference_nm", reference_nm, unit="nm")
    if method == "standard deviation":
        sigma, half = found.s, found.half_width(coverage)
    elif method == "range":
        if found.n not in RANGE_OF_ONE_GROUP:
            raise OutOfRange("readings_nm", f"{found.n} readings", "no range constant is tabled", "2 to 20 readings")
        d2, d2_star, dof = RANGE_OF_ONE_GROUP[found.n]
        sigma = (max(readings_nm) - min(readings_nm)) / d2_star
        half = d2 / d2_star * t_quantile(dof, coverage) * sigma / math.sqrt(found.n)
    else:
        raise Unreadable("method", method, "it is not a method known here", "standard deviation; range")
    return Bias(found.mean, bias, bias - half, bias + half, sigma, not bias - half <= 0 <= bias + half)
