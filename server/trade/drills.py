"""Twist drill sizes: number, letter, fraction and metric, by name and by nearness.

The number and letter gauges follow no formula; they are tables, in ten-thousandths of an inch (public-domain drill
tables and Machinery's Handbook; the sizes under test as "found", the rest from memory). Number up is size down.
"""

from __future__ import annotations

import re
from bisect import bisect_left
from dataclasses import dataclass
from fractions import Fraction
from functools import cache
from typing import Final, Literal

from server.trade.bounds import positive_length, say_length
from server.trade.errors import OutOfRange, TradeError, Unreadable
from server.trade.length import NM_PER_IN, format_length, plain_signs, read_length

DrillKind = Literal["number", "letter", "fraction", "metric"]
KINDS: Final[tuple[DrillKind, ...]] = ("number", "letter", "fraction", "metric")
ACCEPTS: Final = 'a drill such as #7, F, 1/4, 13/64, 6.8, 5 mm or 0.201"'

# 0.0001 in, number 1 first.
_NUMBERS: Final = (
    2280, 2210, 2130, 2090, 2055, 2040, 2010, 1990, 1960, 1935,
    1910, 1890, 1850, 1820, 1800, 1770, 1730, 1695, 1660, 1610,
    1590, 1570, 1540, 1520, 1495, 1470, 1440, 1405, 1360, 1285,
    1200, 1160, 1130, 1110, 1100, 1065, 1040, 1015, 995, 980,
    960, 935, 890, 860, 820, 810, 785, 760, 730, 700,
    670, 635, 595, 550, 520, 465, 430, 420, 410, 400,
    390, 380, 370, 360, 350, 330, 320, 310, 292, 280,
    260, 250, 240, 225, 210, 200, 180, 160, 145, 135,
    130, 125, 120, 115, 110, 105, 100, 95, 91, 87,
    83, 79, 75, 71, 67, 63, 59,
)  # fmt: skip
# 0.001 in, A to Z.
_LETTERS: Final = (
    234, 238, 242, 246, 250, 257, 261, 266, 272, 277, 281, 290, 295,
    302, 316, 323, 332, 339, 348, 358, 368, 377, 386, 397, 404, 413,
)  # fmt: skip
# From, to and step in 0.01 mm: what is commonly stocked (common practice, no source), the 0.25 mm sizes apart.
_METRIC_STEPS: Final = ((30, 300, 5), (300, 1400, 10), (1400, 2600, 50))
_METRIC_QUARTERS: Final = tuple(range(325, 1400, 50))


@dataclass(frozen=True, slots=True)
class Drill:
    """A drill size: its name ("#7", "F", "13/64", "6.8 mm"), the gauge it belongs to, and its diameter [nm]."""

    name: str
    kind: DrillKind
    diameter_nm: int


