"""What a machine usually does, from the shop's own cuts: the prior of the next cut, no longer a guess.

Each job has an offset and a spring of its own, drawn from what is usual on that machine; what is usual, and the
scatter, are found by maximum likelihood with the EM algorithm (A. P. Dempster, N. M. Laird, D. B. Rubin, 1977, from
memory; the steps for this model computed).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from statistics import fmean
from typing import Final

from server.trade.errors import Impossible
from server.trade.next_cut import GUESS, Cut, Prior, learn

LEAST_JOBS: Final = 8
_ROUNDS: Final = 2_000
_SETTLED: Final = 1e-6  # relative change of every figure


@dataclass(frozen=True, slots=True)
class _Habit:
    """Means and variances of offset [nm] and spring [-], and the variance of the scatter [nm²]."""

    offset: float
    spring: float
    var_offset: float
    var_spring: float
    var_scatter: float


def prior_from_log(jobs: Sequence[Sequence[Cut]]) -> Prior:
    """The prior for the next job on a machine, from the cuts of earlier jobs (one piece, one cutter, one setting each).

    At least 8 jobs, half of them with two cuts or more: one cut alone cannot tell scatter from offset. The variances
    are widened by (jobs + 1)/(jobs − 1), for the means being estimates too; from few jobs they stay rough. Results that
    were blunders (a chipped cutter, a slipped reading) are to be left out beforehand.

    Raises Impossible where there is too little to learn from, or where results never differ from what they should be:
    then the log was not measured.
    """
    jobs = [job for job in jobs if job]
    several = sum(len(job) > 1 for job in jobs)
    if len(jobs) < LEAST_JOBS or 2 * several < len(jobs):
        read = f"{len(jobs)} jobs, {several} of them with two cuts or more"
        why = "that is too little to tell what is usual on a machine"
        raise Impossible("jobs", read, why, f"{LEAST_JOBS} jobs or more, half of them with two cuts or more")
    habit = _Habit(GUESS.offset_nm, GUESS.spring, GUESS.u_offset_nm**2, GUESS.u_spring**2, GUESS.scatter_nm**2)
    for _ in range(_ROUNDS):
        before, habit = habit, _again(habit, jobs)
        if habit.var_scatter < 1.0:
            why = "the sizes measured follow the commands to the nanometre, as no machine does"
            raise Impossible("jobs", f"{len(jobs)} jobs", why, "sizes as they were measured")
        if _settled(before, habit):
            break
    wider = (len(jobs) + 1) / (len(jobs) - 1)
    return Prior(
        habit.offset,
        max(1.0, math.sqrt(habit.var_offset * wider)),
        min(max(habit.spring, 0.0), 0.9),
        max(1e-6, math.sqrt(habit.var_spring * wider)),
        math.sqrt(habit.var_scatter),
        "the shop's log",
    )


def _again(habit: _Habit, jobs: Sequence[Sequence[Cut]]) -> _Habit:
    """One round: what each job was by these habits, then the habits by what the jobs were."""
    prior = Prior(
        habit.offset,
        max(1.0, math.sqrt(habit.var_offset)),
        min(max(habit.spring, 0.0), 0.9),
        max(1e-6, math.sqrt(habit.var_spring)),
        max(1.0, math.sqrt(habit.var_scatter)),
    )
    known = [learn(prior, job) for job in jobs]
    offset, spring = fmean(each.offset_nm for each in known), fmean(each.spring for each in known)
    missed = 0.0
    for each, job in zip(known, jobs, strict=True):
        for cut in job:
            depth = cut.previous_nm - cut.commanded_nm
            rest = cut.measured_nm - cut.commanded_nm - each.offset_nm - each.spring * depth
            doubt = each.var_offset + 2 * depth * each.covariance + depth * depth * each.var_spring
            missed += rest * rest + max(doubt, 0.0)
    return _Habit(
        offset,
        spring,
        fmean(each.var_offset + (each.offset_nm - offset) ** 2 for each in known),
        fmean(each.var_spring + (each.spring - spring) ** 2 for each in known),
        missed / sum(len(job) for job in jobs),
    )


def _settled(before: _Habit, now: _Habit) -> bool:
    return all(
        math.isclose(getattr(before, name), getattr(now, name), rel_tol=_SETTLED, abs_tol=1e-9)
        for name in ("offset", "spring", "var_offset", "var_spring", "var_scatter")
    )
