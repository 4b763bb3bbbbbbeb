"""Judging a reading. Limits are inclusive: ISO 14405-1 (from memory); the rest by hand."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from server.rules.facts import LimitFacts
from server.rules.verdict import Verdict, judge
from server.trade.limits import Cutting

LOW, HIGH = 25_000_000, 25_021_000


def limits(low: int | None, high: int | None, cutting: Cutting, kind: str = "size") -> LimitFacts:
    return LimitFacts(None, low, high, cutting, kind)  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("value", "word", "beyond", "to_middle"),
    [
        (LOW - 42_000, "metal left", 42_000, 52_500),
        (LOW - 1, "metal left", 1, 10_501),
        (LOW, "good", 0, 10_500),
        (LOW + 1, "good", 0, 10_499),
        (LOW + 10_500, "good", 0, 0),
        (HIGH - 1, "good", 0, 10_499),
        (HIGH, "good", 0, 10_500),
        (HIGH + 1, "past the limit", 1, 10_501),
    ],
)
def test_a_bore_has_metal_left_below_its_limits_and_is_past_them_above(
    value: int, word: str, beyond: int, to_middle: int
) -> None:
    assert judge(value, limits(LOW, HIGH, "larger")) == Verdict(word, beyond, to_middle)  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("value", "word"),
    [(LOW - 1, "past the limit"), (LOW, "good"), (HIGH, "good"), (HIGH + 1, "metal left")],
)
def test_a_shaft_has_metal_left_above_its_limits_and_is_past_them_below(value: int, word: str) -> None:
    assert judge(value, limits(LOW, HIGH, "smaller")).word == word


@pytest.mark.parametrize(
    ("value", "word"),
    [(LOW - 1, "past the limit"), (LOW, "good"), (HIGH, "good"), (HIGH + 1, "past the limit")],
)
def test_what_cutting_does_not_change_is_past_its_limits_on_either_side(value: int, word: str) -> None:
    assert judge(value, limits(LOW, HIGH, "neither")).word == word


@pytest.mark.parametrize(
    ("low", "high", "kind", "cutting", "value", "word"),
    [
        (None, HIGH, "at most", "smaller", HIGH, "good"),
        (None, HIGH, "at most", "smaller", HIGH + 1, "metal left"),
        (None, HIGH, "at most", "larger", HIGH + 1, "past the limit"),
        (None, HIGH, "at most", "larger", 0, "good"),
        (LOW, None, "at least", "larger", LOW, "good"),
        (LOW, None, "at least", "larger", LOW - 1, "metal left"),
        (LOW, None, "at least", "smaller", LOW - 1, "past the limit"),
        (LOW, None, "at least", "smaller", 10**12, "good"),
    ],
)
def test_with_one_end_open_there_is_one_limit_and_no_middle(
    low: int | None, high: int | None, kind: str, cutting: Cutting, value: int, word: str
) -> None:
    found = judge(value, limits(low, high, cutting, kind))
    assert (found.word, found.to_middle_nm) == (word, None)


@given(st.integers(), st.sampled_from(["smaller", "larger", "neither"]))
def test_a_reference_has_no_verdict_and_nothing_is_to_be_done_about_it(value: int, cutting: Cutting) -> None:
    found = judge(value, LimitFacts(LOW, None, None, cutting, "reference"))
    assert found == Verdict("reference", 0, None)
    assert not found.outside


sizes = st.integers(-(10**12), 10**12)
MIRRORED: dict[Cutting, Cutting] = {"smaller": "larger", "larger": "smaller", "neither": "neither"}
MIRRORED_KIND = {"size": "size", "at most": "at least", "at least": "at most", "reference": "reference"}


@st.composite
def limits_and_value(draw: st.DrawFn) -> tuple[LimitFacts, int]:
    low, high = sorted((draw(sizes), draw(sizes)))
    kind = draw(st.sampled_from(["size", "at most", "at least", "reference"]))
    ends = {"size": (low, high), "at most": (None, high), "at least": (low, None), "reference": (None, None)}[kind]
    near = [end + by for end in ends if end is not None for by in (-1, 0, 1)] or [0]
    value = draw(sizes | st.sampled_from(near))
    return limits(*ends, draw(st.sampled_from(list(MIRRORED))), kind), value


def _minus(nm: int | None) -> int | None:
    return None if nm is None else -nm


@given(limits_and_value())
def test_the_mirror_image_of_a_reading_gets_the_same_verdict(case: tuple[LimitFacts, int]) -> None:
    """Turned inside out, a bore is a shaft: larger and smaller change places, and every size its sign."""
    facts, value = case
    mirrored = LimitFacts(
        None,
        _minus(facts.high_nm),
        _minus(facts.low_nm),
        MIRRORED[facts.cutting],
        MIRRORED_KIND[facts.kind],  # type: ignore[arg-type]
    )
    assert judge(value, facts) == judge(-value, mirrored)


@given(limits_and_value())
def test_taking_off_what_is_beyond_brings_metal_left_onto_its_limit(case: tuple[LimitFacts, int]) -> None:
    facts, value = case
    found = judge(value, facts)
    assert found.outside == (found.word in ("metal left", "past the limit"))
    if not found.outside:
        assert found.beyond_nm == 0
        return
    assert found.beyond_nm > 0
    moved = {value - found.beyond_nm, value + found.beyond_nm}
    assert any(judge(size, facts).word == "good" for size in moved)
    cut = value + found.beyond_nm * {"larger": 1, "smaller": -1, "neither": 0}[facts.cutting]
    assert (judge(cut, facts).word == "good") == (found.word == "metal left")
    if found.word == "metal left" and found.beyond_nm > 1:  # a nanometre less is not enough
        short = value + (found.beyond_nm - 1) * {"larger": 1, "smaller": -1, "neither": 0}[facts.cutting]
        assert judge(short, facts).word == "metal left"
