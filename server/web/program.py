"""About this program: where the data is, what it runs on, and the addresses of its API."""

from __future__ import annotations

from fastapi import APIRouter, Request
from fastapi.responses import HTMLResponse

from server.web.pages import page

router = APIRouter()


@router.get("/about")
def about(request: Request) -> HTMLResponse:
    addresses = [
        (method.upper(), path, operation["summary"])
        for path, methods in request.app.openapi()["paths"].items()
        for method, operation in methods.items()
    ]
    return page(
        request,
        "about.html",
        settings=request.app.state.settings,
        sqlite_version=request.app.state.sqlite_version,
        version=request.app.version,
        addresses=sorted(addresses, key=lambda each: each[0]),
    )
