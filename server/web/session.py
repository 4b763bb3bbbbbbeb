"""Who asks: the shop's own computer, a paired device that may change things, one that may look, or nobody known.

The computer itself (loopback) needs no pairing. Everything else shows the secret it got when it was paired, in a cookie
no script can read; nothing of this is kept in memory, so that a restart logs nobody out. Source of the cookie's
attributes and of a time limit that the server holds too: OWASP cheat sheet on session management; of the prefix:
RFC 6265bis, "The __Host- Prefix" (both from memory).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from fastapi import HTTPException, Request
from starlette.concurrency import run_in_threadpool
from starlette.datastructures import Headers
from starlette.responses import RedirectResponse, Response
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from server.addresses import is_loopback
from server.store.base import now
from server.store.devices import LIFE, device_of
from server.web.guard import SAFE_METHODS, at_most
from server.web.telling import answer, told

COOKIE = "matchmark-device"
COOKIE_OVER_HTTPS = "__Host-matchmark-device"
COOKIES = (COOKIE, COOKIE_OVER_HTTPS)

LARGEST_BODY_OF_A_STRANGER = 4096
# What a device must see to be paired: the page itself, its styles and scripts, and the certificate to trust.
_FOR_STRANGERS = ("/pair", "/api/pair", "/devices/ca.crt")
# A program that passes requests on makes everyone look as if they came from this computer; it says so in one of these.
_PASSED_ON = ("forwarded", "x-forwarded-for", "x-real-ip", "via")

_PAIR_FIRST = "This device is not paired with the shop's computer. Pair it first, at /pair."
_MAY_LOOK = "This device may look and change nothing. Pair it again, as one that may write, to do this."


@dataclass(frozen=True, slots=True)
class Visitor:
    """Who a request comes from. `device_id` is None for the shop's own computer."""

    role: Literal["host", "editor", "viewer"]
    device_id: int | None = None
    name: str = ""

    @property
    def may_write(self) -> bool:
        return self.role != "viewer"


def visitor_of(request: Request) -> Visitor | None:
    """None for a device that is not paired, on the few pages such a one may see."""
    return getattr(request.state, "visitor", None)


def may_write(request: Request) -> Visitor:
    """For pages and files that are not for viewers: what leaves the shop, and who else is let in."""
    visitor = visitor_of(request)
    if visitor is None or not visitor.may_write:
        raise HTTPException(403, _MAY_LOOK)
    return visitor


def keep_secret(response: Response, secret: str, https: bool) -> None:
    """Give the device its secret, in the only place it is ever written."""
    response.set_cookie(
        COOKIE_OVER_HTTPS if https else COOKIE,
        secret,
        max_age=int(LIFE.total_seconds()),
        path="/",
        httponly=True,
        secure=https,
        samesite="strict",
    )


class Session:
    """A plain ASGI middleware, inside the guard: names the visitor in the request's state, or turns it away."""

    def __init__(self, app: ASGIApp) -> None:
        self.app = app

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        if scope["type"] != "http":
            await self.app(scope, receive, send)
            return
        request = Request(scope)
        path = scope["path"]
        if path.startswith("/static/"):
            await self.app(scope, receive, send)
            return
        visitor = await _visitor(request)
        scope.setdefault("state", {})["visitor"] = visitor
        writes = scope["method"] not in SAFE_METHODS
        if visitor is None:
            if path not in _FOR_STRANGERS:
                await _turned_away(request, writes)(scope, receive, send)
                return
            receive = at_most(receive, LARGEST_BODY_OF_A_STRANGER)
        elif writes and not visitor.may_write and path != "/api/pair":
            await answer(request, 403, told([], message=_MAY_LOOK))(scope, receive, send)
            return
        elif visitor.device_id is not None:
            send = _while_let_in(request, send)
        await self.app(scope, receive, send)


def _while_let_in(request: Request, send: Send) -> Send:
    """An answer that goes on and on, such as a stream of changes, ends when its device is let in no more."""
    ended = streams = False

    async def guarded(message: Message) -> None:
        nonlocal ended, streams
        if ended:
            return  # the end is told already; whoever streams sees the line closed
        if message["type"] == "http.response.start":
            streams = Headers(raw=message["headers"]).get("content-type", "").startswith("text/event-stream")
        elif streams and message.get("more_body") and await _visitor(request) is None:
            ended = True
            message = {"type": "http.response.body", "body": b""}
        await send(message)

    return guarded


async def _visitor(request: Request) -> Visitor | None:
    host = request.client.host if request.client else ""
    if is_loopback(host) and not any(name in request.headers for name in _PASSED_ON):
        return Visitor("host")
    secret = request.cookies.get(COOKIE_OVER_HTTPS if request.url.scheme == "https" else COOKIE)
    if not secret:
        return None
    device = await run_in_threadpool(device_of, request.app.state.database, secret, now())
    return Visitor(device.role, device.id, device.name) if device is not None else None


def _turned_away(request: Request, writes: bool) -> Response:
    if not writes and not request.url.path.startswith("/api/"):
        return RedirectResponse("/pair", 303)
    refused = answer(request, 401, told([], message=_PAIR_FIRST))
    refused.headers["WWW-Authenticate"] = "Pairing"  # RFC 9110, 11.6.1: a 401 names what is asked for
    return refused
