"""Weights of bar and blanks from a bar."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from server.trade.errors import Impossible, OutOfRange
from server.trade.stock import bars_for, blanks_from_bar, mass_kg, section_area_mm2

MM = 1_000_000
sizes = st.integers(MM, 200 * MM)


def test_a_metre_of_ten_millimetre_round_steel_weighs_0_617_kg() -> None:
    # merchant's tables, from memory
    assert mass_kg(section_area_mm2("round", 10 * MM), 1000 * MM, 7.85) == pytest.approx(0.617, abs=5e-4)


def test_hexagon_steel_of_24_weighs_3_92_kg_a_metre() -> None:
    # merchant's tables, from memory
    assert mass_kg(section_area_mm2("hexagon", 24 * MM), 1000 * MM, 7.85) == pytest.approx(3.92, abs=5e-3)


@given(sizes)
def test_sections_of_one_size_lie_in_order(size: int) -> None:
    areas = [section_area_mm2(section, size) for section in ("round", "hexagon", "square")]
    assert areas == sorted(areas)
    assert section_area_mm2("flat", size, size) == pytest.approx(areas[2])


@given(sizes, st.floats(0.01, 0.5))
def test_a_tube_is_a_round_less_its_bore(size: int, share: float) -> None:
    wall = max(1, int(size * share))
    bore = (size - 2 * wall) / 1e6
    expected = section_area_mm2("round", size) - math.pi / 4 * bore * bore
    assert section_area_mm2("tube", size, wall) == pytest.approx(expected)


@given(st.integers(100 * MM, 6000 * MM), st.integers(MM, 90 * MM), st.integers(0, 5 * MM), st.integers(0, MM))
def test_blanks_cuts_and_drop_make_up_the_bar_and_one_more_would_not_fit(
    bar: int, finished: int, saw: int, facing: int
) -> None:
    plan = blanks_from_bar(bar, finished, saw, facing)
    used = plan.count * plan.cut_length_nm
    assert plan.cut_length_nm == finished + 2 * facing
    assert used + (plan.count - 1) * saw <= bar
    assert used + plan.cut_length_nm + plan.count * saw > bar
    if plan.drop_nm:
        assert used + plan.count * saw + plan.drop_nm == bar


@given(st.integers(200 * MM, 6000 * MM), st.integers(MM, 90 * MM), st.integers(0, 5 * MM), st.integers(1, 90 * MM))
def test_the_end_that_is_kept_is_in_the_drop(bar: int, finished: int, saw: int, kept: int) -> None:
    plan = blanks_from_bar(bar, finished, saw, kept_nm=kept)
    assert plan.drop_nm >= kept
    assert plan.count * (finished + saw) + plan.drop_nm == bar
    assert plan.drop_nm - kept < finished + saw


def test_an_exact_bar_needs_no_last_cut() -> None:
    assert blanks_from_bar(92 * MM, 30 * MM, MM).count == 3
    assert blanks_from_bar(92 * MM, 30 * MM, MM).drop_nm == 0
    assert blanks_from_bar(92 * MM - 1, 30 * MM, MM).count == 2


def test_facing_comes_off_both_ends() -> None:
    assert blanks_from_bar(100 * MM, 18 * MM, 0, MM).count == 5


@given(st.integers(1, 60), st.integers(100 * MM, 3000 * MM), st.integers(MM, 90 * MM), st.integers(0, 3 * MM))
def test_bars_needed_are_enough_and_not_one_too_many(count: int, bar: int, finished: int, saw: int) -> None:
    need = bars_for(count, bar, finished, saw)
    each = blanks_from_bar(bar, finished, saw).count
    assert (need.bars - 1) * each < count <= need.bars * each
    assert len(need.drops_nm) == need.bars
    assert need.drops_nm[-1] >= need.drops_nm[0]


def test_the_last_bar_is_cut_no_further_than_needed() -> None:
    assert bars_for(4, 100 * MM, 30 * MM, 2 * MM).drops_nm == (4 * MM, 68 * MM)


def test_a_bar_too_short_says_what_it_takes() -> None:
    with pytest.raises(Impossible, match=r"32 mm .* or more"):
        blanks_from_bar(31 * MM, 30 * MM, 0, MM)
    with pytest.raises(Impossible, match=r"44 mm .* or more"):
        blanks_from_bar(43 * MM, 30 * MM, 2 * MM, MM, 10 * MM)


def test_figures_that_make_no_stock_are_refused() -> None:
    for refused in (
        lambda: section_area_mm2("round", 0),
        lambda: section_area_mm2("flat", MM, 0),
        lambda: mass_kg(1, 0, 7.85),
        lambda: mass_kg(1, MM, 0),
        lambda: blanks_from_bar(0, MM),
        lambda: blanks_from_bar(MM, 0),
    ):
        with pytest.raises(OutOfRange, match="more than 0"):
            refused()
    for refused in (
        lambda: blanks_from_bar(MM, MM, -1),
        lambda: blanks_from_bar(MM, MM, 0, -1),
        lambda: blanks_from_bar(MM, MM, 0, 0, -1),
    ):
        with pytest.raises(OutOfRange, match="0 or more"):
            refused()
    with pytest.raises(OutOfRange, match="1 or more"):
        bars_for(0, MM, MM)
    with pytest.raises(OutOfRange, match="round, square"):
        section_area_mm2("oval", MM)  # type: ignore[arg-type]


def test_a_second_size_is_asked_for_where_it_belongs_and_only_there() -> None:
    with pytest.raises(Impossible, match="wall of a tube"):
        section_area_mm2("tube", MM)
    with pytest.raises(Impossible, match="one size"):
        section_area_mm2("round", MM, MM)
    with pytest.raises(Impossible, match="half the diameter"):
        section_area_mm2("tube", 10 * MM, 6 * MM)
