"""What was added to a build: as a stream while it happens, or as JSON since a place."""

from __future__ import annotations

from typing import Any

from fastapi import APIRouter, Request
from fastapi.responses import Response

from server.log.changes import AT_ONCE, additions_since, place_now
from server.plan.named import the_build
from server.web.live import ChangeStream, as_json, place_asked, wants_stream

router = APIRouter(prefix="/api", tags=["reading"])


@router.get(
    "/builds/{build_id}/changes",
    summary="What is added to a build: a stream of server-sent events, or JSON since a place",
    response_model=None,
)
def changes(request: Request, build_id: int, after: str = "") -> dict[str, Any] | Response:
    """With `Accept: text/event-stream` a stream from `Last-Event-ID`, else from `after`, else from now on; each event
    is one thing added. Otherwise JSON: `place` is what to ask `after` next, `more` says that more is there already."""
    place = place_asked(request, after)
    with request.app.state.database.read() as connection:
        the_build(connection, build_id)
        if place is None:
            place = place_now(connection)
        if not wants_stream(request.headers):
            found = additions_since(connection, build_id, place)
            end = found[-1].place if found else place
            more = len(found) == AT_ONCE
            return {"place": str(end), "changes": [as_json(each) for each in found], "more": more}
    return ChangeStream(request.app.state.database, build_id, place)
