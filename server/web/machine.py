"""At the machine: what is in hand, what can be run, the check list, and the measuring pad of one run."""

from __future__ import annotations

from typing import Annotated, Any

from fastapi import APIRouter, Query, Request
from fastapi.responses import HTMLResponse
from sqlalchemy import Connection, select

from server.log.at_machine import can_be_run, in_hand, measured, run_view, waits_for_a_hand
from server.log.gather import DEAD
from server.log.kept_tables import PieceOperation, PieceState
from server.log.photos import photos_of_operation, photos_of_run
from server.log.runs import the_run
from server.plan.named import the_build, the_operation, the_part
from server.plan.operations import WORK_OFFSETS
from server.plan.reading import OperationPlan, part_plan
from server.trade.cutter_words import StartFrom, read_cutters, start_from, work_material
from server.trade.length import Unit
from server.web.pad import pad_data
from server.web.pages import page, viewer_unit

router = APIRouter()

MOST_TOLD = 20  # pieces for which the start page says what is still to be cut


@router.get("/builds/{build_id}/machine")
def at_the_machine(request: Request, build_id: int) -> HTMLResponse:
    with request.app.state.database.read() as connection:
        build = the_build(connection, build_id)
        running = in_hand(connection, build_id)
        runnable = can_be_run(connection, build_id)
        waiting = waits_for_a_hand(connection, build_id)
        any_piece = connection.execute(select(PieceState.piece_id).where(PieceState.build_id == build_id)).first()
    return page(
        request,
        "machine.html",
        build=build,
        running=running,
        runnable=runnable,
        waiting=waiting,
        any_piece=any_piece,
    )


@router.get("/operations/{operation_id}/start")
def start(request: Request, operation_id: int, piece: Annotated[list[int] | None, Query()] = None) -> HTMLResponse:
    """The check list and the pieces; those named in the address, or all that are ready, are chosen beforehand."""
    with request.app.state.database.read() as connection:
        operation = the_operation(connection, operation_id)
        part = the_part(connection, operation.part_id)
        build = the_build(connection, part.build_id)
        plan = next((each for each in part_plan(connection, part).operations if each.id == operation_id), None)
        pieces = connection.execute(
            select(PieceState.piece_id, PieceState.mark, PieceState.hand, PieceOperation.state, PieceOperation.why)
            .join(PieceOperation, PieceOperation.piece_id == PieceState.piece_id)
            .where(
                PieceOperation.operation_id == operation_id,
                PieceState.run_id.is_(None),  # type: ignore[union-attr]
                PieceState.state.not_in(DEAD),  # type: ignore[attr-defined]
            )
            .order_by(PieceState.piece_id)
        ).all()
        photos = photos_of_operation(connection, operation_id)
        unit = viewer_unit(request, build.unit)
        again = [each.piece_id for each in pieces if each.state == "to be cut again"]
        moves = {piece_id: still_to_cut(connection, piece_id, operation.number, unit) for piece_id in again[:MOST_TOLD]}
    offsets = (plan.work_offset if plan else "").split("/")
    return page(
        request,
        "start_run.html",
        build=build,
        part=part,
        operation=plan,
        retired=operation,
        pieces=pieces,
        chosen=set(piece or ()),
        moves=moves,
        offsets=[each for each in offsets if each],
        all_offsets=WORK_OFFSETS,
        photos=photos,
        speeds=starting_figures(plan, part, unit) if plan else [],
    )


def still_to_cut(connection: Connection, piece_id: int, operation_number: int, unit: Unit) -> list[str]:
    """What the operation has still to take off the piece, a sentence a dimension."""
    return [
        each.move.sentence
        for each in measured(connection, piece_id, unit)
        if each.operation_number == operation_number
        and each.move
        and each.verdict
        and each.verdict.word == "metal left"
        and not each.accepted
    ]


def starting_figures(operation: OperationPlan, part: Any, unit: Unit) -> list[StartFrom]:
    """Speeds and feeds to start from, for the cutters an operation names and the part's material."""
    material = work_material(part.material)
    if material is None:
        return []
    return [each for cutter in read_cutters(operation.cutters, unit) for each in start_from(cutter, material)]


@router.get("/runs/{run_id}")
def run(request: Request, run_id: int) -> HTMLResponse:
    with request.app.state.database.read() as connection:
        build = the_build(connection, the_run(connection, run_id).build_id)
        unit = viewer_unit(request, build.unit)
        view = run_view(connection, run_id, unit)
        pad = pad_data(view, part_plan(connection, view.part).operations, unit)
        photos = photos_of_run(connection, run_id)
        setup_photos = photos_of_operation(connection, view.operation.id)
    return page(request, "run.html", build=build, run=view, pad=pad, photos=photos, setup_photos=setup_photos)
