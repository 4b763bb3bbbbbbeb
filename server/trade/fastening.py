"""Bolts and screws: stress area, proof load, tightening torque and the tension it gives."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

from server.trade import bounds
from server.trade.bounds import positive, positive_length
from server.trade.errors import OutOfRange

NEWTONS_PER_LBF = 4.4482216152605
NEWTON_M_PER_LBF_IN = 0.1129848290276167
MPA_PER_KSI = 6.894757293168361
_NM_PER_INCH = 25_400_000

AreaMethod = Literal["basic", "least pitch diameter"]
AREA_METHODS: tuple[AreaMethod, ...] = ("basic", "least pitch diameter")

CAUTION = (
    "Tension from torque is uncertain by 25 to 35 % and more: lubricant, plating and washers decide. Not for lifting, "
    "pressure, or anything a life hangs on: there the maker's figures, the code and licensed engineers decide."
)


def metric_stress_area_mm2(diameter_nm: int, pitch_nm: int) -> float:
    """Tensile stress area [mm²] of an ISO metric thread, from its nominal diameter and pitch [nm].

    π/4 (d − 0.938194 P)², ISO 898-1 (formula found; the standard's own table is rounded to three figures).
    Raises OutOfRange; the pitch is less than half the diameter, so that there is a core.
    """
    positive_length("diameter_nm", diameter_nm)
    positive_length("pitch_nm", pitch_nm)
    _core("pitch_nm", 2 * pitch_nm / diameter_nm)
    return math.pi / 4 * ((diameter_nm - 0.938194 * pitch_nm) / 1e6) ** 2


def unified_stress_area_mm2(
    diameter_nm: int,
    threads_per_inch: float,
    method: AreaMethod = "basic",
    least_pitch_diameter_nm: int | None = None,
) -> float:
    """Tensile stress area [mm²] of a Unified thread, from its diameter [nm] and threads to the inch.

    "basic"                  0.7854 (D − 0.9743/n)²: the tabulated one, for ordinary steels.
    "least pitch diameter"   π (Es/2 − 0.16238/n)², Es the least pitch diameter of the class [nm]: for high-strength
                             steel. About 3 % less for 1/2-13.
    Both as cited from Machinery's Handbook (31st, Table 4a; 30th). They do not agree on where high strength begins:
    above 180 ksi in the text found, above 100 ksi in older editions (from memory); the smaller area is the safe one.
    The area at the minor diameter is a third number and neither of these. Raises OutOfRange.
    """
    positive_length("diameter_nm", diameter_nm)
    positive("threads_per_inch", threads_per_inch, "to the inch")
    _core("threads_per_inch", 2 * _NM_PER_INCH / threads_per_inch / diameter_nm)
    if method == "basic":
        return math.pi / 4 * ((diameter_nm - 0.9743 * _NM_PER_INCH / threads_per_inch) / 1e6) ** 2
    if method != "least pitch diameter":
        raise OutOfRange("method", method, "there is no such method", ", ".join(AREA_METHODS))
    if least_pitch_diameter_nm is None or not 0 < least_pitch_diameter_nm < diameter_nm:
        why = "this method needs the least pitch diameter of the thread's class"
        raise OutOfRange("least_pitch_diameter_nm", least_pitch_diameter_nm, why, "more than 0, less than the diameter")
    return math.pi * ((least_pitch_diameter_nm / 2 - 0.16238 * _NM_PER_INCH / threads_per_inch) / 1e6) ** 2


@dataclass(frozen=True, slots=True)
class Strength:
    """Proof and least tensile stress [N/mm²] of a strength class for diameters over one and up to another [nm]."""

    over_nm: int
    up_to_nm: int
    proof_mpa: float
    tensile_mpa: float
    standing: str


_ISO = "from memory, ISO 898-1"
_SAE = "SAE J429 as tabulated in a university's copy of Shigley and Mischke, 5th edition, p. 341 (found)"
_M16, _M39, _QUARTER = 16_000_000, 39_000_000, 6_350_000


def _sae(over_in: float, up_to_in: float, proof_ksi: float, tensile_ksi: float) -> Strength:
    over_nm, up_to_nm = round(over_in * _NM_PER_INCH), round(up_to_in * _NM_PER_INCH)
    return Strength(over_nm, up_to_nm, proof_ksi * MPA_PER_KSI, tensile_ksi * MPA_PER_KSI, _SAE)


STRENGTH_CLASSES: dict[str, tuple[Strength, ...]] = {
    "8.8": (Strength(0, _M16, 580, 800, _ISO), Strength(_M16, _M39, 600, 830, _ISO)),
    "10.9": (Strength(0, _M39, 830, 1040, _ISO),),
    "12.9": (Strength(0, _M39, 970, 1220, _ISO),),
    "grade 2": (_sae(0, 0.75, 55, 74), _sae(0.75, 1.5, 33, 60)),
    "grade 5": (_sae(0, 1.0, 85, 120), _sae(1.0, 1.5, 74, 105)),
    "grade 8": (_sae(0, 1.5, 120, 150),),
}


def strength(strength_class: str, diameter_nm: int) -> Strength:
    """Proof and tensile stress of a property class or grade for a diameter [nm].

    ISO classes up to 39 mm, SAE grades from 1/4 in (smaller screws are not covered by J429) to 1 1/2 in.
    Raises OutOfRange for a class not in STRENGTH_CLASSES or a diameter it does not cover.
    """
    positive_length("diameter_nm", diameter_nm)
    if strength_class not in STRENGTH_CLASSES:
        accepts = ", ".join(STRENGTH_CLASSES)
        raise OutOfRange("strength_class", strength_class, "there is no such class here", accepts)
    least_nm = _QUARTER if strength_class.startswith("grade") else 0
    for each in STRENGTH_CLASSES[strength_class]:
        if least_nm <= diameter_nm and each.over_nm < diameter_nm <= each.up_to_nm:
            return each
    most_nm = STRENGTH_CLASSES[strength_class][-1].up_to_nm
    accepts = f"{least_nm / 1e6:g} to {most_nm / 1e6:g} mm"
    raise OutOfRange("diameter_nm", f"{diameter_nm / 1e6:g} mm", "the class does not cover this diameter", accepts)


def proof_load_n(area_mm2: float, proof_mpa: float) -> float:
    """Load [N] a bolt of stress area [mm²] bears without lasting stretch, at a proof stress [N/mm²]."""
    positive("area_mm2", area_mm2, "mm²")
    positive("proof_mpa", proof_mpa, "N/mm²")
    return area_mm2 * proof_mpa


def preload_n(area_mm2: float, proof_mpa: float, share: float = 0.75) -> float:
    """Tension [N] to tighten to: a share [-] of the proof load; 0.75 for joints that are undone again.

    The 75 % rule: found, citing Shigley; 90 % for permanent joints (from memory). Raises OutOfRange; share up to 1.
    """
    bounds.share("share", share, "tightening past the proof load stretches the bolt")
    return share * proof_load_n(area_mm2, proof_mpa)


@dataclass(frozen=True, slots=True)
class NutFactor:
    """Nut factor K [-] of a surface: least, usual, greatest, and where they are from."""

    least: float
    usual: float
    greatest: float
    standing: str


_RANGE = "range found: a fastener supplier's engineering data; usual value from memory"
NUT_FACTORS: dict[str, NutFactor] = {
    "plain steel, dry": NutFactor(0.18, 0.20, 0.27, _RANGE),
    "plain steel, oiled": NutFactor(0.10, 0.15, 0.26, _RANGE),
    "zinc plated, dry": NutFactor(0.17, 0.22, 0.35, _RANGE),
    "phosphate and oil": NutFactor(0.15, 0.18, 0.22, _RANGE),
    "stainless on stainless": NutFactor(0.30, 0.35, 0.50, _RANGE),
    "anti-seize paste": NutFactor(0.10, 0.13, 0.16, "from memory"),
}


def tightening_torque_newton_m(tension_n: float, diameter_nm: int, nut_factor: float = 0.2) -> float:
    """Torque [N·m] that gives a tension [N] in a bolt of nominal diameter [nm]: T = K F d.

    nut_factor [-]: see NUT_FACTORS; it gathers all friction, and is the weak link. Raises OutOfRange; K up to 1.
    """
    positive("tension_n", tension_n, "N")
    positive_length("diameter_nm", diameter_nm)
    _nut_factor(nut_factor)
    return nut_factor * tension_n * diameter_nm / 1e9


def bolt_tension_n(torque_newton_m: float, diameter_nm: int, nut_factor: float = 0.2) -> float:
    """Tension [N] a torque [N·m] gives in a bolt of nominal diameter [nm]; the inverse of tightening_torque."""
    positive("torque_newton_m", torque_newton_m, "N·m")
    positive_length("diameter_nm", diameter_nm)
    _nut_factor(nut_factor)
    return torque_newton_m * 1e9 / (nut_factor * diameter_nm)


def _nut_factor(nut_factor: float) -> None:
    bounds.share("nut_factor", nut_factor, "it is not a nut factor (0.2 is usual for dry steel)")


def _core(field: str, coarse: float) -> None:
    if not coarse < 1:
        raise OutOfRange(
            field, f"{coarse / 2:g} of the diameter", "so coarse a thread leaves no core", "under half of it"
        )
