"""Every two of the coupled shafts, in closed form: the opening that lets a set of them pass each crank angle.

Two shafts. With the equations of turnover_first_order.py, each side leaves the phase between two shafts an interval.
The two intervals meet if and only if their centres are no further apart than their half widths together. Multiplied
out, with a the error along the rods of a side, s the sine of its crank angle and equal throws on both sides,

    F = s_far a_near − s_near a_far;    they pass    ⇔    |F| ≤ C_near |s_far| + C_far |s_near|.

If the opening x adds m x to the C of each side, the least that lets them pass is

    x = (|F| − C_near |s_far| − C_far |s_near|) / (m_near |s_far| + m_far |s_near|),

negative where something is to spare. The weights say which side binds: at a dead centre of the near side s_near is
nothing and only that side's own error counts; half-way between dead centres both bind against each other, and to name
one would be arbitrary.

Any number of shafts: it passes if and only if every two of them pass, neighbours or not (proved; tested against a
search for round trips and a linear programme). Bounds on differences can be met if and only if no round trip over the
shafts has a negative sum. Take one that does not visit a shaft twice.
- Two steps on one side after another can be made one: C_ij + C_jk ≥ C_ik, and the errors add. So near and far
  alternate, and each shaft has one near and one far step.
- The sum is then of two kinds of terms: Q = F's share of each shaft, + for those the far step enters, − for those it
  leaves, and the plays of the near steps and of the far steps, each of which match the first kind with the second.
- C_ij is what the two shafts have each to themselves (their boxes, the bores of pins beside a knuckle) and the distance
  between their places on a line, the bores passed on the way; both sides have the shafts in one order. Of all ways to
  match points of two kinds on a line, first with first and so on is the shortest, on either side.
- So the plays are at least those of that one matching, used on both sides: the sum of as many pairs' closed forms. If
  no pair is negative, no round trip is.
Where rods meet on the crank pins alone and inner bearings have no play, C adds up and neighbours suffice. Otherwise
checking neighbours alone passes sets that bind: the play of an inner bearing, or of the crank pin beside a knuckle,
cannot be spent twice.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

from server.trade.turnover_first_order import FirstOrder, at_angles

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]

Step = tuple[int, int, int]  # from shaft, to shaft, side

NEGLIGIBLE_NM: Final = 1e-6  # rounding in sums of lengths up to metres stays below it


@dataclass(frozen=True, slots=True)
class Openings:
    """What each angle needs, and the pair that decides it.

    needed      [nm] at each angle; negative: to spare; +inf: no such opening lets it pass
    first, last [angle] the two shafts
    near_first  [angle] whether the near side holds the second shaft back while the far one drives it on, or the reverse
    """

    needed: Floats
    first: NDArray[np.int64]
    last: NDArray[np.int64]
    near_first: NDArray[np.bool_]

    def round_trip(self, angle: int) -> tuple[Step, Step]:
        """The two bounds that decide at the angle of this index: there on one side, back on the other."""
        i, j, near_first = int(self.first[angle]), int(self.last[angle]), bool(self.near_first[angle])
        return (i, j, 0 if near_first else 1), (j, i, 1 if near_first else 0)

    def only(self, angle: int) -> Openings:
        """The same for the angle of this index alone."""
        one = slice(angle, angle + 1)
        return Openings(self.needed[one], self.first[one], self.last[one], self.near_first[one])


def openings(model: FirstOrder, angles_deg: Floats, opened: Floats, least_nm: float = float("-inf")) -> Openings:
    """The least opening [nm] at each near crank angle [°], not told below `least_nm`.

    opened  [side, shaft, shaft] m: by how much the play of each way grows for each nm of opening
    """
    import numpy as np

    at = at_angles(model, angles_deg)
    first, last = np.array(model.pairs).T
    parts = at.place[:, last] - at.place[:, first]  # [side, pair, angle] w σ a
    apart = parts[1] - parts[0]
    lacks = np.abs(apart) - np.einsum("kp,ka->pa", model.play[:, first, last], at.weight)
    grows = np.einsum("kp,ka->pa", opened[:, first, last], at.weight)
    never = np.where(lacks > NEGLIGIBLE_NM, np.inf, -np.inf)
    needed = np.divide(lacks, grows, out=never, where=grows > 1e-12)
    worst, every = needed.argmax(axis=0), np.arange(angles_deg.size)
    return Openings(np.maximum(needed[worst, every], least_nm), first[worst], last[worst], apart[worst, every] >= 0)
