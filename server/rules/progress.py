"""Where a piece stands: at each operation, and as a whole. The trade's own rules, in the order a builder asks them.

State is never typed in; it follows from the runs, the readings and the events.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from server.rules.facts import DimensionFacts, OperationFacts, PieceFacts, RunFacts
from server.rules.verdict import judge

OperationState = Literal[
    "not ready",
    "ready",
    "in hand",
    "to be measured",
    "to be cut again",
    "to be decided",
    "done",
    "forgotten",
]
PieceStanding = Literal[
    "to be decided",
    "forgotten",
    "to be cut again",
    "to be measured",
    "in hand",
    "ready",
    "no plan",
    "finished",
    "fitted",
    "scrap",
    "entered by mistake",
]
# Worst first: what holds a piece up the most names its standing.
Holding = Literal["to be decided", "forgotten", "to be cut again", "to be measured", "in hand", "ready"]
URGENCY: tuple[Holding, ...] = (
    "to be decided",
    "forgotten",
    "to be cut again",
    "to be measured",
    "in hand",
    "ready",
)


@dataclass(frozen=True, slots=True)
class AtOperation:
    """Where a piece stands at one operation, and why in a few words."""

    operation: OperationFacts
    state: OperationState
    runs: int
    why: str
    open_run_id: int | None = None


@dataclass(frozen=True, slots=True)
class Standing:
    """Where a piece stands as a whole."""

    state: PieceStanding
    next_move: str
    operation_id: int | None
    open_run_id: int | None
    operations: tuple[AtOperation, ...]


def standing(piece: PieceFacts) -> Standing:
    """Where a piece stands: at each operation, as a whole, and the next move in a few words."""
    at = at_operations(piece)
    open_run = next((run.id for run in piece.runs if run.outcome is None), None)
    if piece.entered_by_mistake:
        return Standing("entered by mistake", "", None, None, at)
    if piece.scrapped:
        return Standing("scrap", "", None, None, at)
    loose = _loose_dimensions(piece)
    all_done = all(each.state == "done" for each in at)
    for state in URGENCY:
        for each in at:
            if each.state == state:
                return Standing(state, _move(each), each.operation.id, open_run, at)
        if state == "in hand" and open_run is not None:
            return Standing(state, "finish the run of an operation that was taken out", None, open_run, at)
        # A dimension that no operation of the plan makes still has to come out right, once the operations are done.
        for dimension, found in loose:
            if found == state and (state != "to be measured" or all_done):
                return Standing(state, f"{state}: {dimension.name}", None, open_run, at)
    if piece.fitted_to:
        return Standing("fitted", "", None, None, at)
    if not at and not piece.dimensions:
        return Standing("no plan", "give the part its operations and dimensions", None, None, at)
    return Standing("finished", "", None, None, at)


def at_operations(piece: PieceFacts) -> tuple[AtOperation, ...]:
    """The state of the piece at each of its operations, in their order."""
    finished = {run.operation_id for run in piece.runs if run.outcome == "finished"}
    settled: list[AtOperation] = []
    for place, operation in enumerate(piece.operations):
        runs = [run for run in piece.runs if run.operation_id == operation.id]
        later_done = [later for later in piece.operations[place + 1 :] if later.id in finished]
        waiting_for = next((before.operation for before in settled if before.state != "done"), None)
        settled.append(_at(piece, operation, runs, later_done, waiting_for))
    return tuple(settled)


def _at(
    piece: PieceFacts,
    operation: OperationFacts,
    runs: list[RunFacts],
    later_done: list[OperationFacts],
    waiting_for: OperationFacts | None,
) -> AtOperation:
    def is_(state: OperationState, why: str = "", open_run_id: int | None = None) -> AtOperation:
        return AtOperation(operation, state, len(runs), why, open_run_id)

    in_hand = next((run for run in runs if run.outcome is None), None)
    if in_hand is not None:
        return is_("in hand", "being cut now", in_hand.id)
    finished = [run for run in runs if run.outcome == "finished"]
    made = [d for d in piece.dimensions if d.operation_number == operation.number]
    states = [(of_dimension(piece, d, last_run_id=finished[-1].id if finished else None), d) for d in made]
    # A size past its limit comes before everything: no run, finished or not, brings it back.
    beyond = [dimension.name for found, dimension in states if found == "to be decided"]
    if beyond:
        return is_("to be decided", ", ".join(beyond))
    if not finished:
        if runs:
            return is_("to be cut again", "the run was broken off")
        if later_done:
            return is_("forgotten", f"op {later_done[-1].number} is done and this is not")
        if waiting_for is not None:
            return is_("not ready", f"waits for op {waiting_for.number}")
        return is_("ready")
    if runs[-1].outcome == "broken off":
        return is_("to be cut again", "the last run was broken off")
    for state in ("to be cut again", "to be measured"):
        names = [dimension.name for found, dimension in states if found == state]
        if names:
            return is_(state, ", ".join(names))
    return is_("done")


DimensionState = Literal["to be decided", "to be cut again", "to be measured", "good"]


def of_dimension(piece: PieceFacts, dimension: DimensionFacts, last_run_id: int | None) -> DimensionState:
    """Where one dimension of a piece stands after the run `last_run_id` that last could change it.

    A re-run asks again for the sizes that were not good before it; a size that was good before it stands, since the
    re-run was made for another.
    """
    reading = piece.readings.get(dimension.id)
    if reading is None:
        return "to be measured" if dimension.required else "good"
    if reading.id in piece.accepted:
        return "good"
    verdict = judge(reading.value_nm, dimension.limits)
    if not verdict.outside:
        return "good"
    if verdict.word == "past the limit":
        return "to be decided"
    if last_run_id is not None and reading.first_id < last_run_id:
        return "to be measured"
    return "to be cut again"


def _loose_dimensions(piece: PieceFacts) -> list[tuple[DimensionFacts, DimensionState]]:
    numbers = {operation.number for operation in piece.operations}
    return [
        (dimension, of_dimension(piece, dimension, last_run_id=None))
        for dimension in piece.dimensions
        if dimension.operation_number not in numbers
    ]


def _move(at: AtOperation) -> str:
    op = f"op {at.operation.number}"
    match at.state:
        case "to be decided":
            return f"{op}: {at.why} past the limit; accept or scrap"
        case "forgotten":
            return f"{op} {at.operation.name} was forgotten: {at.why}"
        case "to be cut again":
            return f"run {op} again: {at.why}"
        case "to be measured":
            return f"measure after {op}: {at.why}"
        case "in hand":
            return f"{op} {at.operation.name} is in hand"
        case _:
            return f"run {op} {at.operation.name}"