@cache
def drills(kinds: tuple[DrillKind, ...] = KINDS) -> tuple[Drill, ...]:
    """All sizes of the gauges `kinds`, smallest first.

    number 97 to 1, letter A to Z, fraction 1/64 in to 1 in by 1/64, metric 0.3 mm to 26 mm as commonly stocked.
    Raises Unreadable for a gauge that is not one of the four, or none.
    """
    unknown = [kind for kind in kinds if kind not in KINDS]
    if unknown or not kinds:
        raise Unreadable("kinds", " ".join(unknown), "it is not a gauge of drill sizes", ", ".join(KINDS))
    sizes: list[Drill] = []
    if "number" in kinds:
        sizes += [Drill(f"#{number}", "number", tenths * 2540) for number, tenths in enumerate(_NUMBERS, 1)]
    if "letter" in kinds:
        sizes += [Drill(chr(ord("A") + place), "letter", thou * 25_400) for place, thou in enumerate(_LETTERS)]
    if "fraction" in kinds:
        sizes += [
            Drill(str(Fraction(n, 64)) if n < 64 else "1 in", "fraction", n * NM_PER_IN // 64) for n in range(1, 65)
        ]
    if "metric" in kinds:
        hundredths = {size for low, high, step in _METRIC_STEPS for size in range(low, high + 1, step)}
        sizes += [
            Drill(f"{format_length(size * 10_000, 'mm')} mm", "metric", size * 10_000)
            for size in sorted(hundredths.union(_METRIC_QUARTERS))
        ]
    return tuple(sorted(sizes, key=lambda drill: (drill.diameter_nm, KINDS.index(drill.kind))))


_NAMED: Final = {drill.name.upper(): drill.diameter_nm for drill in drills(("number", "letter"))}
_NUMBERED: Final = re.compile(r"(?:#|no\.?|number)\s*(\d+)", re.IGNORECASE)


def read_drill(text: str, *, field: str = "drill") -> int:
    """Diameter [nm] of the drill named `text`.

    text   "#7", "No. 7", "F", a fraction of an inch ("1/4", "13/64", "1 1/8"), a decimal in millimetres ("6.8"), or a
           length with its unit ("5 mm", '0.201"'). A diameter no gauge has is taken as it is, since a drill may be
           known by measurement
    A bare whole number is refused: 7 may be 7 mm or the number 7 drill, which is 0.201 in (5.1 mm). So is a bare
    decimal beginning with a point (".201"), which is inches by habit and 0.201 mm as written.
    Raises Unreadable; OutOfRange for a number over 97 and a diameter that is not positive.
    """
    plain = plain_signs(text)
    if plain.upper() in _NAMED:
        return _NAMED[plain.upper()]
    numbered = _NUMBERED.fullmatch(plain)
    if numbered:
        name = f"#{int(numbered[1])}"
        if name not in _NAMED:
            raise OutOfRange(field, text, "there is no such number drill", f"#1 to #{len(_NUMBERS)}")
        return _NAMED[name]
    if plain.isdecimal() and 1 <= int(plain) <= len(_NUMBERS):
        raise Unreadable(
            field, text, f"it reads two ways: {plain} mm, or number drill #{plain}", f"{plain} mm or #{plain}"
        )
    if re.fullmatch(r"\.\d+", plain):
        raise Unreadable(field, text, "it reads two ways, in inches or in millimetres", f'0{plain}" or 0{plain} mm')
    try:
        diameter, _ = read_length(plain, "in" if "/" in plain else "mm", field=field)
    except TradeError as error:
        raise Unreadable(field, text, error.why, ACCEPTS) from error
    positive_length(field, diameter)
    return diameter


def nearest_drills(
    diameter_nm: int, *, each_side: int = 1, kinds: tuple[DrillKind, ...] = KINDS
) -> tuple[tuple[Drill, ...], tuple[Drill, ...]]:
    """The drills next below (or equal) and next above a wanted diameter, nearest first on either side.

    diameter_nm   wanted diameter [nm]
    each_side     how many on each side, 1 or more
    kinds         the gauges to choose from

    A side is shorter where the gauges end. Raises OutOfRange for a diameter that is not positive.
    """
    positive_length("diameter_nm", diameter_nm)
    if each_side < 1:
        raise OutOfRange("each_side", each_side, "at least one drill is wanted", "1 or more")
    sizes = drills(kinds)
    place = bisect_left(sizes, diameter_nm + 1, key=lambda drill: drill.diameter_nm)
    below = sizes[max(place - each_side, 0) : place]
    return tuple(reversed(below)), sizes[place : place + each_side]


def nearest_drill(diameter_nm: int, kinds: tuple[DrillKind, ...] = KINDS) -> Drill:
    """The drill nearest a wanted diameter [nm]; of two equally near, the smaller.

    Raises OutOfRange beyond the ends of the gauges (smaller than the smallest, larger than the largest).
    """
    below, above = nearest_drills(diameter_nm, kinds=kinds)
    if not below or (not above and below[0].diameter_nm != diameter_nm):
        sizes = drills(kinds)
        raise OutOfRange(
            "diameter_nm",
            say_length(diameter_nm),
            "no drill of these gauges is near",
            f"{sizes[0].name} ({say_length(sizes[0].diameter_nm)}) to "
            f"{sizes[-1].name} ({say_length(sizes[-1].diameter_nm)})",
        )
    return min((*below, *above), key=lambda drill: (abs(drill.diameter_nm - diameter_nm), drill.diameter_nm))
