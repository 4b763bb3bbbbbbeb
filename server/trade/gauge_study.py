"""A gauge study: how much of the spread of readings is the gauge, how much the hand, how much the parts.

Every appraiser measures every part the same number of times, blind and in mixed order. AIAG Measurement Systems
Analysis (MSA), 4th edition, chapter III section B; constants K1, K2, K3 found on public forms, the analysis of variance
from memory. All spreads are one standard deviation (older forms print 5.15 of them; the percentages are the same).

A one-person shop has one appraiser. The study then shows repeatability only, and says so: appraiser variation is None,
not zero.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from statistics import fmean
from typing import Final, Literal

from server.trade.errors import Impossible, OutOfRange
from server.trade.within import within

# 1/d2 for the number of trials; 1/d2* with one group for appraisers and parts (d2* from MSA appendix C)
K1: Final = {2: 0.8862, 3: 0.5908}
K2: Final = {2: 0.7071, 3: 0.5231}
K3: Final = {2: 0.7071, 3: 0.5231, 4: 0.4467, 5: 0.4030, 6: 0.3742, 7: 0.3534, 8: 0.3375, 9: 0.3249, 10: 0.3146}

Readings = Sequence[Sequence[Sequence[float]]]


@dataclass(frozen=True, slots=True)
class Share:
    """One spread: `s_nm` as a standard deviation [nm], as `percent` of the total variation, and (where a tolerance was
    given) six of it as `percent_of_tolerance`."""

    s_nm: float
    percent: float
    percent_of_tolerance: float | None = None


@dataclass(frozen=True, slots=True)
class GaugeStudy:
    """What a study found.

    repeatability    EV, the gauge in one hand
    reproducibility  AV, hand to hand; None with one appraiser
    interaction      part with hand, analysis of variance only; None where it was not significant and was pooled
    gauge            GRR, all of the above
    parts            PV, part to part
    total            TV
    categories       ndc, how many sizes the gauge can tell apart among these parts: ⌊1.41 PV/GRR⌋, at least 1; None
                     where the gauge showed no spread at all
    """

    method: Literal["average and range", "analysis of variance"]
    repeatability: Share
    reproducibility: Share | None
    interaction: Share | None
    gauge: Share
    parts: Share
    total: Share
    categories: int | None

    @property
    def judgement(self) -> Literal["good", "may do", "not good enough"]:
        """AIAG's guide on the gauge's percentage of the total variation: under 10, 10 to 30, over 30."""
        share = self.gauge.percent
        return "good" if share < 10 else "may do" if share <= 30 else "not good enough"


def average_and_range(readings_nm: Readings, tolerance_nm: float | None = None) -> GaugeStudy:
    """The study by averages and ranges, AIAG MSA.

    readings_nm   [appraiser][part][trial] [nm]: 1 to 3 appraisers, 2 to 10 parts, 2 or 3 trials
    tolerance_nm  upper less lower limit [nm], for the percentages of tolerance

    EV = R̄ K1; AV = √((X̄diff K2)² − EV²/(n r)), 0 where negative; PV = Rp K3. Raises Impossible for ragged readings,
    OutOfRange for a count the constants do not cover.
    """
    appraisers, parts, trials = _counts(readings_nm)
    _covered("appraisers", appraisers, (1, *K2))
    _covered("parts", parts, tuple(K3))
    _covered("trials", trials, tuple(K1))
    ranges = [max(cell) - min(cell) for appraiser in readings_nm for cell in appraiser]
    ev = fmean(ranges) * K1[trials]
    av = None
    if appraisers > 1:
        means = [fmean(value for cell in appraiser for value in cell) for appraiser in readings_nm]
        av = math.sqrt(max(0.0, ((max(means) - min(means)) * K2[appraisers]) ** 2 - ev**2 / (parts * trials)))
    part_means = [fmean(value for appraiser in readings_nm for value in appraiser[p]) for p in range(parts)]
    pv = (max(part_means) - min(part_means)) * K3[parts]
    return _study("average and range", ev, av, None, pv, tolerance_nm)


@dataclass(frozen=True, slots=True)
class Variance:
    """One row of the analysis: degrees of freedom, sum of squares, mean square; F and the chance of so large an F from
    noise alone, where there is a row to test against."""

    source: str
    dof: int
    sum_of_squares: float
    mean_square: float
    f: float | None = None
    p: float | None = None


def variance_table(readings_nm: Readings) -> tuple[Variance, ...]:
    """The two-way crossed analysis of variance of a study: appraisers, parts, interaction, repeatability, total [nm²].

    readings_nm as in `average_and_range`, any number from 1 appraiser, 2 parts, 2 trials. Both factors are random:
    appraisers and parts are tested against the interaction, the interaction against repeatability. With one appraiser
    the appraiser and interaction rows are left out and parts are tested against repeatability.
    """
    appraisers, parts, trials = _counts(readings_nm)
    if trials < 2:
        raise Impossible("trials", trials, "repeatability cannot be seen in one trial", "2 trials or more")
    grand = fmean(value for appraiser in readings_nm for cell in appraiser for value in cell)
    by_appraiser = [fmean(value for cell in appraiser for value in cell) - grand for appraiser in readings_nm]
    by_part = [fmean(value for appraiser in readings_nm for value in appraiser[p]) - grand for p in range(parts)]
    # Sums of squared departures, each from the level above it: no subtraction of large sums, so nothing is lost
    ss_a = parts * trials * math.fsum(a * a for a in by_appraiser)
    ss_p = appraisers * trials * math.fsum(p * p for p in by_part)
    ss_ap, ss_e, ss_t = 0.0, 0.0, 0.0
    for a, appraiser in enumerate(readings_nm):
        for p, cell in enumerate(appraiser):
            mean = fmean(cell)
            ss_ap += trials * (mean - grand - by_appraiser[a] - by_part[p]) ** 2
            ss_e += math.fsum((value - mean) ** 2 for value in cell)
            ss_t += math.fsum((value - grand) ** 2 for value in cell)
    dof_a, dof_p, dof_e = appraisers - 1, parts - 1, appraisers * parts * (trials - 1)
    dof_ap = dof_a * dof_p
    ms_e = ss_e / dof_e
    total = Variance("total", appraisers * parts * trials - 1, ss_t, ss_t / (appraisers * parts * trials - 1))
    error = Variance("repeatability", dof_e, ss_e, ms_e)
    if appraisers == 1:
        return (_tested("parts", dof_p, ss_p, error), error, total)
    both = _tested("appraiser × part", dof_ap, ss_ap, error)
    return (_tested("appraisers", dof_a, ss_a, both), _tested("parts", dof_p, ss_p, both), both, error, total)


def analysis_of_variance(
    readings_nm: Readings, tolerance_nm: float | None = None, *, keep_interaction_below: float = 0.25
) -> GaugeStudy:
    """The study by analysis of variance, AIAG MSA.

    readings_nm, tolerance_nm   as in `average_and_range`, with 1 or more appraisers, 2 or more parts and trials
    keep_interaction_below      the interaction is kept where its p is below this [-], and pooled with repeatability
                                otherwise; AIAG's text tests at 0.05, other practice at 0.25 (both from memory). 0.25
                                keeps more of them apart

    Components: σe² = MSe; σap² = (MSap − MSe)/r; σa² = (MSa − MSap)/(n r); σp² = (MSp − MSap)/(k r); each 0 where
    negative; after pooling MSe stands for MSap. Raises as `variance_table`.
    """
    within("keep_interaction_below", keep_interaction_below, 0.0, 1.0)
    appraisers, parts, trials = _counts(readings_nm)
    rows = {row.source: row for row in variance_table(readings_nm)}
    error = rows["repeatability"]
    if appraisers == 1:
        pv = _component(rows["parts"].mean_square, error.mean_square, trials)
        return _study("analysis of variance", math.sqrt(error.mean_square), None, None, pv, tolerance_nm)
    both = rows["appraiser × part"]
    interaction: float | None = None
    if both.p is not None and both.p < keep_interaction_below:
        against = both.mean_square
        interaction = _component(both.mean_square, error.mean_square, trials)
        ev = math.sqrt(error.mean_square)
    else:
        against = (both.sum_of_squares + error.sum_of_squares) / (both.dof + error.dof)
        ev = math.sqrt(against)
    av = _component(rows["appraisers"].mean_square, against, parts * trials)
    pv = _component(rows["parts"].mean_square, against, appraisers * trials)
    return _study("analysis of variance", ev, av, interaction, pv, tolerance_nm)


def _tested(source: str, dof: int, sum_of_squares: float, against: Variance) -> Variance:
    mean_square = sum_of_squares / dof
    if against.mean_square == 0:
        return Variance(source, dof, sum_of_squares, mean_square, *((math.inf, 0.0) if mean_square else (None, None)))
    from scipy.special import fdtrc  # type: ignore[import-untyped, unused-ignore]  # a third of a second: only here

    f = mean_square / against.mean_square
    return Variance(source, dof, sum_of_squares, mean_square, f, float(fdtrc(dof, against.dof, f)))


def _component(mean_square: float, against: float, readings: int) -> float:
    return math.sqrt(max(0.0, (mean_square - against) / readings))


def _study(
    method: Literal["average and range", "analysis of variance"],
    ev: float,
    av: float | None,
    interaction: float | None,
    pv: float,
    tolerance_nm: float | None,
) -> GaugeStudy:
    if tolerance_nm is not None and not (math.isfinite(tolerance_nm) and tolerance_nm > 0):
        raise OutOfRange("tolerance_nm", tolerance_nm, "a tolerance is more than nothing", "a length above 0")
    grr = math.hypot(ev, av or 0.0, interaction or 0.0)
    tv = math.hypot(grr, pv)
    if tv == 0:
        why = "every reading is the same: the gauge is too coarse to show any spread"
        raise Impossible("readings_nm", "no spread", why, "readings to a finer step, or parts that differ more")

    def share(s: float) -> Share:
        return Share(s, 100 * s / tv, None if tolerance_nm is None else 100 * 6 * s / tolerance_nm)

    return GaugeStudy(
        method=method,
        repeatability=share(ev),
        reproducibility=None if av is None else share(av),
        interaction=None if interaction is None else share(interaction),
        gauge=share(grr),
        parts=share(pv),
        total=share(tv),
        categories=max(1, int(1.41 * pv / grr)) if grr else None,
    )


def _counts(readings: Readings) -> tuple[int, int, int]:
    """Appraisers, parts, trials; Impossible where the study is ragged or too small."""
    appraisers = len(readings)
    parts = len(readings[0]) if appraisers else 0
    trials = len(readings[0][0]) if parts else 0
    if appraisers < 1 or parts < 2 or trials < 1:
        read = f"{appraisers} appraisers, {parts} parts, {trials} trials"
        raise Impossible("readings_nm", read, "that is too few for a study", "1 appraiser, 2 parts, 2 trials or more")
    for a, appraiser in enumerate(readings):
        if len(appraiser) != parts:
            why = f"appraiser {a + 1} measured {len(appraiser)} parts, the first {parts}"
            raise Impossible("readings_nm", f"{len(appraiser)} parts", why, "every part by every appraiser")
        for p, cell in enumerate(appraiser):
            if len(cell) != trials:
                why = f"part {p + 1} has {len(cell)} readings by appraiser {a + 1}, the first has {trials}"
                raise Impossible("readings_nm", f"{len(cell)} readings", why, "the same number of trials throughout")
            for value in cell:
                within("readings_nm", value, unit="nm")
    return appraisers, parts, trials


def _covered(field: str, count: int, covered: Sequence[int]) -> None:
    if count not in covered:
        accepts = f"{covered[0]} to {covered[-1]} for averages and ranges; analysis of variance takes any number"
        raise OutOfRange(field, count, "there is no constant for it", accepts)
