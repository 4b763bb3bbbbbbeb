"""Readings that cannot be meant: refused or asked about before they are kept.

A 25 mm bore read as 25 in is a slip of the unit key, and a log that took it would judge a good piece past its limit.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from server.rules.facts import LimitFacts
from server.trade.length import NM_PER_IN, NM_PER_MM, Unit

# Further from the drawing than this share of the size, and than this many widths of the limits, is asked about:
# roughing sizes are a few millimetres off, never a quarter of the size. Common practice, no source.
FAR_SHARE = 4
FAR_WIDTHS = 50
LEAST_FAR_NM = 5 * NM_PER_MM


@dataclass(frozen=True, slots=True)
class Doubt:
    """Why a reading is doubted: it cannot be, or it would be right in the other unit, or it is just far off."""

    kind: Literal["not a size", "other unit", "far off"]
    other_nm: int | None = None


def doubt(value_nm: int, unit: Unit, limits: LimitFacts) -> Doubt | None:
    """What speaks against a reading of value_nm [nm] that was entered in `unit`; None when nothing does."""
    expected = _expected(limits)
    # What the drawing itself allows is never doubted: nought is a good run-out, and a position may lie either way.
    if _inside(value_nm, limits):
        return None
    if value_nm <= 0 and expected > 0:
        return Doubt("not a size")
    if expected == 0 or not _far(value_nm, expected, limits):
        return None
    other = value_nm * NM_PER_MM // NM_PER_IN if unit == "in" else value_nm * NM_PER_IN // NM_PER_MM
    if not _far(other, expected, limits):
        return Doubt("other unit", other)
    return Doubt("far off")


def _inside(value_nm: int, limits: LimitFacts) -> bool:
    if limits.kind == "at most":
        return limits.high_nm is not None and 0 <= value_nm <= limits.high_nm
    return limits.low_nm is not None and limits.high_nm is not None and limits.low_nm <= value_nm <= limits.high_nm


def _expected(limits: LimitFacts) -> int:
    for size in (limits.nominal_nm, limits.high_nm, limits.low_nm):
        if size is not None:
            return size
    return 0


def _far(value_nm: int, expected_nm: int, limits: LimitFacts) -> bool:
    if limits.kind == "at least" and expected_nm <= value_nm <= 4 * expected_nm:
        return False
    width = 0
    if limits.low_nm is not None and limits.high_nm is not None:
        width = limits.high_nm - limits.low_nm
    # Small sizes: never further than the size itself, or a slip of the unit on a 1 mm step would pass.
    far = max(expected_nm // FAR_SHARE, FAR_WIDTHS * width, min(LEAST_FAR_NM, expected_nm))
    return abs(value_nm - expected_nm) > far
