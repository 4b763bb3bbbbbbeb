"""How far to feed a single-point tool when cutting a 60° thread, square in or along the compound slide.

The depth depends on the root the tool leaves, so the form is named rather than one figure given. All depths are from
the basic crest; a blank under size (2A, 6g) needs as much less on the radius. The figures are where to start measuring,
not where to stop: the pitch diameter decides.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from fractions import Fraction
from typing import Final, Literal

from server.trade.bounds import say_length
from server.trade.errors import OutOfRange
from server.trade.thread_form import SQRT3

Form = Literal[
    "external, rounded root", "external, flat root P/4", "external, flat root P/8", "external, sharp", "internal",
    "internal, sharp",
]  # fmt: skip
# Depth on the radius as a part of H = P·√3/2.
_PART_OF_H: Final[dict[Form, Fraction]] = {
    "external, rounded root": Fraction(17, 24),
    "external, flat root P/4": Fraction(5, 8),
    "external, flat root P/8": Fraction(3, 4),
    "external, sharp": Fraction(7, 8),
    "internal": Fraction(5, 8),
    "internal, sharp": Fraction(3, 4),
}
FORMS: Final[tuple[Form, ...]] = tuple(_PART_OF_H)
STEEPEST_DEG: Final = 30.0


@dataclass(frozen=True, slots=True)
class Infeed:
    """How far a tool goes in. Lengths in nm.

    radial_nm     square to the axis, on the radius
    diameter_nm   the same on a dial that reads diameter
    compound_nm   along the compound slide
    sideways_nm   how far the tool moves along the axis meanwhile
    """

    radial_nm: int
    diameter_nm: int
    compound_nm: int
    sideways_nm: int


def infeed(pitch_nm: int | Fraction, form: Form = "external, rounded root", compound_deg: float = 29.5) -> Infeed:
    """Depth of a 60° thread, and what it is along the compound slide.

    pitch_nm       pitch [nm]
    form           what the tool's point leaves: "external, rounded root" 0.6134 P (17/24 H, ISO 68-1 design profile),
                   "external, flat root P/4" 0.5413 P (5/8 H, UN basic), "external, flat root P/8" 0.6495 P (3/4 H,
                   American National), "external, sharp" 0.7578 P (7/8 H, a point without flat or radius);
                   "internal" 0.5413 P (5/8 H, flat P/8 at the root), "internal, sharp" 0.6495 P (3/4 H)
    compound_deg   angle of the compound slide from square [°], 0 (straight in) to 30 (along the flank). 29.5 and 29
                   leave the trailing flank a scrape, 30 none. Dials marked from the other zero read 60.5 for 29.5

    Compound feed is depth / cos, sideways movement depth · tan.
    Raises OutOfRange.
    Source: ISO 68-1, ASME B1.1-2003 section 2 (heights); h3 = 0.61343 P in a tap maker's table (found); the compound
    angles are common practice, no source.
    """
    if pitch_nm <= 0:
        raise OutOfRange("pitch_nm", pitch_nm, "it must be more than 0", "a pitch of more than 0")
    if form not in _PART_OF_H:
        raise OutOfRange("form", form, "there is no such form of thread root", "; ".join(FORMS))
    if not 0 <= compound_deg <= STEEPEST_DEG:
        raise OutOfRange(
            "compound_deg",
            compound_deg,
            "beyond 30° from square the trailing flank would be left in steps",
            f"0 to {STEEPEST_DEG:g}° from square to the axis",
        )
    depth = _PART_OF_H[form] * Fraction(SQRT3) / 2 * Fraction(pitch_nm)
    angle = math.radians(compound_deg)
    return Infeed(
        radial_nm=round(depth),
        diameter_nm=round(2 * depth),
        compound_nm=round(float(depth) / math.cos(angle)),
        sideways_nm=round(float(depth) * math.tan(angle)),
    )


def pass_depths(depth_nm: int, passes: int) -> tuple[int, ...]:
    """How deep to be after each pass [nm] so that every pass takes the same area of chip.

    depth_nm   whole depth [nm], along whichever slide is fed
    passes     number of passes, 1 to 200

    The groove is a V, so its area goes with the square of the depth: after pass k of n, depth · √(k/n). The last is the
    whole depth exactly. Spring passes are extra.
    Raises OutOfRange. Source: geometry; the rule is common practice.
    """
    if depth_nm <= 0:
        raise OutOfRange("depth_nm", say_length(depth_nm), "it must be more than 0", "a depth of more than 0")
    if not 1 <= passes <= 200:
        raise OutOfRange("passes", passes, "that is no number of passes", "1 to 200")
    return tuple(round(depth_nm * math.sqrt(k / passes)) for k in range(1, passes + 1))
