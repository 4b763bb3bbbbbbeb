"""Refusals name the field, what was read and what would be accepted."""

from __future__ import annotations

import math

import pytest

from server.trade.bounds import (
    between,
    length_at_most,
    length_not_negative,
    positive,
    positive_length,
    say_length,
    share,
)
from server.trade.errors import OutOfRange


@pytest.mark.parametrize("value", [0.0, -1.0, math.nan, math.inf, -math.inf])
def test_what_is_not_more_than_nothing_is_refused(value: float) -> None:
    with pytest.raises(OutOfRange) as refusal:
        positive("force_n", value, "N")
    assert refusal.value.field == "force_n"
    assert refusal.value.read == f"{value:g} N"
    assert refusal.value.accepts == "more than 0 N"


@pytest.mark.parametrize("value", [0.0, 180.0, math.nan, math.inf])
def test_the_ends_are_outside(value: float) -> None:
    with pytest.raises(OutOfRange) as refusal:
        between("angle_deg", value, 0, 180, "°")
    assert refusal.value.accepts == "more than 0 and less than 180 °"


@pytest.mark.parametrize("value", [0.0, -0.1, 1.001, math.nan])
def test_what_is_no_share_is_refused_with_the_reason_given(value: float) -> None:
    with pytest.raises(OutOfRange) as refusal:
        share("efficiency", value, "it is not an efficiency")
    assert refusal.value.why == "it is not an efficiency"
    assert refusal.value.accepts == "more than 0, up to 1"


def test_what_is_inside_passes() -> None:
    positive("force_n", 1e-9)
    between("angle_deg", 179.999, 0, 180)
    share("efficiency", 1.0, "")
    positive_length("length_nm", 1)
    length_not_negative("length_nm", 0)
    length_at_most("width_nm", 6_000_000, 6_000_000, "")


def test_lengths_are_refused_in_both_units() -> None:
    with pytest.raises(OutOfRange) as refusal:
        length_at_most("width_nm", 7_000_000, 6_000_000, "a cut cannot be wider than the cutter")
    assert refusal.value.read == "7 mm (0.27559 in)"
    assert refusal.value.accepts == "more than 0, up to 6 mm (0.23622 in)"
    with pytest.raises(OutOfRange, match="more than 0"):
        positive_length("length_nm", 0)
    with pytest.raises(OutOfRange, match="0 or more"):
        length_not_negative("length_nm", -1)


@pytest.mark.parametrize(
    ("length_nm", "said"),
    [(25_400_000, "25.4 mm (1 in)"), (1, "0.000001 mm (3.937e-08 in)"), (100_000_000, "100 mm (3.937 in)")],
)
def test_a_length_is_said_without_trailing_noughts(length_nm: int, said: str) -> None:
    assert say_length(length_nm) == said
