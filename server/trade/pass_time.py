"""How long a pass takes: turning, milling with approach and overrun, drilling."""

from __future__ import annotations

import math

from server.trade.bounds import length_at_most, length_not_negative, positive, positive_length


def turning_minutes(length_nm: int, feed_per_rev_nm: float, rpm: float) -> float:
    """Time of one turning, facing or boring pass [min]: length [nm] / (feed a revolution [nm] × speed [rev/min]).

    Constant spindle speed. Facing: the length is the radius. Raises OutOfRange for anything not more than 0.
    """
    positive_length("length_nm", length_nm)
    positive("feed_per_rev_nm", feed_per_rev_nm, "nm")
    positive("rpm", rpm, "rev/min")
    return length_nm / (feed_per_rev_nm * rpm)


def milling_minutes(length_nm: int, feed_nm_per_min: float, approach_nm: int = 0, overrun_nm: int = 0) -> float:
    """Time of one milling pass [min]: (length + approach + overrun) [nm] / table feed [nm/min].

    Time to get up to speed and to turn corners is left out. Raises OutOfRange.
    """
    positive_length("length_nm", length_nm)
    positive("feed_nm_per_min", feed_nm_per_min, "nm/min")
    length_not_negative("approach_nm", approach_nm)
    length_not_negative("overrun_nm", overrun_nm)
    return (length_nm + approach_nm + overrun_nm) / feed_nm_per_min


def side_approach_nm(width_nm: int, diameter_nm: int) -> int:
    """How far [nm, rounded up] a cutter's centre is before the work when its edge first touches, milling with one side.

    √(ae (D − ae)) for a width of cut up to half the diameter, half the diameter beyond. width_nm and diameter_nm [nm].
    The same distance past the end brings the whole width clear. Raises OutOfRange; the width is at most the diameter.
    """
    positive_length("diameter_nm", diameter_nm)
    length_at_most("width_nm", width_nm, diameter_nm, "a cut cannot be wider than the cutter")
    if 2 * width_nm >= diameter_nm:
        return (diameter_nm + 1) // 2
    square = width_nm * (diameter_nm - width_nm)
    root = math.isqrt(square)
    return root if root * root == square else root + 1


def drilling_minutes(
    depth_nm: int, feed_per_rev_nm: float, rpm: float, point_nm: int = 0, approach_nm: int = 0
) -> float:
    """Time to drill [min]: (depth + point + approach) [nm] / (feed a revolution [nm] × speed [rev/min]), no pecking."""
    positive_length("depth_nm", depth_nm)
    length_not_negative("point_nm", point_nm)
    length_not_negative("approach_nm", approach_nm)
    return turning_minutes(depth_nm + point_nm + approach_nm, feed_per_rev_nm, rpm)


def passes(total_nm: int, depth_nm: int) -> int:
    """How many passes of at most depth_nm [nm] take total_nm [nm] off. Raises OutOfRange for lengths not above 0."""
    positive_length("total_nm", total_nm)
    positive_length("depth_nm", depth_nm)
    return -(-total_nm // depth_nm)
