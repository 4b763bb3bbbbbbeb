"""How likely a set of coupled cranks is to turn over, with what is known of its dimensions and how well.

Many sets are drawn at random round the one given, and each is turned over (first order, as turnover_first_order.py; the
angle between the sides and the mean throws are held, which is exact to that order), by the closed form of
turnover_pair.py for every two shafts that must be looked at.

Errors that are the same for several dimensions, such as that of the one quartering gauge or the one micrometer that
measured them all, are drawn once and added to each before anything is worked out. An error all quarterings share then
cancels by itself, because only their differences bind.

A bearing drawn with less than no clearance does not go on its pin: such a set counts as one that does not turn.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final, Literal

from server.trade.errors import Impossible, OutOfRange
from server.trade.turnover import JUST_PASSES_NM
from server.trade.turnover_first_order import AtAngles, FirstOrder, at_angles, crank_angles, first_order, gradients
from server.trade.turnover_train import Dimension, TrainGeometry

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]

Shape = Literal["normal", "rectangular"]

_SHAPES: Final = ("normal", "rectangular")
_AT_A_TIME: Final = 32  # sets: their arrays over 180 angles stay in a processor's cache


@dataclass(frozen=True, slots=True)
class Spread:
    """How well one dimension is known.

    standard  its standard uncertainty [nm; ° for quartering]
    shape     of its distribution
    shared    a name for an error that several dimensions have in common: all with this name get the same draw, each
              times its own `standard`. Empty: the dimension's own. A dimension may have several spreads; they add
    """

    dimension: Dimension
    standard: float
    shape: Shape = "normal"
    shared: str = ""

    @classmethod
    def between_limits(cls, dimension: Dimension, half_width: float, shape: Shape = "rectangular") -> Spread:
        """From limits this far either side of the value given [nm; °].

        rectangular: anything between them alike, standard = half width/√3 (JCGM 100:2008 4.3.7, from memory)
        normal: the limits stand three standard deviations off (common practice, no source)
        """
        return cls(dimension, half_width / (3.0 if shape == "normal" else math.sqrt(3.0)), shape)


@dataclass(frozen=True, slots=True)
class Forecast:
    """How often the sets drawn turn.

    turns           the share that turns, 0 to 1
    from_, to       between which the probability lies with 95 % confidence, for so many draws (Wilson's interval)
    without_clearance  the share in which some bearing came out with less than no clearance; they do not turn
    samples         how many were drawn
    """

    turns: float
    from_: float
    to: float
    without_clearance: float
    samples: int


def forecast(
    train: TrainGeometry, spreads: Sequence[Spread], samples: int = 10_000, evenly: int = 180, seed: int = 1
) -> Forecast:
    """Draw `samples` sets (100 to 1,000,000); turn each over at `evenly` spaced angles (24 to 3600) and dead centres.

    The same seed gives the same answer. With 180 angles the worst is read low by about 0.01 µm (see crank_angles).
    Raises OutOfRange for a spread below nothing, Impossible for a dimension the set has not.
    """
    import numpy as np

    if not 100 <= samples <= 1_000_000:
        raise OutOfRange("samples", samples, "so many are not drawn", "100 to 1,000,000")
    if not 24 <= evenly <= 3600:
        raise OutOfRange("evenly", evenly, "so many angles are not looked at", "24 to 3600")
    _check(train, spreads)
    model = first_order(train)
    at = at_angles(model, crank_angles(model.far_from_near_deg, evenly))
    which, drawn = _draw(spreads, samples, seed)
    drawn_sets = _Sets(train, model, which, drawn)
    shut = _without_clearance(train, which, drawn)
    passed = _pass(model, at, drawn_sets)
    turning = int(np.count_nonzero(passed & ~shut))
    low, high = _wilson(turning, samples)
    return Forecast(turning / samples, low, high, float(shut.mean()), samples)


class _Sets:
    """The parts of the equations for every set drawn, shafts last but for `play`, as in FirstOrder."""

    def __init__(self, train: TrainGeometry, model: FirstOrder, which: list[Dimension], drawn: Floats) -> None:
        import numpy as np

        slopes = list(gradients(train, which).values())

        def spread(fixed: Floats, parts: list[Floats]) -> Floats:
            if not parts:
                return np.broadcast_to(fixed, (drawn.shape[0], *fixed.shape))
            return np.asarray(fixed + np.tensordot(drawn, np.stack(parts), axes=1))

        self.spacing = spread(model.spacing, [each.spacing for each in slopes])
        self.throw = spread(model.throw, [each.throw for each in slopes])
        self.ahead = spread(model.ahead, [each.ahead for each in slopes])
        self.play = spread(model.play, [each.play for each in slopes])

    def apart(self, i: int, j: int) -> Floats:
        """[set, 5] what a pair's far side less its near side is made of; times `_apart_by_angle`."""
        import numpy as np

        difference = [part[:, :, j] - part[:, :, i] for part in (self.spacing, self.throw)]
        ahead = self.ahead[:, 1, j] - self.ahead[:, 1, i]
        return np.column_stack([*difference, ahead])


def _apart_by_angle(at: AtAngles) -> Floats:
    """[5, angle] the factors of near and far spacing, near and far throw, quartering."""
    import numpy as np

    facing = at.weight * at.sign * np.array([[-1.0], [1.0]])
    return np.stack([*facing, *(facing * at.cos), -facing[1] * at.sin[1]])


def _pass(model: FirstOrder, at: AtAngles, sets: _Sets) -> NDArray[np.bool_]:
    import numpy as np

    factors = _apart_by_angle(at)
    count, angles = sets.spacing.shape[0], factors.shape[1]
    passed = np.ones(count, dtype=np.bool_)
    buffers = np.empty((2, _AT_A_TIME, angles))
    tolerance = JUST_PASSES_NM * at.weight.sum(axis=0)
    for i, j in model.pairs:
        apart, play = sets.apart(i, j), np.ascontiguousarray(sets.play[:, :, i, j])
        play_and_1, weight_and_1 = np.column_stack([play, np.ones(count)]), np.vstack([at.weight, tolerance])
        for first in range(0, count, _AT_A_TIME):
            some = slice(first, min(first + _AT_A_TIME, count))
            lacks, lets = buffers[:, : some.stop - first]
            np.matmul(apart[some], factors, out=lacks)
            np.matmul(play_and_1[some], weight_and_1, out=lets)
            np.abs(lacks, out=lacks)
            passed[some] &= (lacks <= lets).all(axis=1)
    return passed


def _draw(spreads: Sequence[Spread], samples: int, seed: int) -> tuple[list[Dimension], Floats]:
    """The dimensions that vary, and [set, dimension] by how much each set drawn differs from the one given."""
    import numpy as np

    random = np.random.default_rng(seed)
    which = list(dict.fromkeys(each.dimension for each in spreads))
    drawn = np.zeros((samples, len(which)))
    shared: dict[str, Floats] = {}
    for each in spreads:
        unit = shared.get(each.shared) if each.shared else None
        if unit is None:
            reach = math.sqrt(3.0)
            flat = each.shape == "rectangular"
            unit = random.uniform(-reach, reach, samples) if flat else random.standard_normal(samples)
        if each.shared:
            shared[each.shared] = unit
        drawn[:, which.index(each.dimension)] += each.standard * unit
    return which, drawn


def _check(train: TrainGeometry, spreads: Sequence[Spread]) -> None:
    dimensions = set(train.dimensions())
    shapes: dict[str, Shape] = {}
    for each in spreads:
        if each.dimension not in dimensions:
            raise Impossible("spreads", each.dimension, "the set has no such dimension", "a dimension of the set")
        if not 0 <= each.standard < math.inf:
            why = "a standard uncertainty is not negative"
            raise OutOfRange("spreads", f"{each.standard} of {train.words(each.dimension)}", why, "0 or more")
        if each.shape not in _SHAPES:
            raise Impossible("spreads", each.shape, "there is no such shape", " or ".join(_SHAPES))
        if each.shared and shapes.setdefault(each.shared, each.shape) != each.shape:
            why = f"{each.shared} is one error and cannot have two shapes"
            raise Impossible("spreads", each.shape, why, f"{shapes[each.shared]}, as before")


def _without_clearance(train: TrainGeometry, which: list[Dimension], drawn: Floats) -> NDArray[np.bool_]:
    import numpy as np

    shut = np.zeros(drawn.shape[0], dtype=np.bool_)
    for n, each in enumerate(which):
        side = train.side(each.side)
        if each.kind == "rod bearing":
            shut |= side.rod_clearance_nm(each.place) + drawn[:, n] < 0
        elif each.kind == "shaft bearing":
            shut |= side.shaft_clearance_nm(each.place) + drawn[:, n] < 0
    return shut


def _wilson(successes: int, count: int) -> tuple[float, float]:
    """Wilson's interval of a share, 95 %: from memory, checked against scipy in the tests."""
    z = 1.959963984540054
    share = successes / count
    centre = share + z * z / (2 * count)
    half = z * math.sqrt(share * (1 - share) / count + (z / (2 * count)) ** 2)
    scale = 1 + z * z / count
    return max((centre - half) / scale, 0.0), min((centre + half) / scale, 1.0)
