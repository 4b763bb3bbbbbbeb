"""What must hold for any chain, and what is refused. Published values: tests/published/test_chains.py."""

from __future__ import annotations

import itertools
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from server.trade.chain_sampling import sample_chain
from server.trade.chains import (
    Drawn,
    Measured,
    Member,
    Span,
    Spread,
    causes,
    contributions,
    left_of_budget,
    middle_nm,
    probability_inside,
    root_sum_square,
    standard_deviation_nm,
    worst_case,
)
from server.trade.errors import Impossible, OutOfRange, TradeError, Unreadable

MM = 1_000_000
COEFFICIENTS = st.sampled_from([1, -1, 2, -0.5])


@st.composite
def drawn(draw: st.DrawFn) -> Drawn:
    low = draw(st.integers(-50 * MM, 50 * MM))
    width = draw(st.integers(0, MM))
    spreads: list[Spread] = ["rectangular", "normal", "worst"]
    return Drawn("d", draw(COEFFICIENTS), low, low + width, draw(st.sampled_from(spreads)))


@st.composite
def measured(draw: st.DrawFn) -> Measured:
    gauge = draw(st.sampled_from(["", "m", "n"]))
    shared = draw(st.integers(0, 5_000)) if gauge else 0
    size, u = draw(st.integers(-50 * MM, 50 * MM)), draw(st.integers(0, 5_000))
    return Measured("m", draw(COEFFICIENTS), size, u, gauge, shared)


CHAINS: st.SearchStrategy[list[Member]] = st.lists(st.one_of(drawn(), measured()), min_size=1, max_size=7)


@given(CHAINS, st.randoms())
def test_order_of_the_members_does_not_matter(chain: list[Member], random: object) -> None:
    other = list(chain)
    random.shuffle(other)  # type: ignore[attr-defined]
    assert worst_case(other) == worst_case(chain)
    assert root_sum_square(other).width_nm == pytest.approx(root_sum_square(chain).width_nm, abs=2)
    assert standard_deviation_nm(other) == pytest.approx(standard_deviation_nm(chain), rel=1e-12)
    assert sorted(each.variance_share for each in contributions(other)) == pytest.approx(
        sorted(each.variance_share for each in contributions(chain)), abs=1e-9
    )


@given(CHAINS, st.integers(1, MM), st.integers(0, 6))
def test_adding_tolerance_never_shrinks_the_spread(chain: list[Member], more: int, which: int) -> None:
    which %= len(chain)
    old = chain[which]
    wider: Member
    if isinstance(old, Drawn):
        wider = Drawn(old.name, old.coefficient, old.low_nm - more, old.high_nm + more, old.spread)
    else:
        wider = Measured(old.name, old.coefficient, old.size_nm, old.u_expanded_nm + more, old.gauge, old.u_gauge_nm)
    grown = [*chain[:which], wider, *chain[which + 1 :]]
    before, after = worst_case(chain), worst_case(grown)
    assert after.low_nm <= before.low_nm
    assert after.high_nm >= before.high_nm
    assert root_sum_square(grown).width_nm >= root_sum_square(chain).width_nm - 1
    assert standard_deviation_nm(grown) >= standard_deviation_nm(chain) * (1 - 1e-14)  # the last bit is rounding


@given(CHAINS)
def test_root_sum_square_is_never_wider_than_worst_case(chain: list[Member]) -> None:
    worst, square = worst_case(chain), root_sum_square(chain)
    assert square.width_nm <= worst.width_nm + 2
    whole = 1 if any(each.half_width_nm for each in causes(chain)) else 0
    assert sum(each.worst_share for each in contributions(chain)) == pytest.approx(whole, abs=1e-9)
    assert sum(each.variance_share for each in contributions(chain)) == pytest.approx(whole, abs=1e-9)


@given(st.lists(drawn(), min_size=1, max_size=5))
def test_worst_case_is_the_worst_of_all_corners(chain: list[Drawn]) -> None:
    corners = [
        sum(Fraction(each.coefficient) * size for each, size in zip(chain, sizes, strict=True))
        for sizes in itertools.product(*((each.low_nm, each.high_nm) for each in chain))
    ]
    worst = worst_case(list(chain))
    assert worst.low_nm <= min(corners) < worst.low_nm + 1
    assert worst.high_nm - 1 < max(corners) <= worst.high_nm


