"""Holding work: what a clamp's bolt gives to the work, what friction holds, what a V-block and packing do to height."""

from __future__ import annotations

import math
from bisect import bisect_left
from collections.abc import Sequence
from dataclasses import dataclass

from server.trade.bounds import between, length_not_negative, positive, positive_length, share
from server.trade.errors import Impossible, OutOfRange
from server.trade.within import within

CAUTION = (
    "Work that comes loose can kill. An estimate before the first cut, not proof of a hold: cutting forces peak well "
    "above their mean, oil and chips take the friction away. Use stops, and the makers' figures for vices and clamps."
)

FRICTION: dict[str, float] = {
    "steel on steel or iron, oily": 0.10,
    "steel on steel or iron, dry": 0.15,
    "aluminium on steel, dry": 0.15,
    "serrated jaw on soft metal": 0.30,
    "paper or card between": 0.25,
}
"""Friction of a clamped face [-]: from memory, on the low side on purpose."""


@dataclass(frozen=True, slots=True)
class ClampForces:
    """Where a strap clamp's bolt force goes [N]: onto the work, and onto the heel block."""

    work_n: float
    heel_n: float


def strap_clamp(bolt_n: float, bolt_to_work_nm: int, bolt_to_heel_nm: int) -> ClampForces:
    """How a strap clamp shares its bolt's force [N] between work and heel, by the law of the lever.

    Distances along the strap from the bolt [nm]. The nearer end takes more, so the bolt belongs close to the work.
    A level, stiff strap, touching at a point at each end. Raises OutOfRange for anything not more than 0.
    """
    positive("bolt_n", bolt_n, "N")
    positive_length("bolt_to_work_nm", bolt_to_work_nm)
    positive_length("bolt_to_heel_nm", bolt_to_heel_nm)
    span_nm = bolt_to_work_nm + bolt_to_heel_nm
    return ClampForces(bolt_n * bolt_to_heel_nm / span_nm, bolt_n * bolt_to_work_nm / span_nm)


def holding_force_n(clamp_n: float, friction: float, faces: int = 2, safety: float = 2.0) -> float:
    """Sideways force [N] that friction may be trusted with: clamping force [N] × friction [-] × faces / safety [-].

    faces: 2 for work gripped between two faces that both hold (jaws of a vice; clamp and table), 1 where only one
    does (a clamp free to swing sideways). Coulomb friction, forces spread evenly. Raises OutOfRange; safety 1 or more.
    """
    positive("clamp_n", clamp_n, "N")
    return clamp_n * _friction_share(friction, faces, safety)


def clamping_needed_n(force_n: float, friction: float, faces: int = 2, safety: float = 2.0) -> float:
    """Clamping force [N] needed to hold a sideways force [N]; the inverse of holding_force_n."""
    positive("force_n", force_n, "N")
    return force_n / _friction_share(friction, faces, safety)


@dataclass(frozen=True, slots=True)
class VBlockRise:
    """How much a larger piece stands higher in a V-block [nm]: its centre, and its top."""

    centre_nm: int
    top_nm: int


def v_block_rise(diameter_change_nm: int, v_deg: float = 90.0) -> VBlockRise:
    """How centre and top of round work move [nm, nearest] in a V-block of included angle [°] when its diameter changes.

    Centre ΔD / (2 sin(A/2)), top that plus ΔD/2: for 90°, 0.707 and 1.207 of the change [nm]; negative for smaller
    work. Raises OutOfRange for an angle outside 0 to 180.
    """
    between("v_deg", v_deg, 0, 180, "°")
    centre = diameter_change_nm / 2 / math.sin(math.radians(v_deg / 2))
    return VBlockRise(round(centre), round(centre + diameter_change_nm / 2))


MOST_PIECES = 32


@dataclass(frozen=True, slots=True)
class Packing:
    """A stack chosen: its pieces, thickest first, their total, and how far off the target (+: too thick) [all nm]."""

    pieces_nm: tuple[int, ...]
    total_nm: int
    off_nm: int


def choose_packing(available_nm: Sequence[int], target_nm: int) -> Packing:
    """The pieces of packing, washers or shims whose stack comes nearest to target_nm [nm], each used at most once.

    Exact: every combination is considered. Of equally near stacks the one with fewest pieces, then the thinner one.
    To clamp work of two thicknesses level, the target is the difference of the thicknesses. Nothing at all (an empty
    stack) is an answer where no piece comes nearer. Measured thicknesses, clean and free of burrs, are assumed.
    Raises OutOfRange for a negative target, a piece not more than 0; Impossible with none, or above MOST_PIECES.
    """
    length_not_negative("target_nm", target_nm)
    for piece_nm in available_nm:
        positive_length("available_nm", piece_nm)
    if not 1 <= len(available_nm) <= MOST_PIECES:
        why = "there is nothing to choose from" if not available_nm else "too many pieces to try every combination"
        raise Impossible("available_nm", f"{len(available_nm)} pieces", why, f"1 to {MOST_PIECES} pieces")
    # Meet in the middle: the sums of each half, each with its smallest stack; the best partner of a sum in the one
    # half is the neighbour of what is missing, on either side, in the other.
    ordered = sorted(available_nm, reverse=True)
    firsts, seconds = _stacks(ordered[0::2]), _stacks(ordered[1::2])
    totals = sorted(seconds)
    best: tuple[int, int, int, tuple[int, ...]] | None = None
    for first_nm, first in firsts.items():
        place = bisect_left(totals, target_nm - first_nm)
        for second_nm in totals[max(0, place - 1) : place + 1]:
            total_nm = first_nm + second_nm
            off_nm = abs(total_nm - target_nm)
            count = len(first) + len(seconds[second_nm])
            if best is None or (off_nm, count, total_nm) < best[:3]:
                best = (off_nm, count, total_nm, first + seconds[second_nm])
    assert best is not None  # the two empty stacks always make one
    _, _, total_nm, pieces = best
    return Packing(tuple(sorted(pieces, reverse=True)), total_nm, total_nm - target_nm)


def _stacks(pieces: Sequence[int]) -> dict[int, tuple[int, ...]]:
    stacks: dict[int, tuple[int, ...]] = {0: ()}
    for piece in pieces:
        for total, stack in list(stacks.items()):
            longer = stacks.get(total + piece)
            if longer is None or len(longer) > len(stack) + 1:
                stacks[total + piece] = (*stack, piece)
    return stacks


def _friction_share(friction: float, faces: int, safety: float) -> float:
    share("friction", friction, "it is not a coefficient of friction")
    if faces not in (1, 2):
        raise OutOfRange("faces", faces, "a clamp holds with one face or two", "1 or 2")
    within("safety", safety, 1.0)
    return friction * faces / safety
