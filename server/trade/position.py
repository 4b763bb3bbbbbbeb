"""Position: how far a hole or pin is from where it should be, and how far it may be.

ASME Y14.5 and ISO 1101 speak of a tolerance zone's diameter; the deviation is therefore doubled before it is compared.
Formulas: ASME Y14.5-2018 appendix B for fasteners, and the general rules of the maximum material requirement (from
memory; the pin's rule found).
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

from server.trade.bounds import length_not_negative, say_length
from server.trade.errors import Impossible

Feature = Literal["hole", "pin"]


def position_nm(x_deviation_nm: int, y_deviation_nm: int) -> int:
    """The position found [nm], as the diameter of the smallest zone about the true position that holds the axis.

    x_deviation_nm, y_deviation_nm  measured less wanted [nm], square to each other
    2√(dx² + dy²), in whole numbers, to the nearest nanometre.
    """
    four_squares = 4 * (x_deviation_nm**2 + y_deviation_nm**2)
    down = math.isqrt(four_squares)
    return down + (four_squares > down * down + down)  # past (down + ½)² = down² + down + ¼


@dataclass(frozen=True, slots=True)
class AtMaximumMaterial:
    """A feature of size whose position tolerance stands at maximum material.

    low_nm, high_nm  its limits of size [nm]; actual_nm its size as measured [nm]
    """

    feature: Feature
    low_nm: int
    high_nm: int
    actual_nm: int

    def __post_init__(self) -> None:
        if self.low_nm > self.high_nm:
            raise Impossible(
                "low_nm", say_length(self.low_nm), "the lower limit is above the upper", "low at or below high"
            )

    @property
    def in_size(self) -> bool:
        return self.low_nm <= self.actual_nm <= self.high_nm

    @property
    def bonus_nm(self) -> int:
        """How much the position tolerance grows [nm]: by what a hole is larger than its smallest, a pin smaller than
        its largest; nothing for a feature outside its limits, which is bad whatever its position."""
        if not self.in_size:
            return 0
        return self.actual_nm - self.low_nm if self.feature == "hole" else self.high_nm - self.actual_nm


@dataclass(frozen=True, slots=True)
class PositionFound:
    """position_nm found and allowed_nm allowed, both diameters [nm]; bonus_nm [nm]; `holds`: inside, and in size."""

    position_nm: int
    allowed_nm: int
    bonus_nm: int
    in_size: bool
    holds: bool


def position_against(
    x_deviation_nm: int, y_deviation_nm: int, tolerance_nm: int, at: AtMaximumMaterial | None = None
) -> PositionFound:
    """The position found, against a cylindrical zone of diameter `tolerance_nm` [nm]; with `at`, the bonus added.

    The comparison is exact: dx² + dy² against whole numbers, no root taken. Raises OutOfRange for a negative tolerance.
    """
    length_not_negative("tolerance_nm", tolerance_nm)
    bonus = 0 if at is None else at.bonus_nm
    in_size = at is None or at.in_size
    allowed = tolerance_nm + bonus
    inside = 4 * (x_deviation_nm**2 + y_deviation_nm**2) <= allowed**2
    return PositionFound(position_nm(x_deviation_nm, y_deviation_nm), allowed, bonus, in_size, inside and in_size)


def virtual_condition_nm(feature: Feature, maximum_material_nm: int, tolerance_nm: int) -> int:
    """The size of the boundary no metal crosses [nm]: a hole's smallest size less its position tolerance, a pin's
    largest size plus it."""
    length_not_negative("tolerance_nm", tolerance_nm)
    return maximum_material_nm - tolerance_nm if feature == "hole" else maximum_material_nm + tolerance_nm


@dataclass(frozen=True, slots=True)
class FastenerTolerance:
    """Position tolerance of each part's holes [nm], diameters, at maximum material."""

    floating_nm: int
    fixed_each_nm: int


def fastener_tolerance(hole_smallest_nm: int, fastener_largest_nm: int) -> FastenerTolerance:
    """The position tolerance that still lets a fastener through.

    Floating (clearance holes in every part): T = H − F for each part. Fixed (tapped or dowelled into one part):
    T = (H − F)/2 for each, rounded down, with a projected zone on the tapped hole. ASME Y14.5 appendix B (from memory).
    Raises Impossible where the fastener does not enter the hole.
    """
    room = hole_smallest_nm - fastener_largest_nm
    if room < 0:
        accepts = f"a hole of {say_length(fastener_largest_nm)} or more"
        raise Impossible(
            "hole_smallest_nm", say_length(hole_smallest_nm), "the fastener does not enter the hole", accepts
        )
    return FastenerTolerance(room, room // 2)
