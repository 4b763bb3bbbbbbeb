"""ISO metric screw threads: the sizes of ISO 261 and the limits of size of ISO 965-1.

ISO 965-1 gives formulas and tables. The tables are the formulas rounded to the R40 series of preferred numbers, and in
places moved by a step "to keep a smooth progression"; where they differ the tables rule. So the tabulated pitches are
kept here as the table prints them, and the formulas serve every pitch between.
"""

from __future__ import annotations

import math
from decimal import ROUND_HALF_EVEN, Decimal
from itertools import pairwise
from typing import Final

from server.trade.errors import OutOfRange, Unreadable
from server.trade.thread_form import MINOR_DIAMETER_DROP, PITCH_DIAMETER_DROP, ThreadLimits, limits_in_order, pitch_fits

STANDARD: Final = "ISO 965-1:1998"
_NM_PER_MM: Final = 1_000_000
_UM: Final = 1_000

EXTERNAL_CLASSES: Final = "4h, 6h, 6g, 6f, 6e, 8g, 4h6h, 5g6g, 3h4h, 7g6g, 9g8g (pitch diameter first, then major)"
INTERNAL_CLASSES: Final = "4H, 5H, 6H, 7H, 8H, 5G, 6G, 7G, 4H5H (pitch diameter first, then minor)"

# Coarse pitch [mm] of each diameter [mm], ISO 261 (from memory).
COARSE: Final[dict[str, str]] = {
    "1": "0.25", "1.1": "0.25", "1.2": "0.25", "1.4": "0.3", "1.6": "0.35", "1.8": "0.35", "2": "0.4", "2.2": "0.45",
    "2.5": "0.45", "3": "0.5", "3.5": "0.6", "4": "0.7", "4.5": "0.75", "5": "0.8", "6": "1", "7": "1", "8": "1.25",
    "9": "1.25", "10": "1.5", "11": "1.5", "12": "1.75", "14": "2", "16": "2", "18": "2.5", "20": "2.5", "22": "2.5",
    "24": "3", "27": "3", "30": "3.5", "33": "3.5", "36": "4", "39": "4", "42": "4.5", "45": "4.5", "48": "5",
    "52": "5", "56": "5.5", "60": "5.5", "64": "6", "68": "6",
}  # fmt: skip
# Fine pitches, ISO 261 up to 68 mm (from memory).
FINE: Final[dict[str, str]] = {
    "1": "0.2", "1.1": "0.2", "1.2": "0.2", "1.4": "0.2", "1.6": "0.2", "1.8": "0.2", "2": "0.25", "2.2": "0.25",
    "2.5": "0.35", "3": "0.35", "3.5": "0.35", "4": "0.5", "4.5": "0.5", "5": "0.5", "5.5": "0.5", "6": "0.75",
    "7": "0.75", "8": "1 0.75", "9": "1 0.75", "10": "1.25 1 0.75", "11": "1 0.75", "12": "1.5 1.25 1",
    "14": "1.5 1.25 1", "15": "1.5 1", "16": "1.5 1", "17": "1.5 1", "18": "2 1.5 1", "20": "2 1.5 1", "22": "2 1.5 1",
    "24": "2 1.5 1", "25": "2 1.5 1", "26": "1.5", "27": "2 1.5 1", "28": "2 1.5 1", "30": "3 2 1.5 1", "32": "2 1.5",
    "33": "3 2 1.5", "35": "1.5", "36": "3 2 1.5", "38": "1.5", "39": "3 2 1.5", "40": "3 2 1.5", "42": "4 3 2 1.5",
    "45": "4 3 2 1.5", "48": "4 3 2 1.5", "50": "3 2 1.5", "52": "4 3 2 1.5", "55": "4 3 2 1.5", "56": "4 3 2 1.5",
    "58": "4 3 2 1.5", "60": "4 3 2 1.5", "62": "4 3 2 1.5", "64": "4 3 2 1.5", "65": "4 3 2 1.5", "68": "4 3 2 1.5",
}  # fmt: skip


