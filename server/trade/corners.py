"""Round cutters in square corners: what reaches, what is left, and whether a mating edge goes in."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

from server.trade.bounds import between, length_not_negative, positive_length
from server.trade.errors import OutOfRange

Edge = Literal["chamfer", "round"]


def largest_cutter_nm(corner_radius_nm: int) -> int:
    """Diameter [nm] of the largest cutter that reaches into an internal corner of corner_radius_nm [nm]: twice it.

    A cutter of exactly this diameter dwells in the corner and tends to chatter; one somewhat smaller, sent round the
    radius, leaves it better (common practice, no source). Raises OutOfRange for a radius not more than 0.
    """
    positive_length("corner_radius_nm", corner_radius_nm)
    return 2 * corner_radius_nm


def corner_left_nm(cutter_diameter_nm: int, corner_radius_nm: int = 0, corner_deg: float = 90.0) -> int:
    """What a cutter leaves in a corner [nm], measured along the corner's bisector; 0 where it reaches.

    (r_cutter − r_corner) (1 / sin(A/2) − 1): for a square corner, 0.4142 of the difference of the radii.
    cutter_diameter_nm and corner_radius_nm [nm] (0: the corner is wanted sharp), corner_deg its angle [°].
    Raises OutOfRange for a diameter not more than 0, a negative radius, an angle outside 0 to 180.
    """
    positive_length("cutter_diameter_nm", cutter_diameter_nm)
    length_not_negative("corner_radius_nm", corner_radius_nm)
    between("corner_deg", corner_deg, 0, 180, "°")
    difference_nm = cutter_diameter_nm / 2 - corner_radius_nm
    if difference_nm <= 0:
        return 0
    return round(difference_nm * (1 / math.sin(math.radians(corner_deg / 2)) - 1))


@dataclass(frozen=True, slots=True)
class CornerSeat:
    """How an edge sits in a corner: clear of it on the bisector [nm], or standing off both walls [nm]."""

    seats: bool
    clearance_nm: int
    stand_off_nm: int


def corner_seat(corner_radius_nm: int, edge_nm: int, edge: Edge = "chamfer") -> CornerSeat:
    """Whether the edge of a key, block or slide goes right into a square corner that a cutter left round.

    corner_radius_nm the corner's radius [nm]; edge_nm the leg of the edge's 45° chamfer, or its radius [nm] (0: a
    sharp edge). The edge touches both walls only if its chamfer or radius is at least the corner's radius: a chamfer
    of the often quoted 0.59 r clears on the bisector and still rides up where its ends meet the fillet.
    clearance: along the bisector, once seated. stand_off: from each wall, pushed into the corner evenly.
    Plane geometry. Raises OutOfRange for negative lengths or another kind of edge.
    """
    length_not_negative("corner_radius_nm", corner_radius_nm)
    length_not_negative("edge_nm", edge_nm)
    if edge not in ("chamfer", "round"):
        raise OutOfRange("edge", edge, "there is no such edge", "chamfer, round")
    left_nm = corner_radius_nm * (math.sqrt(2) - 1)
    if edge_nm >= corner_radius_nm:
        taken_nm = edge_nm / math.sqrt(2) if edge == "chamfer" else edge_nm * (math.sqrt(2) - 1)
        return CornerSeat(True, round(taken_nm - left_nm), 0)
    if edge == "round":
        return CornerSeat(False, 0, math.ceil((corner_radius_nm - edge_nm) * (1 - 1 / math.sqrt(2))))
    # An end of the chamfer lies on the fillet: (u − c)² + u² = r², with u = r − stand-off
    reach_nm = (edge_nm + math.sqrt(2 * corner_radius_nm**2 - edge_nm**2)) / 2
    return CornerSeat(False, 0, math.ceil(corner_radius_nm - reach_nm))
