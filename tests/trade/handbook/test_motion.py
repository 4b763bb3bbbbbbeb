"""The handbook pages on coupled cranks: each answers in a few lines, or refuses a field of its own."""

from __future__ import annotations

import math
from collections.abc import Sequence

import pytest

from server.trade.errors import TradeError
from server.trade.handbook.book import calculation
from server.trade.handbook.calculation import Calculation, CannotAnswer, Output
from server.trade.handbook.motion import CALCULATIONS

PERFECT = {
    "near_centres": "120",
    "near_rod": "120",
    "far_centres": "120",
    "far_rod": "120",
    "quartering_deg": "0",
    **{f"{side}_rod_clearance_{shaft}": "0.01" for side in ("near", "far") for shaft in (1, 2)},
}


def answer(page: str, **typed: str) -> dict[str, Output]:
    return {each.label: each for each in calculation(page).answer({**PERFECT, **typed})}


@pytest.mark.parametrize("page", CALCULATIONS, ids=lambda page: page.id)
def test_a_page_opens_with_an_answer_of_a_few_lines(page: Calculation) -> None:
    metric, inch = page.answer({}, "mm"), page.answer({}, "in")
    assert metric == inch  # defaults carry their unit
    assert 4 <= len(metric) <= 10
    assert len({each.label for each in metric}) == len(metric)
    assert "never under power" in page.caution
    assert "film of oil" in page.caution
    assert page.source
    assert page.formula


@pytest.mark.parametrize("page", CALCULATIONS, ids=lambda page: page.id)
def test_whatever_is_typed_in_one_field_is_answered_or_refused_by_a_field_of_the_page(page: Calculation) -> None:
    names = {entry.name for entry in page.inputs}
    odd = ("0", "-1", "nonsense", "1e12", "179.9", "1000 mm", "0.000001", "5 in", "118.5 mm", "21.9 mm")
    refused = set()
    for entry in page.inputs:
        for text in odd:
            outputs, problems = said(page, {entry.name: text})
            assert all(each.kind == "text" or math.isfinite(float(each.value)) for each in outputs)
            assert {problem.field for problem in problems} <= names
            assert all(problem.accepts for problem in problems)
            refused |= {entry.name} if problems else set()
    assert refused == names


def said(page: Calculation, typed: dict[str, str]) -> tuple[Sequence[Output], list[TradeError]]:
    try:
        return page.answer(typed), []
    except CannotAnswer as refusal:
        return (), refusal.problems


def test_a_perfect_set_has_its_clearance_to_spare_all_round() -> None:
    got = answer("turn-over")
    assert got["The set"].value == "turns"
    assert got["Least spare clearance"].value == 10_000
    assert got["At near crank angles"].value == "all round"
    assert not any(label.startswith(("Taken", "There", "One")) for label in got)


def test_a_short_near_rod_binds_at_its_own_dead_centres_and_is_told_what_it_lacks() -> None:
    got = answer("turn-over", near_rod="119.96")
    assert got["The set"].value == "binds"
    assert got["Least spare clearance"].value == -30_000
    assert got["At near crank angles"].value == "0°; 180°"
    assert got["There bind"].value == "near side: near 100 %, far 0 %"
    assert got["Taken by near rod against shaft centres"].value == pytest.approx(40.0)
    assert got["One bore opened alone"].value == 60_000
    assert got["One bore opened alone"].note.startswith("near rod")
    assert got["One rod longer by"].value == pytest.approx(40_000, abs=1)


def test_both_rods_short_are_freed_by_no_one_bore_and_no_one_rod() -> None:
    got = answer("turn-over", near_rod="119.96", far_rod="119.96")
    assert got["There bind"].value == "both sides against each other: near 50 %, far 50 %"
    assert got["One bore opened alone"].value == "no single bore frees it"
    assert got["One rod made otherwise"].value == "no single rod frees it"
    assert got["At near crank angles"].value == "90° to 180°; 270° to 0°"


def test_quartering_counts_as_one_cause() -> None:
    # computed: R dq/(2√2), 20 mm and 0.2°
    got = answer("turn-over", quartering_deg="0.2")
    assert got["Taken by quartering"].value == pytest.approx(24.7, abs=0.1)
    assert got["Least spare clearance"].value == pytest.approx(-14_700, abs=30)


def test_play_of_the_shafts_counts_as_clearance() -> None:
    got = answer("turn-over", near_rod="119.96", near_shaft_clearance_1="0.03", near_shaft_clearance_2="0.03")
    assert got["The set"].value == "turns"
    assert got["Least spare clearance"].value == pytest.approx(0, abs=1)


def test_the_second_side_goes_on_between_where_both_rods_are_short() -> None:
    got = answer("second-side", near_rod="119.98", far_rod="119.98")
    arcs = str(got["Second side slips on at near crank angles"].value)
    assert arcs.count("to") == 2
    assert got["Best at"].value == pytest.approx(45.0)
    assert got["To spare there"].value == 10_000
    assert got["First side alone can be turned"].value == "only between its dead centres"
    assert got["Over its dead centre at 0°"].value == -10_000
    far = answer("second-side", near_rod="119.98", far_rod="119.98", first="far")
    assert far["Second side slips on at near crank angles"].value == arcs
    assert "Over its dead centre at 90°" in far


def test_a_second_side_that_goes_on_nowhere_is_told_so() -> None:
    got = answer("second-side", near_throw_2="20.2", far_throw_2="20.2")
    assert got["Second side slips on at near crank angles"].value == "nowhere"
    assert int(got["To spare there"].value) < 0


def test_sides_in_line_are_refused_at_the_angle() -> None:
    with pytest.raises(CannotAnswer, match="in line") as refusal:
        answer("turn-over", between_sides_deg="180")
    assert [each.field for each in refusal.value.problems] == ["between_sides_deg"]


def test_a_rod_that_closes_nowhere_is_refused_at_the_rod() -> None:
    with pytest.raises(CannotAnswer, match="closes at no angle") as refusal:
        answer("turn-over", far_rod="70")
    assert [each.field for each in refusal.value.problems] == ["far_rod_nm"]