def _nm(millimetres: str) -> int:
    return int(Decimal(millimetres) * _NM_PER_MM)


COARSE_NM: Final[dict[int, int]] = {_nm(size): _nm(pitch) for size, pitch in COARSE.items()}
FINE_NM: Final[dict[int, tuple[int, ...]]] = {
    _nm(size): tuple(_nm(pitch) for pitch in pitches.split()) for size, pitches in FINE.items()
}

# ISO 965-1:1998 tables 1, 2 and 4 (from memory; against the formulas in the tests), by pitch [mm]: deviation of G and
# g, of f, of e; grade 6 tolerance of the internal minor and of the external major diameter. All µm, 0 where the table
# is empty. The other grades follow from grade 6 by steps of the R40 series.
_TABLE: Final[dict[str, tuple[int, int, int, int, int]]] = {
    "0.2": (17, 0, 0, 60, 56), "0.25": (18, 0, 0, 71, 67), "0.3": (18, 0, 0, 85, 75), "0.35": (19, 34, 0, 100, 85),
    "0.4": (19, 34, 0, 112, 95), "0.45": (20, 35, 0, 125, 100), "0.5": (20, 36, 50, 140, 106),
    "0.6": (21, 36, 53, 160, 125), "0.7": (22, 38, 56, 180, 140), "0.75": (22, 38, 56, 190, 140),
    "0.8": (24, 38, 60, 200, 150), "1": (26, 40, 60, 236, 180), "1.25": (28, 42, 63, 265, 212),
    "1.5": (32, 45, 67, 300, 236), "1.75": (34, 48, 71, 335, 265), "2": (38, 52, 71, 375, 280),
    "2.5": (42, 58, 80, 450, 335), "3": (48, 63, 85, 500, 375), "3.5": (53, 70, 90, 560, 425),
    "4": (60, 75, 95, 600, 475), "4.5": (63, 80, 100, 670, 500), "5": (71, 85, 106, 710, 530),
    "5.5": (75, 90, 112, 750, 560), "6": (80, 95, 118, 800, 600), "8": (100, 118, 140, 1000, 710),
}  # fmt: skip
TABLE_NM: Final = {_nm(pitch): row for pitch, row in _TABLE.items()}

# Diameter ranges of the pitch diameter tolerances [mm]: over, up to and including.
_RANGES: Final = (0.99, 1.4, 2.8, 5.6, 11.2, 22.4, 45.0, 90.0, 180.0, 355.0)
# Grade 6 pitch diameter tolerances [µm] where the table stands a step away from its formula: (over [mm], pitch [nm]).
_PITCH_TOLERANCE_MOVED: Final = {
    (2.8, 500_000): 75,
    (45.0, 5_000_000): 250,
    (180.0, 3_000_000): 250,
    (180.0, 4_000_000): 280,
}
# The one tolerance of the major diameter [µm] that stands a step away from grade 6 times 1.6: (pitch [nm], grade).
_MAJOR_TOLERANCE_MOVED: Final = {(8_000_000, 8): 1180}

_R40: Final = (
    100, 106, 112, 118, 125, 132, 140, 150, 160, 170, 180, 190, 200, 212, 224, 236, 250, 265, 280, 300,
    315, 335, 355, 375, 400, 425, 450, 475, 500, 530, 560, 600, 630, 670, 710, 750, 800, 850, 900, 950,
)  # fmt: skip

# Steps of R40 from grade 6: a ratio of 10^(steps/40). ISO 965-1 clause 13 gives the ratios 0.5, 0.63, 0.8, 1.25, 1.6
# and 2 (external, minor) and 0.85, 1.06, 1.32, 1.7 and 2.12 (internal pitch diameter).
_EXTERNAL_PITCH_STEPS: Final = {3: -12, 4: -8, 5: -4, 6: 0, 7: 4, 8: 8, 9: 12}
_INTERNAL_PITCH_STEPS: Final = {4: -3, 5: 1, 6: 5, 7: 9, 8: 13}
_MAJOR_STEPS: Final = {4: -8, 6: 0, 8: 8}
_MINOR_STEPS: Final = {4: -8, 5: -4, 6: 0, 7: 4, 8: 8}


