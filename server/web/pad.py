"""What the measuring pad is given with its page, so that it can go on when the server is out of reach."""

from __future__ import annotations

from dataclasses import asdict
from typing import Any

from server.log.at_machine import Measured, RunView
from server.plan.reading import OperationPlan
from server.store.base import now
from server.trade.length import ACCEPTS, Unit
from server.web.pages import wires_in_words


def pad_data(run: RunView, sequence: list[OperationPlan], unit: Unit) -> dict[str, Any]:
    """Everything the pad knows of one run, as JSON can carry it; lengths in whole nanometres.

    sequence  the operations of the part, in the order of their numbers
    """
    return {
        "unit": unit,
        "build_id": run.build_id,
        "run_id": run.id,
        "outcome": run.outcome,
        "operation": run.operation.number,
        "part": run.part.number,
        "accepts": ACCEPTS,
        "now": now().isoformat(),
        "pieces": [{"id": each.piece_id, "mark": each.mark, "state": each.state} for each in run.pieces],
        "targets": [_target(measured, piece.mark, unit) for piece in run.pieces for measured in piece.dimensions],
        "following": [
            {"number": each.number, "name": each.name, "machine": each.machine, "setup": each.setup}
            for each in sequence
            if each.number > run.operation.number
        ],
    }


def _target(measured: Measured, mark: str, unit: Unit) -> dict[str, Any]:
    """One dimension of one piece."""
    return {
        "id": f"{measured.piece_id}-{measured.dimension_id}",
        "piece_id": measured.piece_id,
        "dimension_id": measured.dimension_id,
        "mark": mark,
        "name": measured.name,
        "asked": f"{measured.requirement} {measured.requirement_unit}",
        "requirement": measured.requirement,
        "gauge": measured.gauge,
        "limits": asdict(measured.limits),
        "operation": measured.operation_number,
        "wires": wires_in_words(measured.over_wires, unit) if measured.over_wires else "",
    }
