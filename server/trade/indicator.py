"""Dial indicators: the lever's cosine and length errors, run-out and eccentricity."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from server.trade.bounds import length_not_negative
from server.trade.errors import Impossible
from server.trade.within import within

GREATEST_CONTACT_DEG = 60.0


def lever_factor(contact_deg: float, length_ratio: float = 1.0) -> float:
    """What a lever indicator's reading is multiplied by [-]: cos(contact angle) × stylus length ratio.

    contact_deg   angle between the lever (line from its pivot to its ball) and the surface touched [°], 0 to 60;
                  0, the lever lying along the surface, is right and needs no correction
    length_ratio  length of the stylus fitted over that of the stylus the dial was made for [-], 0.2 to 5

    For a ball contact and a movement small beside the lever. A tapered, pear-shaped contact corrects itself for a part
    of the angle (from memory): use 0 there and its maker's figures.
    Source: catalogue table of compensation factors, 10° 0.98, 20° 0.94 (found). Raises OutOfRange.
    """
    within("length_ratio", length_ratio, 0.2, 5.0)
    return math.cos(math.radians(within("contact_deg", contact_deg, 0.0, GREATEST_CONTACT_DEG, "°"))) * length_ratio


def lever_movement_nm(reading_nm: int, contact_deg: float, length_ratio: float = 1.0) -> int:
    """The true movement [nm] behind a lever indicator's reading [nm]; arguments as in `lever_factor`."""
    return round(reading_nm * lever_factor(contact_deg, length_ratio))


def lever_reading_nm(movement_nm: int, contact_deg: float, length_ratio: float = 1.0) -> int:
    """What a lever indicator will show [nm] for a true movement [nm]; the inverse of `lever_movement_nm`."""
    return round(movement_nm / lever_factor(contact_deg, length_ratio))


def plunger_movement_nm(reading_nm: int, tilt_deg: float) -> int:
    """The true movement [nm] square to a flat surface, read with a plunger leaning `tilt_deg` [°] from square, 0 to 60.

    The plunger runs 1/cos(tilt) too far: movement = reading × cos(tilt). Geometry, no source.
    """
    return round(reading_nm * math.cos(math.radians(within("tilt_deg", tilt_deg, 0.0, 60.0, "°"))))


def eccentricity_from_run_out_nm(total_reading_nm: int) -> int:
    """The distance between axes [nm] from a total indicator reading [nm] of a round turned once: half of it.

    Also the throw of a crank pin or cam from its total reading. Assumes the surface itself is round. Half a nanometre
    is rounded to even. Common practice, no source.
    """
    length_not_negative("total_reading_nm", total_reading_nm)
    return round(total_reading_nm / 2)


def run_out_from_eccentricity_nm(eccentricity_nm: int) -> int:
    """The total indicator reading [nm] that an eccentricity [nm] shows in one turn: twice it."""
    length_not_negative("eccentricity_nm", eccentricity_nm)
    return 2 * eccentricity_nm


@dataclass(frozen=True, slots=True)
class Eccentricity:
    """Where a round stands off its axis of turning.

    offset_nm     distance of its centre from the axis [nm]
    high_deg      direction of the offset [°], from the first reading on, the way the readings were taken; 0 to 360
    run_out_nm    greatest reading less least [nm]
    left_over_nm  run-out that would be left after centring [nm]: out of round, and noise
    """

    offset_nm: int
    high_deg: float
    run_out_nm: int
    left_over_nm: int


def eccentricity_from_readings(readings_nm: Sequence[int]) -> Eccentricity:
    """The eccentricity from readings at equal steps round one whole turn.

    readings_nm  three or more [nm], larger where the surface stands further out; the first at 0°
    Least squares: ex = 2/n Σ r cos θ, ey = 2/n Σ r sin θ, for an offset small beside the radius. With three readings
    nothing is left over by construction. Raises Impossible for fewer. ISO 12181-2 names the least squares circle (from
    memory).
    """
    n = len(readings_nm)
    if n < 3:
        raise Impossible("readings_nm", f"{n} readings", "a circle needs three", "three or more, equally spaced")
    angles = [2 * math.pi * i / n for i in range(n)]
    middle = sum(readings_nm) / n
    x = 2 / n * math.fsum((r - middle) * math.cos(a) for r, a in zip(readings_nm, angles, strict=True))
    y = 2 / n * math.fsum((r - middle) * math.sin(a) for r, a in zip(readings_nm, angles, strict=True))
    left = [r - x * math.cos(a) - y * math.sin(a) for r, a in zip(readings_nm, angles, strict=True)]
    return Eccentricity(
        offset_nm=round(math.hypot(x, y)),
        high_deg=math.degrees(math.atan2(y, x))
        % 360.0
        % 360.0,  # twice: a hair under 0 comes out as 360 the first time
        run_out_nm=max(readings_nm) - min(readings_nm),
        left_over_nm=round(max(left) - min(left)),
    )
