"""How much metal comes off in a minute, and the power, torque and force it takes.

Formulas: ISO 3002-4 nomenclature, as printed on cutting-tool makers' formula pages (found); specific cutting force
after Kienzle, kc = kc1.1 h^(−mc).
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from server.trade.bounds import length_not_negative, positive, positive_length, say_length, share
from server.trade.errors import OutOfRange

CUBIC_CM_PER_CUBIC_INCH = 16.387064
KILOWATTS_PER_HORSEPOWER = 0.745699872


def milling_rate_cm3_per_min(depth_nm: int, width_nm: int, feed_nm_per_min: float) -> float:
    """Metal removed in milling [cm³/min]: depth of cut [nm] × width of cut [nm] × table feed [nm/min].

    Raises OutOfRange for anything not more than 0.
    """
    positive_length("depth_nm", depth_nm)
    positive_length("width_nm", width_nm)
    positive("feed_nm_per_min", feed_nm_per_min, "nm/min")
    return depth_nm * width_nm * feed_nm_per_min / 1e21


def drilling_rate_cm3_per_min(diameter_nm: int, feed_per_rev_nm: float, rpm: float, hole_nm: int = 0) -> float:
    """Metal removed in drilling or boring out [cm³/min]: π/4 (D² − d²) × feed a revolution [nm] × speed [rev/min].

    diameter_nm drilled, hole_nm the hole that was there before [nm] (0: none). Raises OutOfRange.
    """
    positive_length("diameter_nm", diameter_nm)
    length_not_negative("hole_nm", hole_nm)
    if hole_nm >= diameter_nm:
        raise OutOfRange(
            "hole_nm", say_length(hole_nm), "the hole is as large as the drill", "less than the drill's diameter"
        )
    positive("feed_per_rev_nm", feed_per_rev_nm, "nm")
    positive("rpm", rpm, "rev/min")
    return math.pi / 4 * (diameter_nm**2 - hole_nm**2) * feed_per_rev_nm * rpm / 1e21


def turning_rate_cm3_per_min(speed_m_per_min: float, depth_nm: int, feed_per_rev_nm: float) -> float:
    """Metal removed in turning [cm³/min]: cutting speed [m/min] × depth of cut [nm] × feed a revolution [nm].

    The speed is taken at the uncut diameter; where the depth is not small beside the diameter this says a little too
    much. Raises OutOfRange.
    """
    positive("speed_m_per_min", speed_m_per_min, "m/min")
    positive_length("depth_nm", depth_nm)
    positive("feed_per_rev_nm", feed_per_rev_nm, "nm")
    return speed_m_per_min * depth_nm * feed_per_rev_nm / 1e12


@dataclass(frozen=True, slots=True)
class CuttingForce:
    """Specific cutting force of a material: at 1 mm chip thickness [N/mm²], the exponent mc [-], where it is from."""

    kc11_n_per_mm2: float
    mc: float
    standing: str


_CHECKED = "from memory; within 6 % of a cutting-tool maker's table for turning, 0.1 to 0.6 mm/rev (found)"
_MEMORY = "from memory"
SPECIFIC_FORCES: dict[str, CuttingForce] = {
    "mild steel (tensile 500 N/mm²)": CuttingForce(1990, 0.26, _CHECKED),
    "medium carbon steel (tensile 620 N/mm²)": CuttingForce(2110, 0.17, _CHECKED),
    "carbon steel C45": CuttingForce(2220, 0.14, _CHECKED),
    "carbon steel C60": CuttingForce(2130, 0.18, _CHECKED),
    "case-hardening steel 16MnCr5": CuttingForce(2100, 0.26, _CHECKED),
    "chromium-molybdenum steel 34CrMo4": CuttingForce(2240, 0.21, _CHECKED),
    "chromium-molybdenum steel 42CrMo4": CuttingForce(2500, 0.26, _CHECKED),
    "grey cast iron (200 HB)": CuttingForce(1160, 0.26, _CHECKED),
    "stainless steel, austenitic": CuttingForce(2000, 0.21, _MEMORY),
    "aluminium, wrought": CuttingForce(700, 0.25, _MEMORY),
    "brass": CuttingForce(780, 0.18, _MEMORY),
    "bronze": CuttingForce(780, 0.17, _MEMORY),
}


def specific_force_n_per_mm2(kc11_n_per_mm2: float, mc: float, chip_nm: float) -> float:
    """Specific cutting force kc [N/mm²] at a chip thickness [nm]: kc1.1 h^(−mc), h in mm.

    kc11_n_per_mm2 [N/mm²] at 1 mm, mc [-]. Made from trials between about 0.05 and 1 mm (from memory); thinner chips
    take more than it says. A blunt edge takes 30 to 50 % more (common practice, no source). Raises OutOfRange.
    """
    positive("kc11_n_per_mm2", kc11_n_per_mm2, "N/mm²")
    if not 0 <= mc < 1:
        raise OutOfRange("mc", mc, "it is no exponent of a cutting force", "0 to less than 1")
    positive("chip_nm", chip_nm, "nm")
    return float(kc11_n_per_mm2 * (chip_nm / 1e6) ** -mc)


def cutting_power_kw(rate_cm3_per_min: float, force_n_per_mm2: float, efficiency: float = 1.0) -> float:
    """Power [kW] to remove metal at a rate [cm³/min] with a specific cutting force [N/mm²].

    Q kc / (60 000 η). With efficiency 1 it is the power at the cutter; with the machine's own (0.7 to 0.85 is common
    practice, no source) that of the motor. Raises OutOfRange; efficiency is more than 0, up to 1.
    """
    positive("rate_cm3_per_min", rate_cm3_per_min, "cm³/min")
    positive("force_n_per_mm2", force_n_per_mm2, "N/mm²")
    share("efficiency", efficiency, "it is not an efficiency")
    return rate_cm3_per_min * force_n_per_mm2 / (60_000 * efficiency)


def spindle_torque_newton_m(power_kw: float, rpm: float) -> float:
    """Torque [N·m] at the spindle for a power [kW] at a speed [rev/min]: P / (2 π n). Raises OutOfRange."""
    positive("power_kw", power_kw, "kW")
    positive("rpm", rpm, "rev/min")
    return power_kw * 60_000 / (2 * math.pi * rpm)


def tangential_force_n(power_kw: float, speed_m_per_min: float) -> float:
    """Mean force along the cutting speed [N] for a power at the cutter [kW] and a cutting speed [m/min]: P / vc."""
    positive("power_kw", power_kw, "kW")
    positive("speed_m_per_min", speed_m_per_min, "m/min")
    return power_kw * 60_000 / speed_m_per_min
