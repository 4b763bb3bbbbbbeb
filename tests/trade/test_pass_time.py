"""How long passes take."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from server.trade.errors import OutOfRange
from server.trade.pass_time import drilling_minutes, milling_minutes, passes, side_approach_nm, turning_minutes

MM = 1_000_000


def test_a_hundred_millimetres_at_fifty_a_minute_take_two_minutes() -> None:
    assert milling_minutes(90 * MM, 50 * MM, 6 * MM, 4 * MM) == pytest.approx(2)


@given(st.integers(1, 1000 * MM), st.integers(0, 50 * MM), st.integers(0, 50 * MM), st.floats(1, 5000))
def test_approach_and_overrun_are_travelled_too(length: int, approach: int, overrun: int, feed: float) -> None:
    total = milling_minutes(length, feed * MM, approach, overrun)
    assert total == pytest.approx(milling_minutes(length + approach + overrun, feed * MM))
    assert total >= milling_minutes(length, feed * MM)


@given(st.integers(MM, 100 * MM), st.floats(0.001, 1))
def test_at_its_approach_the_cutter_just_touches_the_work(diameter: int, share: float) -> None:
    width = max(1, int(diameter * share))
    approach = side_approach_nm(width, diameter)
    assert approach <= (diameter + 1) // 2
    # from the centre to the near corner of the work: the approach along, R − width across
    away = math.hypot(approach, max(0.0, diameter / 2 - width))
    assert away == pytest.approx(diameter / 2, rel=1e-6, abs=1.5)
    assert away >= diameter / 2 * (1 - 1e-12)


def test_drilling_counts_the_point_and_the_approach() -> None:
    assert drilling_minutes(20 * MM, 0.1 * MM, 1000, 3 * MM, 2 * MM) == pytest.approx(0.25)


@given(st.integers(1, 100 * MM), st.integers(1, 100 * MM))
def test_passes_are_enough_and_not_one_too_many(total: int, depth: int) -> None:
    count = passes(total, depth)
    assert (count - 1) * depth < total <= count * depth


def test_figures_of_nothing_are_refused() -> None:
    for refused in (
        lambda: turning_minutes(0, 1, 1),
        lambda: turning_minutes(1, 0, 1),
        lambda: turning_minutes(1, 1, 0),
        lambda: milling_minutes(MM, 0),
        lambda: passes(0, 1),
        lambda: passes(1, 0),
        lambda: side_approach_nm(0, MM),
    ):
        with pytest.raises(OutOfRange, match="more than 0"):
            refused()
    with pytest.raises(OutOfRange, match="0 or more"):
        milling_minutes(MM, MM, -1)
    with pytest.raises(OutOfRange, match="up to 1 mm"):
        side_approach_nm(MM + 1, MM)