def _r40(place: int) -> float:
    decade, step = divmod(place, 40)
    return _R40[step] * 10.0 ** (decade - 2)


def _place(value: float) -> int:
    """Where in the R40 series `value` is, at the nearest term."""
    near = round(40 * math.log10(value))
    return min((near - 1, near, near + 1), key=lambda place: abs(_r40(place) - value))


def _stepped(value: float, steps: int) -> int:
    """`value` [µm] at the nearest R40 term and `steps` terms on, in whole nm."""
    return round(_r40(_place(value) + steps)) * _UM


def deviation_nm(pitch_nm: int, position: str) -> int:
    """Fundamental deviation [nm] of a tolerance position, as a distance from the basic size (never negative).

    pitch_nm   pitch [nm], 0.2 to 8 mm
    position   e, f, g or h (external, downwards); G or H (internal, upwards)

    Source: ISO 965-1:1998 table 1 and clause 13: 15 + 11 P for g and G, 30 + 11 P for f, 50 + 11 P for e [µm, mm]
    (from memory), rounded to R40 outside the table.
    Raises OutOfRange where the standard gives none (e under 0.5 mm, f under 0.35 mm).
    """
    if position in ("h", "H"):
        return 0
    constant, column, finest = {"g": (15, 0, 0), "G": (15, 0, 0), "f": (30, 1, 350_000), "e": (50, 2, 500_000)}[
        position
    ]
    if pitch_nm < finest:
        raise OutOfRange(
            "thread_class",
            position,
            f"position {position} is not given for a pitch of {pitch_nm / 1e6:g} mm",
            f"a pitch of {finest / 1e6:g} mm or more, or position g or h",
        )
    if pitch_nm in TABLE_NM:
        return TABLE_NM[pitch_nm][column] * _UM
    return _stepped(constant + 11 * pitch_nm / _NM_PER_MM, 0)


def pitch_diameter_tolerance_nm(nominal_nm: int, pitch_nm: int, grade: int, *, internal: bool) -> int:
    """Tolerance of the pitch diameter [nm].

    nominal_nm   nominal diameter [nm], 0.99 mm to 355 mm
    pitch_nm     pitch [nm], 0.2 to 8 mm
    grade        3 to 9 external, 4 to 8 internal

    Source: ISO 965-1:1998 tables 3 and 5 and clause 13: Td2(6) = 90 P^0.4 d^0.1 [µm, mm], d the geometric mean of the
    diameter range (from memory).
    Raises OutOfRange for a grade the standard does not give.
    """
    steps = _INTERNAL_PITCH_STEPS if internal else _EXTERNAL_PITCH_STEPS
    _grade(grade, steps, "pitch diameter of an internal thread" if internal else "pitch diameter of an external thread")
    over, up_to = next((low, high) for low, high in pairwise(_RANGES) if nominal_nm <= high * _NM_PER_MM)
    formula = 90 * (pitch_nm / _NM_PER_MM) ** 0.4 * (over * up_to) ** 0.05
    return _stepped(_PITCH_TOLERANCE_MOVED.get((over, pitch_nm), formula), steps[grade])


def major_diameter_tolerance_nm(pitch_nm: int, grade: int) -> int:
    """Tolerance of the major diameter of an external thread [nm] for a pitch [nm]; grade 4, 6 or 8.

    Source: ISO 965-1:1998 table 4 and clause 13: Td(6) = 180 P^(2/3) - 3.15/√P [µm, mm] (from memory).
    """
    _grade(grade, _MAJOR_STEPS, "major diameter of an external thread")
    if (pitch_nm, grade) in _MAJOR_TOLERANCE_MOVED:
        return _MAJOR_TOLERANCE_MOVED[pitch_nm, grade] * _UM
    pitch = pitch_nm / _NM_PER_MM
    formula = 180 * pitch ** (2 / 3) - 3.15 / math.sqrt(pitch)
    return _stepped(TABLE_NM[pitch_nm][4] if pitch_nm in TABLE_NM else formula, _MAJOR_STEPS[grade])


