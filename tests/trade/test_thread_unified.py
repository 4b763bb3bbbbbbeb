from __future__ import annotations

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from server.trade.errors import Impossible, OutOfRange, TradeError, Unreadable
from server.trade.length import NM_PER_IN
from server.trade.thread_form import ThreadLimits
from server.trade.thread_unified import (
    CLASSES,
    EXTERNAL_CLASSES,
    INTERNAL_CLASSES,
    Series,
    number_size_nm,
    series_of,
    size_name,
    unified_limits,
)

TENTH_NM = 2540  # 0.0001 in, the last place the standard prints
any_pair = st.tuples(st.integers(60, 6000), st.integers(4, 80)).map(lambda pair: (pair[0] * 25_400, pair[1]))


def limits_or_none(pair: tuple[int, int], thread_class: str) -> ThreadLimits | None:
    try:
        return unified_limits(*pair, thread_class)
    except Impossible:
        return None


@given(any_pair, st.sampled_from(EXTERNAL_CLASSES), st.sampled_from(INTERNAL_CLASSES))
def test_the_largest_screw_goes_into_the_smallest_nut(
    pair: tuple[int, int], outer_class: str, inner_class: str
) -> None:
    outer, inner = limits_or_none(pair, outer_class), limits_or_none(pair, inner_class)
    if outer is None or inner is None:
        return
    assert outer.pitch_high_nm <= inner.pitch_low_nm
    assert outer.major_high_nm is not None
    assert inner.major_low_nm is not None
    assert outer.major_high_nm <= inner.major_low_nm
    assert outer.minor_high_nm is not None
    assert inner.minor_low_nm is not None
    # the nut's minor diameter is rounded to 0.001 in, so it may stand 0.0005 in under its exact size
    assert outer.minor_high_nm <= inner.minor_low_nm + 5 * TENTH_NM
    assert outer.root_high_nm is not None
    assert outer.root_high_nm < outer.minor_high_nm < outer.pitch_low_nm


@given(any_pair)
def test_a_higher_class_is_held_closer(pair: tuple[int, int]) -> None:
    for classes in (EXTERNAL_CLASSES, INTERNAL_CLASSES):
        found = [limits_or_none(pair, each) for each in classes]
        tolerances = [each.pitch_high_nm - each.pitch_low_nm for each in found if each is not None]
        assert tolerances == sorted(tolerances, reverse=True)


@given(any_pair, st.sampled_from(CLASSES))
def test_every_limit_has_four_places_of_an_inch(pair: tuple[int, int], thread_class: str) -> None:
    found = limits_or_none(pair, thread_class)
    if found is not None:
        sizes = (found.major_low_nm, found.pitch_low_nm, found.pitch_high_nm, found.minor_high_nm, found.allowance_nm)
        assert all(size is None or size % TENTH_NM == 0 for size in sizes)


@given(st.integers(60, 6000), st.integers(60, 6000), st.integers(4, 80))
def test_a_larger_diameter_is_never_held_closer(one: int, other: int, turns: int) -> None:
    small, large = sorted((one * 25_400, other * 25_400))
    try:
        found = [unified_limits(size, turns, "2A", "UNS") for size in (small, large)]
    except Impossible:
        return
    tolerances = [each.pitch_high_nm - each.pitch_low_nm for each in found]
    assert tolerances[0] <= tolerances[1] + TENTH_NM  # each limit is rounded on its own


def test_class_3a_has_no_allowance_and_1a_the_same_as_2a() -> None:
    allowances = {each: unified_limits(6_350_000, 20, each).allowance_nm for each in EXTERNAL_CLASSES}
    assert allowances == {"1A": 11 * TENTH_NM, "2A": 11 * TENTH_NM, "3A": 0}


