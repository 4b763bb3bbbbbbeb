"""What follows from a cutter's shape: ball-nose contact and cusps, drill points, spot and countersink depths."""

from __future__ import annotations

import math

from server.trade.bounds import between, length_at_most, length_not_negative, positive_length


def ball_effective_diameter_nm(diameter_nm: int, depth_nm: int) -> int:
    """Diameter [nm] at which a ball-nose cutter touches the work's surface, for a depth of cut [nm].

    2 √(ap (D − ap)) up to half the diameter, the cutter's own diameter below that; on a flat level surface, to the
    nearest nm. Cutting speed follows from this diameter: from the cutter's own it comes out too high.
    Raises OutOfRange for a length not more than 0.
    """
    positive_length("diameter_nm", diameter_nm)
    positive_length("depth_nm", depth_nm)
    if 2 * depth_nm >= diameter_nm:
        return diameter_nm
    return _nearest_root(4 * depth_nm * (diameter_nm - depth_nm))


def cusp_height_nm(diameter_nm: int, step_over_nm: int) -> int:
    """Height [nm, nearest] of the cusp a ball-nose cutter leaves between two passes on a flat surface.

    h = R − √(R² − (s/2)²) with R the radius of the ball and s the step-over [nm]; exact, not s²/(8R).
    Raises OutOfRange where the step-over is larger than the cutter: no cusp is defined, the passes do not meet.
    """
    positive_length("diameter_nm", diameter_nm)
    length_at_most("step_over_nm", step_over_nm, diameter_nm, "the step-over is larger than the cutter")
    root = math.sqrt((diameter_nm - step_over_nm) * (diameter_nm + step_over_nm))
    # (D − √(D² − s²)) / 2, written so that nothing cancels where the step-over is small
    return round(step_over_nm * step_over_nm / (2 * (diameter_nm + root)))


def step_over_for_cusp_nm(diameter_nm: int, cusp_nm: int) -> int:
    """Largest step-over [nm] of a ball-nose cutter that leaves cusps no higher than cusp_nm [nm] on a flat surface.

    s = 2 √(h (2R − h)), rounded down. Raises OutOfRange for a cusp not more than 0 or above half the diameter.
    """
    positive_length("diameter_nm", diameter_nm)
    length_at_most("cusp_nm", cusp_nm, diameter_nm // 2, "a cusp cannot be higher than the ball's radius")
    return math.isqrt(4 * cusp_nm * (diameter_nm - cusp_nm))


def cone_depth_nm(large_nm: int, angle_deg: float, small_nm: int = 0) -> int:
    """Depth [nm, nearest] of a cone of included angle [°] from small_nm to large_nm across [nm].

    (D − d) / 2 / tan(A/2): the depth of a spot or chamfer of a wanted diameter (small 0: a sharp point), of a
    countersink in a hole, measured from the hole's edge. Raises OutOfRange: 0 < angle < 180, 0 ≤ small < large.
    """
    positive_length("large_nm", large_nm)
    length_not_negative("small_nm", small_nm)
    if small_nm >= large_nm:
        length_at_most("small_nm", small_nm, large_nm - 1, "the small end must be smaller than the large one")
    between("angle_deg", angle_deg, 0, 180, "°")
    return round((large_nm - small_nm) / 2 / math.tan(math.radians(angle_deg / 2)))


def cone_diameter_nm(depth_nm: int, angle_deg: float, small_nm: int = 0) -> int:
    """Diameter [nm, nearest] a cone of included angle [°] reaches at depth_nm [nm]; the inverse of cone_depth_nm."""
    length_not_negative("depth_nm", depth_nm)
    length_not_negative("small_nm", small_nm)
    between("angle_deg", angle_deg, 0, 180, "°")
    return small_nm + round(2 * depth_nm * math.tan(math.radians(angle_deg / 2)))


def drill_point_length_nm(diameter_nm: int, point_deg: float = 118.0) -> int:
    """Length [nm, nearest] of a drill's point: what to add to the depth of the full diameter.

    diameter_nm [nm], point_deg the included point angle [°]. The chisel edge is taken as a sharp point: the true
    point is shorter by a little. Raises OutOfRange as cone_depth_nm does.
    """
    positive_length("diameter_nm", diameter_nm)
    between("point_deg", point_deg, 0, 180, "°")
    return cone_depth_nm(diameter_nm, point_deg)


def _nearest_root(square: int) -> int:
    """The whole number nearest to the square root of a whole number, exactly."""
    root = math.isqrt(square)
    return root + 1 if square - root * root > root else root
