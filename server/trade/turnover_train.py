"""A set of coupled cranks as it is measured: shafts, cranks, rods, bearings; and the names of its dimensions.

Two or more parallel shafts turn in one frame and carry a crank at each end. The near side's cranks and the far side's
stand a stated angle apart. On each side a rod goes from every crank to the next, or is jointed to its neighbour's rod
at a knuckle beside the crank pin. Everything is what was measured, or what is drawn where nothing is measured yet.

All clearances are diametral (bore less pin). What the sums leave out is for whoever measures to take off them first:
pins out of square with the crank, the least film of oil, a shaft that rises and falls.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from itertools import combinations
from typing import Final, Literal

from server.trade.bounds import length_not_negative, positive_length, say_length
from server.trade.errors import Impossible, OutOfRange
from server.trade.within import within

Side = Literal["near", "far"]
Joint = Literal["pin", "knuckle before", "knuckle after"]
Kind = Literal["centres", "rod", "knuckle offset", "throw", "quartering", "shaft bearing", "rod bearing"]

SIDES: Final[tuple[Side, Side]] = ("near", "far")
JOINTS: Final[tuple[Joint, ...]] = ("pin", "knuckle before", "knuckle after")
LEAST_FROM_LINE_DEG: Final = 10.0  # the angle between the sides stays this far from 0° and 180°
GREATEST_ERROR: Final = 0.1  # of the throw: past it the sums, which are of the first order, say too little
GREATEST_QUARTERING_DEG: Final = 5.0  # from the mean of the set: about a tenth of the throw at the pin


@dataclass(frozen=True, slots=True, order=True)
class Dimension:
    """One dimension of the set.

    kind   what it is; "rod bearing" is any bore of a rod, also one that runs on a knuckle's pin
    side   "near" or "far"; "" for quartering, which is the shaft's own
    place  counted from 0: the space between shafts for centres and rod; the shaft for throw, quartering, shaft
           bearing and knuckle offset; twice the rod for the bore towards the first shaft, one more for its other bore
    """

    kind: Kind
    side: Literal["near", "far", ""]
    place: int


@dataclass(frozen=True, slots=True)
class CrankSide:
    """One side of N shafts. All lengths [nm].

    centres_nm           N−1 distances from shaft to shaft, on this side
    rods_nm              N−1 rods, from the bore at one end to the bore at the other (a knuckle's bore where it has one)
    throws_nm            N throws: from the shaft's axis to the crank pin's
    rod_clearances_nm    N−1 pairs: the clearance in each bore of the rod, first the one towards the first shaft
    shaft_clearances_nm  N: play in each shaft's bearing on this side; left out: none
    joints               N−2, for the inner shafts; left out: all "pin", both rods on the crank pin. "knuckle before":
                         the rod towards the last shaft runs on the pin and carries, on the first shaft's side of it,
                         the knuckle for the other rod. "knuckle after": the other way about
    knuckle_offsets_nm   N−2: from the crank pin to the knuckle; 0 where both rods run on the pin; left out: all 0
    """

    centres_nm: tuple[int, ...]
    rods_nm: tuple[int, ...]
    throws_nm: tuple[int, ...]
    rod_clearances_nm: tuple[tuple[int, int], ...]
    shaft_clearances_nm: tuple[int, ...] = ()
    joints: tuple[Joint, ...] = ()
    knuckle_offsets_nm: tuple[int, ...] = ()

    @property
    def shafts(self) -> int:
        return len(self.throws_nm)

    @property
    def mean_throw_nm(self) -> float:
        return sum(self.throws_nm) / len(self.throws_nm)

    def joint(self, shaft: int) -> Joint:
        """How the rods meet at a shaft, counted from 0; an end shaft has a pin."""
        return self.joints[shaft - 1] if self.joints and 0 < shaft < self.shafts - 1 else "pin"

    def knuckle_offset_nm(self, shaft: int) -> int:
        inner = self.knuckle_offsets_nm and 0 < shaft < self.shafts - 1
        return self.knuckle_offsets_nm[shaft - 1] if inner else 0

    def shaft_clearance_nm(self, shaft: int) -> int:
        return self.shaft_clearances_nm[shaft] if self.shaft_clearances_nm else 0

    def rod_clearance_nm(self, bearing: int) -> int:
        return self.rod_clearances_nm[bearing // 2][bearing % 2]

    def spacing_error_nm(self, space: int) -> int:
        """Shaft centres less what the rods span from pin to pin, in one space between shafts: all that counts."""
        span = self.rods_nm[space]
        if self.joint(space) == "knuckle after":
            span += self.knuckle_offset_nm(space)
        if self.joint(space + 1) == "knuckle before":
            span += self.knuckle_offset_nm(space + 1)
        return self.centres_nm[space] - span

    def bearings_between(self, first: int, last: int) -> tuple[int, ...]:
        """The rod bores (twice the rod, plus one for its far bore) passed on the way from one crank pin to another."""
        start = (2 * first,) if self.joint(first) != "knuckle after" else (2 * first - 1, 2 * first)
        end = (2 * last - 1,) if self.joint(last) != "knuckle before" else (2 * last - 1, 2 * last)
        passed: list[int] = []
        for shaft in range(first + 1, last):
            joint = self.joint(shaft)
            passed += [2 * shaft - 1] if joint != "knuckle after" else []
            passed += [2 * shaft] if joint != "knuckle before" else []
        return (*start, *passed, *end)


@dataclass(frozen=True, slots=True)
class TrainGeometry:
    """Both sides of a set of coupled cranks.

    near, far           the two sides
    quartering_deg      N measured errors of the angle between each shaft's two cranks [°]; left out: none
    between_sides_deg   angle wanted from a near crank to the far crank of its shaft [°], −180 to 180: 90 or −90 for a
                        quarter turn. Within 10° of 0° or 180° the sides stand in line and cannot hold each other
                        through their dead centres: refused

    Only the differences between the quartering errors can bind. The mean of them turns the far side as a whole.
    Raises Impossible, OutOfRange naming the member: "near_rod_1_nm", "far_throw_2_nm", "quartering_1_deg",
    "near_rod_clearance_2_nm" (bores counted along the side) and so on, counted from 1.
    """

    near: CrankSide
    far: CrankSide
    quartering_deg: tuple[float, ...] = ()
    between_sides_deg: float = 90.0

    def __post_init__(self) -> None:
        _counts(self)
        for name in SIDES:
            _lengths(name, self.side(name))
        within("between_sides_deg", self.between_sides_deg, -180.0, 180.0, "°")
        for shaft, error in enumerate(self.quartering_deg, 1):
            most = GREATEST_QUARTERING_DEG
            within(f"quartering_{shaft}_deg", error, -180.0, 180.0, "°")
            within(f"quartering_{shaft}_deg", error - self.mean_quartering_deg, -most, most, "° from the mean of all")
        if abs(math.sin(math.radians(self.far_from_near_deg))) < math.sin(math.radians(LEAST_FROM_LINE_DEG)):
            why = "the sides stand in line: neither carries the other through its dead centres"
            accepts = f"an angle {LEAST_FROM_LINE_DEG:g}° or more away from 0° and 180°"
            raise Impossible("between_sides_deg", f"{self.far_from_near_deg:g}", why, accepts)
        for name in SIDES:
            _closes(name, self.side(name))

    @property
    def shafts(self) -> int:
        return self.near.shafts

    @property
    def mean_quartering_deg(self) -> float:
        return sum(self.quartering_deg) / self.shafts if self.quartering_deg else 0.0

    @property
    def far_from_near_deg(self) -> float:
        """The angle from a near crank to the far one, as made: the one wanted and the mean quartering error [°]."""
        return self.between_sides_deg + self.mean_quartering_deg

    @property
    def pairs_stand_alone(self) -> bool:
        """Whether each two neighbours can be taken by themselves: no knuckle, no play in an inner shaft's bearing."""
        inner = range(1, self.shafts - 1)
        return all(
            side.joint(shaft) == "pin" and side.shaft_clearance_nm(shaft) == 0
            for side in (self.near, self.far)
            for shaft in inner
        )

    @property
    def least_rod_clearance_nm(self) -> int:
        return min(nm for side in (self.near, self.far) for pair in side.rod_clearances_nm for nm in pair)

    def side(self, name: Literal["near", "far", ""]) -> CrankSide:
        return self.near if name == "near" else self.far

    def quartering(self, shaft: int) -> float:
        return self.quartering_deg[shaft] if self.quartering_deg else 0.0

    def dimensions(self) -> tuple[Dimension, ...]:
        """Every dimension the set has, in a settled order."""
        return tuple(self._dimensions())

    def _dimensions(self) -> Iterator[Dimension]:
        spaces, shafts = range(self.shafts - 1), range(self.shafts)
        for name in SIDES:
            yield from (Dimension("centres", name, place) for place in spaces)
            yield from (Dimension("rod", name, place) for place in spaces)
            side = self.side(name)
            yield from (Dimension("knuckle offset", name, place) for place in shafts if side.joint(place) != "pin")
            yield from (Dimension("throw", name, place) for place in shafts)
            yield from (Dimension("shaft bearing", name, place) for place in shafts)
            yield from (Dimension("rod bearing", name, place) for place in range(2 * (self.shafts - 1)))
        yield from (Dimension("quartering", "", place) for place in shafts)

    def words(self, which: Dimension) -> str:
        """A dimension as a sentence can name it: "near rod 1–2", "far rod 1–2 bore at shaft 2"."""
        place, side = which.place, which.side
        if which.kind == "quartering":
            return f"quartering of shaft {place + 1}"
        if which.kind in ("centres", "rod"):
            name = "shaft centres" if which.kind == "centres" else "rod"
            return f"{side} {name} {place + 1}–{place + 2}"
        if which.kind != "rod bearing":
            name = {"throw": "throw", "shaft bearing": "shaft bearing", "knuckle offset": "knuckle"}[which.kind]
            return f"{side} {name}{' of' if name == 'throw' else ' at'} shaft {place + 1}"
        rod, end = divmod(place, 2)
        shaft = rod + end
        knuckled = self.side(side).joint(shaft) == ("knuckle before" if end else "knuckle after")
        return f"{side} rod {rod + 1}–{rod + 2} bore at {'the knuckle of ' if knuckled else ''}shaft {shaft + 1}"


def _counts(train: TrainGeometry) -> None:
    shafts = train.near.shafts
    if shafts < 2:
        raise Impossible("near_throws_nm", shafts, "there are too few cranks", "the throws of two shafts or more")
    for name in SIDES:
        side = train.side(name)
        for field, members, wanted, may_be_left_out in (
            ("throws_nm", side.throws_nm, shafts, False),
            ("centres_nm", side.centres_nm, shafts - 1, False),
            ("rods_nm", side.rods_nm, shafts - 1, False),
            ("rod_clearances_nm", side.rod_clearances_nm, shafts - 1, False),
            ("shaft_clearances_nm", side.shaft_clearances_nm, shafts, True),
            ("joints", side.joints, shafts - 2, True),
            ("knuckle_offsets_nm", side.knuckle_offsets_nm, shafts - 2, True),
        ):
            _count(f"{name}_{field}", len(members), wanted, may_be_left_out)
        for rod, bores in enumerate(side.rod_clearances_nm, 1):
            _count(f"{name}_rod_clearances_nm of rod {rod}", len(bores), 2, False)
    _count("quartering_deg", len(train.quartering_deg), shafts, True)


def _count(field: str, count: int, wanted: int, may_be_left_out: bool) -> None:
    if count != wanted and not (may_be_left_out and count == 0):
        accepts = f"{wanted} of them" + (", or none" if may_be_left_out else "")
        raise Impossible(field, count, "a member is missing, or there is one too many", accepts)


def _lengths(name: Side, side: CrankSide) -> None:
    for field, lengths in (("centres", side.centres_nm), ("rod", side.rods_nm), ("throw", side.throws_nm)):
        for number, nm in enumerate(lengths, 1):
            positive_length(f"{name}_{field}_{number}_nm", nm)
    bores = [nm for pair in side.rod_clearances_nm for nm in pair]
    for field, lengths in (("rod", tuple(bores)), ("shaft", side.shaft_clearances_nm)):
        for number, nm in enumerate(lengths, 1):
            length_not_negative(f"{name}_{field}_clearance_{number}_nm", nm)
    for number, joint in enumerate(side.joints, 2):
        if joint not in JOINTS:
            raise Impossible(f"{name}_joint_{number}", joint, "there is no such joint", ", ".join(JOINTS))
    for shaft in range(1, side.shafts - 1):
        field, offset_nm = f"{name}_knuckle_offset_{shaft + 1}_nm", side.knuckle_offset_nm(shaft)
        if (side.joint(shaft) == "pin") != (offset_nm == 0):
            why = "a knuckle stands off its crank pin, and rods that share a pin have none"
            raise Impossible(field, say_length(offset_nm), why, "0 for a pin, a length of more than 0 for a knuckle")
        length_not_negative(field, offset_nm)


def _closes(name: Side, side: CrankSide) -> None:
    throw_nm = side.mean_throw_nm
    most_nm = GREATEST_ERROR * throw_nm
    accepts = f"within {say_length(int(most_nm))}, a tenth of the throw"
    for number, nm in enumerate(side.throws_nm, 1):
        if abs(nm - throw_nm) > most_nm:
            why = "the throws of one side differ too much to be coupled"
            raise OutOfRange(f"{name}_throw_{number}_nm", say_length(nm), why, f"the mean of the side {accepts}")
    for number, nm in enumerate(side.shaft_clearances_nm, 1):
        if nm > most_nm:
            field = f"{name}_shaft_clearance_{number}_nm"
            raise OutOfRange(field, say_length(nm), "it is too large for the sums to hold", accepts)
    for number, nm in enumerate((nm for pair in side.rod_clearances_nm for nm in pair), 1):
        if nm > most_nm:
            field = f"{name}_rod_clearance_{number}_nm"
            raise OutOfRange(field, say_length(nm), "it is too large for the sums to hold", accepts)
    for space in range(side.shafts - 1):
        _rod_closes(name, side, space, most_nm)
    for first, last in combinations(range(side.shafts), 2):  # errors that add up along the set
        total_nm = sum(side.spacing_error_nm(space) for space in range(first, last))
        if abs(total_nm) > most_nm:
            why = f"from shaft {first + 1} to {last + 1} the rods differ from the shaft centres by too much in all"
            raise OutOfRange(f"{name}_rods_nm", say_length(total_nm), why, accepts)


def _rod_closes(name: Side, side: CrankSide, space: int, most_nm: float) -> None:
    error_nm = side.spacing_error_nm(space)
    field, read = f"{name}_rod_{space + 1}_nm", say_length(side.rods_nm[space])
    bores = side.bearings_between(space, space + 1)
    play = sum(side.rod_clearance_nm(bore) for bore in bores)
    play += side.shaft_clearance_nm(space) + side.shaft_clearance_nm(space + 1)
    right = say_length(side.rods_nm[space] + error_nm)
    if abs(error_nm) > side.throws_nm[space] + side.throws_nm[space + 1] + play / 2:
        why = "with these shaft centres and throws it closes at no angle of the cranks"
        raise Impossible(field, read, why, f"about {right}")
    if abs(error_nm) > most_nm:
        why = "it differs from its shaft centres by more than a tenth of the throw"
        raise OutOfRange(field, read, why, f"{right}, within {say_length(int(most_nm))}")
