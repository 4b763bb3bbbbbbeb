"""The order of a route card: each operation with what is measured after it, and at the end what no operation makes."""

from __future__ import annotations

from dataclasses import dataclass

from server.plan.reading import DimensionPlan, OperationPlan, PartPlan
from server.trade.thread_over_wires import OverWires, over_wires


@dataclass(frozen=True, slots=True)
class CardDimension:
    """A dimension with, for a thread, what a micrometer reads over wires."""

    plan: DimensionPlan
    wires: OverWires | None


@dataclass(frozen=True, slots=True)
class CardStep:
    """One operation and the dimensions it makes; without an operation, those that none of the plan makes."""

    operation: OperationPlan | None
    dimensions: tuple[CardDimension, ...]


def steps_of(part: PartPlan) -> list[CardStep]:
    """Operations in the order of their numbers, dimensions in the order of the drawing; each dimension once."""
    numbers = {operation.number for operation in part.operations}
    steps = [CardStep(each, _made_by(part, {each.number})) for each in part.operations]
    others = {each.operation_number for each in part.dimensions} - numbers
    loose = _made_by(part, others)
    return steps + ([CardStep(None, loose)] if loose else [])


def _made_by(part: PartPlan, numbers: set[int] | set[int | None]) -> tuple[CardDimension, ...]:
    return tuple(
        CardDimension(each, over_wires(each.requirement, each.cutting))  # type: ignore[arg-type]
        for each in part.dimensions
        if each.operation_number in numbers
    )
