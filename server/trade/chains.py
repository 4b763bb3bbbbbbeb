"""Chains: dimensions that add up, each with a coefficient, to a gap or a total that must come out right.

A member is measured (a size ± its uncertainty) or only drawn (two limits). The total is judged three ways: worst case,
root-sum-square, and by the distributions stated for the members. All are about the middle of the limits: a nominal
size plays no part, so that limits on one side of it (25 +0/−0.1) come out right.

Sources: law of propagation, JCGM 100:2008 (GUM) 5.1 and 5.2 (from memory); K. W. Chase, Tolerance Allocation Methods
for Designers, ADCATS 99-6, 1999 (worst case and root-sum-square; his worked figures are in tests/published/).
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from fractions import Fraction
from typing import Final, Literal, get_args

from server.trade.bounds import say_length
from server.trade.conformity import probability_of_conformity
from server.trade.errors import Impossible, OutOfRange, Unreadable
from server.trade.within import within

Spread = Literal["rectangular", "normal", "worst"]
"""How sizes lie between drawn limits. rectangular: anywhere alike. normal: centred, ±3σ on the limits, a few beyond.
worst: on one limit or on the other, as often; nothing inside the limits spreads more (Popoviciu's inequality)."""

SIGMAS: Final = 3  # a normal member's limits stand at ± this many standard deviations
COVERAGE_K: Final = 2  # an expanded uncertainty U is this many standard uncertainties (GUM 6.3)
_HALF_WIDTHS_PER_SD: Final[dict[Spread, float]] = {"rectangular": math.sqrt(3), "normal": SIGMAS, "worst": 1.0}


@dataclass(frozen=True, slots=True)
class Measured:
    """A member that is made and measured.

    coefficient    change of the total for a unit of this member [-], not 0; the sign counts
    size_nm        measured size [nm]
    u_expanded_nm  its own expanded uncertainty, U = 2u [nm]; with few readings behind it, twice
                   `Combined.u_as_normal_nm` of server.trade.uncertainty
    gauge          name of the gauge or standard whose error it shares with other members, else ""
    u_gauge_nm     expanded uncertainty of that shared error in this member [nm]
    """

    name: str
    coefficient: float
    size_nm: int
    u_expanded_nm: float = 0.0
    gauge: str = ""
    u_gauge_nm: float = 0.0

    def __post_init__(self) -> None:
        _check_coefficient(self.coefficient)
        within("u_expanded_nm", self.u_expanded_nm, 0.0, unit="nm")
        within("u_gauge_nm", self.u_gauge_nm, 0.0, unit="nm")
        if self.u_gauge_nm and not self.gauge:
            raise Impossible("gauge", "", "an error is shared and no gauge is named", "the name of the gauge")


@dataclass(frozen=True, slots=True)
class Drawn:
    """A member that is only drawn: limits [nm], and how sizes are taken to lie between them."""

    name: str
    coefficient: float
    low_nm: int
    high_nm: int
    spread: Spread = "rectangular"

    def __post_init__(self) -> None:
        _check_coefficient(self.coefficient)
        if self.spread not in get_args(Spread):
            raise Unreadable("spread", self.spread, "it is not a distribution known here", ", ".join(get_args(Spread)))
        if self.low_nm > self.high_nm:
            why = f"the lower limit is above the upper, {say_length(self.high_nm)}"
            raise Impossible("low_nm", say_length(self.low_nm), why, "a lower limit at or below the upper")


Member = Measured | Drawn


@dataclass(frozen=True, slots=True)
class Span:
    """From low_nm to high_nm [nm]."""

    low_nm: int
    high_nm: int

    @property
    def width_nm(self) -> int:
        return self.high_nm - self.low_nm


@dataclass(frozen=True, slots=True)
class Cause:
    """One independent cause of variation in the total: a drawn member, a reading's own error, or a gauge's error.

    half_width_nm  how far it can move the total either way [nm], exact: U for an error of measurement
    sd_nm          its standard deviation in the total [nm]
    """

    name: str
    kind: Literal["drawn", "measurement", "gauge"]
    spread: Spread
    half_width_nm: Fraction
    sd_nm: float


def causes(members: Sequence[Member]) -> tuple[Cause, ...]:
    """The independent causes of variation of a chain. A gauge's error is one cause: what it does to each of its members
    is added, coefficient and sign, before anything is squared. Raises Impossible for a chain without members.
    """
    if not members:
        raise Impossible("members", "none", "a chain has members", "one or more members")
    found: list[Cause] = []
    shared: dict[str, Fraction] = {}
    for each in members:
        a = Fraction(each.coefficient)
        if isinstance(each, Drawn):
            half = abs(a) * Fraction(each.high_nm - each.low_nm, 2)
            found.append(Cause(each.name, "drawn", each.spread, half, float(half) / _HALF_WIDTHS_PER_SD[each.spread]))
            continue
        half = abs(a) * Fraction(each.u_expanded_nm)
        found.append(Cause(each.name, "measurement", "normal", half, float(half) / COVERAGE_K))
        if each.u_gauge_nm:
            shared[each.gauge] = shared.get(each.gauge, Fraction(0)) + a * Fraction(each.u_gauge_nm)
    for gauge, sum_nm in shared.items():
        found.append(Cause(gauge, "gauge", "normal", abs(sum_nm), float(abs(sum_nm)) / COVERAGE_K))
    return tuple(found)


def middle_nm(members: Iterable[Member]) -> Fraction:
    """The total with every member at its measured size or at the middle of its limits [nm], exact."""
    return sum((Fraction(each.coefficient) * _middle(each) for each in members), Fraction(0))


def worst_case(members: Sequence[Member]) -> Span:
    """The total with everything at its worst at once [nm], rounded outwards. Measured members count with ±U."""
    return _about(middle_nm(members), sum((each.half_width_nm for each in causes(members)), Fraction(0)))


def root_sum_square(members: Sequence[Member], inflation: float = 1.0) -> Span:
    """The middle ± inflation·√Σ(half width)² [nm], rounded outwards: the statistical stack of the handbooks.

    inflation  1 to 3 [-]; 1.5 is Bender's factor for work that is neither centred nor normal (factor found quoted)
    Its ±1·√Σ is as sure as the half widths are: ±3σ if every drawn member is normal, centred, ±3σ on its limits. With
    one-off pieces that is a hope; what the stated distributions give is `standard_deviation_nm`.
    """
    within("inflation", inflation, 1.0, 3.0)
    half = inflation * math.hypot(*(float(each.half_width_nm) for each in causes(members)))
    return _about(middle_nm(members), Fraction(half))


def standard_deviation_nm(members: Sequence[Member]) -> float:
    """Standard deviation of the total [nm] by the members' stated distributions: √Σ(sd)², causes independent."""
    return math.hypot(*(each.sd_nm for each in causes(members)))


def probability_inside(members: Sequence[Member], low_nm: int | None, high_nm: int | None) -> float:
    """The probability [-] that the total lies inside its limits [nm] (None: open), taking the total as normal.

    Good from about four members of like weight; for fewer, or one that outweighs the rest, `sample_chain` of
    server.trade.chain_sampling follows the stated distributions. Raises Impossible for limits the wrong way about.
    """
    _check_limits(low_nm, high_nm)
    middle = middle_nm(members)
    low = None if low_nm is None else float(low_nm - middle)  # about the middle, so that floats lose nothing
    high = None if high_nm is None else float(high_nm - middle)
    return probability_of_conformity(0.0, standard_deviation_nm(members), low, high)


@dataclass(frozen=True, slots=True)
class Contribution:
    """What one cause gives: half width in the total [nm], its share of the worst case and of the variance [-]."""

    name: str
    kind: Literal["drawn", "measurement", "gauge"]
    half_width_nm: float
    worst_share: float
    variance_share: float


def contributions(members: Sequence[Member]) -> tuple[Contribution, ...]:
    """What each cause gives, the largest share of the variance first. Shares add up to 1, or are all 0 where nothing
    varies. Causes that give nothing (a gauge error that cancels) are kept: that it cancels is worth knowing.
    """
    found = causes(members)
    worst = sum((each.half_width_nm for each in found), Fraction(0))
    largest = max(each.sd_nm for each in found)
    variance = math.fsum((each.sd_nm / largest) ** 2 for each in found) if largest else 0.0
    return tuple(
        Contribution(
            each.name,
            each.kind,
            float(each.half_width_nm),
            float(each.half_width_nm / worst) if worst else 0.0,
            (each.sd_nm / largest) ** 2 / variance if largest else 0.0,
        )
        for each in sorted(found, key=lambda each: (-each.sd_nm, each.name))
    )


@dataclass(frozen=True, slots=True)
class Left:
    """What limits leave over beyond a span of the total [nm]: below it, above it (negative: it reaches past that limit
    by so much), and in all. None where there is no limit."""

    below_nm: int | None
    above_nm: int | None

    @property
    def in_all_nm(self) -> int | None:
        """What members could still be given [nm]; one side's need is met from the other only by shifting the middle."""
        return None if self.below_nm is None or self.above_nm is None else self.below_nm + self.above_nm


def left_of_budget(span: Span, low_nm: int | None, high_nm: int | None) -> Left:
    """What the total's limits [nm] leave over beyond `span`, from `worst_case` or `root_sum_square`."""
    _check_limits(low_nm, high_nm)
    return Left(
        None if low_nm is None else span.low_nm - low_nm,
        None if high_nm is None else high_nm - span.high_nm,
    )


def _middle(member: Member) -> Fraction:
    if isinstance(member, Measured):
        return Fraction(member.size_nm)
    return Fraction(member.low_nm + member.high_nm, 2)


def _about(middle: Fraction, half: Fraction) -> Span:
    return Span(math.floor(middle - half), math.ceil(middle + half))


def _check_coefficient(coefficient: float) -> None:
    within("coefficient", coefficient, -1e6, 1e6)
    if coefficient == 0:
        raise OutOfRange("coefficient", 0, "a member that does nothing to the total is not in the chain", "1 or −1")


def _check_limits(low_nm: int | None, high_nm: int | None) -> None:
    if low_nm is None and high_nm is None:
        raise Impossible("low_nm", "no limits", "without a limit there is nothing to be inside", "one limit or two")
    if low_nm is not None and high_nm is not None and low_nm > high_nm:
        why = f"the lower limit is above the upper, {say_length(high_nm)}"
        raise Impossible("low_nm", say_length(low_nm), why, "a lower limit at or below the upper")
