"""Clean-up: does a profile come out of a blank as measured, with metal on every side, and how best to place it.

Profile and blank are polygons seen along the cutter. Metal on a side is measured along the side's own outward normal to
the first edge of the blank. Along a side it changes in straight stretches, so that its least and most stand at the
side's ends, at a corner of the blank seen from the side, or where the side itself crosses the blank's edge; looking at
the profile's corners alone would miss a hollow. The best placing is found by linear programmes in x, y and angle,
linearised anew at each step (computed, no source).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import TYPE_CHECKING, Final

from server.trade.bounds import length_not_negative, say_length
from server.trade.errors import Impossible, OutOfRange
from server.trade.within import within

if TYPE_CHECKING:
    from numpy import float64
    from numpy.typing import NDArray

Point = tuple[int, int]
"""A corner (x, y) [nm]."""

MOST_CORNERS: Final = 200
_XY = tuple[float, float]


@dataclass(frozen=True, slots=True)
class Placing:
    """The profile turned about its own zero by angle_deg [°] (anticlockwise), then moved by x_nm, y_nm [nm]."""

    x_nm: int = 0
    y_nm: int = 0
    angle_deg: float = 0.0


@dataclass(frozen=True, slots=True)
class Side:
    """Metal on one side of the profile, from its corner `number` (from 0) to the next [nm].

    least_nm  where there is least; negative: so much is missing there
    most_nm   where there is most: the cutter meets that first
    """

    number: int
    least_nm: int
    most_nm: int


@dataclass(frozen=True, slots=True)
class CleanUp:
    """What is on every side for one placing.

    sides      in the order of the profile's corners
    cleans_up  every side has at least the metal wanted
    first      number of the side that is cut first as the profile is closed in on evenly from outside; last, the side
               that is reached last
    sooner_nm  how much sooner the first is cut than the last: the difference of their most metal [nm]
    """

    placing: Placing
    sides: tuple[Side, ...]
    cleans_up: bool
    first: int
    last: int
    sooner_nm: int

    @property
    def least_nm(self) -> int:
        """Least metal anywhere [nm]."""
        return min(side.least_nm for side in self.sides)

    @property
    def short(self) -> int:
        """The number of the side with the least."""
        return min(self.sides, key=lambda side: side.least_nm).number


def clean_up(
    profile: Sequence[Point], blank: Sequence[Point], placing: Placing | None = None, wanted_nm: int = 0
) -> CleanUp:
    """Metal on every side of `profile` placed in `blank`, polygons in order either way round, not crossing themselves.

    wanted_nm  least metal wanted on a side [nm]: scale, saw marks, a skin that must come off
    The blank may have hollows. Where the profile has one, which side is cut first says little: its sides face each
    other there. Raises Impossible for a polygon with no area or one that crosses itself, OutOfRange for
    fewer than 3 corners or more than 200.
    """
    length_not_negative("wanted_nm", wanted_nm)
    (part, numbers), (stock, _) = _polygon("profile", profile), _polygon("blank", blank)
    return _judge(part, numbers, stock, placing or Placing(), wanted_nm)


def best_placing(
    profile: Sequence[Point], blank: Sequence[Point], wanted_nm: int = 0, most_turn_deg: float = 5.0
) -> CleanUp:
    """The placing with the largest least metal, for a blank without hollows.

    most_turn_deg  how far the profile may be turned either way [°], 0 to 45
    Found from several starts; the best of what they lead to. Raises as `clean_up`; Impossible for a blank with a
    hollow: a straight programme cannot see into one.
    """
    length_not_negative("wanted_nm", wanted_nm)
    within("most_turn_deg", most_turn_deg, 0.0, 45.0, "°")
    (part, numbers), (stock, _) = _polygon("profile", profile), _polygon("blank", blank)
    if any(_turn(*corners) < 0 for corners in _triples(stock)):
        why = "the blank has a hollow, and the best placing is found only for one without"
        raise Impossible("blank", f"{len(blank)} corners", why, "a blank without hollows, or a placing of your own")
    most = math.radians(most_turn_deg)
    found = [_climb(part, stock, start, most) for start in (0.0, most / 2, -most / 2)]
    return max((_judge(part, numbers, stock, each, wanted_nm) for each in found), key=lambda each: each.least_nm)


def _judge(part: list[_XY], numbers: list[int], stock: list[_XY], placing: Placing, wanted_nm: int) -> CleanUp:
    placed = _placed(part, placing)
    sides = []
    for number, a, b in zip(numbers, placed, placed[1:] + placed[:1], strict=True):
        metal = _metal(a, b, stock)
        if not metal:
            why = f"side {number + 1} has no metal of the blank before it or behind it"
            read = f"{say_length(placing.x_nm)}, {say_length(placing.y_nm)}"
            raise Impossible("placing", read, why, "a placing over the blank")
        sides.append(Side(number, math.floor(min(metal) + 0.5), math.floor(max(metal) + 0.5)))
    sides.sort(key=lambda side: side.number)
    first, last = max(sides, key=lambda side: side.most_nm), min(sides, key=lambda side: side.most_nm)
    cleans = all(side.least_nm >= wanted_nm for side in sides)
    return CleanUp(placing, tuple(sides), cleans, first.number, last.number, first.most_nm - last.most_nm)


def _placed(part: list[_XY], placing: Placing) -> list[_XY]:
    cos, sin = math.cos(math.radians(placing.angle_deg)), math.sin(math.radians(placing.angle_deg))
    return [(placing.x_nm + cos * x - sin * y, placing.y_nm + sin * x + cos * y) for x, y in part]


def _metal(a: _XY, b: _XY, stock: list[_XY]) -> list[float]:
    """Metal along the outward normal of the side a-b, at both ends of every stretch in which it changes evenly [nm]."""
    length = math.hypot(b[0] - a[0], b[1] - a[1])
    along = (b[0] - a[0]) / length, (b[1] - a[1]) / length
    outward = along[1], -along[0]  # corners run anticlockwise
    # the blank as seen from the side: s along it, t outwards
    seen = [
        (
            (x - a[0]) * along[0] + (y - a[1]) * along[1],
            (x - a[0]) * outward[0] + (y - a[1]) * outward[1],
        )
        for x, y in stock
    ]
    edges = list(zip(seen, seen[1:] + seen[:1], strict=True))
    breaks = {0.0, length} | {s for s, _ in seen if 0 < s < length}
    for (s1, t1), (s2, t2) in edges:
        if (t1 < 0) != (t2 < 0):
            crossing = s1 + (s2 - s1) * t1 / (t1 - t2)
            if 0 < crossing < length:
                breaks.add(crossing)
    stretches = sorted(breaks)
    found: list[float] = []
    for start, end in pairwise(stretches):
        middle = (start + end) / 2
        over = [edge for edge in edges if min(edge[0][0], edge[1][0]) < middle < max(edge[0][0], edge[1][0])]
        heights = sorted((_height(edge, middle), edge) for edge in over)
        if not heights:
            continue  # no blank at all before this stretch or behind it: told by the side round the corner
        above = [each for each in heights if each[0] > 0]
        inside = len(above) % 2 == 1
        if inside:
            edge = above[0][1]
        else:
            below = [each for each in heights if each[0] <= 0]
            edge = below[-1][1] if below else above[0][1]
        metal = [_height(edge, start), _height(edge, end)]
        if not inside:
            metal = [-abs(each) for each in metal]
        found.extend(metal)
    return found


def _height(edge: tuple[_XY, _XY], s: float) -> float:
    (s1, t1), (s2, t2) = edge
    return t1 + (t2 - t1) * (s - s1) / (s2 - s1)


def _climb(part: list[_XY], stock: list[_XY], angle: float, most: float) -> Placing:
    """Linear programmes in x, y, angle and least metal, each linearised at the last answer, from one start."""
    scale = max(math.hypot(*each) for each in stock)  # so that all unknowns are of one size
    programme = _Programme(part, stock, scale)
    x, y, _, metal = programme.solve(angle, 0.0, 0.0, 0.0)  # with the angle held, the programme is exact
    step = math.radians(2)
    while step > 1e-9:
        low, high = max(-step, -most - angle), min(step, most - angle)
        turn = programme.solve(angle, metal, low, high)[2]
        better = programme.solve(angle + turn, 0.0, 0.0, 0.0)
        if better[3] <= metal + 1e-13:
            step /= 4
            continue
        angle += turn
        x, y, _, metal = better
    return Placing(round(x * scale), round(y * scale), math.degrees(angle))


class _Programme:
    """The linear programme of one profile in one blank without hollows.

    For a corner p of the profile, an edge of the blank with normal m at distance b, and c the larger of m·n over the
    corner's two sides, or nothing where both face away: m·p + c × metal ≤ b. With metal on every side that is exact;
    where some is missing it lets each corner stand out by as much as is missing.
    """

    def __init__(self, part: list[_XY], stock: list[_XY], scale: float) -> None:
        import numpy as np

        self.corners, blank = np.asarray(part) / scale, np.asarray(stock) / scale
        self.before, self.after = (
            self._outward(np.roll(self.corners, 1, axis=0), self.corners),
            self._outward(self.corners, np.roll(self.corners, -1, axis=0)),
        )
        self.normals = self._outward(blank, np.roll(blank, -1, axis=0))
        self.limits = (self.normals * blank).sum(axis=1)

    @staticmethod
    def _outward(start: NDArray[float64], end: NDArray[float64]) -> NDArray[float64]:
        import numpy as np

        ahead = end - start
        return np.column_stack((ahead[:, 1], -ahead[:, 0])) / np.hypot(ahead[:, 0], ahead[:, 1])[:, None]

    def solve(self, angle: float, metal: float, low: float, high: float) -> tuple[float, float, float, float]:
        """x, y, further turn from low to high, least metal; linearised at `angle` and `metal`."""
        import numpy as np
        from scipy.optimize import linprog  # type: ignore[import-untyped, unused-ignore]

        cos, sin = math.cos(angle), math.sin(angle)
        turned = np.array([[cos, sin], [-sin, cos]])
        quarter = np.array([[0.0, 1.0], [-1.0, 0.0]])  # what a small turn adds
        at, sides = self.corners @ turned, (self.before @ turned, self.after @ turned)
        facing = [side @ self.normals.T for side in sides]
        turning = [side @ quarter @ self.normals.T for side in sides]
        nearer = facing[0] >= facing[1]
        c = np.where(nearer, facing[0], facing[1])
        c_turning = np.where(c > 0, np.where(nearer, turning[0], turning[1]), 0.0)
        c = np.maximum(c, 0.0)
        by_turn = at @ quarter @ self.normals.T + metal * c_turning
        count = len(at)
        rows = np.column_stack(
            (np.tile(self.normals[:, 0], count), np.tile(self.normals[:, 1], count), by_turn.ravel(), c.ravel())
        )
        room = (self.limits[None, :] - at @ self.normals.T).ravel()
        open_ends = (None, None)
        found = linprog((0, 0, 0, -1), A_ub=rows, b_ub=room, bounds=(open_ends, open_ends, (low, high), open_ends))
        if not found.success:
            raise Impossible("profile", "as drawn", "no placing brings it over the blank", "a blank about as large")
        x, y, turn, least = (float(each) for each in found.x)
        return x, y, turn, least


def _polygon(field: str, corners: Sequence[Point]) -> tuple[list[_XY], list[int]]:
    """The corners anticlockwise, as floats, and the number each side had as given."""
    if not 3 <= len(corners) <= MOST_CORNERS:
        raise OutOfRange(field, f"{len(corners)} corners", "that is no polygon one can work with", "3 to 200 corners")
    points = [(float(x), float(y)) for x, y in corners]
    if len(set(points)) < len(points):
        raise Impossible(field, f"{len(corners)} corners", "a corner is there twice", "corners that all differ")
    area = sum(a[0] * b[1] - b[0] * a[1] for a, b in zip(corners, [*corners[1:], corners[0]], strict=True))
    if area == 0:
        raise Impossible(field, f"{len(corners)} corners", "it encloses nothing", "corners that are not in one line")
    numbers = list(range(len(points)))
    if area < 0:
        points, numbers = points[::-1], [(len(points) - 2 - i) % len(points) for i in numbers]
    edges = list(zip(points, points[1:] + points[:1], strict=True))
    for i, (a, b) in enumerate(edges):
        for c, d in edges[i + 2 : len(edges) - (i == 0)]:
            if _turn(a, b, c) * _turn(a, b, d) < 0 and _turn(c, d, a) * _turn(c, d, b) < 0:
                raise Impossible(field, f"{len(corners)} corners", "it crosses itself", "corners in order round it")
    return points, numbers


def _turn(a: _XY, b: _XY, c: _XY) -> float:
    """More than 0 where the way a, b, c turns to the left."""
    return (b[0] - a[0]) * (c[1] - b[1]) - (b[1] - a[1]) * (c[0] - b[0])


def _triples(points: list[_XY]) -> list[tuple[_XY, _XY, _XY]]:
    return list(zip(points, points[1:] + points[:1], points[2:] + points[:2], strict=True))
