"""Pitch diameter of an external 60° thread by three wires and a micrometer.

Three equal wires lie in the thread, two on one side and one on the other; the micrometer reads over them. Two methods:

- "simple": the wire is taken to lie square to the axis: M = E + 3 W - 0.866025 P.
- "lead angle": the groove is taken as it stands, tilted by the lead angle B, tan B = L/(π E), which lifts the wire by
  0.75 W tan² B more. That is the general formula of NBS Handbook H28 (1944), later FED-STD-H28 and ASME B1.2, for 60°
  (Machinery's Handbook 31st ed. p. 2127, found). The handbook asks for it where the lift passes 0.00015 in.

The spread between them is that lift: with the best wire 0.0001 in on 1/4-20 and 1.7 µm on M8×1.25, growing with the
square of the lead.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from fractions import Fraction
from typing import Final, Literal

from server.trade.bounds import positive_length, say_length
from server.trade.errors import Impossible, OutOfRange
from server.trade.thread_form import PITCH_DIAMETER_DROP, SQRT3, ThreadLimits

Method = Literal["simple", "lead angle"]
METHODS: Final[tuple[Method, ...]] = ("simple", "lead angle")

# Wire sizes as multiples of the pitch, for the basic 60° profile.
BEST_WIRE: Final = Fraction(SQRT3) / 3  # touches at the pitch diameter: P/(2 cos 30°) = 0.57735 P
# The wire must stand above the crest, E/2 - P/4 cot 30° + 3/2 W ≥ d/2, and touch below it, W/2 cos 30° ≤ 7/16 P.
SMALLEST_WIRE: Final = (Fraction(PITCH_DIAMETER_DROP) + Fraction(SQRT3) / 2) / 3  # 0.505182 P
LARGEST_WIRE: Final = Fraction(7, 8) * 2 / Fraction(SQRT3)  # 1.010363 P
_HALF_SQRT3: Final = Fraction(SQRT3) / 2


@dataclass(frozen=True, slots=True)
class Wires:
    """Wire sizes for one pitch [nm]: the best, and the smallest and largest that still measure."""

    best_nm: int
    smallest_nm: int
    largest_nm: int


def wires_for(pitch_nm: int | Fraction) -> Wires:
    """Best, smallest and largest wire [nm] for a 60° thread of `pitch_nm` [nm].

    best       touches at the pitch diameter, where an error of the flank angle does not count: 0.57735 P
    smallest   just level with a basic crest, 0.505182 P
    largest    touches just under a basic crest, 1.010363 P

    Crests under basic size (class 2A, 6g) narrow the upper end a little, so handbooks advise 0.56 P to 0.90 P.
    Raises OutOfRange for a pitch that is not positive.
    Source: geometry of the basic profile (ISO 68-1); 0.57735/n in US Army ordnance manual OD1645 (found); the ends
    agree with Machinery's Handbook's 0.505 and 1.010 (from memory).
    """
    _positive_pitch(pitch_nm)
    pitch = Fraction(pitch_nm)
    return Wires(round(BEST_WIRE * pitch), math.ceil(SMALLEST_WIRE * pitch), math.floor(LARGEST_WIRE * pitch))


def lift_nm(pitch_diameter_nm: int, pitch_nm: int | Fraction, wire_nm: int, starts: int = 1) -> float:
    """How much more than the simple formula the micrometer reads because of the lead angle [nm].

    pitch_diameter_nm   pitch diameter [nm]
    pitch_nm            pitch [nm]
    wire_nm             wire diameter [nm]
    starts              1 for a single-start thread; lead is pitch times starts

    ½ W tan² B cos 30° cot 30° = ¾ W tan² B. Source: NBS Handbook H28 (1944), Machinery's Handbook 31st ed. p. 2127.
    Range: set against the wire rolled into the true screw surface, it is within 0.1 µm on single-start coarse threads
    (lead angles to 3.5°), 0.4 µm too high on M8 with two starts (6°) and 0.9 µm on M10 with three (9°).
    """
    tangent = float(pitch_nm) * starts / (math.pi * pitch_diameter_nm)
    return 0.75 * wire_nm * tangent * tangent


def over_wires_nm(
    pitch_diameter_nm: int, pitch_nm: int | Fraction, wire_nm: int, method: Method = "lead angle", starts: int = 1
) -> int:
    """Micrometer reading over three wires [nm] for a pitch diameter.

    pitch_diameter_nm   pitch diameter [nm]: of the class wanted, not the basic one (2A and 6g stand below it)
    pitch_nm            pitch [nm]
    wire_nm             measured diameter of the wires [nm], within `wires_for(pitch)`
    method              "simple" or "lead angle" (see the head of this file)
    starts              1 for a single-start thread

    Assumes a 60° thread, wires alike, and no squash under the micrometer's force (a few tenths of a µm on steel).
    Raises OutOfRange (a figure not positive, a wire that cannot measure this pitch), Impossible (pitch too coarse).
    Source: see the head of this file.
    """
    _check(pitch_diameter_nm, pitch_nm, wire_nm, method, starts)
    simple = pitch_diameter_nm + 3 * wire_nm - round(_HALF_SQRT3 * Fraction(pitch_nm))
    return simple + (round(lift_nm(pitch_diameter_nm, pitch_nm, wire_nm, starts)) if method == "lead angle" else 0)


def pitch_diameter_nm(
    over_wires_nm: int, pitch_nm: int | Fraction, wire_nm: int, method: Method = "lead angle", starts: int = 1
) -> int:
    """Pitch diameter [nm] from a micrometer reading over three wires: `over_wires_nm` turned round, to 1 nm.

    over_wires_nm   reading over the wires [nm]
    pitch_nm, wire_nm, method, starts   as there

    Raises OutOfRange, Impossible (a reading no thread of this pitch can give).
    """
    _positive_pitch(pitch_nm)
    _check_wire(pitch_nm, wire_nm)
    positive_length("over_wires_nm", over_wires_nm)
    simple = over_wires_nm - 3 * wire_nm + round(_HALF_SQRT3 * Fraction(pitch_nm))
    if simple <= pitch_nm:
        raise Impossible(
            "over_wires_nm",
            say_length(over_wires_nm),
            "the reading is less than these wires give on any sound thread of this pitch",
            f"more than {say_length(over_wires_nm - simple + round(pitch_nm))}",
        )
    _check(simple, pitch_nm, wire_nm, method, starts)
    found = simple
    if method == "lead angle":
        # The lift depends on the pitch diameter so weakly that each step gains about four figures.
        for _ in range(20):
            found, before = simple - round(lift_nm(found, pitch_nm, wire_nm, starts)), found
            if found == before:
                break
    return found


def readings_over_wires(
    limits: ThreadLimits, pitch_nm: int | Fraction, wire_nm: int, method: Method = "lead angle"
) -> tuple[int, int]:
    """Lowest and highest micrometer reading over wires [nm] that keep an external thread within its limits.

    limits     of an external thread, from thread_limits
    pitch_nm   its pitch [nm]
    wire_nm, method   as `over_wires_nm`

    Raises Impossible for an internal thread, which wires cannot measure; OutOfRange.
    """
    if limits.internal:
        raise Impossible("limits", limits.designation, "three wires measure external threads only", "an external class")
    return (
        over_wires_nm(limits.pitch_low_nm, pitch_nm, wire_nm, method),
        over_wires_nm(limits.pitch_high_nm, pitch_nm, wire_nm, method),
    )


def _positive_pitch(pitch_nm: int | Fraction) -> None:
    if pitch_nm <= 0:
        raise OutOfRange("pitch_nm", pitch_nm, "it must be more than 0", "a pitch of more than 0")


def _check(diameter_nm: int, pitch_nm: int | Fraction, wire_nm: int, method: str, starts: int) -> None:
    _positive_pitch(pitch_nm)
    positive_length("pitch_diameter_nm", diameter_nm)
    if method not in METHODS:
        raise OutOfRange("method", method, "there is no such method", " or ".join(METHODS))
    if not 1 <= starts <= 12:
        raise OutOfRange("starts", starts, "a thread has a whole number of starts", "1 to 12")
    if pitch_nm >= diameter_nm:
        raise Impossible(
            "pitch_nm",
            say_length(round(pitch_nm)),
            "the pitch is as large as the pitch diameter",
            f"less than {say_length(diameter_nm)}",
        )
    _check_wire(pitch_nm, wire_nm)


def _check_wire(pitch_nm: int | Fraction, wire_nm: int) -> None:
    positive_length("wire_nm", wire_nm)
    wires = wires_for(pitch_nm)
    if not wires.smallest_nm <= wire_nm <= wires.largest_nm:
        raise OutOfRange(
            "wire_nm",
            say_length(wire_nm),
            "the wire would sink below the crests or ride on them",
            f"{say_length(wires.smallest_nm)} to {say_length(wires.largest_nm)}, best {say_length(wires.best_nm)}",
        )
