"""Any number of coupled shafts, with knuckles and play in inner bearings: the opening that lets them pass each angle.

With the equations of turnover_first_order.py, in one unknown a shaft (its phase δ, scaled), each side and each two
shafts give two bounds of the kind δⱼ − δᵢ ≤ U. Such bounds can be met if and only if no round trip over the shafts has
a negative sum (the theory of difference constraints). Only the smaller of the two sides' bounds counts on each step; a
round trip of two steps is the pair's closed form.

The least opening s makes the worst round trip come out at zero. Each sum is A + B s with B ≥ 0, so s is the greatest
−A/B over all round trips. It is found by Newton's way: start at the best pair; eliminate the shafts one by one (Fourier
and Motzkin: each step keeps what a bound between two shafts can be by way of the eliminated one); if some sum is
negative at the present s, raise s to where that sum is zero, and repeat. s never passes the answer, each step is the
exact zero of one round trip, and there are finitely many. A negative sum with B = 0: no such opening helps.

An opening below −(mean clearance of a way) cannot be, for a side's two bounds would cross. Such round trips (there and
back on one side) are among those looked at.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from server.trade.turnover_first_order import AtAngles, FirstOrder, at_angles
from server.trade.turnover_pair import NEGLIGIBLE_NM, pair_openings

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]
    Whole = NDArray[np.int8]

Step = tuple[int, int, int]  # from shaft, to shaft, side


@dataclass(frozen=True, slots=True)
class Openings:
    """What each angle needs, and the round trip that decides it.

    needed   [nm] at each angle; negative: to spare; +inf: no such opening lets it pass
    ends     [2, angle] two shafts of the round trip
    via      [shaft, shaft, angle] the shaft a bound goes by way of, −1 for a bound of one side
    side     [shaft, shaft, angle] whose bound it is
    """

    needed: Floats
    ends: Whole
    via: Whole
    side: Whole

    def round_trip(self, angle: int) -> tuple[Step, ...]:
        """The steps of the round trip that decides at the angle of this index."""
        first, last = int(self.ends[0, angle]), int(self.ends[1, angle])
        return (*self._steps(first, last, angle), *self._steps(last, first, angle))

    def only(self, angle: int) -> Openings:
        """The same for the angle of this index alone."""
        one = slice(angle, angle + 1)
        return Openings(self.needed[one], self.ends[:, one], self.via[..., one], self.side[..., one])

    def _steps(self, first: int, last: int, angle: int) -> tuple[Step, ...]:
        by = int(self.via[first, last, angle])
        if by < 0:
            return ((first, last, int(self.side[first, last, angle])),)
        return (*self._steps(first, by, angle), *self._steps(by, last, angle))


def openings(
    model: FirstOrder,
    angles_deg: Floats,
    opened: Floats,
    least_nm: float = float("-inf"),
    pairs_only: bool | None = None,
) -> Openings:
    """The least opening [nm] at each near crank angle [°], not looked for below `least_nm`.

    opened      [side, shaft, shaft] by how much the play of each way grows for each nm of opening
    pairs_only  look at pairs alone; left out: if the set's pairs stand alone
    """
    import numpy as np

    at = at_angles(model, angles_deg)
    found = _from_pairs(model, at, opened)
    if not (model.alone if pairs_only is None else pairs_only):
        _raise_by_longer_trips(model, at, opened, found, least_nm)
    return Openings(np.maximum(found.needed, least_nm), found.ends, found.via, found.side)


def _from_pairs(model: FirstOrder, at: AtAngles, opened: Floats) -> Openings:
    import numpy as np

    shafts, angles = model.spacing.shape[1], at.weight.shape[1]
    pairs = pair_openings(at, model.play, model.pairs, opened)
    worst, every = pairs.needed.argmax(axis=0), np.arange(angles)
    ends = np.array(model.pairs, dtype=np.int8).T[:, worst]
    side = np.zeros((shafts, shafts, angles), dtype=np.int8)
    near_first = pairs.near_first[worst, every]
    side[ends[0], ends[1], every] = np.where(near_first, 0, 1)
    side[ends[1], ends[0], every] = np.where(near_first, 1, 0)
    return Openings(pairs.needed[worst, every], ends, np.full_like(side, -1), side)


def _raise_by_longer_trips(model: FirstOrder, at: AtAngles, opened: Floats, found: Openings, least_nm: float) -> None:
    """Raise what is needed until no round trip is negative, in place."""
    import numpy as np

    shafts = model.spacing.shape[1]
    # One side's bounds, near taken as the origin of every shaft's phase: only the far side's places remain.
    ahead = at.place[1] - at.place[0]
    start = np.zeros((2, shafts, shafts, at.weight.shape[1]))
    start[1] = ahead[None] - ahead[:, None]
    start += model.play[..., None] * at.weight[:, None, None]
    slope = opened[..., None] * at.weight[:, None, None]
    todo = np.flatnonzero(np.isfinite(found.needed) | (found.needed < 0))
    for _ in range(64):
        if not todo.size:
            return
        s = np.maximum(found.needed[todo], least_nm)
        better = _worst_trip(start[..., todo], slope[..., todo], s)
        raised = better.needed > s + NEGLIGIBLE_NM
        here = todo[raised]
        found.needed[here] = better.needed[raised]
        found.ends[:, here] = better.ends[:, raised]
        found.via[..., here] = better.via[..., raised]
        found.side[..., here] = better.side[..., raised]
        todo = here[np.isfinite(found.needed[here])]


def _worst_trip(start: Floats, slope: Floats, s: Floats) -> Openings:
    """Of the round trips that are negative at s, at each angle, the one that asks for the most; −inf where none is."""
    import numpy as np

    shafts, angles = start.shape[1], start.shape[3]
    both = start + slope * np.where(np.isfinite(s), s, 0.0)
    far = both[1] < both[0]
    bound, fixed, grows = (np.where(far, each[1], each[0]) for each in (both, start, slope))
    side = far.astype(np.int8)
    via = np.full_like(side, -1)
    needed, ends = np.full(angles, -np.inf), np.zeros((2, angles), dtype=np.int8)
    for out in range(shafts - 1, 0, -1):
        for i in range(out):
            total = bound[i, out] + bound[out, i]
            growth = grows[i, out] + grows[out, i]
            lacks = -(fixed[i, out] + fixed[out, i])
            asks = np.divide(lacks, growth, out=np.full(angles, np.inf), where=growth > 1e-12)
            take = (total < -NEGLIGIBLE_NM / 4) & (asks > needed)
            needed[take] = asks[take]
            ends[0, take], ends[1, take] = i, out
        for i in range(out):
            for j in range(out):
                if i == j:
                    continue
                by = bound[i, out] + bound[out, j]
                less = by < bound[i, j]
                bound[i, j][less] = by[less]
                fixed[i, j][less] = (fixed[i, out] + fixed[out, j])[less]
                grows[i, j][less] = (grows[i, out] + grows[out, j])[less]
                via[i, j][less] = out
    return Openings(needed, ends, via, side)
