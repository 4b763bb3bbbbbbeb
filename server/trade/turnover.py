"""Will a set of coupled cranks turn over: what it lacks or has to spare at every crank angle, and what that comes from.

The figure is s, the diametral opening every rod bore would need at once [nm]: the set passes an angle where s ≤ 0, and
−s is to spare there. A set that passes every angle turns: the phases allowed at an angle are intervals whose ends move
without a jump, so their middles are a way round (argued, not proved; for more than two shafts the allowed phases are a
convex body that moves without a jump, and its centre takes the place of the middle).

At a dead centre the pins must line up, and a side crosses it only by its own clearances: looking for a position of the
parts at that angle alone finds relief that turning does not have, for it may lean over to the branch on which the
shafts turn against each other. The equations do not have that branch.

What is not in it: pins out of square with their crank, the film of oil, shafts that rise and fall, bending. Whoever
measures takes them off the clearances first.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final, Literal

from server.trade.errors import OutOfRange
from server.trade.turnover_first_order import (
    AtAngles,
    FirstOrder,
    Gradient,
    at_angles,
    crank_angles,
    first_order,
    gradients,
    stacked,
)
from server.trade.turnover_pair import Openings, Step, openings
from server.trade.turnover_train import SIDES, Dimension, TrainGeometry

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]

JUST_PASSES_NM: Final = 0.001  # a set exactly at its limit turns; rounding is far below
ONE_SIDE: Final = 0.99  # a share from which one side is named rather than both


@dataclass(frozen=True, slots=True)
class Arc:
    """Crank angles of the near side [°] from one to the other, turning forwards; `to_deg` may pass 360.

    Its ends are the outermost angles looked at, half a degree apart or less.
    """

    from_deg: float
    to_deg: float

    @property
    def middle_deg(self) -> float:
        return (self.from_deg + self.to_deg) / 2 % 360.0

    def holds(self, angle_deg: float) -> bool:
        return (angle_deg - self.from_deg) % 360.0 <= self.to_deg - self.from_deg + 1e-9


@dataclass(frozen=True, slots=True)
class Sensitivity:
    """What one dimension does to s at the worst: nm for each nm, or nm for each degree of quartering.

    at_worst        at the one angle `TurnOver.worst_deg`
    least, most     over all worst arcs
    """

    dimension: Dimension
    at_worst: float
    least: float
    most: float


@dataclass(frozen=True, slots=True)
class Contribution:
    """What one deviation adds to s at the one angle `TurnOver.worst_deg` [nm]; clearances take away.

    dimension  a rod stands for shaft centres less rods (and knuckle) in its space: only that difference counts;
               a throw for its difference from the mean of its side, a quartering for that from the mean of all
    """

    dimension: Dimension
    nm: float


@dataclass(frozen=True, slots=True)
class TurnOver:
    """The answer for one set.

    turns          whether it passes every angle
    shortage_nm    s at the worst angle: the opening every rod bore would need at once; negative: to spare
    spare_nm       the least spare clearance over the turn; negative if it binds. No more than the smallest clearance of
                   a rod bore: a bore cannot be closed further
    worst_deg      one worst angle, in the middle of the longest worst arc
    worst_arcs     all angles within 0.1 µm (or as asked) of the worst
    side           which side binds there first; "both" where they bind against each other
    near_share     the near side's weight at worst_deg, 0 to 1; the far side has the rest
    near_share_range   over the worst arcs
    angles_deg     every angle looked at, and for each of them
    shortages_nm       s
    near_shares        the near side's weight
    near_alone_nm, far_alone_nm   the opening that would do if only that side's bores were opened (inf: it never would);
                       where negative, what that side could give away, no more than its smallest bore clearance
    sensitivities  of every dimension, in the order of TrainGeometry.dimensions()
    contributions  exactly what s at worst_deg is the sum of, the largest first
    """

    turns: bool
    shortage_nm: float
    spare_nm: float
    worst_deg: float
    worst_arcs: tuple[Arc, ...]
    side: Literal["near", "far", "both"]
    near_share: float
    near_share_range: tuple[float, float]
    angles_deg: tuple[float, ...]
    shortages_nm: tuple[float, ...]
    near_shares: tuple[float, ...]
    near_alone_nm: tuple[float, ...]
    far_alone_nm: tuple[float, ...]
    sensitivities: tuple[Sensitivity, ...]
    contributions: tuple[Contribution, ...]


def turn_over(train: TrainGeometry, evenly: int = 720, worst_within_nm: float = 100.0) -> TurnOver:
    """Turn the set over on paper.

    evenly           how many evenly spaced crank angles, 24 to 3600; the dead centres are looked at besides
    worst_within_nm  how near the worst s an angle must come to count as worst [nm]; the worst is often a plateau
    Model, range and what is neglected: turnover_first_order.py. Raises OutOfRange.
    """
    import numpy as np

    if not 24 <= evenly <= 3600:
        raise OutOfRange("evenly", evenly, "so many angles are not looked at", "24 to 3600")
    if not 0 <= worst_within_nm < float("inf"):
        raise OutOfRange("worst_within_nm", worst_within_nm, "it must not be negative", "0 nm or more")
    model = first_order(train)
    angles = crank_angles(model.far_from_near_deg, evenly)
    found = openings(model, angles, model.bores / 2)
    at = at_angles(model, angles)
    shortage = float(found.needed.max())
    near = np.array([near_share(found.round_trip(n), model, at, n) for n in range(angles.size)])
    is_worst = found.needed >= shortage - worst_within_nm
    worst = _middle_of_the_longest(found.needed >= shortage - min(JUST_PASSES_NM, worst_within_nm), angles)
    shares = near[is_worst]
    sloping = gradients(train, train.dimensions())
    every = stacked(list(sloping.values()))
    slopes = {n: _slopes(found, n, model, at, every) for n in np.flatnonzero(is_worst).tolist()}
    sensitivities = tuple(
        Sensitivity(which, slopes[worst][n], min(s[n] for s in slopes.values()), max(s[n] for s in slopes.values()))
        for n, which in enumerate(sloping)
    )
    return TurnOver(
        turns=shortage <= JUST_PASSES_NM,
        shortage_nm=shortage,
        spare_nm=min(-shortage, float(train.least_rod_clearance_nm)),
        worst_deg=float(angles[worst]),
        worst_arcs=arcs(is_worst, angles),
        side="near" if shares.min() > ONE_SIDE else "far" if shares.max() < 1 - ONE_SIDE else "both",
        near_share=float(near[worst]),
        near_share_range=(float(shares.min()), float(shares.max())),
        angles_deg=tuple(angles.tolist()),
        shortages_nm=tuple(found.needed.tolist()),
        near_shares=tuple(near.tolist()),
        near_alone_nm=_one_side_alone(train, model, angles, 0),
        far_alone_nm=_one_side_alone(train, model, angles, 1),
        sensitivities=sensitivities,
        contributions=_contributions(train, {each.dimension: each.at_worst for each in sensitivities}),
    )


def near_share(trip: tuple[Step, ...], model: FirstOrder, at: AtAngles, angle: int) -> float:
    """The near side's weight, 0 to 1, in what decides: how much of each nm of opening works on that side."""
    growth = [0.0, 0.0]
    for i, j, k in trip:
        growth[k] += float(model.bores[k, i, j] * at.weight[k, angle])
    return growth[0] / (growth[0] + growth[1])


