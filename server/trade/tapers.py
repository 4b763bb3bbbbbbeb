"""Tapers and wedges: angle, ratio and size, set-over, and how far to slide to take up a clearance.

A taper is a change of diameter for a length, C = (D − d) / L, as a plain ratio (ISO 3040): 1:20 is 0.05; 0.6 in to the
foot is 0.05. A wedge or gib of 1:n rises on one face only; its slope is that of the face. Mixing up the two is the
usual mistake. Rules for tapers: F. D. Jones, Turning and Boring (found, public domain).
"""

from __future__ import annotations

import math

from server.trade.bounds import between, length_not_negative, positive, positive_length, say_length
from server.trade.errors import Impossible, OutOfRange


def taper_of_ratio(n: float) -> float:
    """Taper [-] of 1:n. Raises OutOfRange unless n is more than 0."""
    positive("n", n)
    return 1 / n


def taper_of_foot(inches_per_foot: float) -> float:
    """Taper [-] of so many inches (on the diameter) to the foot. Raises OutOfRange unless more than 0."""
    positive("inches_per_foot", inches_per_foot, "in/ft")
    return inches_per_foot / 12


def taper_of_angle(included_deg: float) -> float:
    """Taper [-] of an included angle [°]: 2 tan(A/2). Raises OutOfRange outside 0 to 180."""
    between("included_deg", included_deg, 0, 180, "°")
    return 2 * math.tan(math.radians(included_deg / 2))


def taper_of_sizes(large_nm: int, small_nm: int, length_nm: int) -> float:
    """Taper [-] from two diameters and the length between them [nm]. Raises Impossible unless large > small."""
    length_not_negative("small_nm", small_nm)
    positive_length("length_nm", length_nm)
    if large_nm <= small_nm:
        raise Impossible(
            "small_nm", say_length(small_nm), "the small end is not smaller", "less than the large diameter"
        )
    return (large_nm - small_nm) / length_nm


def half_angle_deg(taper: float) -> float:
    """Angle between side and axis [°] of a taper [-], what a compound slide is set to: arctan(C/2).

    The included angle is twice this: arctan(C) is a little less, and wrong. Raises OutOfRange unless more than 0.
    """
    positive("taper", taper)
    return math.degrees(math.atan(taper / 2))


def diameter_change_nm(taper: float, length_nm: int) -> int:
    """Change of diameter [nm, nearest] of a taper [-] over a length along the axis [nm]."""
    positive("taper", taper)
    length_not_negative("length_nm", length_nm)
    return round(taper * length_nm)


def small_diameter_nm(large_nm: int, taper: float, length_nm: int) -> int:
    """Small diameter [nm, nearest] a length [nm] from a large one [nm]. Raises Impossible past the taper's point."""
    positive_length("large_nm", large_nm)
    small_nm = large_nm - diameter_change_nm(taper, length_nm)
    if small_nm < 0:
        raise Impossible(
            "length_nm", say_length(length_nm), "the taper has come to a point before that", "a shorter length"
        )
    return small_nm


def tailstock_set_over_nm(taper: float, work_length_nm: int) -> int:
    """How far to set the tailstock over [nm, nearest] to turn a taper [-] on work of a whole length [nm]: C L / 2.

    The WHOLE length between centres counts, not the tapered part. Good for slight tapers; the centres bear askew.
    """
    positive("taper", taper)
    positive_length("work_length_nm", work_length_nm)
    return round(taper * work_length_nm / 2)


def compound_travel_nm(depth_nm: int, compound_deg: float) -> int:
    """Travel along a compound slide [nm, nearest] that feeds depth_nm [nm] into the work: depth / cos(angle).

    compound_deg [°] between the slide and the cross-slide's own direction: 29.5 for thread cutting, 0 straight in.
    Raises OutOfRange; the angle is more than -90, less than 90.
    """
    positive_length("depth_nm", depth_nm)
    between("compound_deg", compound_deg, -90, 90, "°")
    return round(depth_nm / math.cos(math.radians(compound_deg)))


def plug_travel_nm(size_change_nm: int, taper: float) -> int:
    """How far [nm, nearest] a plug or ring of a taper [-] travels along the axis for a change of diameter [nm].

    So much must come off the face, or so much deeper goes the plug, for each step of size: for 1:20, twenty times it.
    """
    length_not_negative("size_change_nm", size_change_nm)
    positive("taper", taper)
    return round(size_change_nm / taper)


def wedge_slope(wedge_deg: float) -> float:
    """Slope [-] of a wedge face at an angle [°] to the direction it slides in: tan a. Raises OutOfRange: 0 to 90."""
    between("wedge_deg", wedge_deg, 0, 90, "°")
    return math.tan(math.radians(wedge_deg))


def wedge_rise_nm(slope: float, travel_nm: int) -> int:
    """How much a wedge or gib of a slope [-] takes up [nm, nearest] when slid along by travel_nm [nm]."""
    positive("slope", slope)
    length_not_negative("travel_nm", travel_nm)
    return round(slope * travel_nm)


def wedge_travel_nm(slope: float, rise_nm: int) -> int:
    """How far to slide a wedge or gib of a slope [-] to take up rise_nm [nm], nearest; the inverse of wedge_rise_nm."""
    positive("slope", slope)
    length_not_negative("rise_nm", rise_nm)
    return round(rise_nm / slope)


def self_locking_deg(friction: float, faces: int = 1) -> float:
    """Largest angle [°] of a wedge that stays put by friction [-]: arctan μ where one face slides, twice it for two.

    Vibration and oil undo it: friction measured dry does not hold a wedge in a running machine.
    """
    positive("friction", friction)
    if faces not in (1, 2):
        raise OutOfRange("faces", faces, "a wedge slides on one face or on two", "1 or 2")
    return faces * math.degrees(math.atan(friction))
