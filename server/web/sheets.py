"""Pasting from a spreadsheet, or loading a CSV file: into a build, or into one part."""

from __future__ import annotations

from fastapi import APIRouter, Request
from fastapi.responses import HTMLResponse

from server.plan.named import the_build, the_part
from server.web.pages import page

router = APIRouter()


@router.get("/builds/{build_id}/sheet")
def sheet_of_build(request: Request, build_id: int) -> HTMLResponse:
    with request.app.state.database.read() as connection:
        build = the_build(connection, build_id)
    return page(request, "sheet.html", build=build, part=None)


@router.get("/parts/{part_id}/sheet")
def sheet_of_part(request: Request, part_id: int) -> HTMLResponse:
    with request.app.state.database.read() as connection:
        part = the_part(connection, part_id)
        build = the_build(connection, part.build_id)
    return page(request, "sheet.html", build=build, part=part)