def slopes_at(found: Openings, angle: int, model: FirstOrder, at: AtAngles, sloping: Sequence[Gradient]) -> list[float]:
    """How s grows with each dimension, at the angle of this index: by the closed form that decides there."""
    return _slopes(found, angle, model, at, stacked(sloping))


def _slopes(found: Openings, angle: int, model: FirstOrder, at: AtAngles, sloping: Gradient) -> list[float]:
    import numpy as np

    growth, total = 0.0, np.zeros(sloping.spacing.shape[0])
    for i, j, k in found.round_trip(angle):
        growth += float(model.bores[k, i, j] * at.weight[k, angle]) / 2
        spacing, throw, ahead = (
            part[:, k, j] - part[:, k, i] for part in (sloping.spacing, sloping.throw, sloping.ahead)
        )
        place = spacing + throw * at.cos[k, angle] - ahead * at.sin[k, angle]
        total = total + at.weight[k, angle] * (at.sign[k, angle] * place + sloping.play[:, k, i, j])
    slopes: list[float] = (-total / growth).tolist()
    return slopes


def arcs(chosen: NDArray[np.bool_], angles_deg: Floats) -> tuple[Arc, ...]:
    """The angles chosen, as arcs; one that runs over 360° is one arc."""
    return tuple(
        Arc(float(angles_deg[first]), float(angles_deg[last % angles_deg.size]) + 360.0 * (last >= angles_deg.size))
        if last - first < angles_deg.size
        else Arc(0.0, 360.0)
        for first, last in _runs(chosen)
    )


def _runs(chosen: NDArray[np.bool_]) -> list[tuple[int, int]]:
    """First and last index of every run round the circle; a last one past the end stands for one after the start."""
    count = chosen.size
    if chosen.all():
        return [(0, count)]
    flags = chosen.tolist()
    starts = [n for n in range(count) if flags[n] and not flags[n - 1]]
    runs = []
    for start in starts:
        last = start
        while flags[(last + 1) % count]:
            last += 1
        runs.append((start, last))
    return runs


def _middle_of_the_longest(chosen: NDArray[np.bool_], angles_deg: Floats) -> int:
    first, last = max(
        _runs(chosen), key=lambda run: round((angles_deg[run[1] % chosen.size] - angles_deg[run[0]]) % 360, 6)
    )
    return int((first + last) // 2 % chosen.size)


def _one_side_alone(train: TrainGeometry, model: FirstOrder, angles_deg: Floats, k: int) -> tuple[float, ...]:
    opened = model.bores / 2
    opened[1 - k] = 0.0
    least = -min(nm for pair in train.side(SIDES[k]).rod_clearances_nm for nm in pair)
    return tuple(openings(model, angles_deg, opened, least).needed.tolist())


def _contributions(train: TrainGeometry, slope: dict[Dimension, float]) -> tuple[Contribution, ...]:
    counted = [which for which in slope if which.kind not in ("centres", "knuckle offset")]
    parts = [Contribution(which, slope[which] * _deviation(train, which)) for which in counted]
    return tuple(sorted(parts, key=lambda part: -abs(part.nm)))


def _deviation(train: TrainGeometry, which: Dimension) -> float:
    side, place = train.side(which.side), which.place
    if which.kind == "rod":
        return float(-side.spacing_error_nm(place))
    if which.kind == "throw":
        return side.throws_nm[place] - side.mean_throw_nm
    if which.kind == "quartering":
        return train.quartering(place) - train.mean_quartering_deg
    return float(side.shaft_clearance_nm(place) if which.kind == "shaft bearing" else side.rod_clearance_nm(place))
