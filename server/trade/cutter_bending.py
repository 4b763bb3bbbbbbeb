"""How far a slender cutter or boring bar bends under a force at its end."""

from __future__ import annotations

import math
from dataclasses import dataclass

from server.trade.bounds import length_not_negative, positive, positive_length, share

FLUTED_SHARE = 0.8
"""Diameter of the plain rod as stiff as a fluted length, as a share of the cutter's: a common assumption, no source.
Two flutes are weaker than that and many flutes stiffer."""

MODULUS_GPA: dict[str, float] = {"high-speed steel": 210.0, "carbide": 600.0, "steel": 210.0}
"""Young's modulus [GPa], from memory. Carbide grades lie between about 550 and 650 with their cobalt."""

STEEL_BAR_OVERHANG = 4.0
"""Length over diameter up to which a plain steel boring bar is usually trusted: shop rule, from memory."""


@dataclass(frozen=True, slots=True)
class Overhang:
    """What sticks out of the holder: the fluted length at the end, then the plain shank; all [nm]. Shank may be 0 long.

    fluted_share  the diameter that counts for the fluted length, as a share of flute_diameter_nm; 1 for a plain bar
    """

    flute_diameter_nm: int
    flute_length_nm: int
    shank_diameter_nm: int = 0
    shank_length_nm: int = 0
    fluted_share: float = FLUTED_SHARE

    def __post_init__(self) -> None:
        positive_length("flute_diameter_nm", self.flute_diameter_nm)
        positive_length("flute_length_nm", self.flute_length_nm)
        length_not_negative("shank_length_nm", self.shank_length_nm)
        if self.shank_length_nm:
            positive_length("shank_diameter_nm", self.shank_diameter_nm)
        share("fluted_share", self.fluted_share, "it is not a share of the diameter")

    @property
    def ratio(self) -> float:
        """Length out of the holder over the cutter's diameter [-]."""
        return (self.flute_length_nm + self.shank_length_nm) / self.flute_diameter_nm


def plain_bar(diameter_nm: int, length_nm: int) -> Overhang:
    """A plain round bar sticking out length_nm [nm] at diameter_nm [nm]: a boring bar, or a cutter taken as solid."""
    return Overhang(diameter_nm, length_nm, fluted_share=1.0)


def compliance_nm_per_n(overhang: Overhang, modulus_gpa: float) -> float:
    """How far the end moves for each newton across it [nm/N], for a modulus [GPa].

    A cantilever of two diameters, each bending under the moment of the force at the end:
    F / 3E × (L1³/I1 + ((L1 + L2)³ − L1³)/I2), I = π d⁴/64, L1 the fluted length. Shear, the holder, the spindle and
    the collet are taken as rigid; they seldom are, so the true figure is larger. Raises OutOfRange.
    """
    positive("modulus_gpa", modulus_gpa, "GPa")
    fluted_m = overhang.flute_length_nm / 1e9
    whole_m = (overhang.flute_length_nm + overhang.shank_length_nm) / 1e9
    bending = fluted_m**3 / _second_moment_m4(overhang.flute_diameter_nm * overhang.fluted_share)
    if overhang.shank_length_nm:
        bending += (whole_m**3 - fluted_m**3) / _second_moment_m4(overhang.shank_diameter_nm)
    return bending / (3 * modulus_gpa * 1e9) * 1e9


def deflection_nm(overhang: Overhang, force_n: float, modulus_gpa: float) -> int:
    """How far the end is pushed aside [nm, nearest] by a force across it [N], for a modulus [GPa]. See compliance."""
    positive("force_n", force_n, "N")
    return round(force_n * compliance_nm_per_n(overhang, modulus_gpa))


def force_for_deflection_n(overhang: Overhang, deflection_nm: int, modulus_gpa: float) -> float:
    """Force across the end [N] that pushes it aside by deflection_nm [nm]; the inverse of deflection_nm."""
    positive_length("deflection_nm", deflection_nm)
    return deflection_nm / compliance_nm_per_n(overhang, modulus_gpa)


def _second_moment_m4(diameter_nm: float) -> float:
    return math.pi * (diameter_nm / 1e9) ** 4 / 64
