"""Clean-up against cases worked out by hand for this project: standing computed."""

from __future__ import annotations

import math

import pytest

from server.trade.clean_up import CleanUp, Placing, Point, best_placing, clean_up
from server.trade.errors import Impossible

MM = 1_000_000


def polygon(*corners: tuple[float, float]) -> list[Point]:
    return [(round(x * MM), round(y * MM)) for x, y in corners]


PART = polygon((-49, -24), (49, -24), (49, 24), (-49, 24))
BLANK = polygon((-50, -25), (50, -25), (50, 25), (-50, 25))


def least(found: CleanUp) -> list[float]:
    return [side.least_nm / MM for side in found.sides]


def test_centred() -> None:
    found = clean_up(PART, BLANK)
    assert least(found) == [1, 1, 1, 1]
    assert found.cleans_up
    assert found.sooner_nm == 0


def test_shifted() -> None:
    """Computed: shift 0.3, −0.2: bottom 0.8, right 0.7, top 1.2, left 1.3; the left is cut first, 0.6 sooner."""
    found = clean_up(PART, BLANK, Placing(300_000, -200_000))
    assert least(found) == [0.8, 0.7, 1.2, 1.3]
    assert (found.first, found.last, found.sooner_nm, found.short) == (3, 1, 600_000, 1)
    assert not clean_up(PART, BLANK, Placing(300_000, -200_000), wanted_nm=750_000).cleans_up


def test_best_placing_undoes_shift_and_turn() -> None:
    """Computed: the profile drawn shifted by 0.3, −0.2 and turned by 0.6°: turned back, 1.0 all round."""
    cos, sin = math.cos(math.radians(0.6)), math.sin(math.radians(0.6))
    moved = [(round(x * cos - y * sin) + 300_000, round(x * sin + y * cos) - 200_000) for x, y in PART]
    assert clean_up(moved, BLANK).least_nm < 500_000
    found = best_placing(moved, BLANK)
    assert found.placing.angle_deg == pytest.approx(-0.6, abs=1e-4)
    assert found.least_nm == pytest.approx(MM, abs=20)


def test_hollow_is_seen_between_the_corners() -> None:
    """Computed: a dip of 1.1 in the middle of the bottom leaves −0.1 there, although both corners have 1.0."""
    hollow = polygon((-50, -25), (-5, -25), (0, -23.9), (5, -25), (50, -25), (50, 25), (-50, 25))
    found = clean_up(PART, hollow)
    assert least(found) == [-0.1, 1, 1, 1]
    assert found.short == 0
    with pytest.raises(Impossible) as told:
        best_placing(PART, hollow)
    assert told.value.field == "blank"
