"""Holes on a circle: where each one is, and how far apart they are.

Angles run from +X, counter-clockwise positive, as the axes of RS-274 and ISO 841 have them. Handbooks that put the
first hole at twelve o'clock have it at 90° here.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final, Literal

from server.trade.bounds import between, positive_length
from server.trade.errors import Impossible
from server.trade.within import within

MOST_HOLES: Final = 1000


@dataclass(frozen=True, slots=True)
class Hole:
    """One hole: its number from 1, its angle from +X [°, 0 to 360), its coordinates [nm]."""

    number: int
    angle_deg: float
    x_nm: int
    y_nm: int


def bolt_circle(
    holes: int,
    diameter_nm: int,
    *,
    first_deg: float = 0.0,
    centre_nm: tuple[int, int] = (0, 0),
    direction: Literal["counter-clockwise", "clockwise"] = "counter-clockwise",
    step_deg: float | None = None,
) -> tuple[Hole, ...]:
    """The holes of a bolt circle, in order.

    holes        1 to 1000
    diameter_nm  pitch circle diameter [nm]
    first_deg    angle of the first hole from +X [°], −360 to 360
    centre_nm    centre of the circle (x, y) [nm]
    step_deg     from hole to hole [°] for holes on part of the circle; equal steps of the whole circle where left out

    x = cx + R cos A, y = cy + R sin A, each to the nearest nanometre. Raises OutOfRange; Impossible for a step that
    brings the holes round onto each other.
    """
    within("holes", holes, 1, MOST_HOLES)
    positive_length("diameter_nm", diameter_nm)
    within("first_deg", first_deg, -360.0, 360.0, "°")
    if step_deg is None:
        step = 360.0 / holes
    else:
        between("step_deg", step_deg, 0.0, 360.0, "°")
        step = step_deg
        if (holes - 1) * step >= 360.0:
            accepts = f"less than {360.0 / (holes - 1):g}° for {holes} holes"
            raise Impossible("step_deg", step_deg, "the holes run past a whole turn", accepts)
    sign = 1.0 if direction == "counter-clockwise" else -1.0
    found = []
    for i in range(holes):
        # 360 i / n, not i times a rounded 360 / n, so that quarter turns come out as quarter turns
        turned = 360.0 * i / holes if step_deg is None else step * i
        angle = (first_deg + sign * turned) % 360.0 % 360.0  # twice: a hair under 0 is 360 the first time
        x, y = math.cos(math.radians(angle)), math.sin(math.radians(angle))
        found.append(
            Hole(i + 1, angle, centre_nm[0] + round(diameter_nm / 2 * x), centre_nm[1] + round(diameter_nm / 2 * y))
        )
    return tuple(found)


def chord_nm(diameter_nm: int, angle_deg: float) -> int:
    """The straight distance [nm] between two holes `angle_deg` [°] apart, 0 to 360, on a circle of `diameter_nm` [nm]:
    D sin(A/2). Measure it over two pins (add a pin) to check a circle."""
    positive_length("diameter_nm", diameter_nm)
    return round(diameter_nm * math.sin(math.radians(within("angle_deg", angle_deg, 0.0, 360.0, "°") / 2)))


def hole_spacing_nm(diameter_nm: int, holes: int, apart: int = 1) -> int:
    """The straight distance [nm] between holes `apart` places apart of `holes` equally spaced: D sin(180° k/n)."""
    within("holes", holes, 2, MOST_HOLES)
    within("apart", apart, 1, holes - 1)
    return chord_nm(diameter_nm, 360.0 * apart / holes)


def diameter_from_spacing_nm(spacing_nm: int, holes: int, apart: int = 1) -> int:
    """The pitch circle diameter [nm] of `holes` equally spaced, from the distance [nm] of two `apart` places apart."""
    positive_length("spacing_nm", spacing_nm)
    within("holes", holes, 2, MOST_HOLES)
    within("apart", apart, 1, holes - 1)
    return round(spacing_nm / math.sin(math.pi * apart / holes))
