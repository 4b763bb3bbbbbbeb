"""Stock: what a length of bar weighs, and how many blanks a bar gives."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

from server.trade.bounds import length_not_negative, positive, positive_length, say_length
from server.trade.errors import Impossible, OutOfRange

KILOGRAMS_PER_POUND = 0.45359237

Section = Literal["round", "square", "flat", "hexagon", "tube"]
SECTIONS: tuple[Section, ...] = ("round", "square", "flat", "hexagon", "tube")

DENSITY_STANDING = "from memory (handbook values at room temperature; alloys differ by 1 or 2 %)"
DENSITIES_G_PER_CM3: dict[str, float] = {
    "mild steel": 7.85,
    "tool steel": 7.8,
    "stainless steel 304": 8.0,
    "grey cast iron": 7.2,
    "aluminium 6061": 2.7,
    "brass, free-cutting (C360)": 8.5,
    "phosphor bronze": 8.8,
    "copper": 8.94,
    "zinc": 7.14,
    "lead": 11.34,
    "acetal": 1.41,
    "nylon": 1.14,
    "PTFE": 2.2,
}


def section_area_mm2(section: Section, size_nm: int, second_nm: int | None = None) -> float:
    """Area [mm²] of a bar's section from its size [nm].

    round: diameter; square: side; hexagon: across flats; flat: width and, second, thickness; tube: outside diameter
    and, second, wall. Sharp corners. Raises OutOfRange; Impossible where a second size is missing, or is given and
    not used, or a wall is more than half the diameter.
    """
    positive_length("size_nm", size_nm)
    if section not in SECTIONS:
        raise OutOfRange("section", section, "there is no such section", ", ".join(SECTIONS))
    size = size_nm / 1e6
    if section not in ("flat", "tube"):
        if second_nm is not None:
            raise Impossible("second_nm", say_length(second_nm), f"{section} bar has one size", "nothing")
        return size * size * {"round": math.pi / 4, "square": 1.0, "hexagon": math.sqrt(3) / 2}[section]
    if second_nm is None:
        raise Impossible("second_nm", "", f"{section} has two sizes", "thickness of a flat, wall of a tube")
    positive_length("second_nm", second_nm)
    second = second_nm / 1e6
    if section == "flat":
        return size * second
    if 2 * second_nm > size_nm:
        raise Impossible(
            "second_nm", say_length(second_nm), "the wall is thicker than the tube", "up to half the diameter"
        )
    return math.pi * second * (size - second)


def mass_kg(area_mm2: float, length_nm: int, density_g_per_cm3: float) -> float:
    """Mass [kg] of a bar of area [mm²], length [nm] and density [g/cm³]. Raises OutOfRange."""
    positive("area_mm2", area_mm2, "mm²")
    positive_length("length_nm", length_nm)
    positive("density_g_per_cm3", density_g_per_cm3, "g/cm³")
    return area_mm2 * length_nm * density_g_per_cm3 / 1e12


@dataclass(frozen=True, slots=True)
class BarPlan:
    """What one bar gives: blanks, the length each is cut to, the drop left over (with the part not sawn up) [nm]."""

    count: int
    cut_length_nm: int
    drop_nm: int


def blanks_from_bar(
    bar_nm: int, finished_nm: int, saw_cut_nm: int = 0, facing_nm: int = 0, kept_nm: int = 0
) -> BarPlan:
    """How many blanks a bar gives [exact], all lengths [nm].

    finished_nm  length of the finished piece; each blank is longer by facing_nm at each of its two ends
    saw_cut_nm   what one saw cut turns to chips; the last blank needs a cut only if something is left behind it
    kept_nm      end of the bar that cannot be used (held in the chuck or vice, or bad)
    The drop holds kept_nm; it is whole, after the last cut. Raises OutOfRange; Impossible if the bar gives none.
    """
    positive_length("bar_nm", bar_nm)
    positive_length("finished_nm", finished_nm)
    length_not_negative("saw_cut_nm", saw_cut_nm)
    length_not_negative("facing_nm", facing_nm)
    length_not_negative("kept_nm", kept_nm)
    cut_nm = finished_nm + 2 * facing_nm
    # With an end kept every blank has to be cut off; without, the last may be what is left after the cut before it.
    spare_nm = -kept_nm if kept_nm else saw_cut_nm
    count = (bar_nm + spare_nm) // (cut_nm + saw_cut_nm)
    if count < 1:
        need_nm = cut_nm + (kept_nm + saw_cut_nm if kept_nm else 0)
        raise Impossible("bar_nm", say_length(bar_nm), "it gives no blank", f"{say_length(need_nm)} or more")
    # A last cut that would run out past the end of the bar takes what is left and leaves no drop.
    return BarPlan(count, cut_nm, max(0, bar_nm - count * (cut_nm + saw_cut_nm)))


@dataclass(frozen=True, slots=True)
class BarsNeeded:
    """Bars to fetch for a number of blanks, and the drop of each [nm]; the last bar is cut only as far as needed."""

    bars: int
    drops_nm: tuple[int, ...]


def bars_for(
    count: int, bar_nm: int, finished_nm: int, saw_cut_nm: int = 0, facing_nm: int = 0, kept_nm: int = 0
) -> BarsNeeded:
    """How many bars of one length give `count` blanks, and what is left of each [nm]. See blanks_from_bar."""
    if count < 1:
        raise OutOfRange("count", count, "it asks for no blanks", "1 or more")
    full = blanks_from_bar(bar_nm, finished_nm, saw_cut_nm, facing_nm, kept_nm)
    bars = -(-count // full.count)
    on_last = count - (bars - 1) * full.count
    last_drop_nm = max(0, bar_nm - on_last * (full.cut_length_nm + saw_cut_nm))
    return BarsNeeded(bars, (full.drop_nm,) * (bars - 1) + (last_drop_nm,))
