"""The board: pieces against operations, and what still needs finishing."""

from __future__ import annotations

from fastapi import APIRouter, Request
from fastapi.responses import HTMLResponse

from server.log.board import board
from server.plan.named import the_build
from server.web.pages import page

router = APIRouter()


@router.get("/builds/{build_id}")
def the_board(request: Request, build_id: int) -> HTMLResponse:
    with request.app.state.database.read() as connection:
        build = the_build(connection, build_id)
        found = board(connection, build_id)
    return page(request, "board.html", build=build, board=found)
