"""What can be read as JSON: builds, the plan of one, its board, a piece's record, the log."""

from __future__ import annotations

from dataclasses import asdict
from typing import Annotated, Any

from fastapi import APIRouter, Query, Request
from fastapi.encoders import jsonable_encoder
from fastapi.responses import JSONResponse, Response
from sqlalchemy import select

from server.log.board import board
from server.log.entries import the_piece
from server.log.story import lines_of_build, lines_of_piece
from server.plan.named import the_build, the_part
from server.plan.reading import build_plan, part_plan
from server.plan.tables import Build
from server.records.record_json import SCHEMA
from server.web.logs import BeforeEntry

router = APIRouter(prefix="/api", tags=["reading"])


@router.get("/builds", summary="Every build")
def builds(request: Request) -> list[dict[str, Any]]:
    with request.app.state.database.read() as connection:
        rows = connection.execute(select(Build.__table__).order_by(Build.id))  # type: ignore[attr-defined]
        return [dict(row._mapping) for row in rows]


@router.get("/builds/{build_id}", summary="The plan of a build: its parts, operations and dimensions")
def plan(request: Request, build_id: int) -> dict[str, Any]:
    with request.app.state.database.read() as connection:
        return asdict(build_plan(connection, the_build(connection, build_id)))


@router.get("/parts/{part_id}", summary="The plan of one part")
def part(request: Request, part_id: int) -> dict[str, Any]:
    with request.app.state.database.read() as connection:
        return asdict(part_plan(connection, the_part(connection, part_id)))


@router.get("/builds/{build_id}/board", summary="Pieces against operations, and what still needs finishing")
def the_board(request: Request, build_id: int) -> dict[str, Any]:
    with request.app.state.database.read() as connection:
        the_build(connection, build_id)
        found = board(connection, build_id)
    return {
        "parts": [asdict(each) for each in found.parts],
        "shortages": [asdict(each) for each in found.shortages],
        "to_finish": [row.piece_id for row in found.to_finish],
    }


@router.get("/builds/{build_id}/log", summary="The newest lines of the log, newest first")
def log(
    request: Request,
    build_id: int,
    before: BeforeEntry = None,
    limit: Annotated[int, Query(ge=1, le=500)] = 100,
) -> list[dict[str, Any]]:
    with request.app.state.database.read() as connection:
        the_build(connection, build_id)
        return [asdict(line) for line in lines_of_build(connection, build_id, before, limit)]


@router.get("/pieces/{piece_id}/log", summary="The whole story of a piece, oldest first")
def story(request: Request, piece_id: int) -> list[dict[str, Any]]:
    with request.app.state.database.read() as connection:
        the_piece(connection, piece_id)
        return [asdict(line) for line in lines_of_piece(connection, piece_id)]


@router.get("/record.schema.json", summary="The JSON Schema of a record")
def record_schema() -> Response:
    return Response(SCHEMA.read_bytes(), media_type="application/schema+json")


@router.get("/openapi.json", include_in_schema=False)
def openapi(request: Request) -> JSONResponse:
    return JSONResponse(jsonable_encoder(request.app.openapi()))
