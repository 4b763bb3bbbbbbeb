"""Cutters and materials as they are written in a plan ("10 mm end mill, Ø8 drill", "C45 steel"), and the speed and
feed to start from that follow.

Only what the words plainly say is taken: a cutter without a diameter, or a material that is not known, gets no figure.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import Final, Literal

from server.trade.cutting import spindle_speed_rpm
from server.trade.drills import read_drill
from server.trade.errors import TradeError
from server.trade.length import Unit, parse_length
from server.trade.starting_speeds import CUTTER_MATERIALS, CutterMaterial, starting_speed

Kind = Literal["mill", "drill", "reamer", "tap", "other"]

# Words of a material, the first that fits: special before general. Designations: EN 10027-1 and common speech.
_MATERIALS: Final = (
    (r"stainless|1\.43\d\d|1\.44\d\d|\b30[34]\b|\b316\b", "stainless steel, austenitic"),
    (r"tool steel|silver steel|\bO1\b|\bD2\b", "tool steel, annealed"),
    (r"cast iron|\bGJL\b|grey iron", "grey cast iron"),
    (r"gunmetal|bronze|CuSn", "phosphor bronze"),
    (r"brass|CuZn|messing", "brass, free-cutting"),
    (r"alumin|\b6082\b|\b6061\b|\b7075\b|\bAl\b", "aluminium, wrought"),
    (r"copper|\bCu\b", "copper"),
    (r"acetal|nylon|\bPOM\b|plastic", "plastics, unfilled"),
    (
        r"\bC(?:35|40|45|50|55|60)E?\b|42CrMo4|\bEN\s?(?:8|16|19|24)\b|\b4140\b|\b1045\b|alloy steel",
        "medium carbon and alloy steel, annealed",
    ),
    (r"mild steel|\bS235|\bS275|\bS355|\bEN\s?(?:1A|3)\b|\b1018\b|\b12L14\b|\b11SMn", "mild steel"),
)
_KINDS: Final[tuple[tuple[str, Kind], ...]] = (
    (r"ream", "reamer"),
    (r"\btap\b", "tap"),
    (r"drill", "drill"),
    (r"mill|cutter|ball|slot|fly", "mill"),
)
_SIZE: Final = re.compile(
    r"[ØøΦ⌀]?\s*(?P<size>[0-9]+(?:[ -][0-9]+/[0-9]+|/[0-9]+|[.,][0-9]+)?|[.,][0-9]+)\s*(?P<unit>mm|in\b|inch|\"|″)?"
)
# "#7 drill", "No. 7 drill", "letter F drill", "F drill": a name, and not a length.
_NAMED_DRILL: Final = re.compile(
    r"(?P<number>(?:#|\b[Nn]o\.?|\b[Nn]umber)\s*[0-9]+)|(?:\b[Ll]etter\s+|^\s*)(?P<letter>[A-Z])(?=\s+(?:\w+\s+)?drill)"
)
_FLUTES: Final = re.compile(r"([2-9]|1[0-2])[ -]?(?:flutes?|teeth|fl\b)|\bz\s?=?\s?([2-9])\b", re.IGNORECASE)

# A tooth of an end mill takes about this share of the diameter. Common practice, no source.
FEED_SHARE: Final = (0.005, 0.01)
USUAL_FLUTES: Final = 4


@dataclass(frozen=True, slots=True)
class CutterWords:
    """One cutter as written: its words, diameter [nm], what it is, teeth where said, its own material where said."""

    words: str
    diameter_nm: int
    kind: Kind
    flutes: int | None
    material: CutterMaterial | None


@dataclass(frozen=True, slots=True)
class StartFrom:
    """Speeds and feeds to start from. `slow`, `fast` [rev/min]; feed a tooth [nm] and table feed [nm a minute] for
    mills only, reckoned with `flutes` teeth."""

    cutter: CutterWords
    cutter_material: CutterMaterial
    slow_rpm: float
    fast_rpm: float
    flutes: int
    tooth_nm: tuple[float, float] | None
    feed_nm_per_min: tuple[float, float] | None
    standing: str


def work_material(words: str) -> str | None:
    """The material of server.trade.starting_speeds that the words mean, or None."""
    return next((name for pattern, name in _MATERIALS if re.search(pattern, words, re.IGNORECASE)), None)


def read_cutters(words: str, unit: Unit = "mm") -> tuple[CutterWords, ...]:
    """The cutters named in a plan's words, separated by commas, semicolons or plus signs; those without a size or
    without a word for what they are, are left out."""
    found = []
    for each in _apart(words):
        kind = next((kind for pattern, kind in _KINDS if re.search(pattern, each, re.IGNORECASE)), None)
        diameter = _diameter(each, unit)
        if kind is None or diameter is None:
            continue
        flutes = _FLUTES.search(each)
        said: CutterMaterial | None = None
        if re.search(r"carbide|\bHM\b|\bVHM\b", each, re.IGNORECASE):
            said = "carbide"
        elif re.search(r"\bHSS|high.speed", each, re.IGNORECASE):
            said = "high-speed steel"
        found.append(
            CutterWords(
                each.strip(),
                diameter,
                kind,
                int(flutes[1] or flutes[2]) if flutes else None,
                said,
            )
        )
    return tuple(found)


def _diameter(words: str, unit: Unit) -> int | None:
    """The diameter one cutter's words give [nm]: a number or letter drill, a fraction of an inch, a length; else None.
    Corner radii, threads and counts of teeth are no diameters."""
    named = _NAMED_DRILL.search(words)
    try:
        if named is not None:
            return read_drill(named["number"] or named["letter"])
        size = _SIZE.search(_FLUTES.sub("", re.sub(r"\b[rR]\s?[0-9.]+|\bM[0-9.]+", "", words)))
        if size is None:
            return None
        mark = size["unit"] or ""
        inches = mark.startswith(("in", '"', "″")) or ("/" in size["size"] and not mark)
        diameter = parse_length(size["size"], "in" if inches else unit)
    except TradeError:
        return None
    return diameter if diameter > 0 else None


def _apart(words: str) -> list[str]:
    """The words for each cutter; a part that only says how many teeth ("10 mm end mill, 4 flutes") belongs before."""
    apart: list[str] = []
    for each in re.split(r"[,;+]", re.sub(r"(?<=\d),(?=\d)", ".", words)):
        if apart and _FLUTES.fullmatch(each.strip()):
            apart[-1] += "," + each
        else:
            apart.append(each)
    return apart


def start_from(cutter: CutterWords, material: str) -> tuple[StartFrom, ...]:
    """Speed and feed to start from for a cutter in a material of starting_speeds.MATERIALS; one answer a cutter
    material where the words do not say which it is. A drill is run in the slow half of the range, a reamer at half to
    two thirds of that; a tap gets no figure. Source and standing as `starting_speed`; feed a tooth 0.5 to 1 % of the
    diameter is common practice, no source. A starting point: the makers of cutter and machine decide.
    """
    if cutter.kind in ("tap", "other"):
        return ()
    answers = []
    for own in (cutter.material,) if cutter.material else CUTTER_MATERIALS:
        found = starting_speed(material, own)
        slow, fast = found.slow_m_per_min, found.fast_m_per_min
        if cutter.kind in ("drill", "reamer"):
            fast = (slow + fast) / 2
        if cutter.kind == "reamer":
            slow, fast = slow / 2, fast * 2 / 3
        slow_rpm, fast_rpm = (spindle_speed_rpm(speed, cutter.diameter_nm) for speed in (slow, fast))
        flutes = cutter.flutes or USUAL_FLUTES
        tooth = feed = None
        if cutter.kind == "mill":
            tooth = (cutter.diameter_nm * FEED_SHARE[0], cutter.diameter_nm * FEED_SHARE[1])
            feed = (tooth[0] * flutes * slow_rpm, tooth[1] * flutes * fast_rpm)
        answers.append(StartFrom(cutter, own, slow_rpm, fast_rpm, flutes, tooth, feed, found.standing))
    return tuple(answers)
