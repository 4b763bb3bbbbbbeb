"""A real server in its own process, and Debian's chromium driven by Playwright.

A page that logs an error to its console, or throws, fails its test. Without a chromium the browser tests are skipped
with the reason; where CI is set they fail instead.
"""

from __future__ import annotations

import os
import shutil
import socket
import subprocess
import sys
import time
import urllib.request
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path

import pytest
from playwright.sync_api import Browser, Page, sync_playwright

ROOT = Path(__file__).resolve().parents[2]
CHROMIUM = os.environ.get("BROWSER_PATH") or shutil.which("chromium") or shutil.which("chromium-browser")


@dataclass(slots=True)
class RunningServer:
    """A server on a free port with a data folder of its own; it can be killed and started again."""

    data: Path
    port: int
    demo: bool = False
    lan: bool = False
    process: subprocess.Popen[bytes] | None = None

    @property
    def address(self) -> str:
        return f"http://127.0.0.1:{self.port}"

    def start(self) -> None:
        command = [sys.executable, "-m", "server.cli", "serve", "--data", str(self.data), "--port", str(self.port)]
        command += ["--no-browser", *(["--demo"] if self.demo else []), *(["--lan"] if self.lan else [])]
        log = (self.data.parent / f"{self.data.name}.log").open("ab")
        self.process = subprocess.Popen(command, cwd=ROOT, stdout=log, stderr=log)
        log.close()
        end = time.monotonic() + 60
        while time.monotonic() < end:
            if self.process.poll() is not None:
                break
            try:
                urllib.request.urlopen(self.address + "/about", timeout=1).close()
            except OSError:
                time.sleep(0.05)
            else:
                return
        raise AssertionError((self.data.parent / f"{self.data.name}.log").read_text())

    def kill(self) -> None:
        assert self.process is not None
        self.process.kill()
        self.process.wait()


def free_port() -> int:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])


def _serve(folder: Path, demo: bool, lan: bool = False) -> Iterator[RunningServer]:
    folder.mkdir()
    running = RunningServer(folder, free_port(), demo, lan)
    running.start()
    yield running
    running.kill()


@pytest.fixture
def server(tmp_path: Path) -> Iterator[RunningServer]:
    """A server with an empty data folder."""
    yield from _serve(tmp_path / "data", demo=False)


@pytest.fixture
def lan_server(tmp_path: Path) -> Iterator[RunningServer]:
    """A server with an empty data folder, open to every address of this computer."""
    yield from _serve(tmp_path / "data", demo=False, lan=True)


@pytest.fixture(scope="module")
def demo_server(tmp_path_factory: pytest.TempPathFactory) -> Iterator[RunningServer]:
    """A server with the demo build; tests that use it leave it as they found it, or do not care."""
    yield from _serve(tmp_path_factory.mktemp("demo") / "data", demo=True)


@pytest.fixture(scope="package")  # no longer: while it is up, an event loop runs in this thread and asyncio cannot
def browser() -> Iterator[Browser]:
    if CHROMIUM is None:
        reason = "browser tests were not run: there is no chromium (on Debian: the package chromium)"
        if os.environ.get("CI"):
            pytest.fail(reason)
        pytest.skip(reason)
    with sync_playwright() as playwright:
        arguments = ["--no-sandbox"] if hasattr(os, "geteuid") and os.geteuid() == 0 else []
        browser = playwright.chromium.launch(
            executable_path=CHROMIUM, args=[*arguments, "--disable-background-networking", "--disable-gpu"]
        )
        yield browser
        browser.close()


@pytest.fixture
def open_page(browser: Browser, request: pytest.FixtureRequest) -> Iterator[Callable[..., Page]]:
    """Opens pages of a given size; any error in a page's console fails the test at its end."""
    contexts = []
    errors: list[str] = []

    def make(width: int = 1280, height: int = 800, touch: bool = False, expects: tuple[str, ...] = ()) -> Page:
        """`expects`: statuses that chromium will note in the console and that are meant to happen."""
        context = browser.new_context(viewport={"width": width, "height": height}, has_touch=touch)
        context.set_default_timeout(15_000)
        contexts.append(context)
        page = context.new_page()
        page.on("pageerror", lambda error: errors.append(f"{page.url}: {error}"))
        page.on(
            "console",
            lambda message: (
                errors.append(f"{page.url}: {message.text}")
                if message.type == "error" and not _is_expected(message.text, expects)
                else None
            ),
        )
        return page

    yield make
    for context in contexts:
        context.close()
    assert errors == []


def _is_expected(text: str, statuses: tuple[str, ...]) -> bool:
    """A refusal is an answer with status 422, which chromium itself notes in the console."""
    return any(f"status of {status}" in text for status in ("422", *statuses))


@pytest.fixture
def page(open_page: Callable[..., Page]) -> Page:
    return open_page()
