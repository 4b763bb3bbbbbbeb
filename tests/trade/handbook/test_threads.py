"""The handbook pages on threads: each answers, and refuses a field of its own."""

from __future__ import annotations

import pytest

from server.trade.handbook.calculation import CannotAnswer, Output
from server.trade.handbook.threads import CALCULATIONS
from server.trade.length import parse_length

BY_ID = {each.id: each for each in CALCULATIONS}


def answer(calculation: str, **typed: str) -> dict[str, Output]:
    found = BY_ID[calculation].answer(typed)
    assert len({each.label for each in found}) == len(found)
    return {each.label: each for each in found}


def test_every_page_says_what_it_asks_and_where_it_is_from() -> None:
    assert len(BY_ID) == len(CALCULATIONS) == 8
    for page in CALCULATIONS:
        assert page.group == "Threads"
        assert page.asks.endswith("?")
        assert page.formula
        assert page.source


def test_limits_of_a_thread() -> None:
    found = answer("thread-limits", thread="M8×1-6g")
    assert found["Pitch diameter, lowest"].value == parse_length("7.212")
    assert found["Minor diameter, lowest"].value == parse_length("6.596")
    assert found["By"].value == "ISO 965-1:1998"
    inner = answer("thread-limits", thread="1/4-20", side="internal")
    assert inner["Minor diameter, highest"].value == parse_length("0.207 in")
    assert inner["Thread"].note == "no class was given; 2B taken"
    assert "Major diameter, highest" not in inner


def test_tap_drill_offers_drills_and_the_hole_its_class_allows() -> None:
    found = answer("tap-drill", thread="1/4-20")
    assert found["Drill #7"].value == parse_length("0.201 in")
    assert found["Drill #7"].note == "75.4 % by 1.299P, 90.5 % by 1.0825P"
    assert found["Largest hole its class allows"].value == parse_length("0.207 in")
    assert "Drill 6.8 mm" in answer("tap-drill", thread="M8", gauge="metric")
    assert "Largest hole its class allows" not in answer("tap-drill", thread="M8-6g")
    basic = answer("tap-drill", thread="1/4-20", percent="75", method="1.0825P")
    assert basic["Hole for this percentage"].value == pytest.approx(parse_length("0.2094 in"), abs=2540)


def test_thread_left_by_a_drill() -> None:
    found = answer("thread-percent", thread="1/4-20", drill="#7")
    assert found["Thread by 1.299P"].value == pytest.approx(75.4, abs=0.05)
    assert found["Thread by 1.0825P"].value == pytest.approx(90.5, abs=0.05)


def test_wires_and_back() -> None:
    wires = answer("three-wires", thread="1/2-13", wire_nm="0.04441 in", method="simple")
    assert wires["Thread"].value == "1/2-13 UNC-2A"
    assert wires["Reading over wires, highest"].value == pytest.approx(parse_length("0.5151 in"), abs=2540)
    back = answer("pitch-diameter", thread="1/2-13", wire_nm="0.04441 in", over_wires_nm="0.5151 in", method="simple")
    assert back["Pitch diameter"].value == pytest.approx(parse_length("0.4485 in"), abs=2540)
    assert answer("three-wires", thread="M8")["Wire reckoned with"].value == 721_688


def test_infeed_with_passes() -> None:
    found = answer("thread-infeed", thread="1/2-13", passes="3")
    assert found["Depth along the compound slide"].value == pytest.approx(parse_length("0.05422 in"), abs=2540)
    assert found["Compound after pass 3"].value == found["Depth along the compound slide"].value
    assert "Compound after pass 1" not in answer("thread-infeed", thread="1/2-13")


def test_engagement_against_a_clamp_load() -> None:
    typed = {"thread": "M8", "bolt_strength_n_per_mm2": "800", "nut_strength_n_per_mm2": "300"}
    assert "What gives way first" not in answer("thread-engagement", **typed)
    found = answer("thread-engagement", **typed, length_nm="10", clamp_n="15000")
    assert found["What gives way first"].value == "the nut's thread strips"
    strips = found["The nut's thread strips at"].value
    assert isinstance(strips, float)
    assert found["Weakest against the clamp load"].value == pytest.approx(strips / 15)
    assert BY_ID["thread-engagement"].caution


def test_drill_sizes_with_their_neighbours() -> None:
    found = answer("drill-sizes", drill="#7")
    assert found["Diameter"].value == parse_length("0.201 in")
    assert {"#8", "5.1 mm", "#7", "13/64", "#6", "5.2 mm"} < set(found)


@pytest.mark.parametrize(
    ("page", "typed", "field"),
    [
        ("thread-limits", {"thread": "M8×1"}, "thread"),
        ("thread-limits", {"thread": "M8-6g", "side": "internal"}, "thread"),
        ("tap-drill", {"thread": "steel"}, "thread"),
        ("tap-drill", {"thread": "M8", "percent": "0"}, "percent"),
        ("thread-percent", {"thread": "M8", "drill": "9.0"}, "drill"),
        ("thread-percent", {"thread": "M8", "drill": "7"}, "drill"),
        ("three-wires", {"thread": "M8-6H"}, "thread"),
        ("three-wires", {"thread": "M8", "wire_nm": "2"}, "wire_nm"),
        ("pitch-diameter", {"thread": "M8", "wire_nm": "0.72", "over_wires_nm": "2"}, "over_wires_nm"),
        ("thread-infeed", {"thread": "M8", "compound_deg": "45"}, "compound_deg"),
        ("thread-infeed", {"thread": "10-12"}, "thread"),
        (
            "thread-engagement",
            {"thread": "M8", "bolt_strength_n_per_mm2": "800", "nut_strength_n_per_mm2": "300", "clamp_n": "9"},
            "length_nm",
        ),
        ("drill-sizes", {"drill": "#98"}, "drill"),
    ],
)
def test_what_a_page_cannot_take_is_told_at_its_own_input(page: str, typed: dict[str, str], field: str) -> None:
    assert field in {each.name for each in BY_ID[page].inputs}
    with pytest.raises(CannotAnswer) as caught:
        BY_ID[page].answer(typed)
    assert [problem.field for problem in caught.value.problems] == [field]
