"""One piece: its dimensions drawn, its story in time order, and everything that can be said of it."""

from __future__ import annotations

from fastapi import APIRouter, Request
from fastapi.responses import HTMLResponse
from sqlalchemy import select

from server.log.at_machine import measured
from server.log.entries import the_piece
from server.log.kept_tables import PieceOperation, PieceState
from server.log.photos import photos_of_piece
from server.log.readings import limit_facts
from server.log.story import lines_of_piece
from server.log.tables import Reading
from server.plan.named import the_build, the_dimension, the_part, the_row
from server.plan.tables import Limits, Operation
from server.web.pages import page, viewer_unit

router = APIRouter()


@router.get("/pieces/{piece_id}")
def piece(request: Request, piece_id: int) -> HTMLResponse:
    with request.app.state.database.read() as connection:
        row = the_piece(connection, piece_id)
        part = the_part(connection, row.part_id)
        build = the_build(connection, row.build_id)
        state = connection.execute(
            select(PieceState.__table__).where(PieceState.piece_id == piece_id)  # type: ignore[attr-defined]
        ).one()
        operations = connection.execute(
            select(Operation.id, Operation.number, Operation.name, PieceOperation.state, PieceOperation.why)
            .join(PieceOperation, PieceOperation.operation_id == Operation.id)
            .where(PieceOperation.piece_id == piece_id)
            .order_by(Operation.number)
        ).all()
        dimensions = measured(connection, piece_id, viewer_unit(request, build.unit))
        lines = lines_of_piece(connection, piece_id)
        photos = photos_of_piece(connection, piece_id)
    return page(
        request,
        "piece.html",
        build=build,
        part=part,
        piece=row,
        state=state,
        operations=operations,
        dimensions=dimensions,
        lines=lines,
        photos=photos,
    )


@router.get("/readings/{reading_id}/correct")
def correct_reading(request: Request, reading_id: int) -> HTMLResponse:
    with request.app.state.database.read() as connection:
        reading = the_row(connection, Reading, reading_id, "reading")
        row = the_piece(connection, reading.piece_id)
        build = the_build(connection, row.build_id)
        limits = the_row(connection, Limits, reading.limits_id, "limits")
        dimension = the_dimension(connection, reading.dimension_id)
    return page(
        request,
        "correct_reading.html",
        build=build,
        piece=row,
        reading=reading,
        dimension=dimension,
        limits=limits,
        limit_facts=limit_facts(limits),
    )
