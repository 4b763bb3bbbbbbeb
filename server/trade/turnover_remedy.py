"""What would free a set of coupled cranks that binds: one bore opened, or one dimension still to be made otherwise.

Opening one bore alone. For two shafts, opening a near bore by x adds x |sin ψ_far| / 2 to what both sides let pass, so

    x = 2 max over θ of (|F| − C_near |s_far| − C_far |s_near|) / |s_far|,

over all angles that bind and not only the worst: it is usually more than four times the worst shortage. It is infinite
if the set binds where |s_far| = 0: at the far side's own dead centre nothing done on the near side helps.

Making one dimension otherwise. At every angle s is the greatest of many figures, each linear in each dimension (the
angle between the sides and the mean throws held, which is exact to the first order). So the worst s over the turn is
convex in any one dimension, with a known slope: tangents bracket its lowest point and where it passes zero, exactly but
for rounding.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from functools import partial
from typing import TYPE_CHECKING, Final

from server.trade.errors import Impossible
from server.trade.turnover import JUST_PASSES_NM, slopes_at
from server.trade.turnover_first_order import Gradient, at_angles, crank_angles, first_order, gradients
from server.trade.turnover_pair import openings
from server.trade.turnover_train import GREATEST_ERROR, GREATEST_QUARTERING_DEG, Dimension, TrainGeometry

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]

Tangent = tuple[float, float, float]  # change, worst shortage there, its slope

_CLOSE_NM: Final = 0.01  # how near the lowest worst shortage is found


@dataclass(frozen=True, slots=True)
class BearingOpening:
    """How far one bearing alone must be opened, on the diameter, for the set to turn [nm]; inf: no opening will do."""

    bearing: Dimension
    opening_nm: float


@dataclass(frozen=True, slots=True)
class Change:
    """What making one dimension otherwise can do; changes are added to what it is now [nm; ° for quartering].

    window        the changes with which the set turns, from and to; None: with none does it turn
    least_change  the smallest of them (0 if it turns as it is); None as above
    best_change   the change that leaves the most to spare (where several do, one of them)
    shortage_nm   s at the worst angle then; negative: to spare
    """

    dimension: Dimension
    window: tuple[float, float] | None
    least_change: float | None
    best_change: float
    shortage_nm: float


def bearing_openings(train: TrainGeometry, evenly: int = 720) -> tuple[BearingOpening, ...]:
    """For every rod bore and shaft bearing, the opening that frees the set if nothing else is touched; least first.

    0 for all where the set turns as it is.
    """
    model = first_order(train)
    angles = crank_angles(model.far_from_near_deg, evenly)
    bearings = [which for which in train.dimensions() if which.kind in ("rod bearing", "shaft bearing")]
    found = [
        BearingOpening(which, float(openings(model, angles, each.play, 0.0).needed.max()))
        for which, each in gradients(train, bearings).items()
    ]
    return tuple(sorted(found, key=lambda each: round(each.opening_nm, 3) if each.opening_nm < math.inf else math.inf))


def changes(train: TrainGeometry, open_to_change: Iterable[Dimension], evenly: int = 180) -> tuple[Change, ...]:
    """What each dimension still to be made can do if it is made otherwise, the best first.

    open_to_change  dimensions of the set that are not clearances
    Best: those that can free the set before those that cannot; then the one that leaves the most to spare, to 1 nm;
    then the one that changes least, in share of what is looked at: a tenth of the throw and 5° of quartering.
    Raises Impossible for a dimension the set has not, or a clearance.
    """
    wanted = list(open_to_change)
    allowed = [each for each in train.dimensions() if not each.kind.endswith("bearing")]
    for which in wanted:
        if which not in allowed:
            accepts = "centres, rod, knuckle offset, throw or quartering of the set; for a bearing see bearing_openings"
            raise Impossible("open_to_change", which, "the set has no such dimension to make otherwise", accepts)
    model = first_order(train)
    angles = crank_angles(model.far_from_near_deg, evenly)
    opened = model.bores / 2

    def tangent(gradient: Gradient, change: float) -> Tangent:
        moved = model.moved(gradient, change)
        found = openings(moved, angles, opened)
        worst = int(found.needed.argmax())
        at = at_angles(moved, angles[worst : worst + 1])
        slope = slopes_at(found.only(worst), 0, moved, at, [gradient])[0]
        return change, float(found.needed[worst]), slope

    found = []
    for which, gradient in gradients(train, wanted).items():
        most = _most(train, which)
        found.append((most, _change(which, partial(tangent, gradient), most)))
    return tuple(each for _, each in sorted(found, key=_order))


def _most(train: TrainGeometry, which: Dimension) -> float:
    if which.kind == "quartering":
        return GREATEST_QUARTERING_DEG
    return GREATEST_ERROR * train.side(which.side).mean_throw_nm


def _order(one: tuple[float, Change]) -> tuple[bool, int, float]:
    most, change = one
    moved = change.best_change if change.least_change is None else change.least_change
    return change.window is None, round(change.shortage_nm), abs(moved) / most


def _change(which: Dimension, tangent: Callable[[float], Tangent], most: float) -> Change:
    left, now, right = tangent(-most), tangent(0.0), tangent(most)
    best = min((now, left, right), key=lambda each: each[1])
    if now[2] < 0:
        left = now
    elif now[2] > 0:
        right = now
    for _ in range(60):
        if left[2] >= 0 or right[2] <= 0:  # lowest at an end of what is looked at
            break
        change = (right[1] - left[1] + left[2] * left[0] - right[2] * right[0]) / (left[2] - right[2])
        lowest = left[1] + left[2] * (change - left[0])
        if best[1] - lowest <= _CLOSE_NM:
            break
        here = tangent(change)
        best = min((best, here), key=lambda each: each[1])
        if here[2] == 0:
            break
        left, right = (here, right) if here[2] < 0 else (left, here)
    if min(best[1], now[1]) > JUST_PASSES_NM:
        return Change(which, None, None, best[0], best[1])
    low, high = _edge(tangent, -most, best[0]), _edge(tangent, most, best[0])
    return Change(which, (low, high), min(max(0.0, low), high), best[0], best[1])


def _edge(tangent: Callable[[float], Tangent], outside: float, inside: float) -> float:
    """Where the worst shortage passes zero, from outside inwards: each tangent's zero is short of it or on it."""
    here = tangent(outside)
    for _ in range(60):
        if here[1] <= JUST_PASSES_NM or here[2] == 0:
            break
        change = here[0] - here[1] / here[2]
        if (change - inside) * (outside - inside) <= 0:
            return inside
        here = tangent(change)
    return here[0]
