"""Is it inside its limits? What a reading can prove, given its uncertainty.

Two published answers, told apart by `rule`:
- "ISO 14253-1:2017": conformity is proved when its probability is at least 95 %, nonconformity when its probability is,
  parties may agree another figure (edition and default found quoted; the text itself from memory). For an uncertainty
  small beside the tolerance the guard band is 1.645 u one-sided.
- "ISO 14253-1:1998": the first edition's guard band, the whole expanded uncertainty U = 2 u (from memory).
The probability is that of JCGM 106:2012 7.2 to 7.4 (from memory) with a normal distribution and no knowledge of the
process beforehand.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from statistics import NormalDist
from typing import Final, Literal

from server.trade.bounds import say_length
from server.trade.errors import Impossible, Unreadable
from server.trade.within import within

Verdict = Literal["conforms", "does not conform", "too close to call"]
Rule = Literal["ISO 14253-1:2017", "ISO 14253-1:1998"]
RULES: Final[tuple[Rule, ...]] = ("ISO 14253-1:2017", "ISO 14253-1:1998")


@dataclass(frozen=True, slots=True)
class Conformity:
    """What a reading proves.

    probability               that the true size is inside the limits [-]
    guard_band_nm             how far inside a limit a reading must be to prove conformity [nm], rounded up; None when
                              no reading could prove it
    accept_low_nm, accept_high_nm  the readings that prove conformity [nm]; None where that side has no limit
    reject_band_nm            how far outside a limit a reading must be to prove nonconformity [nm], rounded up
    why                       the verdict in one line
    """

    verdict: Verdict
    probability: float
    guard_band_nm: int | None
    accept_low_nm: int | None
    accept_high_nm: int | None
    reject_band_nm: int
    why: str

    @property
    def provable(self) -> bool:
        """Whether any reading with this uncertainty could prove conformity."""
        return self.guard_band_nm is not None


def probability_of_conformity(size_nm: float, u_nm: float, low_nm: float | None, high_nm: float | None) -> float:
    """The probability [-] that the true size lies inside the limits.

    size_nm, u_nm  the reading and its standard uncertainty [nm]; u = 0 gives 0 or 1
    low_nm, high_nm  limits [nm], the limit itself being inside; None where there is none
    JCGM 106:2012 7.2 to 7.4: Φ((high − y)/u) − Φ((low − y)/u). Raises Impossible where low is above high.
    """
    _check(low_nm, high_nm)
    within("u_nm", u_nm, 0.0, unit="nm")
    below = 0.0 if low_nm is None else _tail(size_nm - low_nm, u_nm)
    over = 0.0 if high_nm is None else _tail(high_nm - size_nm, u_nm)
    return min(1.0, max(0.0, 1.0 - below - over))


def decide(
    size_nm: int,
    u_nm: float,
    low_nm: int | None,
    high_nm: int | None,
    *,
    rule: Rule = "ISO 14253-1:2017",
    least_probability: float = 0.95,
    k: float = 2.0,
) -> Conformity:
    """What the reading `size_nm` [nm] with standard uncertainty `u_nm` [nm] proves about the limits.

    low_nm, high_nm    limits [nm], either may be None, not both
    least_probability  for the 2017 rule: how sure is sure [-], 0.5 to 0.9999
    k                  for the 1998 rule: U = k u, 1 to 4

    Under the 2017 rule the guard band is widened where both limits are near, until the reading at its edge has the
    wanted probability of being inside both; nonconformity is judged against the one limit passed, the surer way.
    Raises OutOfRange; Impossible for limits the wrong way about; Unreadable for another rule.
    """
    _check(low_nm, high_nm)
    if low_nm is None and high_nm is None:
        raise Impossible("low_nm", "no limits", "without a limit there is nothing to conform to", "one limit or two")
    within("u_nm", u_nm, 0.0, unit="nm")
    if rule == "ISO 14253-1:2017":
        sure = within("least_probability", least_probability, 0.5, 0.9999)
        outward = NormalDist().inv_cdf(sure) * u_nm
        inward = _inward_nm(u_nm, low_nm, high_nm, outward, sure)
    elif rule == "ISO 14253-1:1998":
        inward = outward = within("k", k, 1.0, 4.0) * u_nm
    else:
        raise Unreadable("rule", rule, "it is not a rule known here", "; ".join(RULES))
    guard, reject = None if inward is None else _up(inward), _up(outward)
    if guard is not None and low_nm is not None and high_nm is not None and low_nm + guard > high_nm - guard:
        guard = None  # the two would cross
    accept_low = None if low_nm is None or guard is None else low_nm + guard
    accept_high = None if high_nm is None or guard is None else high_nm - guard
    probability = probability_of_conformity(size_nm, u_nm, low_nm, high_nm)

    verdict: Verdict = "too close to call"
    why = "the limit lies inside the measurement's uncertainty"
    if low_nm is not None and 0 < low_nm - size_nm >= reject:
        verdict, why = "does not conform", "under the lower limit by more than the uncertainty can explain"
    elif high_nm is not None and 0 < size_nm - high_nm >= reject:
        verdict, why = "does not conform", "over the upper limit by more than the uncertainty can explain"
    elif guard is None:
        why = "the tolerance is too small for this uncertainty: no reading could prove it good"
    elif (accept_low is None or size_nm >= accept_low) and (accept_high is None or size_nm <= accept_high):
        verdict, why = "conforms", "inside the limits by more than the guard band"
    return Conformity(verdict, probability, guard, accept_low, accept_high, reject, why)


def _inward_nm(u_nm: float, low_nm: int | None, high_nm: int | None, one_sided: float, sure: float) -> float | None:
    """The guard band that gives a reading at its edge the probability `sure`; None where the middle has less."""
    if low_nm is None or high_nm is None or u_nm == 0:
        return one_sided
    half = (high_nm - low_nm) / 2

    def probability(inside: float) -> float:
        return 1.0 - _tail(inside, u_nm) - _tail(2 * half - inside, u_nm)

    if half < one_sided or probability(half) < sure:
        return None
    if probability(one_sided) >= sure - 1e-12:
        return one_sided  # the other limit is too far to matter
    least, greatest = one_sided, half
    while greatest - least > 0.25:  # nm
        middle = (least + greatest) / 2
        least, greatest = (least, middle) if probability(middle) >= sure else (middle, greatest)
    return greatest


def _tail(distance_nm: float, u_nm: float) -> float:
    """The probability that the truth lies beyond a limit `distance_nm` away; erfc keeps small ones exact."""
    if u_nm == 0:
        return 0.0 if distance_nm >= 0 else 1.0
    return 0.5 * math.erfc(distance_nm / u_nm / math.sqrt(2))


def _up(nm: float) -> int:
    return math.ceil(nm - 1e-6)  # a guard band of exactly 10 µm stays 10 µm


def _check(low_nm: float | None, high_nm: float | None) -> None:
    if low_nm is not None and high_nm is not None and low_nm > high_nm:
        why = f"the lower limit is above the upper, {say_length(round(high_nm))}"
        raise Impossible("low_nm", say_length(round(low_nm)), why, "a lower limit at or below the upper")
