"""The refusals many formulas share: a figure above nothing, a share, a length. (Ends included: see within.py.)"""

from __future__ import annotations

import math
from decimal import Decimal

from server.trade.errors import OutOfRange


def positive(field: str, value: float, unit: str = "") -> None:
    """Refuse `value` [in `unit`] unless it is finite and more than 0. Raises OutOfRange."""
    if not (math.isfinite(value) and value > 0):
        raise OutOfRange(field, _say(value, unit), "it must be more than 0", _say_range("more than 0", unit))


def share(field: str, value: float, why: str) -> None:
    """Refuse `value` [-] unless it is more than 0 and at most 1; `why` says what is wrong with others."""
    if not 0 < value <= 1:
        raise OutOfRange(field, f"{value:g}", why, "more than 0, up to 1")


def between(field: str, value: float, low: float, high: float, unit: str = "") -> None:
    """Refuse `value` unless low < value < high, all [in `unit`]. Raises OutOfRange."""
    if not (low < value < high):
        accepts = _say_range(f"more than {low:g} and less than {high:g}", unit)
        raise OutOfRange(field, _say(value, unit), "it is outside what the formula covers", accepts)


def positive_length(field: str, length_nm: int) -> None:
    """Refuse `length_nm` [nm] unless it is more than 0. Raises OutOfRange."""
    if length_nm <= 0:
        raise OutOfRange(field, say_length(length_nm), "it must be more than 0", "a length of more than 0")


def length_not_negative(field: str, length_nm: int) -> None:
    """Refuse `length_nm` [nm] below 0. Raises OutOfRange."""
    if length_nm < 0:
        raise OutOfRange(field, say_length(length_nm), "it must not be negative", "a length of 0 or more")


def length_at_most(field: str, length_nm: int, most_nm: int, why: str) -> None:
    """Refuse `length_nm` [nm] unless 0 < length_nm <= most_nm [nm]; `why` says what sets the limit."""
    positive_length(field, length_nm)
    if length_nm > most_nm:
        raise OutOfRange(field, say_length(length_nm), why, f"more than 0, up to {say_length(most_nm)}")


def say_length(length_nm: int) -> str:
    """A length [nm] in words both kinds of shop can read: "6 mm (0.23622 in)"."""
    millimetres = Decimal(length_nm).scaleb(-6).normalize()
    return f"{millimetres:f} mm ({length_nm / 25_400_000:.5g} in)"


def _say(value: float, unit: str) -> str:
    return f"{value:g} {unit}".rstrip()


def _say_range(words: str, unit: str) -> str:
    return f"{words} {unit}".rstrip()
