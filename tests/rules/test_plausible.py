"""Readings that cannot be meant, and all those that can."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from server.rules.facts import LimitFacts
from server.rules.plausible import Doubt, doubt
from server.trade.length import Unit, parse_length

BORE = LimitFacts(25_000_000, 25_000_000, 25_021_000, "larger")
INCH_BORE = LimitFacts(25_400_000, 25_400_000, 25_420_000, "larger")
STEP = LimitFacts(1_000_000, 950_000, 1_050_000, "neither")
AT_MOST = LimitFacts(None, None, 800_000, "smaller", "at most")
AT_LEAST = LimitFacts(None, 3_000_000, None, "larger", "at least")
REFERENCE = LimitFacts(30_000_000, None, None, "smaller", "reference")
TWO_SIZES = LimitFacts(None, 24_980_000, 25_000_000, "larger")
OFFSET = LimitFacts(0, -50_000, 50_000, "neither")


@pytest.mark.parametrize(
    ("value", "unit", "limits", "kind", "other"),
    [
        ("25.01", "in", BORE, "other unit", 25_010_000),
        ("1.001", "mm", INCH_BORE, "other unit", 25_425_400),
        ("0.985", "mm", BORE, "other unit", 25_019_000),
        ("25", "in", TWO_SIZES, "other unit", 25_000_000),
        ("1", "in", STEP, "other unit", 1_000_000),
        ("30", "in", REFERENCE, "other unit", 30_000_000),
        ("250.1", "mm", BORE, "far off", None),
        ("18", "mm", BORE, "far off", None),
        ("0", "mm", BORE, "not a size", None),
        ("-25", "mm", BORE, "not a size", None),
        ("-1", "in", BORE, "not a size", None),
        ("-0.1", "mm", AT_MOST, "not a size", None),
        ("0", "mm", AT_LEAST, "not a size", None),
    ],
)
def test_what_cannot_be_meant_is_doubted(
    value: str, unit: Unit, limits: LimitFacts, kind: str, other: int | None
) -> None:
    assert doubt(parse_length(value, unit), unit, limits) == Doubt(kind, other)  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("value", "limits"),
    [
        ("25.01", BORE),
        ("20", BORE),  # roughed out, 5 mm to go
        ("22", BORE),
        ("19", BORE),  # a quarter of the size and no more
        ("30.9", BORE),
        ("0.1", STEP),
        ("1.9", STEP),
        ("0", AT_MOST),  # a run-out of nothing
        ("0.1", AT_MOST),
        ("0.8", AT_MOST),
        ("3", AT_LEAST),
        ("12", AT_LEAST),
        ("29", REFERENCE),
        ("0", OFFSET),
        ("-0.04", OFFSET),
        ("100", OFFSET),  # nothing is expected, so nothing is far from it
    ],
)
def test_good_sizes_and_roughing_sizes_are_not_asked_about(value: str, limits: LimitFacts) -> None:
    assert doubt(parse_length(value, "mm"), "mm", limits) is None


def test_the_edge_of_far_off_is_a_quarter_of_the_size() -> None:
    edge = 25_000_000 // 4
    assert doubt(25_000_000 - edge, "mm", BORE) is None
    assert doubt(25_000_000 - edge - 1, "mm", BORE) == Doubt("far off")
    assert doubt(25_000_000 + edge, "mm", BORE) is None
    assert doubt(25_000_000 + edge + 1, "mm", BORE) == Doubt("far off")


@given(st.integers(-(10**9), 10**9), st.integers(0, 10**8), st.sampled_from(["mm", "in"]), st.data())
def test_what_is_inside_the_limits_is_never_doubted(low: int, width: int, unit: Unit, data: st.DataObject) -> None:
    value = data.draw(st.integers(low, low + width))
    nominal = data.draw(st.integers(low, low + width) | st.none())
    assert doubt(value, unit, LimitFacts(nominal, low, low + width, "larger")) is None


@given(st.integers(10_000_000, 500_000_000), st.sampled_from(["mm", "in"]))
def test_a_slip_of_the_unit_is_never_missed_on_an_ordinary_size(nominal: int, unit: Unit) -> None:
    limits = LimitFacts(nominal, nominal - 20_000, nominal + 20_000, "larger")
    slipped = nominal * 254 // 10 if unit == "in" else nominal * 10 // 254
    found = doubt(slipped, unit, limits)
    assert found is not None
    assert found.kind == "other unit"
    assert found.other_nm is not None
    assert abs(found.other_nm - nominal) <= 30
