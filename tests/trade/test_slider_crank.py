"""End clearances: cases computed for this project, and the pose of the mechanism all the way round."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from server.trade.errors import Impossible, OutOfRange, TradeError
from server.trade.slider_crank import SliderCrank, end_clearances, greatest_throw_nm, sensitivities

MM = 1_000_000
BALANCED = SliderCrank(20 * MM, 100 * MM, 30 * MM, 12 * MM, 108_800_000, 54_400_000)


def test_no_shim_helps_where_the_sum_is_too_small() -> None:
    found = end_clearances(BALANCED)
    assert found.short_nm(1_200_000) == 0
    assert found.short_nm(1_300_000) == 200_000
    assert greatest_throw_nm(BALANCED, 1_300_000) == 19_900_000
    assert greatest_throw_nm(BALANCED, 1_200_000) == 20_000_000
    assert greatest_throw_nm(BALANCED, 30 * MM) is None


@st.composite
def mechanisms(draw: st.DrawFn) -> SliderCrank:
    throw = draw(st.integers(5, 60)) * MM
    offset = draw(st.integers(-20, 20)) * MM
    rod = throw + abs(offset) + draw(st.integers(5, 300)) * MM
    return SliderCrank(throw, rod, draw(st.integers(-50, 200)) * MM, 12 * MM, 100 * MM, 400 * MM, offset)


@given(mechanisms())
def test_dead_centres_are_the_ends_of_the_whole_turn(m: SliderCrank) -> None:
    """The slide's pin traced round the turn in small steps never passes what the dead centres say, and comes there."""
    at = [
        m.throw_nm * math.cos(t) + math.sqrt(m.rod_nm**2 - (m.throw_nm * math.sin(t) - m.offset_nm) ** 2)
        for t in (i * math.tau / 7200 for i in range(7200))
    ]
    found = end_clearances(m)
    outer = m.near_stop_nm + m.between_stops_nm - max(at) - m.pin_to_face_nm - m.slide_nm
    inner = min(at) + m.pin_to_face_nm - m.near_stop_nm
    assert found.outer_nm == pytest.approx(outer, abs=200)
    assert found.inner_nm == pytest.approx(inner, abs=200)
    assert found.outer_nm <= outer + 1
    assert found.inner_nm <= inner + 1


@given(mechanisms())
def test_sensitivities_are_the_slopes(m: SliderCrank) -> None:
    step = 1_000
    before = end_clearances(m)
    for each in sensitivities(m):
        if each.length == "offset_nm" and m.offset_nm <= 0:
            continue
        after = end_clearances(replace(m, **{each.length: getattr(m, each.length) + step}))  # type: ignore[arg-type]
        assert (after.outer_nm - before.outer_nm) / step == pytest.approx(each.outer, abs=0.003)
        assert (after.inner_nm - before.inner_nm) / step == pytest.approx(each.inner, abs=0.003)


@given(mechanisms(), st.integers(0, 100))
def test_greatest_throw_just_does(m: SliderCrank, least_mm: int) -> None:
    throw = greatest_throw_nm(m, least_mm * MM)
    if throw is None:
        return
    assert end_clearances(replace(m, throw_nm=throw)).short_nm(least_mm * MM) == 0
    if throw + 2 + abs(m.offset_nm) < m.rod_nm:
        assert end_clearances(replace(m, throw_nm=throw + 2)).short_nm(least_mm * MM) > 0


@pytest.mark.parametrize(
    ("field", "error", "wrong"),
    [
        ("rod_nm", Impossible, lambda: replace(BALANCED, rod_nm=20 * MM)),
        ("rod_nm", Impossible, lambda: replace(BALANCED, rod_nm=25 * MM, offset_nm=-5 * MM)),
        ("throw_nm", OutOfRange, lambda: replace(BALANCED, throw_nm=0)),
        ("clearances_nm", OutOfRange, lambda: replace(BALANCED, clearances_nm=(-1,))),
        ("least_nm", OutOfRange, lambda: end_clearances(BALANCED).short_nm(-1)),
    ],
)
def test_bad_input_is_told_with_its_field(field: str, error: type[TradeError], wrong: object) -> None:
    with pytest.raises(error) as told:
        wrong()  # type: ignore[operator]
    assert told.value.field == field
