"""About this program: where the data is, what it runs on, and the addresses of its API."""

from __future__ import annotations

from fastapi import APIRouter, Request
from fastapi.responses import HTMLResponse

from server.web.api.actions import ACTIONS
from server.web.pages import page

router = APIRouter()


@router.get("/about")
def about(request: Request) -> HTMLResponse:
    described = request.app.openapi()
    reads = [
        (path, methods["get"].get("summary", "")) for path, methods in described["paths"].items() if "get" in methods
    ]
    return page(
        request,
        "about.html",
        settings=request.app.state.settings,
        sqlite_version=request.app.state.sqlite_version,
        version=request.app.version,
        actions=ACTIONS,
        reads=reads,
    )
