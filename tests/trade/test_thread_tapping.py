from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from server.trade.errors import Impossible, OutOfRange, TradeError
from server.trade.thread_designation import thread_limits
from server.trade.thread_form import basic_minor_diameter_nm
from server.trade.thread_tapping import METHODS, Method, tap_drill_nm, tap_drills, thread_percent

methods = st.sampled_from(METHODS)
# diameter and pitch, the pitch well under what the diameter allows
pairs = st.tuples(st.integers(1_000_000, 60_000_000), st.integers(5, 40)).map(lambda p: (p[0], p[0] * p[1] // 100))


@given(pairs, st.floats(1, 120), methods)
def test_percentage_and_drill_undo_each_other(pair: tuple[int, int], percent: float, method: Method) -> None:
    hole_nm = tap_drill_nm(*pair, percent, method)
    assert thread_percent(*pair, hole_nm, method) == pytest.approx(percent, abs=0.002)  # the hole is whole nanometres


@given(pairs, st.floats(0.001, 0.999), methods)
def test_drill_and_percentage_undo_each_other(pair: tuple[int, int], part: float, method: Method) -> None:
    nominal_nm, pitch_nm = pair
    hole_nm = nominal_nm - max(1, int(part * pitch_nm))
    assert abs(tap_drill_nm(*pair, thread_percent(*pair, hole_nm, method), method) - hole_nm) <= 1


@given(pairs, st.floats(1, 119), st.floats(0.1, 1), methods)
def test_more_thread_takes_a_smaller_drill(pair: tuple[int, int], percent: float, more: float, method: Method) -> None:
    assert tap_drill_nm(*pair, percent + more, method) < tap_drill_nm(*pair, percent, method)


@given(pairs, st.floats(0.001, 0.999))
def test_the_two_definitions_differ_by_a_fifth(pair: tuple[int, int], part: float) -> None:
    hole_nm = pair[0] - max(1, int(part * pair[1]))
    by_1299, by_10825 = (thread_percent(*pair, hole_nm, method) for method in METHODS)
    assert by_10825 == pytest.approx(1.2 * by_1299)


@given(pairs)
def test_all_of_the_basic_height_is_the_basic_minor_diameter(pair: tuple[int, int]) -> None:
    assert abs(tap_drill_nm(*pair, 100, "1.0825P") - basic_minor_diameter_nm(*pair)) <= 1


def test_the_drills_offered_come_nearest_first_with_both_percentages() -> None:
    found = tap_drills(6_350_000, 1_270_000, 75)
    assert [choice.drill.name for choice in found] == ["#7", "5.1 mm", "13/64", "#6"] or found[0].drill.name == "#7"
    assert found[0].percent_by_1299 == pytest.approx(75.4, abs=0.05)
    assert found[0].percent_by_10825 == pytest.approx(90.5, abs=0.05)


def test_drills_may_be_chosen_from_some_gauges_only() -> None:
    found = tap_drills(8_000_000, 1_250_000, 75, kinds=("metric",), each_side=1)
    assert [choice.drill.name for choice in found] == ["6.8 mm", "6.75 mm"]


def test_a_common_drill_lies_within_the_class_of_its_thread() -> None:
    inner = thread_limits("M8-6H")
    hole_nm = tap_drills(8_000_000, 1_250_000, 75, kinds=("metric",), each_side=1)[0].drill.diameter_nm
    assert inner.minor_low_nm is not None
    assert inner.minor_high_nm is not None
    assert inner.minor_low_nm <= hole_nm <= inner.minor_high_nm


@pytest.mark.parametrize(
    ("nominal", "pitch", "percent", "method", "error", "says"),
    [
        (0, 1_000_000, 75, "1.299P", OutOfRange, "above 0"),
        (8_000_000, 0, 75, "1.299P", OutOfRange, "above 0"),
        (8_000_000, -1, 75, "1.299P", OutOfRange, "above 0"),
        (8_000_000, 5_000_000, 75, "1.299P", Impossible, "up to 3.695 mm"),
        (8_000_000, 1_000_000, 0, "1.299P", OutOfRange, "120 %"),
        (8_000_000, 1_000_000, -5, "1.299P", OutOfRange, "120 %"),
        (8_000_000, 1_000_000, 121, "1.299P", OutOfRange, "120 %"),
        (8_000_000, 1_000_000, float("nan"), "1.299P", OutOfRange, "120 %"),
        (8_000_000, 1_000_000, 75, "1.3P", OutOfRange, "1.299P or 1.0825P"),
    ],
)
def test_what_cannot_be_is_told_with_its_range(
    nominal: int, pitch: int, percent: float, method: Method, error: type[TradeError], says: str
) -> None:
    with pytest.raises(error, match=says):
        tap_drill_nm(nominal, pitch, percent, method)


def test_a_hole_as_large_as_the_thread_leaves_nothing() -> None:
    with pytest.raises(Impossible, match="less than 8 mm"):
        thread_percent(8_000_000, 1_000_000, 8_000_000)
    with pytest.raises(OutOfRange, match="more than 0"):
        thread_percent(8_000_000, 1_000_000, 0)
