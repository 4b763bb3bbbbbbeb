"""The log of a build, newest first, a page at a time."""

from __future__ import annotations

from typing import Annotated

from fastapi import APIRouter, Query, Request
from fastapi.responses import HTMLResponse

from server.log.story import lines_of_build
from server.plan.named import the_build
from server.web.pages import page

router = APIRouter()

LINES = 100
LAST_NUMBER = 2**63 - 1  # where SQLite's integers end

BeforeEntry = Annotated[int | None, Query(ge=1, le=LAST_NUMBER, description="only lines older than this entry")]


@router.get("/builds/{build_id}/log")
def log(request: Request, build_id: int, before: BeforeEntry = None) -> HTMLResponse:
    with request.app.state.database.read() as connection:
        build = the_build(connection, build_id)
        lines = lines_of_build(connection, build_id, before, LINES + 1)
    more = lines[LINES - 1].id if len(lines) > LINES else None
    return page(request, "log.html", build=build, lines=lines[:LINES], before=before, more=more)
