from __future__ import annotations

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st
from scipy import stats

from server.trade.conformity import RULES, Rule, decide, probability_of_conformity
from server.trade.errors import Impossible, OutOfRange, Unreadable

SIZES = st.integers(-(10**8), 10**8)
SPREADS = st.floats(0, 1e7)
LIMITS = st.tuples(SIZES, SIZES).map(sorted)
ANY_RULE = st.sampled_from(RULES)


@given(SIZES, SPREADS, LIMITS)
def test_probability_is_a_probability(size: int, u: float, limits: list[int]) -> None:
    assert 0 <= probability_of_conformity(size, u, *limits) <= 1


@given(SIZES, st.floats(0.1, 1e7), LIMITS)
def test_probability_agrees_with_the_normal_distribution(size: int, u: float, limits: list[int]) -> None:
    low, high = limits
    expected = stats.norm.cdf(high, size, u) - stats.norm.cdf(low, size, u)
    assert probability_of_conformity(size, u, low, high) == pytest.approx(expected, abs=1e-12)


@given(SIZES, SPREADS, LIMITS, st.integers(0, 10**8))
def test_probability_falls_away_from_the_middle(size: int, u: float, limits: list[int], further: int) -> None:
    low, high = limits
    out = size + further if 2 * size >= low + high else size - further
    nearer, farther = (probability_of_conformity(x, u, low, high) for x in (size, out))
    assert farther <= nearer + 1e-12


@given(SIZES, SPREADS, LIMITS, st.integers(0, 10**8))
def test_probability_grows_with_the_limits(size: int, u: float, limits: list[int], wider: int) -> None:
    low, high = limits
    narrow = probability_of_conformity(size, u, low, high)
    assert probability_of_conformity(size, u, low, high + wider) >= narrow
    assert probability_of_conformity(size, u, low, None) >= narrow


@given(SPREADS, LIMITS, ANY_RULE)
def test_guard_band_is_the_same_on_both_sides(u: float, limits: list[int], rule: Rule) -> None:
    low, high = limits
    found = decide(low, u, low, high, rule=rule)
    if found.provable:
        assert found.accept_low_nm is not None
        assert found.accept_high_nm is not None
        assert found.accept_low_nm - low == high - found.accept_high_nm == found.guard_band_nm
        assert found.accept_low_nm <= found.accept_high_nm


@given(SIZES, SPREADS, LIMITS, ANY_RULE)
def test_mirrored_reading_gets_the_same_verdict(size: int, u: float, limits: list[int], rule: Rule) -> None:
    low, high = limits
    one, other = decide(size, u, low, high, rule=rule), decide(-size, u, -high, -low, rule=rule)
    assert one.verdict == other.verdict
    assert one.probability == pytest.approx(other.probability, abs=1e-12)


@given(SIZES, st.floats(1, 1e7), LIMITS, st.floats(0.5, 0.999))
def test_verdict_is_as_sure_as_it_says(size: int, u: float, limits: list[int], sure: float) -> None:
    found = decide(size, u, *limits, least_probability=sure)
    if found.verdict == "conforms":
        assert found.probability >= sure - 1e-9
    if found.verdict == "does not conform":
        assert 1 - found.probability >= sure - 1e-9


@given(st.floats(1, 1e6), LIMITS)
def test_edge_of_the_acceptance_zone_is_no_further_in_than_it_must_be(u: float, limits: list[int]) -> None:
    low, high = limits
    found = decide(low, u, low, high)
    assume(found.provable and found.guard_band_nm is not None and found.guard_band_nm > 3)
    assert found.guard_band_nm is not None
    assert probability_of_conformity(low + found.guard_band_nm - 2, u, low, high) < 0.95


@given(SIZES, SPREADS, st.floats(1, 3), LIMITS, ANY_RULE)
def test_more_uncertainty_never_proves_more(size: int, u: float, times: float, limits: list[int], rule: Rule) -> None:
    if decide(size, u * times, *limits, rule=rule).verdict == "conforms":
        assert decide(size, u, *limits, rule=rule).verdict == "conforms"