def test_tolerances_take_the_engagement_of_their_series() -> None:
    # the same pair, as the coarse thread it is (engagement the diameter, 4 in) and as a special (nine pitches, 2.25 in)
    coarse = unified_limits(4 * NM_PER_IN, 4, "2A")
    special = unified_limits(4 * NM_PER_IN, 4, "2A", "UNS")
    assert (coarse.designation, special.designation) == ("4-4 UNC-2A", "4-4 UNS-2A")
    assert special.pitch_high_nm - special.pitch_low_nm < coarse.pitch_high_nm - coarse.pitch_low_nm


@pytest.mark.parametrize(
    ("inches", "turns", "series"),
    [
        ("1/4", 20, "UNC"), ("1/4", 28, "UNF"), ("1/4", 32, "UNEF"), ("1/4", 24, "UNS"), ("1", 8, "UNC"),
        ("1", 12, "UNF"), ("1", 14, "UNS"), ("1", 16, "UN"), ("17/16", 8, "UN"), ("19/8", 20, "UN"), ("5/2", 12, "UN"),
        ("2", Fraction(9, 2), "UNC"), ("33/16", 8, "UNS"), ("5/8", 8, "UNS"), ("5/8", 12, "UN"), ("0.4", 32, "UNS"),
        ("6", 4, "UN"), ("0.06", 80, "UNF"),
    ],
)  # fmt: skip
def test_a_pair_belongs_to_its_series(inches: str, turns: Fraction, series: Series) -> None:
    assert series_of(int(Fraction(inches) * NM_PER_IN), Fraction(turns)) == series


@pytest.mark.parametrize(
    ("inches", "name"),
    [("1/4", "1/4"), ("5/4", "1 1/4"), ("1", "1"), ("0.19", "#10"), ("0.06", "#0"), ("0.4", "0.4"), ("19/64", "19/64")],
)
def test_sizes_are_named_as_they_are_designated(inches: str, name: str) -> None:
    assert size_name(int(Fraction(inches) * NM_PER_IN)) == name


def test_numbered_sizes_step_by_thirteen_thousandths() -> None:
    assert number_size_nm(0) == 60 * 25_400
    assert number_size_nm(10) == 190 * 25_400
    for number in (-1, 7, 9, 11, 13):
        with pytest.raises(OutOfRange, match="#12"):
            number_size_nm(number)


def test_thirty_seconds_round_to_the_even_place() -> None:
    # 9/32 = 0.28125 in is printed 0.2812, 3/32 = 0.09375 is printed 0.0938
    assert unified_limits(9 * NM_PER_IN // 32, 28, "2B").major_low_nm == 2812 * TENTH_NM
    assert unified_limits(3 * NM_PER_IN // 32, 48, "2B").major_low_nm == 938 * TENTH_NM


@pytest.mark.parametrize(
    ("size", "turns", "thread_class", "error", "says"),
    [
        (6_350_000, 20, "4A", Unreadable, "1A, 2A, 3A, 1B, 2B, 3B"),
        (6_350_000, 20, "2a", Unreadable, "1A, 2A"),
        (1_500_000, 80, "2A", OutOfRange, "6 in"),
        (153_000_000, 4, "2A", OutOfRange, "6 in"),
        (0, 20, "2A", OutOfRange, "6 in"),
        (6_350_000, 0, "2A", OutOfRange, "4 to 80"),
        (6_350_000, -20, "2A", OutOfRange, "4 to 80"),
        (6_350_000, 8, "2A", Impossible, r"8\.7 threads per inch or finer"),
        (25_400_000, 3, "2A", OutOfRange, "4 to 80"),
        (25_400_000, 81, "2A", OutOfRange, "4 to 80"),
    ],
)
def test_what_cannot_be_is_told_with_its_range(
    size: int, turns: int, thread_class: str, error: type[TradeError], says: str
) -> None:
    with pytest.raises(error, match=says):
        unified_limits(size, turns, thread_class)


def test_a_series_that_does_not_have_the_pair_is_refused() -> None:
    with pytest.raises(Impossible, match="1/4-20 is UNC, not UNF"):
        unified_limits(6_350_000, 20, "2A", "UNF")
