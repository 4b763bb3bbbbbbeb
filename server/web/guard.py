"""What stands between a request and the pages: whose name it asked for, where it came from, and how much it sends.

Host first: a page on another site that points its own name at this machine ("DNS rebinding") is same-origin to a
browser, and only the name it asked for gives it away. Then, for anything that writes, where the request comes from:
a browser names the Origin of every POST. SameSite alone does not do: cookies are shared by all ports of a host, and so
by every other program on it (RFC 6265, 8.5). Sources: OWASP cheat sheet on cross-site request forgery (checking the
source origin); WHATWG Fetch, "Origin header".
"""

from __future__ import annotations

from collections.abc import Container
from urllib.parse import urlsplit

from starlette.datastructures import Headers, MutableHeaders
from starlette.requests import cookie_parser
from starlette.responses import PlainTextResponse
from starlette.types import ASGIApp, Message, Receive, Scope, Send

SAFE_METHODS = ("GET", "HEAD", "OPTIONS")
LOCAL_NAMES = ("localhost", "127.0.0.1", "::1")
LARGEST_BODY = 12 * 1024 * 1024
# A photograph may have 25 MB (server.store.picture); with room above that, so that one a little too large is refused
# in the same words as everything else that is wrong with it.
LARGEST_BODY_AT = {"/api/photos": 32 * 1024 * 1024}

HEADERS = {
    "Content-Security-Policy": (
        "default-src 'self'; script-src 'self'; style-src 'self'; style-src-attr 'unsafe-inline'; "
        "img-src 'self' data:; object-src 'none'; "
        "base-uri 'none'; form-action 'self'; frame-ancestors 'none'"
    ),
    "X-Content-Type-Options": "nosniff",
    "Referrer-Policy": "same-origin",
}


class Guard:
    """A plain ASGI middleware; `names` are the host names, without port, that this server answers to, `own_names` those
    that the computer has just now. Who is known by one of the `cookies` must say where a request to write comes from.
    """

    def __init__(
        self, app: ASGIApp, names: tuple[str, ...], own_names: Container[str] = (), cookies: tuple[str, ...] = ()
    ) -> None:
        self.app = app
        self.names = {name.lower() for name in (*LOCAL_NAMES, *names)}
        self.own_names = own_names
        self.cookies = cookies

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        if scope["type"] != "http":
            await self.app(scope, receive, send)
            return
        headers = Headers(scope=scope)
        why_not, status = self._why_not(scope, headers)
        if why_not:
            await PlainTextResponse(why_not + "\n", status)(scope, receive, send)
            return

        async def send_with_headers(message: Message) -> None:
            if message["type"] == "http.response.start":
                out = MutableHeaders(scope=message)
                for name, value in HEADERS.items():
                    out.setdefault(name, value)
                if not scope["path"].startswith("/static/"):
                    out.setdefault("Cache-Control", "no-store")
            await send(message)

        try:
            await self.app(scope, at_most(receive, _largest_body(scope)), send_with_headers)
        except _TooLargeError as error:
            await PlainTextResponse(f"{error}\n", 413)(scope, receive, send_with_headers)

    def _why_not(self, scope: Scope, headers: Headers) -> tuple[str, int]:
        host = headers.get("host", "")
        name = _name_of(host)
        if name not in self.names and name not in self.own_names:
            return f"This server does not answer to the name {host!r}.", 421
        if scope["method"] in SAFE_METHODS:
            return "", 200
        length = headers.get("content-length", "0")
        if length.isdigit() and int(length) > _largest_body(scope):
            return str(_TooLargeError(_largest_body(scope))), 413
        origin = headers.get("origin")
        if headers.get("sec-fetch-site", "same-origin") not in ("same-origin", "none"):
            return "A page of another site may not write here.", 403
        # Programs that are no browser send no Origin; they carry no cookie either, and there is nothing to steal.
        if origin is None and any(each in cookie_parser(headers.get("cookie", "")) for each in self.cookies):
            return "A request to write that does not say where it comes from is not taken from a paired device.", 403
        if origin is not None and origin.lower() != f"{scope['scheme']}://{host}".lower():
            return f"A page of {origin} may not write here.", 403
        return "", 200


def _largest_body(scope: Scope) -> int:
    return LARGEST_BODY_AT.get(scope["path"], LARGEST_BODY)


def _name_of(host: str) -> str:
    """The name in a Host header, without its port; IPv6 without its brackets."""
    try:
        return (urlsplit(f"//{host}").hostname or "").lower()
    except ValueError:
        return ""


class _TooLargeError(Exception):
    """More came than a request may be long. Nothing is answered yet: whatever answers has the whole body first."""

    def __init__(self, limit: int) -> None:
        size = f"{limit // 1024 // 1024} MB" if limit >= 1024 * 1024 else f"{limit // 1024} KB"
        super().__init__(f"The request is larger than {size}; nothing of it was taken.")


def at_most(receive: Receive, limit: int) -> Receive:
    """A body without a stated length is counted as it comes."""
    read = 0

    async def counted() -> Message:
        nonlocal read
        message = await receive()
        read += len(message.get("body", b""))
        if read > limit:
            raise _TooLargeError(limit)
        return message

    return counted
