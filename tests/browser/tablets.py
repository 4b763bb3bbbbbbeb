"""Tablets beside the machine: paired with the server over the computer's own address on its network, plain http.

127.0.0.1 counts as safe with browsers and hides what plain http lacks; a computer without another address is all there
is then, and the tests run over it.
"""

from __future__ import annotations

import json
import sqlite3
import urllib.request
from collections.abc import Callable, Iterator
from contextlib import closing
from dataclasses import dataclass, field
from typing import Any
from uuid import uuid4

from playwright.sync_api import Browser, BrowserContext, Locator, Page, expect

from server.addresses import shop_addresses
from tests.browser.conftest import RunningServer

# What a browser itself writes to its console where a request fails: here requests fail on purpose.
_OF_THE_LINE = ("Failed to load resource", "net::ERR_")


@dataclass(slots=True)
class Job:
    """A run in hand of two rods, each with a thickness made by it and a bore that is not."""

    build: int
    part: int
    operation: int
    thickness: int
    width: int
    pieces: list[int]
    run: int


@dataclass(slots=True)
class Shop:
    """The server, what is put into it beforehand, and what is on its disk afterwards."""

    server: RunningServer

    @property
    def address(self) -> str:
        found = shop_addresses("0.0.0.0")
        return f"http://{found[0]}:{self.server.port}" if found else self.server.address

    def do(self, path: str, **fields: Any) -> dict[str, Any]:
        """An action done at the shop's own computer, which needs no pairing."""
        headers = {"Content-Type": "application/json", "Idempotency-Key": uuid4().hex}
        request = urllib.request.Request(f"{self.server.address}/api/{path}", json.dumps(fields).encode(), headers)
        with urllib.request.urlopen(request, timeout=10) as response:
            return dict(json.load(response))

    def job(self, pieces: int = 2) -> Job:
        build = self.do("add-build", name="Press")["build_id"]
        part = self.do("add-part", build_id=build, number="CR", name="Rod", needed=pieces)["part_id"]
        operation = self.do("add-operation", part_id=part, number=10, name="Face")["operation_id"]
        self.do("add-operation", part_id=part, number=20, name="Bore", machine="mill", setup="vice")
        made = {"part_id": part, "operation_number": 10}
        thickness = self.do(
            "add-dimension", number="1", name="Thickness", requirement="12 ± .05", cutting="smaller", **made
        )["dimension_id"]
        width = self.do("add-dimension", number="2", name="Width", requirement="30 ± .1", cutting="smaller", **made)
        rods = self.do("start-pieces", part_id=part, count=pieces)["piece_ids"]
        run = self.do("start-run", operation_id=operation, pieces=[{"piece_id": each} for each in rods])["run_id"]
        return Job(build, part, operation, thickness, width["dimension_id"], rods, run)

    def rows(self, sql: str, *values: Any) -> list[tuple[Any, ...]]:
        with closing(sqlite3.connect(self.server.data / "matchmark.db")) as connection:
            return connection.execute(sql, values).fetchall()

    def readings(self) -> list[tuple[int, str]]:
        """Piece and figure as typed, in the order in which they reached the log."""
        return [(row[0], row[1]) for row in self.rows("SELECT piece_id, typed FROM reading ORDER BY id")]


@dataclass(slots=True)
class Tablet:
    """One browser with a store of its own, paired."""

    shop: Shop
    context: BrowserContext
    errors: list[str] = field(default_factory=list)

    def open(self, address: str) -> Page:
        page = self.context.new_page()
        page.on("pageerror", lambda error: self.errors.append(f"{page.url}: {error}"))
        page.on("console", lambda message: self._heard(message.type, message.text))
        page.goto(self.shop.address + address)
        return page

    def _heard(self, kind: str, text: str) -> None:
        if kind == "error" and not any(each in text for each in _OF_THE_LINE):
            self.errors.append(text)

    def pair(self, name: str = "tablet") -> None:
        if self.shop.address == self.shop.server.address:
            return
        code = self.shop.do("invite", role="editor")["code"]
        page = self.open("/pair")
        answer = page.evaluate(
            """async ([code, name]) => (await fetch("/api/pair", {
              method: "POST", headers: { "Content-Type": "application/json" }, body: JSON.stringify({ code, name }),
            })).status""",
            [code, name],
        )
        assert answer == 200
        page.close()


def tablets(browser: Browser, shop: Shop) -> Iterator[Callable[..., Tablet]]:
    """Makes paired tablets; an error in any of their pages, but those of a lost line, fails the test at its end."""
    made: list[Tablet] = []

    def make(paired: bool = True) -> Tablet:
        context = browser.new_context(viewport={"width": 1180, "height": 820}, has_touch=True)
        context.set_default_timeout(15_000)
        tablet = Tablet(shop, context)
        made.append(tablet)
        if paired:
            tablet.pair(f"tablet {len(made)}")
        return tablet

    yield make
    for tablet in made:
        tablet.context.close()
    assert [error for tablet in made for error in tablet.errors] == []


def chip(page: Page) -> Locator:
    return page.locator(".outbox-chip")


def enter(page: Page, figure: str) -> None:
    """As a gauge does that types: the figure, then Enter."""
    page.keyboard.type(figure)
    page.keyboard.press("Enter")


def nudge(page: Page) -> None:
    """What the browser says when the network is back: there is no waiting for the next try by itself."""
    page.evaluate("dispatchEvent(new Event('online'))")


def all_delivered(page: Page, timeout: float = 15_000) -> None:
    nudge(page)
    expect(chip(page)).to_be_hidden(timeout=timeout)


def kept(page: Page) -> list[dict[str, Any]]:
    """What the tablet's own store holds."""
    return list(page.evaluate("async () => (await import('/static/js/outbox.js')).items()"))
