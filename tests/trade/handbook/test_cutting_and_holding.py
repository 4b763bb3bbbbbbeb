"""The handbook pages on cutting, loads, holding, tapers and stock: each answers, or refuses a field of its own."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence

import pytest

from server.trade.errors import TradeError
from server.trade.handbook import cutting, cutting_loads, holding, stock_and_tapers
from server.trade.handbook.calculation import Calculation, CannotAnswer, Output

ALL = [*cutting.CALCULATIONS, *cutting_loads.CALCULATIONS, *holding.CALCULATIONS, *stock_and_tapers.CALCULATIONS]
BY_ID = {each.id: each for each in ALL}
MM, IN = 1_000_000, 25_400_000


def answer(calculation: str, **typed: str) -> dict[str, Output]:
    """The first answer under each label."""
    found: dict[str, Output] = {}
    for each in BY_ID[calculation].answer(typed):
        found.setdefault(each.label, each)
    return found


def fields(refusal: pytest.ExceptionInfo[CannotAnswer]) -> list[str]:
    return [problem.field for problem in refusal.value.problems]


def test_no_two_pages_have_one_address() -> None:
    assert len(BY_ID) == len(ALL)


@pytest.mark.parametrize("page", ALL, ids=BY_ID)
def test_a_page_opens_with_an_answer_that_is_finite_and_tells_its_source(page: Calculation) -> None:
    assert page.source
    assert page.formula
    metric, inch = page.answer({}, "mm"), page.answer({}, "in")
    assert metric == inch  # defaults carry their unit
    assert 1 <= len(metric) <= 10
    for each in metric:
        if each.kind == "length":
            assert isinstance(each.value, int)
        elif each.kind == "number":
            assert math.isfinite(float(each.value))


def odd_answers(page: Calculation) -> Iterator[tuple[Sequence[Output], list[TradeError]]]:
    """What the page says to each odd thing typed in each of its fields: the answer, and the problems."""
    for entry in page.inputs:
        for text in ("0", "-1", "nonsense", "1e12", "179.9", "1000 mm", "0.000001", "5 in"):
            try:
                yield page.answer({entry.name: text}), []
            except CannotAnswer as refusal:
                yield (), refusal.problems


@pytest.mark.parametrize("page", ALL, ids=BY_ID)
def test_whatever_is_typed_in_one_field_is_answered_or_refused_by_a_field_of_the_page(page: Calculation) -> None:
    names = {entry.name for entry in page.inputs}
    refused = 0
    for outputs, problems in odd_answers(page):
        assert all(each.kind == "text" or math.isfinite(float(each.value)) for each in outputs)
        assert {problem.field for problem in problems} <= names
        assert all(problem.accepts for problem in problems)
        refused += bool(problems)
    assert refused >= len(names)  # nonsense, at least, is refused in every field that is not free


@pytest.mark.parametrize(
    "page",
    ["spindle-speed", "starting-speed", "milling-power", "bolt-torque", "bolt-tension", "strap-clamp", "holding-force"],
)
def test_a_page_that_could_hurt_carries_a_caution(page: str) -> None:
    assert BY_ID[page].caution


def test_five_flutes_at_3200_and_ten_inches_take_five_eighths_of_a_thou() -> None:
    # common practice, no source
    got = answer("feed-per-tooth", rpm="3200", flutes="5", feed_nm_per_min="10 in")
    assert got["Feed a tooth"].value == 15_875  # 0.000625 in


def test_a_capped_spindle_says_what_was_wanted_and_what_is_reached_and_feeds_accordingly() -> None:
    got = answer(
        "spindle-speed",
        speed="100",
        speed_unit="ft/min",
        diameter_nm="1/16 in",
        highest_rpm="5000",
        flutes="2",
        feed_per_tooth_nm="0.0005 in",
    )
    assert got["Spindle speed"].value == 5000
    assert got["Wanted"].value == pytest.approx(6111.5, abs=0.1)
    assert got["Speed then reached"].value == pytest.approx(81.8 * 0.3048, abs=0.02)
    assert got["Table feed, a minute"].value == 5 * IN


def test_a_feed_without_flutes_is_asked_for() -> None:
    with pytest.raises(CannotAnswer) as refusal:
        answer("spindle-speed", feed_per_tooth_nm="0.01 mm")
    assert fields(refusal) == ["flutes"]


def test_a_wide_cut_leaves_out_the_form_that_does_not_hold() -> None:
    got = answer("chip-thinning", width_nm="8 mm", diameter_nm="10 mm")
    assert "Feed a tooth, mean" in got
    assert "Feed a tooth, mean, small widths" not in got


def test_an_inch_bolt_gets_its_torque() -> None:
    # computed: 1/2-13 grade 5, 0.1419 in², 85 ksi, 75 %, K 0.2: 75.4 lbf·ft
    torque = [
        each
        for each in BY_ID["bolt-torque"].answer(
            {
                "diameter_nm": "1/2 in",
                "pitch": "13",
                "pitch_kind": "threads to the inch",
                "strength_class": "grade 5",
                "surface": "plain steel, dry",
            }
        )
        if each.unit == "lbf·ft"
    ]
    assert torque[0].value == pytest.approx(75.4, abs=0.1)


def test_a_pitch_too_coarse_is_refused_in_the_field_it_was_typed_in() -> None:
    with pytest.raises(CannotAnswer) as refusal:
        answer("stress-area", diameter_nm="2 mm", pitch="1.25")
    assert fields(refusal) == ["pitch"]


def test_both_high_strength_formulas_are_shown_side_by_side() -> None:
    got = answer(
        "stress-area",
        diameter_nm="1/2 in",
        pitch="13",
        pitch_kind="threads to the inch",
        least_pitch_diameter_nm="0.4435 in",
    )
    assert got["Stress area"].value == pytest.approx(0.1419 * 645.16, rel=5e-4)
    assert got["By least pitch diameter"].value == pytest.approx(0.13757 * 645.16, rel=1e-4)
    with pytest.raises(CannotAnswer) as refusal:
        answer("stress-area", least_pitch_diameter_nm="7 mm")
    assert fields(refusal) == ["least_pitch_diameter_nm"]


def test_packing_says_how_far_out_of_level_the_work_stays() -> None:
    got = answer("packing", thick_nm="25 mm", thin_nm="20 mm", available_nm="4.9mm 3mm", span_nm="200 mm")
    assert got["Off"].value == -100_000
    assert got["Out of level in 100 mm"].value == -50_000


def test_a_thin_end_thicker_than_the_thick_one_is_refused() -> None:
    with pytest.raises(CannotAnswer) as refusal:
        answer("packing", thick_nm="20 mm", thin_nm="25 mm")
    assert fields(refusal) == ["thin_nm"]


def test_chips_thinner_than_the_trials_are_told() -> None:
    assert "more force" in answer("milling-power")["Chip thickness"].note
    assert answer("turning-power")["Chip thickness"].note == ""


def test_a_taper_reads_the_same_from_its_ratio_its_foot_and_its_angle() -> None:
    angles = [
        answer("taper", taper="20", taper_kind="1:n"),
        answer("taper", taper="0.6", taper_kind="in/ft"),
        answer("taper", taper="2.8641923683", taper_kind="included °"),
    ]
    assert {each["Change of diameter"].value for each in angles} == {2 * MM}


def test_a_taper_found_from_its_sizes_gives_them_back() -> None:
    assert answer("taper-of-sizes")["Taper 1 :"].value == pytest.approx(20)
    assert answer("taper", large_nm="20 mm")["Small diameter"].value == 18 * MM
    with pytest.raises(CannotAnswer) as refusal:
        answer("taper-of-sizes", small_nm="21 mm")
    assert fields(refusal) == ["small_nm"]


def test_a_wedge_works_both_ways() -> None:
    assert answer("wedge")["Slide it by"].value == 3 * MM
    back = answer("wedge", amount_nm="3 mm", given="how far it slides")
    assert back["Takes up"].value == 50_000
    by_angle = answer("wedge", wedge="5", wedge_kind="degrees", amount_nm="3 mm", given="how far it slides")
    assert by_angle["Takes up"].value == pytest.approx(262_466, abs=1)


def test_blanks_for_an_order_are_counted_in_bars() -> None:
    got = answer("blanks", count="31")
    assert got["Blanks from a bar"].value == 15
    assert got["Bars"].value == 3
    assert got["Left of the last bar"].value == 934 * MM
