"""Two coupled shafts without the first order: an exact check of the closed form, by circles and the cosine rule.

A rod on two crank pins, each free by half its clearance and each shaft by half of its own, finds a place if and only if
its pins stand as far apart as the rod is long, give or take C = half of the four clearances (triangle inequality). With
one crank held, the other's pin lies on a circle round its shaft, and both limits of the distance cut it: two arc
cosines bound the phases one side allows. There are two branches, mirror images about the line from the second shaft to
the first pin; on one of them the shafts turn together. The other is kept out, unless the arc runs over that line so
that both are one. The two sides' arcs must then meet.

At a side's dead centre both branches meet, and a position of the parts can lean over onto the wrong one, on which the
shafts would turn against each other: too hopeful. To cross it the pins must line up, so that at each of the four dead
centres |X ± (r₂ − r₁) − rod| ≤ C is asked for besides.

Only the rods' and cranks' plane geometry is in it; the same things are left out as in turnover.py.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Final

from server.trade.errors import Impossible
from server.trade.turnover_first_order import crank_angles
from server.trade.turnover_train import SIDES, CrankSide, TrainGeometry

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]

_HALVINGS: Final = 60
_ROUNDING: Final = 1e-13  # rad; a set exactly at its limit passes


def exact_shortage_nm(train: TrainGeometry, evenly: int = 720) -> float:
    """The opening every rod bore of two shafts would need at once for them to turn [nm]; negative: to spare.

    Found by halving: whether a set with given clearances passes needs no iteration (`passes`). Clearances are let go
    below zero as far as half their sum, so that it can be compared with the first order; `spare_nm` of turnover.py
    stops at the smallest bore. Agrees with the first order within about the square of an error over the throw.
    Raises Impossible for more than two shafts.
    """
    _two(train)
    far, angles = train.far_from_near_deg, crank_angles(train.far_from_near_deg, evenly)
    low = -min(_play(train.side(name)) for name in SIDES)  # below it a side allows nothing
    high = 0.5 * min(train.near.mean_throw_nm, train.far.mean_throw_nm)
    for _ in range(_HALVINGS):
        middle = (low + high) / 2
        if bool(_passes(train, far, angles, middle).all()) and _crosses(train, middle):
            high = middle
        else:
            low = middle
    return high


def passes(train: TrainGeometry, angles_deg: Floats) -> NDArray[np.bool_]:
    """Whether two coupled shafts can stand at each near crank angle [°], with the clearances they have."""
    _two(train)
    return _passes(train, train.far_from_near_deg, angles_deg, 0.0)


def crosses_dead_centres(train: TrainGeometry) -> bool:
    """Whether the pins of both sides line up within their clearances at all four dead centres."""
    _two(train)
    return _crosses(train, 0.0)


def _two(train: TrainGeometry) -> None:
    if train.shafts != 2:
        raise Impossible("train", f"{train.shafts} shafts", "the exact check is for two shafts", "two shafts")


def _play(side: CrankSide) -> float:
    return (sum(side.rod_clearances_nm[0]) + side.shaft_clearance_nm(0) + side.shaft_clearance_nm(1)) / 2


def _crosses(train: TrainGeometry, opening_nm: float) -> bool:
    for name in SIDES:
        side = train.side(name)
        lets = _play(side) + opening_nm
        difference = side.throws_nm[1] - side.throws_nm[0]
        if max(abs(side.spacing_error_nm(0) + sign * difference) for sign in (1, -1)) > lets + 1e-6:
            return False
    return True


def _passes(train: TrainGeometry, far_from_near_deg: float, angles_deg: Floats, opening_nm: float) -> NDArray[np.bool_]:
    import numpy as np

    psi = np.radians(angles_deg)
    # The first shaft's own quartering error stands in the far angle; the phase of the second is measured on the near.
    ahead = math.radians(far_from_near_deg + train.quartering(0) - train.mean_quartering_deg)
    behind = math.radians(train.quartering(1) - train.quartering(0))
    near_low, near_high = _phases(train.near, psi, opening_nm)
    far_low, far_high = _phases(train.far, psi + ahead, opening_nm) - behind
    meet = np.minimum(near_high, far_high) >= np.maximum(near_low, far_low) - _ROUNDING
    return np.asarray(meet, dtype=np.bool_)


def _phases(side: CrankSide, psi: Floats, opening_nm: float) -> Floats:
    """[end, angle] between which phases [rad] the second shaft may stand against the first; low over high: nowhere."""
    import numpy as np

    first, second = (float(nm) for nm in side.throws_nm)
    centres, rod = float(side.centres_nm[0]), float(side.rods_nm[0])
    lets = max(_play(side) + opening_nm, 0.0)
    x, y = first * np.cos(psi) - centres, first * np.sin(psi)  # the first pin, from the second shaft
    reach, towards = np.hypot(x, y), np.arctan2(y, x)
    short, long = ((second**2 + reach**2 - length**2) / (2 * second * reach) for length in (rod - lets, rod + lets))
    low, high = np.arccos(np.clip(short, -1, 1)), np.arccos(np.clip(long, -1, 1))
    ends = np.where(np.sin(psi) > 0, np.stack([-high, -low]), np.stack([low, high]))
    ends = np.where(short >= 1, np.stack([-high, high]), ends)
    ends = np.where(long <= -1, np.stack([low, 2 * np.pi - low]), ends)
    phases = ends + (towards - psi)
    phases -= 2 * np.pi * np.round(phases.mean(axis=0) / (2 * np.pi))
    nowhere = (short < -1) | (long > 1)
    return np.asarray(np.where(nowhere, np.array([[np.inf], [-np.inf]]), phases))
