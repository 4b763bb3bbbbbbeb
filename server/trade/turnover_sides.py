"""First side on, second side: at which crank angles the rods of the second side slip on.

The first side's rods go on at any angle but its own dead centres, since the shafts are free to find their phases. They
then hold the phases within what their clearances leave, and the second side's rods go on where the two sides' demands
can be met at once: s ≤ 0 in the words of turnover.py. So the angles are the same whichever side comes first. What
differs is which of them can be reached with the first side on: past a dead centre the shafts are turned only if the
first side's pins line up there within their clearances. With cranks alike and a rod that is not as long as its shaft
centres, one side without clearance crosses neither.

First order, as turnover_first_order.py. Without any clearance the second side goes on at single angles only, and one
that falls between the angles looked at is not found. Reaching is argued, not proved: away from its dead centres one
side alone leaves every phase an interval, whose ends move without a jump.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from server.trade.bounds import length_not_negative
from server.trade.errors import Impossible
from server.trade.turnover import JUST_PASSES_NM, Arc, arcs
from server.trade.turnover_first_order import FirstOrder, at_angles, crank_angles, first_order
from server.trade.turnover_pair import openings
from server.trade.turnover_train import SIDES, Side, TrainGeometry

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class DeadCentre:
    """A dead centre of the side that is on already.

    angle_deg  near crank angle [°]
    lacks_nm   the opening each bore of that side would need for its pins to pass it [nm]; 0 or less: it is crossed
    """

    angle_deg: float
    lacks_nm: float


@dataclass(frozen=True, slots=True)
class SecondSide:
    """Where the second side goes on.

    goes_on        near crank angles [°] where its rods slip on, as arcs
    best_deg       the angle with the most to spare, in the middle of the longest run of such
    spare_nm       what every rod bore has to spare there [nm], no more than the smallest clearance; below 0: it lacks
    dead_centres   of the first side: whether it can be turned over them alone
    reach          the arcs between the dead centres it cannot cross; the whole turn if it crosses one of them or both
    out_of_reach   the arcs of `reach` in which the second side goes on nowhere
    """

    goes_on: tuple[Arc, ...]
    best_deg: float
    spare_nm: float
    dead_centres: tuple[DeadCentre, DeadCentre]
    reach: tuple[Arc, ...]
    out_of_reach: tuple[Arc, ...]


def second_side(train: TrainGeometry, first: Side = "near", to_spare_nm: int = 0, evenly: int = 720) -> SecondSide:
    """At which angles the rods of the second side slip on, with those of the `first` on.

    to_spare_nm  what is wanted to spare in every rod bore so that they go on by hand [nm], 0 or more
    Raises OutOfRange, Impossible.
    """
    import numpy as np

    length_not_negative("to_spare_nm", to_spare_nm)
    if first not in SIDES:
        raise Impossible("first", first, "there is no such side", ", ".join(SIDES))
    model = first_order(train)
    angles = crank_angles(model.far_from_near_deg, evenly)
    spare = np.minimum(-openings(model, angles, model.bores / 2).needed, train.least_rod_clearance_nm)
    most = spare >= spare.max() - JUST_PASSES_NM
    best = max(arcs(most, angles), key=lambda arc: round(arc.to_deg - arc.from_deg, 6))
    goes_on = arcs(spare >= to_spare_nm - JUST_PASSES_NM, angles)
    dead = _dead_centres(model, SIDES.index(first))
    reach = _reach(dead)
    return SecondSide(
        goes_on=goes_on,
        best_deg=best.middle_deg,
        spare_nm=float(spare.max()),
        dead_centres=dead,
        reach=reach,
        out_of_reach=tuple(arc for arc in reach if not _meets(arc, goes_on, angles)),
    )


def _dead_centres(model: FirstOrder, k: int) -> tuple[DeadCentre, DeadCentre]:
    """|aᵢⱼ| ≤ Cᵢⱼ for every two shafts, where the phase does not move the pins along the rods."""
    import numpy as np

    at_zero = 0.0 if k == 0 else -model.far_from_near_deg
    deg = np.array([at_zero % 360.0, (at_zero + 180.0) % 360.0])
    places = at_angles(model, deg)
    where = model.spacing[k][:, None] + model.throw[k][:, None] * places.cos[k]
    i, j = (list(each) for each in zip(*model.pairs, strict=True))
    lacks = (np.abs(where[j] - where[i]) - model.play[k, i, j, None]) * (2 / model.bores[k, i, j, None])
    first, second = lacks.max(axis=0).tolist()
    return DeadCentre(float(deg[0]), first), DeadCentre(float(deg[1]), second)


def _reach(dead: tuple[DeadCentre, DeadCentre]) -> tuple[Arc, ...]:
    if any(each.lacks_nm <= JUST_PASSES_NM for each in dead):
        return (Arc(0.0, 360.0),)
    start = min(each.angle_deg for each in dead)
    return Arc(start, start + 180.0), Arc(start + 180.0, start + 360.0)


def _meets(arc: Arc, goes_on: tuple[Arc, ...], angles_deg: Floats) -> bool:
    """Whether some angle inside the arc, its own ends apart, is one where the second side goes on."""
    inside = [a for a in angles_deg.tolist() if 1e-6 < (a - arc.from_deg) % 360.0 < arc.to_deg - arc.from_deg - 1e-6]
    return any(each.holds(angle) for angle in inside for each in goes_on)
