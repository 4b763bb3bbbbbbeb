"""How long a thread must be engaged so that the bolt breaks before a thread strips, and what a given length carries.

Shear areas are those of FED-STD-H28/2B and ASME B1.1 appendix B (as in Machinery's Handbook, "Formulas for Stress Areas
and Lengths of Engagement"): the external thread shears on a cylinder of the nut's largest minor diameter, the internal
one on a cylinder of the bolt's smallest major diameter. Strength in shear is taken as a part of the tensile strength:
one half is the handbook's figure (it asks for a shear area of twice the stress area); 0.577 is von Mises's.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from fractions import Fraction
from typing import Final

from server.trade.bounds import positive, positive_length
from server.trade.errors import Impossible, OutOfRange, TradeError, Unreadable
from server.trade.fastening import metric_stress_area_mm2, unified_stress_area_mm2
from server.trade.thread_designation import ThreadDesignation, parse_thread, thread_limits
from server.trade.thread_form import ThreadLimits

_TAN30: Final = 1 / math.sqrt(3)
_NM2_PER_MM2: Final = 1e12
SHEAR_RATIO: Final = 0.5

CAUTION: Final = (
    "A starting point, not a ruling: it takes threads full and sound, the load steady and square, and strengths as "
    "given. Castings, soft metals, heat, shock and lifting need more. The makers, local codes and licensed engineers "
    "decide."
)


def shear_area_external_mm2(bolt: ThreadLimits, nut: ThreadLimits, pitch_nm: int | Fraction, length_nm: int) -> float:
    """Least area on which the bolt's thread shears [mm²] over an engagement of `length_nm` [nm].

    bolt, nut   limits of the external and of the internal thread
    pitch_nm    pitch [nm]

    π n L D1max (1/(2n) + (d2min - D1max) tan 30°). Raises Impossible for limits of the wrong side or that do not meet.
    Source: FED-STD-H28/2B; ASME B1.1-2003 appendix B; Machinery's Handbook 24th ed. (found).
    """
    _sides(bolt, nut)
    positive_length("length_nm", length_nm)
    minor = float(nut.minor_high_nm or 0)
    return _shear(minor, float(pitch_nm) / 2 + (bolt.pitch_low_nm - minor) * _TAN30, pitch_nm, length_nm, bolt)


def shear_area_internal_mm2(bolt: ThreadLimits, nut: ThreadLimits, pitch_nm: int | Fraction, length_nm: int) -> float:
    """Least area on which the nut's thread shears [mm²] over an engagement of `length_nm` [nm].

    Arguments, errors and source as `shear_area_external_mm2`: π n L dmin (1/(2n) + (dmin - D2max) tan 30°).
    """
    _sides(bolt, nut)
    positive_length("length_nm", length_nm)
    major = float(bolt.major_low_nm or 0)
    return _shear(major, float(pitch_nm) / 2 + (major - nut.pitch_high_nm) * _TAN30, pitch_nm, length_nm, bolt)


def _shear(diameter_nm: float, width_nm: float, pitch_nm: int | Fraction, length_nm: int, bolt: ThreadLimits) -> float:
    if width_nm <= 0:
        raise Impossible(
            "thread", bolt.designation, "at these limits the threads hardly meet, so nothing is left to shear",
            "a coarser pitch or closer classes",
        )  # fmt: skip
    return math.pi * diameter_nm * width_nm * length_nm / float(pitch_nm) / _NM2_PER_MM2


def _sides(bolt: ThreadLimits, nut: ThreadLimits) -> None:
    if bolt.internal or not nut.internal:
        raise Impossible(
            "thread",
            f"{bolt.designation} in {nut.designation}",
            "an external thread must go into an internal one",
            "an external class for the bolt, an internal class for the nut",
        )


@dataclass(frozen=True, slots=True)
class Engagement:
    """What a threaded joint needs and carries.

    needed_nm           engagement at which the bolt breaks before either thread strips [nm]
    needed_external_nm  the same for the bolt's thread alone, needed_internal_nm for the nut's [nm]
    bolt_breaks_n       load that breaks the bolt in tension [N]
    strips_external_n   load that strips the bolt's thread at the length given [N]; None where no length was given
    strips_internal_n   load that strips the nut's thread at the length given [N]; None where no length was given
    """

    needed_nm: int
    needed_external_nm: int
    needed_internal_nm: int
    bolt_breaks_n: float
    strips_external_n: float | None
    strips_internal_n: float | None

    @property
    def fails_first(self) -> str:
        """What gives way first at the length given ("the bolt breaks", "the bolt's thread strips", "the nut's thread
        strips"); "" where no length was given.
        """
        if self.strips_external_n is None or self.strips_internal_n is None:
            return ""
        loads = {
            "the bolt breaks": self.bolt_breaks_n,
            "the bolt's thread strips": self.strips_external_n,
            "the nut's thread strips": self.strips_internal_n,
        }
        return min(loads, key=lambda what: loads[what])


def engagement(
    thread: str | ThreadDesignation,
    bolt_strength_n_per_mm2: float,
    nut_strength_n_per_mm2: float,
    length_nm: int | None = None,
    *,
    bolt_class: str | None = None,
    nut_class: str | None = None,
    shear_ratio: float = SHEAR_RATIO,
) -> Engagement:
    """Thread length a joint needs, and the loads at which it gives way.

    thread                    the size, without a class: "M8", "1/4-20"
    bolt_strength_n_per_mm2   tensile strength of the bolt [N/mm²]
    nut_strength_n_per_mm2    tensile strength of the nut or of the tapped part [N/mm²]
    length_nm                 engagement there is [nm], of full threads; None to ask only what is needed
    bolt_class, nut_class     tolerance classes; None: 6g and 6H, 2A and 2B
    shear_ratio               shear strength as a part of the tensile strength, 0.4 to 0.7

    The bolt's load is its tensile stress area (fastening.py) times its strength.
    Assumes the load shared evenly by all engaged threads (it is not: the first carry most, which the worst-case limits
    and the factor are there to cover), least material on both sides, no bending.
    Raises Unreadable, OutOfRange, Impossible.
    Source: FED-STD-H28/2B, ASME B1.1-2003 appendix B, Machinery's Handbook 24th ed. (found; with 0.5 and equal
    strengths this is its Le = 2 At / (π D1max (1/2 + n (d2min - D1max) tan 30°))).
    """
    positive("bolt_strength_n_per_mm2", bolt_strength_n_per_mm2, "N/mm²")
    positive("nut_strength_n_per_mm2", nut_strength_n_per_mm2, "N/mm²")
    if not 0.4 <= shear_ratio <= 0.7:
        raise OutOfRange(
            "shear_ratio", shear_ratio, "metals shear at about half to three fifths of their strength", "0.4 to 0.7"
        )
    designation = _size(thread)
    bolt = _with_class(designation, bolt_class, internal=False)
    nut = _with_class(designation, nut_class, internal=True)
    pitch = designation.pitch_nm
    breaks = _stress_area_mm2(designation) * bolt_strength_n_per_mm2
    unit = 1_000_000  # shear areas grow evenly with length: those of one millimetre serve for all
    external = shear_area_external_mm2(bolt, nut, pitch, unit) * bolt_strength_n_per_mm2 * shear_ratio
    internal = shear_area_internal_mm2(bolt, nut, pitch, unit) * nut_strength_n_per_mm2 * shear_ratio
    needed_external, needed_internal = math.ceil(breaks / external * unit), math.ceil(breaks / internal * unit)
    if length_nm is not None:
        positive_length("length_nm", length_nm)
    return Engagement(
        needed_nm=max(needed_external, needed_internal),
        needed_external_nm=needed_external,
        needed_internal_nm=needed_internal,
        bolt_breaks_n=breaks,
        strips_external_n=None if length_nm is None else external * length_nm / unit,
        strips_internal_n=None if length_nm is None else internal * length_nm / unit,
    )


def _size(thread: str | ThreadDesignation) -> ThreadDesignation:
    designation = parse_thread(thread, field="thread") if isinstance(thread, str) else thread
    if designation is None:
        raise Unreadable("thread", thread, "it is not a thread", "a size such as M8, M8×1, 1/4-20 or #10-32")
    if designation.thread_class is not None:
        raise Impossible(
            "thread",
            designation.text,
            "a joint has two threads, so its size is given without a class",
            designation.size,
        )
    return designation


def _stress_area_mm2(designation: ThreadDesignation) -> float:
    if designation.turns_per_inch is None:
        return metric_stress_area_mm2(designation.nominal_nm, int(designation.pitch_nm))
    return unified_stress_area_mm2(designation.nominal_nm, float(designation.turns_per_inch))


def _with_class(designation: ThreadDesignation, thread_class: str | None, *, internal: bool) -> ThreadLimits:
    if thread_class is None:
        return thread_limits(designation, internal=internal)
    try:
        return thread_limits(f"{designation.size}-{thread_class}", internal=internal)
    except TradeError as error:
        raise type(error)("nut_class" if internal else "bolt_class", thread_class, error.why, error.accepts) from error
