"""The next cut: from what was commanded and what came, what to command now.

    result = command + b + k (previous − command) + scatter

b is the offset (the cutter is not the size it was set as, zero is not where it was thought to be), k the spring: the
share of a cut's depth that machine, cutter and work give way by. Both are unknown, taken as normal beforehand, and
learnt from the cuts of this piece: linear Gaussian regression, two unknowns (computed, no source). Sizes carry their
own sign, so that it holds for shafts and bores alike. On a diameter the depth here is the change of diameter.

What the model teaches:
- the same command again (a spring pass) takes off spring and never the offset;
- two cuts of one depth carry the same spring: it cancels, and what the first has shown holds for the second. Hence
  equal last depths.

The scatter is taken as known, and holds the measuring as well. It is not a model of a cutter that rubs: a cut thinner
than the edge is sharp may take off nothing, or more than asked.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from statistics import NormalDist
from typing import Final, Literal

from server.trade.bounds import say_length
from server.trade.errors import Impossible, Unreadable
from server.trade.within import within

Standing = Literal["a guess", "the shop's log"]


@dataclass(frozen=True, slots=True)
class Prior:
    """What is taken of a machine before this piece tells.

    offset_nm, u_offset_nm  mean and standard deviation of b [nm]
    spring, u_spring        mean and standard deviation of k [-]
    scatter_nm              standard deviation of one result about what it should be, measuring included [nm]
    standing                "the shop's log" only where these figures were worked out from the shop's own cuts
    """

    offset_nm: float = 0.0
    u_offset_nm: float = 50_000.0
    spring: float = 0.02
    u_spring: float = 0.05
    scatter_nm: float = 3_000.0
    standing: Standing = "a guess"

    def __post_init__(self) -> None:
        within("offset_nm", self.offset_nm, -1e9, 1e9, "nm")
        within("u_offset_nm", self.u_offset_nm, 1.0, 1e12, "nm")
        within("spring", self.spring, 0.0, 0.9)
        within("u_spring", self.u_spring, 1e-6, 10.0)
        within("scatter_nm", self.scatter_nm, 1.0, 1e9, "nm")
        if self.standing not in ("a guess", "the shop's log"):
            raise Unreadable("standing", self.standing, "it is not a standing", "a guess, or the shop's log")


GUESS: Final = Prior()
"""Placeholders from no machine: offset 0 ± 0.05 mm, spring 2 % ± 5 %, scatter 0.003 mm (standard deviations). Wide on
purpose: a guess that is too wide costs a pass, one that is too narrow a piece. The scatter has no such safe side."""


@dataclass(frozen=True, slots=True)
class Cut:
    """One cut that was made: the size before it, the size commanded, the size measured after it [nm]."""

    previous_nm: int
    commanded_nm: int
    measured_nm: int


@dataclass(frozen=True, slots=True)
class Predicted:
    """Mean and standard deviation of the size a cut will give [nm]."""

    size_nm: float
    sd_nm: float

    def below(self, size_nm: float) -> float:
        """The probability [-] of a size under `size_nm`."""
        return NormalDist().cdf((size_nm - self.size_nm) / self.sd_nm)


@dataclass(frozen=True, slots=True)
class Learnt:
    """What is known of b [nm] and k [-] after some cuts: means, variances, covariance, and the scatter [nm].

    surprise  how far the last result lay from what was predicted for it, in standard deviations; None before any cut.
              Beyond 3, look at the cutter and the reading before trusting a prediction
    """

    offset_nm: float
    spring: float
    var_offset: float
    var_spring: float
    covariance: float
    scatter_nm: float
    surprise: float | None = None

    def predict(self, previous_nm: int, commanded_nm: int) -> Predicted:
        """The size that commanding `commanded_nm` from `previous_nm` will give."""
        depth = previous_nm - commanded_nm
        variance = self.var_offset + 2 * depth * self.covariance + depth * depth * self.var_spring
        mean = commanded_nm + self.offset_nm + self.spring * depth
        return Predicted(mean, math.sqrt(max(variance, 0.0) + self.scatter_nm**2))

    def command_for(self, target_nm: float, previous_nm: int) -> int:
        """The command [nm] whose predicted size is `target_nm`: (target − b − k previous)/(1 − k)."""
        return previous_nm + round((target_nm - self.offset_nm - previous_nm) / (1 - min(self.spring, 0.9)))

    def after(self, cut: Cut) -> Learnt:
        """What is known once `cut` is measured too (Bayes' rule for a normal prior and scatter)."""
        depth = cut.previous_nm - cut.commanded_nm
        expected = self.predict(cut.previous_nm, cut.commanded_nm)
        missed = cut.measured_nm - expected.size_nm
        with_offset = self.var_offset + depth * self.covariance
        with_spring = self.covariance + depth * self.var_spring
        variance = expected.sd_nm**2
        return Learnt(
            self.offset_nm + with_offset / variance * missed,
            self.spring + with_spring / variance * missed,
            self.var_offset - with_offset * with_offset / variance,
            self.var_spring - with_spring * with_spring / variance,
            self.covariance - with_offset * with_spring / variance,
            self.scatter_nm,
            missed / expected.sd_nm,
        )


def learn(prior: Prior, cuts: Sequence[Cut] = ()) -> Learnt:
    """What is known of the machine after `cuts`, in the order they were made."""
    known = Learnt(prior.offset_nm, prior.spring, prior.u_offset_nm**2, prior.u_spring**2, 0.0, prior.scatter_nm)
    for cut in cuts:
        known = known.after(cut)
    return known


def spring_pass(known: Learnt, last: Cut) -> Predicted:
    """What the command of `last` given once more takes off the size [nm] (with its sign: positive makes smaller).

    It removes the spring of the last cut but for its own; an offset stays, whatever the number of passes.
    """
    again = known.predict(last.measured_nm, last.commanded_nm)
    return Predicted(last.measured_nm - again.size_nm, again.sd_nm)


@dataclass(frozen=True, slots=True)
class Advice:
    """What to command next.

    kind          "finish": this cut is to bring it in; "first of two": half the way, measure, the same depth again;
                  "too risky": the limits are too near together for this machine's scatter, no cut is advised;
                  "good": leave it; "past the limit": cutting cannot bring it back
    commanded_nm  the command [nm]; None where none is advised
    predicted     the size to expect of it; for "too risky", of the cut that would aim at the middle; else None
    risk          probability that this cut passes the far limit, beyond which cutting cannot help [-]
    good          probability that it lands inside the limits [-]
    guess         the figures behind it are a guess, not the shop's own
    """

    kind: Literal["finish", "first of two", "too risky", "good", "past the limit"]
    commanded_nm: int | None
    predicted: Predicted | None
    risk: float
    good: float
    guess: bool


def advise(
    low_nm: int,
    high_nm: int,
    cutting: Literal["smaller", "larger"],
    size_nm: int,
    cuts: Sequence[Cut] = (),
    prior: Prior = GUESS,
    *,
    most_risk: float = 0.003,
) -> Advice:
    """The next cut for a dimension of limits low to high [nm] that now measures `size_nm` [nm].

    cuts       the cuts of this piece so far, or of this set-up with this cutter, oldest first
    most_risk  greatest probability of passing the far limit in one cut [-], 0.0001 to 0.2; at 0.003 three cuts
               together stay under 1 %

    Aimed at the middle of the limits, or as much nearer the side with metal as the risk asks for. Where that would be
    outside the limits the cut is split: half the way, so that the last two depths are equal, or less where even that
    is too risky; where too little is left to split, or the scatter alone fills the limits, no cut is advised. A size
    on a limit is inside; whether a reading proves that is for server.trade.conformity.

    Raises Impossible for limits the wrong way about, Unreadable for a direction, OutOfRange for a risk.
    """
    if low_nm >= high_nm:
        why = f"the lower limit is not below the upper, {say_length(high_nm)}"
        raise Impossible("low_nm", say_length(low_nm), why, "a lower limit below the upper")
    if cutting not in ("smaller", "larger"):
        raise Unreadable("cutting", cutting, "cutting has to make it smaller or larger", "smaller or larger")
    within("most_risk", most_risk, 0.0001, 0.2)
    guess = prior.standing != "the shop's log"
    inward = 1 if cutting == "smaller" else -1  # from the far limit towards the metal
    far_nm, near_nm = (low_nm, high_nm) if cutting == "smaller" else (high_nm, low_nm)
    if low_nm <= size_nm <= high_nm:
        return Advice("good", None, None, 0.0, 1.0, guess)
    if (size_nm - far_nm) * inward < 0:
        return Advice("past the limit", None, None, 1.0, 0.0, guess)

    known = learn(prior, cuts)
    safe = NormalDist().inv_cdf(1 - most_risk)

    def safest(target_nm: float) -> tuple[int, Predicted]:
        """The command for a target, drawn back from it as far as the risk asks."""
        commanded = known.command_for(target_nm, size_nm)
        for _ in range(50):  # the spread hangs a little on the depth: settle it
            expected = known.predict(size_nm, commanded)
            short = far_nm * inward + safe * expected.sd_nm - expected.size_nm * inward
            if short <= 0:
                break
            commanded += inward * math.ceil(short + 1)
        return commanded, known.predict(size_nm, commanded)

    def told(kind: Literal["finish", "first of two", "too risky"], commanded: int | None, at: Predicted) -> Advice:
        risk = at.below(low_nm) if cutting == "smaller" else 1 - at.below(high_nm)
        return Advice(kind, commanded, at, risk, at.below(high_nm) - at.below(low_nm), guess)

    middle = (low_nm + high_nm) / 2
    hopeless = safe * known.scatter_nm >= high_nm - low_nm  # even with offset and spring known for certain
    commanded, expected = safest(middle)
    if not hopeless and (expected.size_nm - near_nm) * inward <= 0:
        return told("finish", commanded, expected)
    # so far drawn back that it would not come in: half the way, to learn by
    commanded, expected = safest((size_nm + middle) / 2)
    if not hopeless and (size_nm - expected.size_nm) * inward > known.scatter_nm:
        return told("first of two", commanded, expected)
    return told("too risky", None, known.predict(size_nm, known.command_for(middle, size_nm)))
