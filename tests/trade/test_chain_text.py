"""Chains as they are typed."""

from __future__ import annotations

import pytest

from server.trade.chain_text import parse_members, parse_wanted
from server.trade.chains import Drawn, Measured
from server.trade.errors import OutOfRange, TradeError, Unreadable


def test_members_of_every_kind() -> None:
    found = parse_members("+31.782..31.790; − 31.95 ±0.01; - Measured 20.012 ±0.004 ; + 25 H7;", "mm", "normal")
    assert found == [
        Drawn("1. +31.782..31.790", 1, 31_782_000, 31_790_000, "normal"),
        Drawn("2. − 31.95 ±0.01", -1, 31_940_000, 31_960_000, "normal"),
        Measured("3. - Measured 20.012 ±0.004", -1, 20_012_000, 4_000),
        Drawn("4. + 25 H7", 1, 25_000_000, 25_021_000, "normal"),
    ]


def test_bare_figures_are_in_the_unit_named() -> None:
    assert parse_members("- 1.000 ±.001", "in") == [Drawn("1. - 1.000 ±.001", -1, 25_374_600, 25_425_400)]
    assert parse_members("+ -0.5 ±0.1 mm", "mm")[0] == Drawn("1. + -0.5 ±0.1 mm", 1, -600_000, -400_000)


@pytest.mark.parametrize(
    ("typed", "says"),
    [
        ("", "member 1 is empty"),
        ("+ 5 ±0.1;; - 5 ±0.1", "member 2 is empty"),
        ("+ 5 ±0.1; 6 ±0.1", "member 2 has no sign"),
        ("+ 5", "member 1: '5' has no limits"),
        ("+ 5 ±0.1; - six", "member 2: 'six' is not understood"),
        ("+ max 5", "member 1 has not both its limits"),
        ("+ (5)", "member 1 has not both its limits"),
        ("+ measured 5 to 6", "member 1 is measured and not given as a size ± U"),
        ("+ measured 5 +0.1/0", "member 1 is measured and not given as a size ± U"),
        ("+ measured", "member 1: nothing was typed"),
    ],
)
def test_what_cannot_be_read_is_told_with_the_member(typed: str, says: str) -> None:
    with pytest.raises(TradeError) as told:
        parse_members(typed, "mm")
    assert told.value.field == "members"
    assert told.value.why.startswith(says)


def test_too_many_members() -> None:
    with pytest.raises(OutOfRange):
        parse_members("+ 5 ±0.1;" * 41, "mm")


def test_wanted_limits_may_be_open_on_one_side() -> None:
    assert (parse_wanted("min 0.1", "mm", "wanted").low_nm, parse_wanted("max 0.1", "mm", "wanted").low_nm) == (
        100_000,
        None,
    )
    for typed in ("(0.1)", "0.1", "soon"):
        with pytest.raises(Unreadable) as told:
            parse_wanted(typed, "mm", "wanted")
        assert told.value.field == "wanted"
