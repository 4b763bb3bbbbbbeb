"""Blanks to start: by hand, against scipy's beta-binomial distribution, and by law."""

from __future__ import annotations

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import betabinom

from server.trade.errors import Impossible, OutOfRange, TradeError
from server.trade.yield_of_blanks import Blanks, History, blanks_to_start, chance_of_enough


def test_rule_of_succession() -> None:
    """Laplace: after 9 good of 10 the next is good with (9 + 1)/(10 + 2)."""
    assert History(9, 1).chance_of_one == Fraction(10, 12)
    assert chance_of_enough(History(9, 1), 1, 1) == Fraction(10, 12)


def test_no_history_makes_every_count_as_likely() -> None:
    """By hand: uniform prior, n started: 0 to n good each with 1/(n + 1); so 1 of n with n/(n + 1): 19 for 95 %."""
    assert chance_of_enough(History(0, 0), 4, 3) == Fraction(2, 5)
    assert blanks_to_start(History(0, 0), 1, 0.95) == Blanks(19, Fraction(19, 20), Fraction(18, 19))


@given(
    st.integers(0, 60), st.integers(0, 60), st.integers(1, 12), st.integers(0, 12), st.sampled_from(["1", "1/2", "3"])
)
def test_agrees_with_scipy(good: int, scrap: int, needed: int, spare: int, prior: str) -> None:
    history = History(good, scrap, Fraction(prior), Fraction(prior))
    a, b = good + float(Fraction(prior)), scrap + float(Fraction(prior))
    wanted = betabinom.sf(needed - 1, needed + spare, a, b)
    assert float(chance_of_enough(history, needed + spare, needed)) == pytest.approx(wanted, rel=1e-9, abs=1e-12)


@given(st.integers(0, 100), st.integers(0, 30), st.integers(1, 8), st.sampled_from([0.5, 0.9, 0.95, 0.99]))
def test_fewest_blanks_that_do(good: int, scrap: int, needed: int, wanted: float) -> None:
    history = History(good, scrap)
    try:
        found = blanks_to_start(history, needed, wanted)
    except Impossible:
        assert chance_of_enough(history, 2_000, needed) < wanted
        return
    assert found.start >= needed
    assert found.chance == chance_of_enough(history, found.start, needed)
    assert found.one_less == chance_of_enough(history, found.start - 1, needed)
    assert found.one_less < Fraction(str(wanted)) <= found.chance


@given(st.integers(0, 100), st.integers(0, 30), st.integers(1, 8))
def test_more_scrap_never_asks_for_fewer_blanks(good: int, scrap: int, needed: int) -> None:
    assert chance_of_enough(History(good, scrap + 1), needed + 2, needed) <= chance_of_enough(
        History(good, scrap), needed + 2, needed
    )
    assert chance_of_enough(History(good + 1, scrap), needed + 2, needed) >= chance_of_enough(
        History(good, scrap), needed + 2, needed
    )


@pytest.mark.parametrize(
    ("field", "error", "wrong"),
    [
        ("good", OutOfRange, lambda: History(-1, 0)),
        ("scrap", OutOfRange, lambda: History(0, -1)),
        ("prior_good", OutOfRange, lambda: History(0, 0, Fraction(0))),
        ("needed", OutOfRange, lambda: blanks_to_start(History(1, 1), 0)),
        ("wanted_chance", OutOfRange, lambda: blanks_to_start(History(1, 1), 1, 1.0)),
        ("wanted_chance", Impossible, lambda: blanks_to_start(History(0, 5_000), 3, 0.95)),
        ("started", OutOfRange, lambda: chance_of_enough(History(1, 1), -1, 1)),
    ],
)
def test_bad_input_is_told_with_its_field(field: str, error: type[TradeError], wrong: object) -> None:
    with pytest.raises(error) as told:
        wrong()  # type: ignore[operator]
    assert told.value.field == field
