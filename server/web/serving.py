"""The server itself, which ends although pages listen: uvicorn waits for every open answer, and a stream has no end."""

from __future__ import annotations

import asyncio
import contextlib
import logging
import socket
import ssl
import sys

import uvicorn
from fastapi import FastAPI
from starlette.concurrency import run_in_threadpool

from server.addresses import EVERY_ADDRESS, is_loopback, own_names
from server.settings import Settings

_log = logging.getLogger("matchmark")

LOOK_AT_CERTIFICATE_S = 600
ENDS_WITHIN_S = 5  # a client that takes nothing any more holds up the end no longer than this


class Server(uvicorn.Server):
    """uvicorn's own, which sends the listening pages away before it waits for answers to be finished."""

    def __init__(self, app: FastAPI, settings: Settings) -> None:
        config = uvicorn.Config(
            app,
            log_level="warning",
            proxy_headers=False,  # nothing may say for another where it comes from: loopback is let in unpaired
            callback_notify=self.look_at_certificate if settings.https_port else None,
            timeout_notify=LOOK_AT_CERTIFICATE_S,
            access_log=False,
            timeout_graceful_shutdown=ENDS_WITHIN_S,
        )
        super().__init__(config)
        self._app = app
        self._settings = settings
        self.https: ssl.SSLContext | None = None

    async def startup(self, sockets: list[socket.socket] | None = None) -> None:
        """As uvicorn starts, and https beside http: both reach the same application."""
        if self._settings.https_port:
            self.prepare_https()
        await super().startup(sockets)
        for each in listen(self._settings.host, self._settings.https_port) if self._settings.https_port else ():
            loop = asyncio.get_running_loop()
            self.servers.append(await loop.create_server(self._protocol, sock=each, ssl=self.https))

    def prepare_https(self) -> None:
        self._make_certificate()
        self.https = ssl.create_default_context(ssl.Purpose.CLIENT_AUTH)
        self._load_certificate()

    def _protocol(self) -> asyncio.Protocol:
        kind = self.config.http_protocol_class
        return kind(  # type: ignore[call-arg]
            config=self.config, server_state=self.server_state, app_state=self.lifespan.state
        )

    async def look_at_certificate(self) -> None:
        """New addresses, or an end that is near, ask for a new certificate: it is taken up as the server runs."""
        try:
            if await run_in_threadpool(self._make_certificate):
                self._load_certificate()
        except OSError as error:  # a full disk: the old one serves on, and it is tried again
            _log.warning("no new certificate could be made: %s", error)

    def _make_certificate(self) -> bool:
        from server import tls  # and the cryptography behind it: only where https is asked for

        made = tls.make_ready(self._settings.tls, certificate_names(self._settings))
        if made.authority:
            _log.warning("the shop has a new authority of its own: each device must trust it anew (see Devices)")
        return made.certificate

    def _load_certificate(self) -> None:
        from server import tls

        assert self.https is not None
        folder = self._settings.tls
        self.https.load_cert_chain(tls.certificate_file(folder), tls.key_file(folder))

    async def shutdown(self, sockets: list[socket.socket] | None = None) -> None:
        self._app.state.database.watchers.close()
        await super().shutdown(sockets)


def listen(host: str, port: int) -> list[socket.socket]:
    """Sockets on an address, and on this computer's own as well: its screen is where devices are let in."""
    hosts = [host] if is_loopback(host) or host in EVERY_ADDRESS else [host, "127.0.0.1"]
    return [
        socket.create_server((each, port), family=socket.AF_INET6 if ":" in each else socket.AF_INET) for each in hosts
    ]


def certificate_names(settings: Settings) -> set[str]:
    """Every name the certificate must be good for."""
    own = set() if is_loopback(settings.host) else own_names()
    return own | {name for name in settings.allowed_hosts if name not in EVERY_ADDRESS}


def serve_until_ended(app: FastAPI, settings: Settings) -> None:
    """Serve until Ctrl-C or a signal to end; exit with a status of its own where the server could not start."""
    server = Server(app, settings)
    sockets = listen(settings.host, settings.port)
    with contextlib.suppress(KeyboardInterrupt):
        server.run(sockets)
    if not server.started:
        sys.exit(3)
