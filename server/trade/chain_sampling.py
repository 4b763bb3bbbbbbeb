"""A chain by sampling: the members drawn at random from their stated distributions, many times (Monte Carlo).

JCGM 101:2008 (GUM supplement 1), in outline (from memory). See server/trade/chains.py for the members.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

from server.trade.bounds import between
from server.trade.chains import Cause, Member, causes, middle_nm
from server.trade.within import within

if TYPE_CHECKING:
    from numpy import float64
    from numpy.random import Generator
    from numpy.typing import NDArray

_AT_A_TIME: Final = 1 << 15  # samples: a run of them stays in the processor's own memory


@dataclass(frozen=True, slots=True)
class SampledChain:
    """What the samples show of the total.

    mean_nm, sd_nm   mean and standard deviation [nm]
    low_nm, high_nm  the interval that holds `coverage` of them, as many left out below as above [nm]
    inside, below, above  the fractions inside the limits, under and over them [-]
    inside_error     standard error of `inside` [-]; never nothing, since samples that show no miss do not prove none
    """

    samples: int
    seed: int
    coverage: float
    mean_nm: float
    sd_nm: float
    low_nm: int
    high_nm: int
    inside: float
    below: float
    above: float
    inside_error: float


def sample_chain(
    members: Sequence[Member],
    low_nm: int | None = None,
    high_nm: int | None = None,
    *,
    samples: int = 100_000,
    seed: int = 1,
    coverage: float = 0.95,
) -> SampledChain:
    """The total of `members`, sampled.

    low_nm, high_nm  limits of the total [nm], the limit itself being inside; None: open
    samples          1,000 to 10,000,000
    seed             the same seed and the same members, in any order, give the same answer

    Drawn members are independent, measured ones normal with sd U/2, a gauge's error common to its members. A "normal"
    member is not cut off at its limits: 0.27 % of it lies beyond. Raises OutOfRange.
    """
    import numpy as np  # a tenth of a second: only here

    within("samples", samples, 1_000, 10_000_000)
    within("seed", seed, 0, 2**63)
    between("coverage", coverage, 0.0, 1.0)
    middle = middle_nm(members)
    varying = sorted(
        (each for each in causes(members) if each.half_width_nm), key=lambda each: (each.spread, each.half_width_nm)
    )
    rng = np.random.default_rng(seed)
    totals = np.zeros(samples)  # about the middle: a float of nanometres then loses nothing
    for start in range(0, samples, _AT_A_TIME):
        part = totals[start : start + _AT_A_TIME]
        room = np.empty_like(part)
        for each in varying:
            _add(part, room, each, rng)
    low = -math.inf if low_nm is None else float(low_nm - middle)
    high = math.inf if high_nm is None else float(high_nm - middle)
    below = int(np.count_nonzero(totals < low)) / samples if low_nm is not None else 0.0
    above = int(np.count_nonzero(totals > high)) / samples if high_nm is not None else 0.0
    inside = max(0.0, 1.0 - below - above)
    # the rule of succession keeps the error of "all of them" from being nothing
    shrunk = (inside * samples + 1) / (samples + 2)
    first, last = np.quantile(totals, [(1 - coverage) / 2, (1 + coverage) / 2])
    return SampledChain(
        samples,
        seed,
        coverage,
        float(middle) + float(totals.mean()),
        float(totals.std()),
        round(middle + round(float(first))),
        round(middle + round(float(last))),
        inside,
        below,
        above,
        math.sqrt(shrunk * (1 - shrunk) / samples),
    )


def _add(part: NDArray[float64], room: NDArray[float64], cause: Cause, rng: Generator) -> None:
    """Add one cause to some of the totals; `room` is where its samples are made."""
    half = float(cause.half_width_nm)
    if cause.spread == "normal":
        rng.standard_normal(out=room)
        room *= cause.sd_nm
    else:
        rng.random(out=room)
        room -= 0.5
        if cause.spread == "worst":
            room[room >= 0] = half
            room[room < 0] = -half
        else:
            room *= 2 * half
    part += room
