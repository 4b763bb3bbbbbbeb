"""Two coupled shafts, in closed form: the opening that lets them pass each crank angle.

With the equations of turnover_first_order.py, each side leaves the phase between the two shafts an interval. The two
intervals meet if and only if their centres are no further apart than their half widths together. Multiplied out, with
a the error along the rods of a side, s the sine of its crank angle and equal throws on both sides,

    F = s_far a_near − s_near a_far;    it passes    ⇔    |F| ≤ C_near |s_far| + C_far |s_near|.

If the opening s adds m s to the C of each side, the least that lets it pass is

    s = (|F| − C_near |s_far| − C_far |s_near|) / (m_near |s_far| + m_far |s_near|),

negative where something is to spare. The weights say which side binds: at a dead centre of the near side s_near is
nothing and only that side's own error counts; half-way between dead centres both bind against each other, and to name
one would be arbitrary.

For more than two shafts this is exact for each two neighbours, if all rods run on the crank pins and the inner shafts
have no play; and a lower bound of the general answer otherwise.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

from server.trade.turnover_first_order import AtAngles

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]

NEGLIGIBLE_NM: Final = 1e-6  # rounding in sums of lengths up to metres stays below it


@dataclass(frozen=True, slots=True)
class PairOpenings:
    """For every pair asked for (first axis) and every angle: what it needs, and which way round it binds.

    needed      [nm], negative: to spare; +inf: this opening never lets it pass; −inf: it passes and it takes no part
    near_first  whether the near side keeps the second shaft back while the far side drives it on, or the reverse
    """

    needed: Floats
    near_first: NDArray[np.bool_]


def pair_openings(at: AtAngles, play: Floats, pairs: tuple[tuple[int, int], ...], opened: Floats) -> PairOpenings:
    """The least opening [nm] for each pair and angle.

    play    [side, shaft, shaft] C [nm]
    opened  [side, shaft, shaft] m: by how much C grows for each nm of opening
    """
    import numpy as np

    first, last = [i for i, _ in pairs], [j for _, j in pairs]
    parts = at.place[:, last] - at.place[:, first]  # [side, pair, angle] w σ a
    apart = parts[1] - parts[0]
    lets = np.einsum("kp,ka->pa", play[:, first, last], at.weight)
    grows = np.einsum("kp,ka->pa", opened[:, first, last], at.weight)
    lacks = np.abs(apart) - lets
    never = np.where(lacks > NEGLIGIBLE_NM, np.inf, -np.inf)
    needed = np.divide(lacks, grows, out=never, where=grows > 1e-12)
    return PairOpenings(needed, apart >= 0)
