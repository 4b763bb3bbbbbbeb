"""Every handbook page on what goes together: checked by hand, and never worse than a refusal."""

from __future__ import annotations

import re

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from server.trade.handbook.book import calculation
from server.trade.handbook.calculation import Calculation, CannotAnswer
from server.trade.handbook.going_together import CALCULATIONS

BY_ID = {each.id: each for each in CALCULATIONS}


def answer(which: str, **typed: str) -> dict[str, int | float | str]:
    return {output.label: output.value for output in BY_ID[which].answer(typed)}


def refusal(which: str, **typed: str) -> list[str]:
    with pytest.raises(CannotAnswer) as refused:
        BY_ID[which].answer(typed)
    return [problem.field for problem in refused.value.problems]


@pytest.mark.parametrize("page", CALCULATIONS, ids=[each.id for each in CALCULATIONS])
def test_page_answers_with_its_defaults(page: Calculation) -> None:
    outputs = page.answer({})
    assert outputs
    assert len({output.label for output in outputs}) == len(outputs)
    for output in outputs:
        assert output.kind != "length" or type(output.value) is int


@pytest.mark.parametrize("page", CALCULATIONS, ids=[each.id for each in CALCULATIONS])
def test_page_says_formula_and_source_and_is_in_the_book(page: Calculation) -> None:
    assert page.formula
    assert page.source
    assert page.asks.endswith("?")
    assert re.fullmatch(r"[a-z0-9]+(-[a-z0-9]+)*", page.id)
    assert calculation(page.id) is page


TYPED = st.one_of(
    st.text(max_size=12),
    st.sampled_from(["", "0", "-1", "1e9", "nan", ";", "1 2 3", "999 km", "1000000 mm", "-60", "0.000001", "½", "60"]),
    st.floats(-1e4, 1e4).map(lambda x: f"{x:.4f}"),
    st.lists(st.integers(-100, 100), max_size=12).map(lambda values: " ".join(map(str, values))),
    st.lists(st.integers(0, 100), max_size=4).map(lambda values: "; ".join(f"+ {value} ±0.1" for value in values)),
    st.tuples(st.integers(-100, 100), st.integers(-100, 100)).map(lambda pair: f"{pair[0]} to {pair[1]}"),
)


@pytest.mark.parametrize("page", CALCULATIONS, ids=[each.id for each in CALCULATIONS])
@given(data=st.data())
@settings(max_examples=40)
def test_whatever_is_typed_is_answered_or_refused(page: Calculation, data: st.DataObject) -> None:
    typed = {}
    for each in page.inputs:
        if data.draw(st.booleans()):
            typed[each.name] = data.draw(st.sampled_from(each.choices) if each.choices else TYPED)
    outcome: object
    try:
        outcome = page.answer(typed, data.draw(st.sampled_from(["mm", "in"])))
    except CannotAnswer as refused:
        outcome = refused.problems
    assert outcome


def test_stack_up_by_hand() -> None:
    """60 ±0.05 less 20 ±0.03 less 39.9 ±0.04: 0.1, worst −0.02 and 0.22, root-sum-square 0.0293 and 0.1707."""
    found = answer("stack-up")
    assert found["Middle of the total"] == 100_000
    assert (found["Worst case, least"], found["Worst case, greatest"]) == (-20_000, 220_000)
    assert (found["Root-sum-square, least"], found["Root-sum-square, greatest"]) == (29_289, 170_711)
    assert (found["Left below the worst case"], found["Left above the worst case"]) == (-40_000, -40_000)
    assert found["Share of 1. + 60 ±0.05"] == pytest.approx(50)


def test_stack_up_in_inches() -> None:
    found = answer("stack-up", members="+ 1 ±.001; - measured .99 ±.0002", wanted="min 0", figures_in="in")
    assert found["Worst case, least"] == round(0.0088 * 25_400_000)
    assert "Left above the worst case" not in found
    assert found["Inside the limits"] == 100