def minor_diameter_tolerance_nm(pitch_nm: int, grade: int) -> int:
    """Tolerance of the minor diameter of an internal thread [nm] for a pitch [nm]; grade 4 to 8.

    Source: ISO 965-1:1998 table 2 and clause 13: TD1(6) = 433 P - 190 P^1.22 up to 0.8 mm, 230 P^0.7 from 1 mm
    [µm, mm] (from memory). The standard gives no formula between 0.8 and 1 mm; the smaller of the two is used there.
    """
    _grade(grade, _MINOR_STEPS, "minor diameter of an internal thread")
    pitch = pitch_nm / _NM_PER_MM
    fine, coarse = 433 * pitch - 190 * pitch**1.22, 230 * pitch**0.7
    formula = fine if pitch <= 0.8 else coarse if pitch >= 1 else min(fine, coarse)
    return _stepped(TABLE_NM[pitch_nm][3] if pitch_nm in TABLE_NM else formula, _MINOR_STEPS[grade])


def _grade(grade: int, steps: dict[int, int], what: str) -> None:
    if grade not in steps:
        raise OutOfRange(
            "thread_class",
            grade,
            f"ISO 965-1 gives the {what} no grade {grade}",
            "grade " + ", ".join(str(each) for each in steps),
        )


def default_class(nominal_nm: int, *, internal: bool) -> str:
    """The class meant where none is written: 6H and 6g, up to 1.4 mm 5H and 6h (ISO 965-1, medium quality, normal
    length of engagement; from memory).
    """
    small = nominal_nm <= 1_400_000
    if internal:
        return "5H" if small else "6H"
    return "6h" if small else "6g"


def read_class(thread_class: str) -> tuple[int, int, str]:
    """Grade of the pitch diameter, grade of the crest diameter, position: "5g6g" is (5, 6, "g"), "6H" is (6, 6, "H").

    Raises Unreadable naming the classes.
    """
    accepts = f"{EXTERNAL_CLASSES}; {INTERNAL_CLASSES}"
    text = thread_class.strip()
    pairs = [(text[at : at + 1], text[at + 1 : at + 2]) for at in range(0, len(text), 2)]
    if len(pairs) not in (1, 2) or any(
        grade not in list("3456789") or not position or position not in "efghGH" for grade, position in pairs
    ):
        raise Unreadable("thread_class", thread_class, "it is not a tolerance class of ISO 965-1", accepts)
    if len({position for _, position in pairs}) > 1:
        raise Unreadable("thread_class", thread_class, "the two tolerances stand in different positions", accepts)
    return int(pairs[0][0]), int(pairs[-1][0]), pairs[0][1]


def pitch_series(nominal_nm: int, pitch_nm: int) -> str:
    """ISO 261 series of a diameter [nm] and a pitch [nm]: "coarse", "fine", or "" for a pair it does not have."""
    if COARSE_NM.get(nominal_nm) == pitch_nm:
        return "coarse"
    return "fine" if pitch_nm in FINE_NM.get(nominal_nm, ()) else ""


def size_text(nominal_nm: int, pitch_nm: int) -> str:
    """The size as it is designated with its pitch written out: "M8×1.25"."""
    return f"M{_mm(nominal_nm)}×{_mm(pitch_nm)}"


def _mm(nm: int) -> str:
    return f"{Decimal(nm) / _NM_PER_MM:f}"


def _basic(nominal_nm: int, pitch_nm: int, drop: Decimal) -> int:
    millimetres = (Decimal(nominal_nm) - drop * pitch_nm) / _NM_PER_MM
    return int(millimetres.quantize(Decimal("0.001"), ROUND_HALF_EVEN) * _NM_PER_MM)


