"""The next move, in the words shown at the machine."""

from __future__ import annotations

import pytest

from server.rules.facts import LimitFacts
from server.rules.next_move import NextMove, next_move, shown
from server.rules.verdict import judge
from server.trade.length import NM_PER_IN, Unit, parse_length

SHAFT = LimitFacts(20_000_000, 19_980_000, 20_000_000, "smaller")
BORE = LimitFacts(25_000_000, 25_000_000, 25_021_000, "larger")
POSITION = LimitFacts(10_000_000, 9_950_000, 10_050_000, "neither")
AT_MOST = LimitFacts(None, None, 8_000_000, "smaller", "at most")
AT_LEAST = LimitFacts(None, 3_000_000, None, "larger", "at least")
REFERENCE = LimitFacts(30_000_000, None, None, "smaller", "reference")
ACCEPT_OR_SCRAP = "Accept the deviation with a reason, or scrap the piece."


def move(name: str, value: str, limits: LimitFacts, operation: int | None = 40, unit: Unit = "mm") -> NextMove:
    nm = parse_length(value, unit)
    return next_move(name, nm, limits, judge(nm, limits), operation, unit)


@pytest.mark.parametrize(
    ("name", "value", "limits", "operation", "sentence", "take"),
    [
        (
            "the journal",
            "20.042",
            SHAFT,
            40,
            "0.042 left: run op 40 again; to the middle of the limits takes 0.052 off the journal.",
            52_000,
        ),
        (
            "the journal",
            "20.042",
            SHAFT,
            None,
            "0.042 left: cut it again; to the middle of the limits takes 0.052 off the journal.",
            52_000,
        ),
        (
            "the bore",
            "24.95",
            BORE,
            10,
            "0.050 left: run op 10 again; opening the bore by 0.060 brings it to the middle of its limits.",
            60_500,
        ),
        ("the bore", "25.0105", BORE, 10, "the bore is good, in the middle of its limits.", None),
        ("the bore", "25.015", BORE, 10, "the bore is good, 0.004 above the middle of its limits.", None),
        ("the bore", "25", BORE, 10, "the bore is good, 0.010 below the middle of its limits.", None),
        (
            "the bore",
            "25.03",
            BORE,
            10,
            "the bore is 0.009 past its highest limit; cutting again cannot bring it in. " + ACCEPT_OR_SCRAP,
            None,
        ),
        (
            "the journal",
            "19.97",
            SHAFT,
            40,
            "the journal is 0.010 past its lowest limit; cutting again cannot bring it in. " + ACCEPT_OR_SCRAP,
            None,
        ),
        (
            "the hole",
            "10.1",
            POSITION,
            30,
            "the hole is 0.050 past its highest limit; cutting does not change it. " + ACCEPT_OR_SCRAP,
            None,
        ),
        ("the web", "8.2", AT_MOST, 40, "0.200 left: run op 40 again; the limit is at least 0.200 away.", 200_000),
        ("the web", "7", AT_MOST, 40, "the web is good.", None),
        ("the slot", "2.9", AT_LEAST, 40, "0.100 left: run op 40 again; the limit is at least 0.100 away.", 100_000),
        ("the length", "31", REFERENCE, 40, "the length is for reference: nothing judges it.", None),
    ],
)
def test_the_move_is_said_in_one_sentence(
    name: str, value: str, limits: LimitFacts, operation: int | None, sentence: str, take: int | None
) -> None:
    assert move(name, value, limits, operation) == NextMove(sentence, take)


def test_the_same_move_in_inches() -> None:
    shaft = LimitFacts(NM_PER_IN, NM_PER_IN - 25_400, NM_PER_IN, "smaller")
    assert move("the journal", "1.002", shaft, unit="in").sentence == (
        "0.0020 left: run op 40 again; to the middle of the limits takes 0.0025 off the journal."
    )


@pytest.mark.parametrize(("unit", "least"), [("mm", "0.001"), ("in", "0.0001")])
def test_an_amount_too_small_for_the_figures_shown_is_not_said_to_be_nothing(unit: Unit, least: str) -> None:
    limits = LimitFacts(20_000_000, 19_980_000, 20_000_000, "smaller")

    def said(nm: int) -> str:
        return next_move("it", nm, limits, judge(nm, limits), 40, unit).sentence

    assert said(20_000_001).startswith(f"less than {least} left: run op 40 again")
    assert said(19_979_999).startswith(f"it is less than {least} past its lowest limit")
    assert said(19_990_001) == f"it is good, less than {least} above the middle of its limits."
    assert said(19_990_000) == "it is good, in the middle of its limits."


def test_what_is_to_be_taken_brings_the_size_to_the_middle() -> None:
    found = move("it", "20.3", SHAFT)
    assert found.take_nm is not None
    assert judge(20_300_000 - found.take_nm, SHAFT).to_middle_nm == 0


@pytest.mark.parametrize(("unit", "text"), [("mm", "25.010"), ("in", "0.98465")])
def test_a_size_is_shown_to_the_last_figure_of_a_micrometer(unit: Unit, text: str) -> None:
    assert shown(25_010_000, unit) == text
