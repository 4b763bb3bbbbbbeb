"""The first page: every build, or how to begin."""

from __future__ import annotations

from fastapi import APIRouter, Request
from fastapi.responses import HTMLResponse
from sqlalchemy import func, select

from server.log.kept_tables import PieceState
from server.plan.named import the_build
from server.plan.tables import Build
from server.web.pages import page

router = APIRouter()


@router.get("/")
def builds(request: Request) -> HTMLResponse:
    with request.app.state.database.read() as connection:
        rows = connection.execute(select(Build.__table__).order_by(Build.id)).all()  # type: ignore[attr-defined]
        counts: dict[int, dict[str, int]] = {}
        for build_id, state, count in connection.execute(
            select(PieceState.build_id, PieceState.state, func.count()).group_by(PieceState.build_id, PieceState.state)
        ):
            counts.setdefault(build_id, {})[state] = count
    return page(request, "builds.html", builds=rows, counts=counts)


@router.get("/builds/new")
def new_build(request: Request) -> HTMLResponse:
    return page(request, "build_form.html", old=None)


@router.get("/builds/{build_id}/edit")
def edit_build(request: Request, build_id: int) -> HTMLResponse:
    with request.app.state.database.read() as connection:
        build = the_build(connection, build_id)
    return page(request, "build_form.html", build=build, old=build)
