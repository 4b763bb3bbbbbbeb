"""Cutting speeds to start from, as ranges, by the material cut and the material of the cutter.

A starting point: the cutter's maker's figures come first, and the machine, its rigidity, the coolant and the length
sticking out decide. Begin at the low end with a long cutter, an unknown alloy, a light machine, or no coolant.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from server.trade.errors import OutOfRange

CutterMaterial = Literal["high-speed steel", "carbide"]

CAUTION = (
    "A starting point, not a ruling: the cutter's and the machine's makers decide. Never pass a cutter's or a chuck's "
    "marked speed; guard against chips; magnesium and fine titanium chips burn, so no figures are given for them."
)


@dataclass(frozen=True, slots=True)
class SpeedRange:
    """Cutting speeds to start from [m/min], slow to fast, and the standing of the figures."""

    slow_m_per_min: float
    fast_m_per_min: float
    standing: str


_MEMORY = "from memory (handbook values)"
_TEACHING = "found: university teaching tables for turning and milling with high-speed steel (the common part)"
_SPEEDS: dict[str, tuple[SpeedRange, SpeedRange]] = {
    "mild steel": (
        SpeedRange(25, 30, "from memory; found: 23 to 28 m/min for plain steel below 800 N/mm², cutting-tool supplier"),
        SpeedRange(100, 200, _MEMORY),
    ),
    "medium carbon and alloy steel, annealed": (SpeedRange(15, 25, _MEMORY), SpeedRange(70, 150, _MEMORY)),
    "tool steel, annealed": (SpeedRange(15, 20, _MEMORY), SpeedRange(60, 120, _MEMORY)),
    "stainless steel, austenitic": (SpeedRange(12, 20, _MEMORY), SpeedRange(60, 120, _MEMORY)),
    "grey cast iron": (SpeedRange(18, 25, _MEMORY), SpeedRange(60, 120, _MEMORY)),
    "aluminium, wrought": (SpeedRange(60, 120, _MEMORY), SpeedRange(150, 400, _MEMORY)),
    "brass, free-cutting": (SpeedRange(60, 120, _TEACHING), SpeedRange(120, 250, _MEMORY)),
    "phosphor bronze": (SpeedRange(20, 35, _MEMORY), SpeedRange(60, 120, _MEMORY)),
    "copper": (SpeedRange(25, 45, _MEMORY), SpeedRange(80, 200, _MEMORY)),
    "plastics, unfilled": (SpeedRange(20, 120, _TEACHING), SpeedRange(100, 300, _MEMORY)),
}

MATERIALS: tuple[str, ...] = tuple(_SPEEDS)
CUTTER_MATERIALS: tuple[CutterMaterial, ...] = ("high-speed steel", "carbide")


def starting_speed(material: str, cutter: CutterMaterial) -> SpeedRange:
    """The range of cutting speeds [m/min] to start from for a material (one of MATERIALS) and a cutter material.

    For turning and milling with a sharp edge; drill at the slow half of the range and ream at half to two thirds of
    drilling (found: teaching table for high-speed steel). Raises OutOfRange for names that are not in the tables.
    """
    if material not in _SPEEDS:
        raise OutOfRange("material", material, "there is no speed for it here", ", ".join(MATERIALS))
    if cutter not in CUTTER_MATERIALS:
        raise OutOfRange("cutter", cutter, "there is no speed for it here", ", ".join(CUTTER_MATERIALS))
    return _SPEEDS[material][CUTTER_MATERIALS.index(cutter)]
