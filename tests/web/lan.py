"""The shop's network, played: the shop's own computer and other devices before one application, each from its address.

The addresses are those kept for documentation (RFC 5737); nothing is sent anywhere, the client calls the application.
"""

from __future__ import annotations

from typing import Any
from uuid import uuid4

from fastapi import FastAPI
from httpx2 import Response
from starlette.testclient import TestClient

from server.settings import Settings
from server.web.session import COOKIE, COOKIE_OVER_HTTPS

SHOP, PORT, HTTPS_PORT = "192.0.2.1", 8731, 8732
TABLET = ("192.0.2.7", 5555)


def open_to_the_shop(settings: Settings, https: bool = False) -> Settings:
    """As `matchmark serve --host 192.0.2.1` would have it."""
    return Settings(
        settings.data, host=SHOP, port=PORT, https_port=HTTPS_PORT if https else None, allowed_hosts=(SHOP,)
    )


class Device:
    """A browser on some device: it keeps its cookie and says in each POST which page it comes from."""

    def __init__(self, app: FastAPI, client: tuple[str, int] = TABLET, address: str = f"http://{SHOP}:{PORT}") -> None:
        self.client = TestClient(app, base_url=address, client=client, follow_redirects=False)
        self.address = address

    def get(self, path: str, **headers: str) -> Response:
        return self.client.get(path, headers=headers)

    def post(self, path: str, body: Any, **headers: str | None) -> Response:
        """A POST as a page of this server sends it; a header given as None is left out."""
        sent: dict[str, str | None] = {"Origin": self.address, "Idempotency-Key": uuid4().hex, **headers}
        return self.client.post(
            path, json=body, headers={name: said for name, said in sent.items() if said is not None}
        )

    def invite(self, role: str = "editor") -> str:
        answer = self.post("/api/invite", {"role": role})
        assert answer.status_code == 200, answer.text
        return str(answer.json()["code"])

    def pair(self, code: str, name: str = "tablet at the mill") -> Response:
        return self.post("/api/pair", {"code": code, "name": name})

    def paired_by(self, host: Device, role: str = "editor", name: str = "tablet at the mill") -> Device:
        answer = self.pair(host.invite(role), name)
        assert answer.status_code == 200, answer.text
        return self

    @property
    def secret(self) -> str:
        cookies = self.client.cookies
        return str(cookies.get(COOKIE_OVER_HTTPS if self.address.startswith("https") else COOKIE))


def the_host(app: FastAPI) -> Device:
    """The shop's own computer."""
    return Device(app, ("127.0.0.1", 5555), f"http://127.0.0.1:{PORT}")