def test_shared_error_counts_twice_where_the_coefficients_agree() -> None:
    apart = [Measured(name, 1, MM, gauge=name, u_gauge_nm=1_000) for name in "ab"]
    together = [Measured(name, 1, MM, gauge="m", u_gauge_nm=1_000) for name in "ab"]
    assert standard_deviation_nm(together) == 1_000
    assert standard_deviation_nm(apart) == pytest.approx(1_000 / 2**0.5)


def test_samples_agree_with_the_sum_of_variances_and_do_not_hang_on_order() -> None:
    chain: list[Member] = [
        Drawn("a", 1, 0, 40_000, "rectangular"),
        Drawn("b", -1, 0, 30_000, "normal"),
        Drawn("c", 2, 0, 8_000, "worst"),
        Measured("d", -1, 7, 5_000, "m", 6_000),
        Measured("e", -1, 7, 3_000, "m", 6_000),
    ]
    sampled = sample_chain(chain, -40_000, 40_000, samples=400_000)
    assert sampled.sd_nm == pytest.approx(standard_deviation_nm(chain), rel=0.01)
    assert sampled.mean_nm == pytest.approx(float(middle_nm(chain)), abs=100)
    assert sample_chain(chain[::-1], -40_000, 40_000, samples=400_000).inside == sampled.inside
    assert sampled.inside + sampled.below + sampled.above == pytest.approx(1)
    assert sampled.inside == pytest.approx(probability_inside(chain, -40_000, 40_000), abs=0.01)
    assert sample_chain(chain, -40_000, 40_000, samples=400_000, seed=2).inside != sampled.inside


def test_a_member_on_its_limits_has_only_two_sizes() -> None:
    sampled = sample_chain([Drawn("a", 1, 0, 10, "worst")], 1, 9, samples=1000)
    assert sampled.inside == 0
    assert sampled.below == pytest.approx(0.5, abs=0.06)


def test_all_inside_still_has_an_error() -> None:
    sampled = sample_chain([Drawn("a", 1, 0, 10)], 0, 10, samples=1000)
    assert sampled.inside == 1
    assert sampled.inside_error > 0


def test_what_is_left_of_the_budget() -> None:
    left = left_of_budget(Span(-20, 220), 0, 300)
    assert (left.below_nm, left.above_nm, left.in_all_nm) == (-20, 80, 60)
    left = left_of_budget(Span(-20, 220), None, 300)
    assert (left.below_nm, left.above_nm, left.in_all_nm) == (None, 80, None)


@pytest.mark.parametrize(
    ("field", "error", "wrong"),
    [
        ("coefficient", OutOfRange, lambda: Drawn("a", 0, 0, 1)),
        ("coefficient", OutOfRange, lambda: Measured("a", float("nan"), 0)),
        ("low_nm", Impossible, lambda: Drawn("a", 1, 2, 1)),
        ("spread", Unreadable, lambda: Drawn("a", 1, 0, 1, "triangle")),  # type: ignore[arg-type]
        ("u_expanded_nm", OutOfRange, lambda: Measured("a", 1, 0, -1)),
        ("gauge", Impossible, lambda: Measured("a", 1, 0, u_gauge_nm=1)),
        ("members", Impossible, lambda: worst_case([])),
        ("inflation", OutOfRange, lambda: root_sum_square([Drawn("a", 1, 0, 1)], 0.5)),
        ("low_nm", Impossible, lambda: probability_inside([Drawn("a", 1, 0, 1)], None, None)),
        ("low_nm", Impossible, lambda: left_of_budget(Span(0, 1), 2, 1)),
        ("samples", OutOfRange, lambda: sample_chain([Drawn("a", 1, 0, 1)], samples=10)),
        ("seed", OutOfRange, lambda: sample_chain([Drawn("a", 1, 0, 1)], seed=-1)),
        ("coverage", OutOfRange, lambda: sample_chain([Drawn("a", 1, 0, 1)], coverage=1)),
    ],
)
def test_bad_input_is_told_with_its_field(field: str, error: type[TradeError], wrong: object) -> None:
    with pytest.raises(error) as told:
        wrong()  # type: ignore[operator]
    assert told.value.field == field
