"""General tolerances of ISO 2768-1: what a dimension without figures of its own is held to.

Source: ISO 2768-1:1989, tables 1, 2 and 3. The values were written down from memory of the standard and compared, every
one, with two public copies of its tables; the tests name them. Some public tables give class c as ±0.15 from 0.5 to
3 mm and ±0.2 over 3 to 6 mm; the standard's are ±0.2 and ±0.3.
"""

from __future__ import annotations

from bisect import bisect_left
from typing import Final, Literal, get_args

from server.trade.errors import OutOfRange, Unreadable
from server.trade.length import NM_PER_MM, NM_PER_UM, format_length

Grade = Literal["f", "m", "c", "v"]
Kind = Literal["linear", "broken edge"]

SMALLEST_NM: Final = NM_PER_MM // 2

# Upper end of each range of nominal sizes [mm]; a range is over the one before, up to and including its own.
_LINEAR_UP_TO_MM: Final = (3, 6, 30, 120, 400, 1000, 2000, 4000)
_LINEAR_UM: Final[dict[Grade, tuple[int | None, ...]]] = {
    "f": (50, 50, 100, 150, 200, 300, 500, None),
    "m": (100, 100, 200, 300, 500, 800, 1200, 2000),
    "c": (200, 300, 500, 800, 1200, 2000, 3000, 4000),
    "v": (None, 500, 1000, 1500, 2500, 4000, 6000, 8000),
}
_LINEAR_RANGE: Final[dict[Grade, str]] = {
    "f": "nominal sizes from 0.5 to 2000 mm",
    "m": "nominal sizes from 0.5 to 4000 mm",
    "c": "nominal sizes from 0.5 to 4000 mm",
    "v": "nominal sizes over 3 and up to 4000 mm",
}
_EDGE_UP_TO_MM: Final = (3, 6)
_EDGE_UM: Final[dict[Grade, tuple[int, ...]]] = {
    "f": (200, 500, 1000),
    "m": (200, 500, 1000),
    "c": (400, 1000, 2000),
    "v": (400, 1000, 2000),
}
_ANGLE_UP_TO_MM: Final = (10, 50, 120, 400)
_ANGLE_MINUTES: Final[dict[Grade, tuple[int, ...]]] = {
    "f": (60, 30, 20, 10, 5),
    "m": (60, 30, 20, 10, 5),
    "c": (90, 60, 30, 15, 10),
    "v": (180, 120, 60, 30, 20),
}


def general_tolerance(nominal_nm: int, grade: Grade, kind: Kind = "linear") -> int:
    """The deviation allowed either way of a nominal size that carries no tolerance of its own [nm].

    nominal_nm  nominal size [nm]
    grade       "f" fine, "m" medium, "c" coarse, "v" very coarse
    kind        "linear": external, internal and step sizes, diameters, distances, radii (table 1); "broken edge":
                external radii and chamfer heights (table 2)

    Valid for linear sizes from 0.5 to 4000 mm (f up to 2000 mm, v over 3 mm) and broken edges from 0.5 mm. Not for
    dimensions in brackets, nor for theoretically exact ones: the standard leaves both out.
    Raises OutOfRange outside these, Unreadable for an unknown grade or kind.
    Source: ISO 2768-1:1989 tables 1 and 2.
    """
    _known("grade", grade, get_args(Grade))
    _known("kind", kind, get_args(Kind))
    if kind == "broken edge":
        step = _step(nominal_nm, _EDGE_UP_TO_MM)
        found: int | None = _EDGE_UM[grade][step]
        covers = "external radii and chamfer heights from 0.5 mm"
    else:
        step = _step(nominal_nm, _LINEAR_UP_TO_MM)
        found = _LINEAR_UM[grade][step] if step < len(_LINEAR_UP_TO_MM) else None
        covers = _LINEAR_RANGE[grade]
    if found is None or nominal_nm < SMALLEST_NM:
        size = f"{format_length(nominal_nm, 'mm')} mm"
        raise OutOfRange("nominal_nm", size, f"ISO 2768-1 class {grade} has no general tolerance for {size}", covers)
    return found * NM_PER_UM


def general_angle_tolerance(short_side_nm: int, grade: Grade) -> float:
    """The deviation allowed either way of an angle that carries no tolerance of its own [°].

    short_side_nm  length of the shorter side of the angle [nm], more than 0
    grade          "f" fine, "m" medium, "c" coarse, "v" very coarse

    Raises OutOfRange for a side that is not more than 0, Unreadable for an unknown grade.
    Source: ISO 2768-1:1989 table 3.
    """
    _known("grade", grade, get_args(Grade))
    if short_side_nm <= 0:
        side = f"{format_length(short_side_nm, 'mm')} mm"
        raise OutOfRange("short_side_nm", side, "the shorter side of an angle has a length", "a side longer than 0 mm")
    return _ANGLE_MINUTES[grade][_step(short_side_nm, _ANGLE_UP_TO_MM)] / 60


def _step(nm: int, up_to_mm: tuple[int, ...]) -> int:
    return bisect_left([mm * NM_PER_MM for mm in up_to_mm], nm)


def _known(field: str, value: str, names: tuple[str, ...]) -> None:
    if value not in names:
        raise Unreadable(field, value, f"{value!r} is not a {field} of ISO 2768-1", " or ".join(names))