@given(SIZES, LIMITS, ANY_RULE)
def test_without_uncertainty_the_limits_decide(size: int, limits: list[int], rule: Rule) -> None:
    low, high = limits
    assert decide(size, 0, low, high, rule=rule).verdict == ("conforms" if low <= size <= high else "does not conform")


def test_limit_itself_is_inside() -> None:
    assert [decide(x, 0, 0, 10).verdict for x in (-1, 0, 10, 11)] == [
        "does not conform",
        "conforms",
        "conforms",
        "does not conform",
    ]


@pytest.mark.parametrize("rule", RULES)
def test_one_limit_alone(rule: Rule) -> None:
    assert decide(10_000, 1_000, None, 20_000, rule=rule).verdict == "conforms"
    assert decide(30_000, 1_000, 20_000, None, rule=rule).verdict == "conforms"
    assert decide(10_000, 1_000, 20_000, None, rule=rule).verdict == "does not conform"
    assert decide(20_000, 1_000, 20_000, None, rule=rule).verdict == "too close to call"


def test_guard_band_widens_where_both_limits_are_near() -> None:
    """T = 4 u: the edge with 1.645 u keeps 95 % on one side and has 0.9 % beyond the other."""
    found = decide(0, 1_000, -2_000, 2_000)
    assert found.guard_band_nm is not None
    assert found.guard_band_nm > 1_645
    assert found.verdict == "conforms"


def test_guard_band_is_one_sided_where_the_other_limit_is_far() -> None:
    found = decide(0, 1_000, -50_000, 50_000)
    assert (found.guard_band_nm, found.reject_band_nm) == (1_645, 1_645)


def test_guard_band_is_rounded_up() -> None:
    found = decide(0, 1.2, None, 100, rule="ISO 14253-1:1998", k=1)
    assert (found.guard_band_nm, found.reject_band_nm, found.accept_high_nm) == (2, 2, 98)


def test_acceptance_zone_never_turns_inside_out() -> None:
    """T = 3, U = 1.2 nm: there would be room for the figures, not for whole nanometres."""
    found = decide(1, 1.2, 0, 3, rule="ISO 14253-1:1998", k=1)
    assert (found.provable, found.accept_low_nm, found.accept_high_nm) == (False, None, None)


def test_nonconformity_is_proved_from_the_edge_of_the_band_on_both_sides() -> None:
    verdicts = [decide(x, 5, 0, 100, rule="ISO 14253-1:1998").verdict for x in (-10, -9, 109, 110)]
    assert verdicts == ["does not conform", "too close to call", "too close to call", "does not conform"]


def test_guard_bands_of_both_editions() -> None:
    assert decide(0, 1_000, None, 10_000).guard_band_nm == 1_645
    assert decide(0, 1_000, None, 10_000, rule="ISO 14253-1:1998").guard_band_nm == 2_000


def test_no_limits_or_crossed_limits_are_refused() -> None:
    with pytest.raises(Impossible, match="nothing to conform to"):
        decide(0, 1, None, None)
    with pytest.raises(Impossible, match="above the upper"):
        decide(0, 1, 2, 1)


def test_figures_out_of_range_are_told_with_their_range() -> None:
    with pytest.raises(OutOfRange, match=r"0\.5 to 0\.9999"):
        decide(0, 1, 0, 1, least_probability=1.0)
    with pytest.raises(OutOfRange, match="1 to 4"):
        decide(0, 1, 0, 1, rule="ISO 14253-1:1998", k=0.0)
    with pytest.raises(OutOfRange):
        decide(0, -1, 0, 1)
    with pytest.raises(Unreadable, match="ISO 14253-1:2017; ISO 14253-1:1998"):
        decide(0, 1, 0, 1, rule="simple")  # type: ignore[arg-type]
