"""The plan: a build's parts, one part with its operations and dimensions, and the forms that change them."""

from __future__ import annotations

from typing import Literal

from fastapi import APIRouter, Request
from fastapi.responses import HTMLResponse
from sqlalchemy import select

from server.log.kept_tables import PieceState
from server.log.photos import photos_of_operation
from server.plan.named import the_build, the_dimension, the_operation, the_part
from server.plan.operations import WORK_OFFSETS
from server.plan.reading import build_plan, part_plan, plan_changes
from server.web.pages import page

router = APIRouter()


@router.get("/builds/{build_id}/plan")
def plan(
    request: Request,
    build_id: int,
    loaded: Literal["dimensions", "operations"] | None = None,
    new: int = 0,
    changed: int = 0,
) -> HTMLResponse:
    """`loaded`, `new` and `changed` come from a sheet that was just taken."""
    with request.app.state.database.read() as connection:
        build = the_build(connection, build_id)
        found = build_plan(connection, build)
        changes = plan_changes(connection, build_id, limit=20)
    taken = {"kind": loaded, "new": new, "changed": changed} if loaded else None
    return page(request, "plan.html", build=build, plan=found, changes=changes, loaded=taken)


@router.get("/builds/{build_id}/parts/new")
def new_part(request: Request, build_id: int) -> HTMLResponse:
    with request.app.state.database.read() as connection:
        build = the_build(connection, build_id)
    return page(request, "part_form.html", build=build, old=None)


@router.get("/parts/{part_id}")
def part(request: Request, part_id: int) -> HTMLResponse:
    with request.app.state.database.read() as connection:
        row = the_part(connection, part_id)
        build = the_build(connection, row.build_id)
        found = part_plan(connection, row)
        pieces = connection.execute(
            select(PieceState.piece_id, PieceState.mark, PieceState.hand, PieceState.state, PieceState.next_move)
            .where(PieceState.part_id == part_id, PieceState.state != "entered by mistake")
            .order_by(PieceState.piece_id)
        ).all()
        changes = plan_changes(connection, build.id, limit=20, part_id=part_id)
    numbers = {operation.number for operation in found.operations}
    lost = [each for each in found.dimensions if each.operation_number and each.operation_number not in numbers]
    return page(request, "part.html", build=build, part=found, pieces=pieces, changes=changes, lost=lost)


@router.get("/parts/{part_id}/edit")
def edit_part(request: Request, part_id: int) -> HTMLResponse:
    with request.app.state.database.read() as connection:
        row = the_part(connection, part_id)
        build = the_build(connection, row.build_id)
    return page(request, "part_form.html", build=build, old=row)


@router.get("/parts/{part_id}/pieces/new")
def new_pieces(request: Request, part_id: int) -> HTMLResponse:
    with request.app.state.database.read() as connection:
        row = the_part(connection, part_id)
        build = the_build(connection, row.build_id)
    return page(request, "pieces_form.html", build=build, part=row)


@router.get("/parts/{part_id}/operations/new")
def new_operation(request: Request, part_id: int) -> HTMLResponse:
    with request.app.state.database.read() as connection:
        row = the_part(connection, part_id)
        build = the_build(connection, row.build_id)
        found = part_plan(connection, row)
    following = (found.operations[-1].number // 10 + 1) * 10 if found.operations else 10
    return page(request, "operation_form.html", build=build, part=row, old=None, number=following, offsets=WORK_OFFSETS)


@router.get("/operations/{operation_id}/edit")
def edit_operation(request: Request, operation_id: int) -> HTMLResponse:
    with request.app.state.database.read() as connection:
        old = the_operation(connection, operation_id)
        row = the_part(connection, old.part_id)
        build = the_build(connection, row.build_id)
        photos = photos_of_operation(connection, operation_id)
    return page(
        request,
        "operation_form.html",
        build=build,
        part=row,
        old=old,
        number=old.number,
        offsets=WORK_OFFSETS,
        photos=photos,
    )


@router.get("/parts/{part_id}/dimensions/new")
def new_dimension(request: Request, part_id: int) -> HTMLResponse:
    with request.app.state.database.read() as connection:
        row = the_part(connection, part_id)
        build = the_build(connection, row.build_id)
        found = part_plan(connection, row)
    return page(request, "dimension_form.html", build=build, part=found, old=None)


@router.get("/dimensions/{dimension_id}/edit")
def edit_dimension(request: Request, dimension_id: int) -> HTMLResponse:
    with request.app.state.database.read() as connection:
        row = the_part(connection, the_dimension(connection, dimension_id).part_id)
        build = the_build(connection, row.build_id)
        found = part_plan(connection, row)
    old = next((each for each in found.dimensions if each.id == dimension_id), None)
    return page(request, "dimension_form.html", build=build, part=found, old=old)
