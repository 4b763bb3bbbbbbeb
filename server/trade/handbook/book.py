"""The handbook as a whole: every calculation, found by its id."""

from __future__ import annotations

from functools import cache
from importlib import import_module

from server.trade.errors import OutOfRange
from server.trade.handbook.calculation import Calculation

# In the order in which a builder turns the pages. Each has CALCULATIONS.
_CHAPTERS = (
    "fits",
    "threads",
    "cutting",
    "cutting_loads",
    "measuring",
    "holding",
    "stock_and_tapers",
    "motion",
    "going_together",
)


@cache
def calculations() -> tuple[Calculation, ...]:
    """Every calculation. The chapters are read when the first one is asked for: a start of the server needs none."""
    found: list[Calculation] = []
    for chapter in _CHAPTERS:
        found.extend(import_module(f"server.trade.handbook.{chapter}").CALCULATIONS)
    return tuple(found)


def calculation(name: str) -> Calculation:
    """The calculation of this id. Raises OutOfRange naming those whose ids are nearest."""
    for each in calculations():
        if each.id == name:
            return each
    words = set(name.lower().replace("_", "-").split("-"))
    near = [each.id for each in calculations() if words & set(each.id.split("-"))]
    accepts = "one of " + ", ".join(near) if near else "the id of a calculation in the list"
    raise OutOfRange("calculation", name, "there is no such calculation", accepts)