def test_window_by_hand() -> None:
    """Slot 31.782 ± 0.004, clearance 0.04 to 0.06, own reading ± 0.002: 31.728 to 31.736."""
    found = BY_ID["last-member"].answer({})
    assert [(each.label, each.value) for each in found] == [
        ("From", 31_728_000),
        ("To", 31_736_000),
        ("Room", 8_000),
        ("Cut to", 31_732_000),
    ]
    assert found[0].note == "the total at its highest, 0.06 mm, the rest at 31.782, 0.006 kept for uncertainty"


def test_no_window_tells_the_ways_out() -> None:
    found = answer("last-member", own="31.75 to 31.8")
    assert found["Short by"] == 16_000
    assert found["Way out 1"] == "give way: own limits, lowest limit by 0.016 to 31.734 mm"
    assert "Cut to" not in found


def test_matching_by_hand() -> None:
    """Three places, four pieces, clearance 0.012 to 0.020: smallest to smallest but for the largest, left over. As
    they lie 0.009, 0.020 and 0.020: two inside, on the limit."""
    typed = {"places_nm": "20.010 20.014 20.018", "low_nm": "0.012", "high_nm": "0.020"}
    outputs = BY_ID["matching"].answer(typed)
    assert [(each.label, each.value, each.note) for each in outputs[:3]] == [
        ("Place 1", 16_000, "piece 2"),
        ("Place 2", 16_000, "piece 3"),
        ("Place 3", 17_000, "piece 1"),
    ]
    found = answer("matching", **typed)
    assert (found["Pairs inside"], found["Worst margin"], found["Pieces left over"]) == (3, 3_000, "4")
    assert (found["Pairs inside, as they lie"], found["Worst margin, as they lie"]) == (2, -3_000)


def test_matching_without_limits_is_sorted_and_wants_equal_counts() -> None:
    found = BY_ID["matching"].answer({"places_nm": "10.02 10.01", "pieces_nm": "9.99 10", "places_are": "holes"})
    assert [(each.value, each.note) for each in found] == [(20_000, "piece 2"), (20_000, "piece 1")]


def test_matching_refused_where_it_cannot_choose() -> None:
    assert refusal("matching", places_nm="10.02 10.01", pieces_nm="9.99") == ["pieces_nm"]
    assert refusal("matching", low_nm="0.02", high_nm="0.01") == ["low_nm"]


def test_end_clearance_by_hand() -> None:
    """Rod 0.3 long: 0.9 and 1.5, shim −0.3; 1.3 at each end is 0.2 more than there is: a throw of 19.9."""
    found = answer("end-clearance", rod_nm="100.3", least_nm="1.3")
    assert (found["Clearance at the far stop"], found["Clearance at the near stop"]) == (900_000, 1_500_000)
    assert found["Shim to even them"] == -300_000
    assert (found["Short in all by"], found["Greatest throw that would do"]) == (200_000, 19_900_000)
    assert found["Can a shim give what is wanted"] == "no"
    assert answer("end-clearance")["Can a shim give what is wanted"] == "yes"


def test_next_cut_is_half_the_way_first_and_then_the_same_again() -> None:
    found = answer("next-cut")
    assert found["Next"] == "half the way, measure, then the same depth again"
    assert found["Expected size"] == 20_255_000
    found = answer("next-cut", cuts_nm="20.249592 20.257")
    assert found["Next"] == "one cut to the size"
    assert found["Chance of passing the far limit"] <= 0.3
    assert found["Figures of the machine"] == "a guess"


def test_next_cut_wants_its_sizes_in_pairs() -> None:
    assert refusal("next-cut", cuts_nm="20.25 20.26 20.1") == ["cuts_nm"]


def test_blanks_by_hand() -> None:
    """No history: one good of 19 with 19/20."""
    found = answer("blanks-to-start", needed="1", good="0", scrap="0")
    assert found["Blanks to start"] == 19
    assert found["Chance of enough good ones"] == pytest.approx(95)
