"""Clean-up of a blank: cases computed for this project, and placings tried at random."""

from __future__ import annotations

import math
import random

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from server.trade.clean_up import CleanUp, Placing, Point, best_placing, clean_up
from server.trade.errors import Impossible, OutOfRange, TradeError

MM = 1_000_000


def polygon(*corners: tuple[float, float]) -> list[Point]:
    return [(round(x * MM), round(y * MM)) for x, y in corners]


PART = polygon((-49, -24), (49, -24), (49, 24), (-49, 24))
BLANK = polygon((-50, -25), (50, -25), (50, 25), (-50, 25))


def least(found: CleanUp) -> list[float]:
    return [side.least_nm / MM for side in found.sides]


def test_sides_keep_their_numbers_the_other_way_round() -> None:
    """Corners given clockwise from the top left: top, right, bottom, left."""
    found = clean_up(PART[::-1], BLANK[::-1], Placing(300_000, -200_000))
    assert least(found) == [1.2, 0.7, 0.8, 1.3]
    assert [side.number for side in found.sides] == [0, 1, 2, 3]


def test_step_in_the_blank_is_seen_on_both_its_sides() -> None:
    """By hand: the right half of the bottom stands 2 lower: 1 at least, 3 at most."""
    stepped = polygon((-50, -25), (0, -25), (0, -27), (50, -27), (50, 25), (-50, 25))
    bottom = clean_up(PART, stepped).sides[0]
    assert (bottom.least_nm, bottom.most_nm) == (1 * MM, 3 * MM)


def test_blank_too_small_one_way_is_short_by_half_of_it_on_each_side() -> None:
    """By hand: blank 97.6 by 50, profile 98 by 48: −0.2 left and right at best."""
    small = polygon((-48.8, -25), (48.8, -25), (48.8, 25), (-48.8, 25))
    found = best_placing(PART, small, most_turn_deg=0)
    assert found.least_nm == pytest.approx(-200_000, abs=2)
    assert not found.cleans_up


def test_round_blank_for_a_hexagon() -> None:
    """By hand: hexagon 10 across corners, round of 11 (180 corners): least at the corners, along the side's normal."""
    hexagon = polygon(*((5 * math.cos(math.radians(a)), 5 * math.sin(math.radians(a))) for a in range(0, 360, 60)))
    blank = polygon(*((5.5 * math.cos(math.radians(a)), 5.5 * math.sin(math.radians(a))) for a in range(0, 360, 2)))
    found = clean_up(hexagon, blank)
    apothem, half = 5 * math.cos(math.radians(30)), 2.5
    assert found.sides[0].least_nm / MM == pytest.approx(math.sqrt(5.5**2 - half**2) - apothem, abs=0.002)
    assert found.sides[0].most_nm / MM == pytest.approx(5.5 - apothem, abs=0.002)


@st.composite
def blanks(draw: st.DrawFn) -> list[Point]:
    """A four-sided blank, a little askew and unevenly sawn, without hollows."""
    far = st.integers(-900_000, 900_000)
    return [(x + draw(far), y + draw(far)) for x, y in BLANK]


@given(blanks(), st.integers(0, 2**32))
@settings(max_examples=12)
def test_no_placing_at_random_has_more_metal_than_the_best(blank: list[Point], seed: int) -> None:
    best = best_placing(PART, blank, most_turn_deg=2)
    rng = random.Random(seed)
    for near in (1.0, 0.1, 0.01):
        for _ in range(40):
            at = best.placing
            other = Placing(
                at.x_nm + round(rng.uniform(-MM, MM) * near),
                at.y_nm + round(rng.uniform(-MM, MM) * near),
                max(-2.0, min(2.0, at.angle_deg + rng.uniform(-1, 1) * near)),
            )
            found = clean_up(PART, blank, other).least_nm
            if best.least_nm >= 0:
                assert found <= best.least_nm + 5


@given(blanks(), st.integers(-300_000, 300_000), st.floats(-1, 1))
@settings(max_examples=50)
def test_metal_is_what_stands_inside_the_blank(blank: list[Point], shift: int, angle: float) -> None:
    """The corners moved out by the least metal are inside every edge of the blank, and by a little more are not."""
    placing = Placing(shift, -shift, angle)
    found = clean_up(PART, blank, placing)
    if found.least_nm < 1000:
        return
    cos, sin = math.cos(math.radians(angle)), math.sin(math.radians(angle))
    placed = [(shift + x * cos - y * sin, -shift + x * sin + y * cos) for x, y in PART]

    def worst(metal: float) -> float:
        rooms = []
        for k, normal in enumerate(((sin, -cos), (cos, sin), (-sin, cos), (-cos, -sin))):
            for corner in (placed[k], placed[(k + 1) % 4]):
                x, y = corner[0] + metal * normal[0], corner[1] + metal * normal[1]
                for (ax, ay), (bx, by) in zip(blank, blank[1:] + blank[:1], strict=True):
                    rooms.append(((bx - ax) * (y - ay) - (by - ay) * (x - ax)) / math.hypot(bx - ax, by - ay))
        return min(rooms)

    assert worst(found.least_nm - 2) >= -1
    assert worst(found.least_nm + 2000) < 0


@pytest.mark.parametrize(
    ("field", "error", "wrong"),
    [
        ("profile", OutOfRange, lambda: clean_up(PART[:2], BLANK)),
        ("blank", Impossible, lambda: clean_up(PART, [BLANK[0], BLANK[2], BLANK[1], BLANK[3], (0, 60 * MM)])),
        ("blank", Impossible, lambda: clean_up(PART, [(0, 0), (MM, MM), (2 * MM, 2 * MM)])),
        ("profile", Impossible, lambda: clean_up([*PART, PART[0]], BLANK)),
        ("wanted_nm", OutOfRange, lambda: clean_up(PART, BLANK, wanted_nm=-1)),
        ("placing", Impossible, lambda: clean_up(PART, BLANK, Placing(500 * MM, 500 * MM))),
        ("most_turn_deg", OutOfRange, lambda: best_placing(PART, BLANK, most_turn_deg=90)),
    ],
)
def test_bad_input_is_told_with_its_field(field: str, error: type[TradeError], wrong: object) -> None:
    with pytest.raises(error) as told:
        wrong()  # type: ignore[operator]
    assert told.value.field == field
