"""What a page on a tablet hears of the others: a stream of what is added to a build, and the same for the asking.

The stream is that of server-sent events (WHATWG HTML, "Server-sent events"): a browser's EventSource reads it on
plain http, connects again by itself, and says in Last-Event-ID how far it had read.
"""

from __future__ import annotations

import asyncio
import json
from typing import Any

from fastapi import Request
from pydantic_core import to_jsonable_python
from starlette.concurrency import run_in_threadpool
from starlette.datastructures import Headers
from starlette.responses import JSONResponse, Response
from starlette.types import Message, Receive, Scope, Send

from server.log.changes import AT_ONCE, Addition, Place, additions_since, place_now
from server.store.action import Problem, Refused
from server.store.database import Database
from server.store.watchers import TooManyWatch, Watcher

BEAT_S = 15.0  # silence longer than this is a lost connection
TAKEN_WITHIN_S = 10.0  # a client that takes nothing for so long is let go; it comes back and reads on
GATHER_S = 0.05  # many commits at once become one reading
RETRY_MS = 1000

_FULL = {
    "message": "Too many pages are listening already; this one asks from time to time instead.",
    "problems": [],
    "question": None,
}


def note_place(request: Request) -> None:
    """Before a page is read: how far the log has come, so that what comes while the page is made is not missed."""
    with request.app.state.database.read() as connection:
        request.state.place = str(place_now(connection))


class ChangeStream(Response):
    """Sends what is added to a build after `place`, until the client or the server leaves."""

    media_type = "text/event-stream"

    def __init__(self, database: Database, build_id: int, place: Place) -> None:
        super().__init__()
        self._database = database
        self._build_id = build_id
        self._place = place

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        try:
            with self._database.watchers.watch() as watcher:
                await self._stream(watcher, receive, send)
        except TooManyWatch:
            await JSONResponse(_FULL, 503, {"Retry-After": "30"})(scope, receive, send)

    async def _stream(self, watcher: Watcher, receive: Receive, send: Send) -> None:
        headers = [(b"content-type", b"text/event-stream; charset=utf-8"), (b"cache-control", b"no-store")]
        await send({"type": "http.response.start", "status": 200, "headers": headers})
        leaving = [asyncio.ensure_future(_until_gone(receive)), asyncio.ensure_future(watcher.closing.wait())]
        try:
            going_on = await self._give(leaving, send, f"retry: {RETRY_MS}\n: from {self._place}\n\n")
            while going_on:
                # Cleared before reading: what is committed while it is read wakes it once more.
                watcher.woken.clear()
                found = await run_in_threadpool(self._next)
                if found:
                    self._place = found[-1].place
                    going_on = await self._give(leaving, send, "".join(map(_event, found)))
                if len(found) < AT_ONCE and going_on:
                    going_on = await self._wait(leaving, watcher, send)
            if watcher.closing.is_set() and not leaving[0].done():
                # At the server's end the stream is closed in good order; a client that is gone is sent nothing more.
                await asyncio.wait(
                    [asyncio.ensure_future(send({"type": "http.response.body", "body": b""}))], timeout=1
                )
        finally:
            for each in leaving:
                each.cancel()

    def _next(self) -> list[Addition]:
        with self._database.read() as connection:
            return additions_since(connection, self._build_id, self._place)

    async def _wait(self, leaving: list[asyncio.Future[Any]], watcher: Watcher, send: Send) -> bool:
        """Until something was committed; whether to go on. In silence a heartbeat tells both sides of a lost line."""
        woken = asyncio.ensure_future(watcher.woken.wait())
        try:
            await asyncio.wait([woken, *leaving], timeout=BEAT_S, return_when=asyncio.FIRST_COMPLETED)
            if any(each.done() for each in leaving):
                return False
            if not woken.done():
                return await self._give(leaving, send, ": still here\n\n")
        finally:
            woken.cancel()
        await asyncio.wait(leaving, timeout=GATHER_S, return_when=asyncio.FIRST_COMPLETED)
        return not any(each.done() for each in leaving)

    async def _give(self, leaving: list[asyncio.Future[Any]], send: Send, text: str) -> bool:
        """Send; whether to go on. `send` waits while the client takes nothing."""
        sending = asyncio.ensure_future(send({"type": "http.response.body", "body": text.encode(), "more_body": True}))
        await asyncio.wait([sending, *leaving], timeout=TAKEN_WITHIN_S, return_when=asyncio.FIRST_COMPLETED)
        if not sending.done():
            sending.cancel()
            return False
        sending.result()
        return not any(each.done() for each in leaving)


async def _until_gone(receive: Receive) -> None:
    message: Message = {"type": ""}
    while message["type"] != "http.disconnect":
        message = await receive()


def _event(addition: Addition) -> str:
    data = json.dumps(as_json(addition), ensure_ascii=False)
    return f"id: {addition.place}\nevent: change\ndata: {data}\n\n"


def as_json(addition: Addition) -> dict[str, Any]:
    """`kind` log: `line` is a line of the log. plan: a change of the plan. all: read everything afresh."""
    return {"place": str(addition.place), "kind": addition.kind, "line": to_jsonable_python(addition.line)}


def place_asked(request: Request, after: str) -> Place | None:
    """Where to go on: what a browser that connects again says it had read, or else what the address says."""
    said = Place.read(request.headers.get("last-event-id", ""))
    if said is None and after:
        said = Place.read(after)
        if said is None:
            raise Refused(Problem("after", after[:80], "it is no place in the log", "a place such as 812.37, or 812"))
    return said


def wants_stream(headers: Headers) -> bool:
    return "text/event-stream" in headers.get("accept", "")
