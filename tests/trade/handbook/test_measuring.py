"""Every handbook page on measuring and setting out: checked by hand, and never worse than a refusal."""

from __future__ import annotations

import re

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from server.trade.handbook.calculation import Calculation, CannotAnswer
from server.trade.handbook.measuring import CALCULATIONS

BY_ID = {each.id: each for each in CALCULATIONS}
REST = {
    "reading-uncertainty": {"readings_nm": "31.782"},
    "comparison": {"readings_nm": "0.001 0.002 0.001"},
    "conformity": {"low_nm": "10", "high_nm": "10.015"},
    "gauge-study": {"readings_nm": "10 10.01 10.02 10.001 10.012 10.021", "parts": "3"},
    "gauge-bias": {"readings_nm": "6.001 6.002 6.0005", "reference_nm": "6"},
    "virtual-condition": {"maximum_material_nm": "10", "tolerance_nm": "0.2"},
}


def _answer(which: str, **typed: str) -> dict[str, int | float | str]:
    return {output.label: output.value for output in BY_ID[which].answer(typed)}


def _refusal(which: str, **typed: str) -> list[str]:
    with pytest.raises(CannotAnswer) as refused:
        BY_ID[which].answer(typed)
    return [problem.field for problem in refused.value.problems]


@pytest.mark.parametrize("page", CALCULATIONS, ids=[each.id for each in CALCULATIONS])
def test_page_answers_with_its_defaults(page: Calculation) -> None:
    typed = REST.get(page.id, {}) | ({"prior_s_nm": "0.001"} if page.id == "reading-uncertainty" else {})
    outputs = page.answer(typed)
    assert outputs
    for output in outputs:
        assert output.kind != "length" or type(output.value) is int


@pytest.mark.parametrize("page", CALCULATIONS, ids=[each.id for each in CALCULATIONS])
def test_page_says_formula_and_source(page: Calculation) -> None:
    assert page.formula
    assert page.source
    assert page.asks.endswith("?")
    assert re.fullmatch(r"[a-z0-9]+(-[a-z0-9]+)*", page.id)


def test_no_page_is_there_twice() -> None:
    assert len(BY_ID) == len(CALCULATIONS)


TYPED = st.one_of(
    st.text(max_size=12),
    st.sampled_from(["", "0", "-1", "1e9", "nan", ";", "1 2 3", "999 km", "1000000 mm", "-60", "0.000001", "½", "60"]),
    st.floats(-1e4, 1e4).map(lambda x: f"{x:.4f}"),
    st.lists(st.integers(-100, 100), max_size=12).map(lambda values: " ".join(map(str, values))),
)


@pytest.mark.parametrize("page", CALCULATIONS, ids=[each.id for each in CALCULATIONS])
@given(data=st.data())
@settings(max_examples=40)
def test_whatever_is_typed_is_answered_or_refused(page: Calculation, data: st.DataObject) -> None:
    typed = dict(REST.get(page.id, {}))
    for each in page.inputs:
        if data.draw(st.booleans()):
            typed[each.name] = data.draw(st.sampled_from(each.choices) if each.choices else TYPED)
    outcome: object
    try:
        outcome = page.answer(typed, data.draw(st.sampled_from(["mm", "in"])))
    except CannotAnswer as refused:
        outcome = refused.problems
    assert outcome


def test_warm_aluminium_by_hand() -> None:
    """100 mm × 23.3e-6 × 8 °C = 18.64 µm; ± 0.8e-6 gives ± 0.64 µm."""
    found = _answer("thermal-growth", material="aluminium alloy")
    assert (found["Growth"], found["Growth, give or take"]) == (18_640, 640)


def test_correction_and_the_reading_to_work_to_undo_each_other() -> None:
    where = {"part_material": "brass", "part_c": "30", "gauge_c": "25"}
    size = _answer("thermal-correction", reading_nm="50", **where)["Size at 20 °C"]
    found = _answer("warm-reading", size_at_reference_nm=f"{int(size) / 1e6}", **where)
    assert found["Reading to work to"] == 50_000_000


def test_lone_reading_asks_for_the_gauges_repeatability() -> None:
    assert _refusal("reading-uncertainty", readings_nm="31.782") == ["readings_nm"]
    found = _answer("reading-uncertainty", readings_nm="31.782", prior_s_nm="0.001")
    assert found["Size at 20 °C"] == 31_782_000


def test_comparison_by_hand() -> None:
    """GUM H.1: 50.000623 + 0.000215 = 50.000838 mm."""
    found = _answer("comparison", standard_nm="50.000623", readings_nm="0.000215 0.000215")
    assert found["Size at 20 °C"] == 50_000_838


def test_conformity_by_hand() -> None:
    """Limits 10.000 and 10.015, x 10.013, U 0.004 (k = 2): p = 84.13 %, one-sided guard band 1.645 × 2 µm."""
    found = _answer("conformity", **REST["conformity"])
    assert found["Verdict"] == "too close to call"
    assert found["Probability of being inside"] == pytest.approx(84.13, abs=0.01)
    assert found["Proved good up to"] == 10_015_000 - 3_290


def test_conformity_with_one_limit_shows_one_edge() -> None:
    found = _answer("conformity", high_nm="10.015")
    assert "Proved good from" not in found
    assert "Proved good up to" in found
    assert _refusal("conformity") == ["low_nm"]


def test_negative_uncertainty_is_refused_in_words_of_lengths() -> None:
    with pytest.raises(CannotAnswer, match="a length of 0 or more"):
        BY_ID["conformity"].answer({"expanded_nm": "-0.001", "low_nm": "1"})


def test_gauge_study_reads_a_form_line_by_line() -> None:
    """Three parts measured twice, all parts in a row each time: differences 1, 2 and 1 µm, R̄ K1 = 4/3 × 0.8862 µm."""
    found = _answer("gauge-study", method="average and range", **REST["gauge-study"])
    assert found["Repeatability EV"] == pytest.approx(4_000 / 3 * 0.8862, abs=1)
    assert "Reproducibility AV" not in found


def test_gauge_study_that_does_not_share_out_is_refused() -> None:
    assert _refusal("gauge-study", readings_nm="1 2 3 4 5", parts="3") == ["readings_nm"]


def test_bonus_asks_for_what_it_needs() -> None:
    assert _refusal("position", feature="hole", low_nm="10", high_nm="10.05") == ["actual_nm"]
    found = _answer("position", feature="hole", low_nm="10", high_nm="10.05", actual_nm="10.02")
    assert (found["Bonus"], found["Allowed"], found["Holds"]) == (20_000, 220_000, "yes")


def test_sine_bar_by_hand() -> None:
    assert _answer("sine-bar-stack")["Stack"] == 63_500_000
    assert _answer("sine-bar-angle")["Angle"] == "30° 00′ 00″"


def test_bolt_circle_lists_every_hole() -> None:
    found = _answer("bolt-circle", holes="4", centre_x_nm="10")
    assert list(found) == [f"Hole {n} {axis}" for n in range(1, 5) for axis in "XY"]
    assert (found["Hole 1 X"], found["Hole 2 Y"]) == (60_000_000, 50_000_000)


def test_spacing_over_pins() -> None:
    found = _answer("hole-spacing", pin_nm="8")
    assert (found["Over two pins"], found["Between two pins"]) == (58_000_000, 42_000_000)