def metric_limits(nominal_nm: int, pitch_nm: int, thread_class: str) -> ThreadLimits:
    """Limits of size of an ISO metric thread.

    nominal_nm     nominal (major) diameter [nm], 0.99 mm to 355 mm
    pitch_nm       pitch [nm], 0.2 mm to 8 mm
    thread_class   6g, 6h, 4h6h, 6H, 5H, 6G …: external e f g h with grades 3 to 9 on the pitch diameter and 4, 6, 8
                   on the major; internal G H with grades 4 to 8. A single grade serves both diameters.

    Assumes normal length of engagement, single start, no coating. Any pair is computed; one outside ISO 261 is noted.
    Basic diameters to 0.001 mm (ISO 724), then whole µm. The external minor diameter has the upper limit D1 + es (at
    the GO gauge, ISO 965-1) and the lower limit of a rounded root, d2 min - 0.616025 P (ASME B1.13M, reference;
    B1.13M's own upper figure may be 0.001 mm lower, since it rounds once more on the way).
    Raises OutOfRange (diameter, pitch, grade), Impossible (pitch too coarse for the diameter), Unreadable (class).
    Source: ISO 965-1:1998 (formulas and tables from memory), ISO 724, ISO 68-1, ASME B1.13M (0.616025 P checked against
    its published limits).
    """
    name = size_text(nominal_nm, pitch_nm)
    if not 990_000 < nominal_nm <= 355_000_000:
        raise OutOfRange("nominal_nm", name, "the diameter is outside ISO 965-1", "M1 to M355")
    pitch_fits(nominal_nm, pitch_nm, field="pitch_nm", read=name)
    if not 200_000 <= pitch_nm <= 8_000_000:
        raise OutOfRange("pitch_nm", name, "the pitch is outside ISO 965-1", "0.2 mm to 8 mm")
    pitch_grade, crest_grade, position = read_class(thread_class)
    internal = position in "GH"
    if not internal and crest_grade not in _MAJOR_STEPS:
        raise OutOfRange(
            "thread_class",
            thread_class,
            f"the major diameter has no grade {crest_grade}",
            f"two grades such as {pitch_grade}{position}6{position}, the second 4, 6 or 8",
        )
    deviation = deviation_nm(pitch_nm, position)
    basic_pitch = _basic(nominal_nm, pitch_nm, PITCH_DIAMETER_DROP)
    basic_minor = _basic(nominal_nm, pitch_nm, MINOR_DIAMETER_DROP)
    pitch_tolerance = pitch_diameter_tolerance_nm(nominal_nm, pitch_nm, pitch_grade, internal=internal)
    note = "" if pitch_series(nominal_nm, pitch_nm) else "not a pair of ISO 261 up to 68 mm; limits by the formulas"
    if internal:
        pitch_low = basic_pitch + deviation
        minor_low = basic_minor + deviation
        limits = ThreadLimits(
            designation=f"{name}-{thread_class.strip()}",
            internal=True,
            major_low_nm=nominal_nm + deviation,
            major_high_nm=None,
            pitch_low_nm=pitch_low,
            pitch_high_nm=pitch_low + pitch_tolerance,
            minor_low_nm=minor_low,
            minor_high_nm=minor_low + minor_diameter_tolerance_nm(pitch_nm, crest_grade),
            allowance_nm=deviation,
            basic_pitch_nm=basic_pitch,
            standard=STANDARD,
            note=note,
        )
        return limits_in_order(limits)
    major_high = nominal_nm - deviation
    pitch_high = basic_pitch - deviation
    pitch_low = pitch_high - pitch_tolerance
    root = (Decimal(pitch_low) - Decimal("0.616025") * pitch_nm) / _NM_PER_MM
    limits = ThreadLimits(
        designation=f"{name}-{thread_class.strip()}",
        internal=False,
        major_low_nm=major_high - major_diameter_tolerance_nm(pitch_nm, crest_grade),
        major_high_nm=major_high,
        pitch_low_nm=pitch_low,
        pitch_high_nm=pitch_high,
        minor_low_nm=int(root.quantize(Decimal("0.001"), ROUND_HALF_EVEN) * _NM_PER_MM),
        minor_high_nm=basic_minor - deviation,
        allowance_nm=deviation,
        basic_pitch_nm=basic_pitch,
        standard=STANDARD,
        note=note,
    )
    return limits_in_order(limits)
