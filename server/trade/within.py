"""One check: is this figure a number, and inside what the formula covers, ends included?"""

from __future__ import annotations

import math

from server.trade.errors import OutOfRange


def within(field: str, value: float, least: float = -math.inf, greatest: float = math.inf, unit: str = "") -> float:
    """`value` unchanged, if it is finite and from `least` to `greatest` [in `unit`].

    Raises OutOfRange naming `field` and the bounds.
    """
    if math.isfinite(value) and least <= value <= greatest:
        return value
    why = "it is outside what is covered" if math.isfinite(value) else "it is not a number one can calculate with"
    raise OutOfRange(field, value, why, f"{_range(least, greatest)} {unit}".rstrip())


def _range(least: float, greatest: float) -> str:
    if math.isinf(least) and math.isinf(greatest):
        return "a finite number"
    if math.isinf(greatest):
        return f"{least:.12g} or more"
    if math.isinf(least):
        return f"{greatest:.12g} or less"
    return f"{least:.12g} to {greatest:.12g}"
