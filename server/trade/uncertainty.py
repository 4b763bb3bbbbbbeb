"""Budgets of uncertainty: lines, their sum, and the expanded uncertainty.

JCGM 100:2008, the GUM (clauses from memory; its example H.1 is worked in the tests). Every line is already multiplied
by its sensitivity, so that it stands in nanometres of the size measured; lines are independent of each other.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from server.trade.errors import Impossible
from server.trade.repeats import repeats, t_quantile
from server.trade.within import within


@dataclass(frozen=True, slots=True)
class BudgetLine:
    """One cause of doubt.

    what  the cause ("resolution")
    u_nm  its standard uncertainty in the size measured [nm]
    dof   degrees of freedom behind u_nm [-], infinite where the bounds are known (GUM G.4.3)
    how   where u_nm came from, in short ("±2 µm, rectangular")
    """

    what: str
    u_nm: float
    dof: float = math.inf
    how: str = ""

    def __post_init__(self) -> None:
        within("u_nm", self.u_nm, 0.0, unit="nm")
        if not self.dof >= 1.0:
            within("dof", self.dof, 1.0)


@dataclass(frozen=True, slots=True)
class Expanded:
    """U = k u. `dof` is what k was looked up with: whole, cut down, or infinite."""

    u_expanded_nm: float
    k: float
    dof: float
    coverage: float


@dataclass(frozen=True, slots=True)
class Combined:
    """The sum of a budget: combined standard uncertainty [nm] and effective degrees of freedom (not yet cut down)."""

    lines: tuple[BudgetLine, ...]
    u_nm: float
    dof: float

    def expanded(self, coverage: float = 0.95) -> Expanded:
        """The expanded uncertainty for `coverage` [-], k from Student's t.

        The effective degrees of freedom are cut down to the next whole number, GUM G.4.1 note 1. A larger budget may
        so give a slightly smaller U when what was added is better known than what was there; u itself never shrinks.
        """
        dof = self.dof if math.isinf(self.dof) else float(math.floor(self.dof * (1 + 1e-12)))
        k = t_quantile(dof, coverage)
        return Expanded(k * self.u_nm, k, dof, coverage)

    @property
    def u_as_normal_nm(self) -> float:
        """The standard uncertainty [nm] of the normal distribution with the same 95 % interval: U95/1.96.

        For what takes a normal distribution (conformity, chains): with few readings behind it u alone would prove too
        much. Never less than u; for one-sided questions on the safe side. Computed, no source.
        """
        return self.expanded(0.95).u_expanded_nm / t_quantile(math.inf, 0.95)


def combine(lines: Iterable[BudgetLine]) -> Combined:
    """The combined standard uncertainty u = √Σuᵢ² (GUM 5.1.2) and its degrees of freedom u⁴/Σ(uᵢ⁴/νᵢ)
    (Welch–Satterthwaite, GUM G.4.1). Assumes independent lines. No lines: u is 0.
    """
    lines = tuple(lines)
    u = math.hypot(*(line.u_nm for line in lines))
    spent = math.fsum((line.u_nm / u) ** 4 / line.dof for line in lines) if u else 0.0
    return Combined(lines, u, 1.0 / spent if spent else math.inf)


def rectangular(what: str, half_width_nm: float, dof: float = math.inf) -> BudgetLine:
    """Anywhere within ±`half_width_nm` [nm] alike: u = a/√3 (GUM 4.3.7). For a maker's maximum permissible error."""
    a = within("half_width_nm", half_width_nm, 0.0, unit="nm")
    return BudgetLine(what, a / math.sqrt(3), dof, f"±{_um(a)}, rectangular")


def triangular(what: str, half_width_nm: float, dof: float = math.inf) -> BudgetLine:
    """Within ±`half_width_nm` [nm], the middle likeliest: u = a/√6 (GUM 4.3.9)."""
    a = within("half_width_nm", half_width_nm, 0.0, unit="nm")
    return BudgetLine(what, a / math.sqrt(6), dof, f"±{_um(a)}, triangular")


def arcsine(what: str, half_width_nm: float, dof: float = math.inf) -> BudgetLine:
    """Swinging to and fro between ±`half_width_nm` [nm]: u = a/√2 (GUM H.1.3.4). For a cycling room temperature."""
    a = within("half_width_nm", half_width_nm, 0.0, unit="nm")
    return BudgetLine(what, a / math.sqrt(2), dof, f"±{_um(a)}, cycling")


def from_certificate(what: str, expanded_nm: float, k: float = 2.0, dof: float = math.inf) -> BudgetLine:
    """A certificate's expanded uncertainty `expanded_nm` [nm] and its `k` [-]: u = U/k (GUM 4.3.3)."""
    u = within("expanded_nm", expanded_nm, 0.0, unit="nm") / within("k", k, 1.0, 20.0)
    return BudgetLine(what, u, dof, f"U {_um(expanded_nm)}, k = {k:g}")


def resolution(step_nm: float, parts_estimated: int = 1, what: str = "resolution") -> BudgetLine:
    """The doubt left by the smallest step that is read.

    step_nm          digital step, or scale graduation [nm]
    parts_estimated  into how many parts a graduation is divided by eye: 1 for a digital display
    The truth lies within half a step either way: a = step/(2 parts), u = a/√3 = step/(√12 parts) (GUM F.2.2.1).
    """
    step = within("step_nm", step_nm, 0.0, unit="nm")
    read = step / within("parts_estimated", parts_estimated, 1, 20)
    return BudgetLine(what, read / math.sqrt(12), math.inf, f"read to {_um(read)}")


def repeatability(
    readings_nm: Sequence[int],
    *,
    prior_s_nm: float | None = None,
    prior_dof: float | None = None,
    what: str = "repeatability",
) -> BudgetLine:
    """The doubt left by readings that differ, for the mean of `readings_nm` [nm]: u = s/√n, n − 1 degrees of freedom.

    prior_s_nm  standard deviation of one reading with this gauge, known from earlier work [nm]; then u = prior_s/√n
                with `prior_dof` degrees of freedom (GUM 4.2.4; infinite where not given). Better than three readings'
                own spread, and the only way with one.
    Raises Impossible for one reading without a prior: it shows no spread, and zero would be false.
    """
    n = len(readings_nm)
    if n == 0:
        raise Impossible("readings_nm", "no readings", "there is nothing to judge", "one or more readings")
    if prior_s_nm is not None:
        s = within("prior_s_nm", prior_s_nm, 0.0, unit="nm")
        dof = math.inf if prior_dof is None else within("prior_dof", prior_dof, 1.0)
        return BudgetLine(what, s / math.sqrt(n), dof, f"s {_um(s)} from before, n = {n}")
    if n == 1:
        why = "one reading shows no spread, which is not the same as none"
        accepts = "a second reading, or the gauge's known repeatability (prior_s_nm)"
        raise Impossible("readings_nm", "one reading", why, accepts)
    found = repeats(readings_nm)
    return BudgetLine(what, found.u_mean, float(found.dof), f"s {_um(found.s)}, n = {n}")


def _um(nm: float) -> str:
    return f"{nm / 1000:.3g} µm"
