"""Every screen, in light and dark, at the sizes of tablets, desks and a telephone.

Nothing overlaps or runs off sideways, no text is under 16 px, and the accessibility rules of axe-core (WCAG 2.2 A and
AA, and its best practice) find nothing. axe-core comes inside the package axe-playwright-python; it is run here, and
nothing of it is in the program.
"""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import axe_playwright_python
import pytest
from playwright.sync_api import Page

from tests.browser.conftest import RunningServer

pytestmark = pytest.mark.browser

AXE = (Path(axe_playwright_python.__file__).parent / "axe.min.js").read_text(encoding="utf-8")
PAGES = (
    "/",
    "/builds/new",
    "/builds/1",
    "/builds/1/machine",
    "/builds/1/plan",
    "/builds/1/log",
    "/builds/1/edit",
    "/builds/1/sheet",
    "/builds/1/parts/new",
    "/parts/1",
    "/parts/1/edit",
    "/parts/1/sheet",
    "/parts/1/pieces/new",
    "/parts/1/operations/new",
    "/parts/1/dimensions/new",
    "/operations/1/edit",
    "/operations/1/start",
    "/dimensions/1/edit",
    "/parts/1/record",
    "/parts/1/cards",
    "/builds/1/labels",
    "/devices",
    "/pair",
    "/handbook",
    "/handbook/turn-over",
    "/handbook/tap-drill?thread=M8",
    "/handbook/bolt-torque",
    "/about",
    "/nothing-here",
)
SMALL_TEXT = """() => [...document.querySelectorAll('body *')].filter((e) => {
    const own = [...e.childNodes].some((n) => n.nodeType === 3 && n.textContent.trim());
    const box = e.getBoundingClientRect();
    return own && box.width > 1 && box.height > 1 && !e.closest('svg, .sr')
        && parseFloat(getComputedStyle(e).fontSize) < 16;
}).map((e) => e.outerHTML.slice(0, 120))"""
SIDEWAYS = "document.documentElement.scrollWidth - document.documentElement.clientWidth"


def pages_of(page: Page, server: RunningServer) -> list[str]:
    """The fixed ones, a piece and a run in hand, and a reading to correct."""
    board = page.request.get(f"{server.address}/api/builds/1/board").json()
    rows = [row for part in board["parts"] for row in part["rows"]]
    run = next(row["run_id"] for row in rows if row["run_id"])
    fitted = next(row["piece_id"] for row in rows if row["fitted_to"])
    scrap = next(row["piece_id"] for row in rows if row["state"] == "scrap")
    log = page.request.get(f"{server.address}/api/pieces/{fitted}/log").json()
    reading = next(line["id"] for line in log if line["kind"] == "reading")
    return [
        *PAGES,
        f"/runs/{run}",
        f"/pieces/{fitted}",
        f"/pieces/{scrap}",
        f"/pieces/{fitted}/record",
        f"/pieces/{fitted}/card",
        f"/pieces/{fitted}/card-entry",
        f"/readings/{reading}/correct",
    ]


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_axe_finds_nothing_on_any_page(demo_server: RunningServer, open_page: Callable[..., Page], scheme: str) -> None:
    page = open_page(1280, 800, expects=("404",))
    page.emulate_media(color_scheme=scheme)  # type: ignore[arg-type]
    found = {}
    for path in pages_of(page, demo_server):
        page.goto(demo_server.address + path)
        page.evaluate(AXE)
        answer = page.evaluate(
            "axe.run(document, {runOnly: ['wcag2a', 'wcag2aa', 'wcag21a', 'wcag21aa', 'wcag22aa', 'best-practice']})"
        )
        faults = [
            f"{fault['id']}: {node['html'][:160]} {node['failureSummary'][:300]}"
            for fault in answer["violations"]
            for node in fault["nodes"]
        ]
        if faults:
            found[path] = faults
    assert found == {}


@pytest.mark.parametrize(("width", "height"), [(800, 1280), (1280, 800), (390, 844), (1920, 1080)])
def test_nothing_runs_off_sideways_and_no_text_is_small(
    demo_server: RunningServer, open_page: Callable[..., Page], width: int, height: int
) -> None:
    page = open_page(width, height, expects=("404",))
    wrong = {}
    for path in pages_of(page, demo_server):
        page.goto(demo_server.address + path)
        over = page.evaluate(SIDEWAYS)
        # A card is read on paper, not at arm's length.
        small = [] if path.endswith(("/card", "/cards")) else page.evaluate(SMALL_TEXT)
        if over > 0 or small:
            wrong[path] = (over, small[:3])
    assert wrong == {}


@pytest.mark.parametrize(("width", "height"), [(800, 1280), (1280, 800)])
def test_what_is_pressed_at_the_machine_is_twelve_millimetres(
    demo_server: RunningServer, open_page: Callable[..., Page], width: int, height: int
) -> None:
    """12 mm at 96 px an inch is 45 px; common practice for gloved or wet fingers, no source."""
    page = open_page(width, height)
    run = next(path for path in pages_of(page, demo_server) if path.startswith("/runs/"))
    for path in ("/builds/1/machine", "/operations/1/start", run):
        page.goto(demo_server.address + path)
        small = page.evaluate(
            """() => [...document.querySelectorAll('main :is(button, .button, a.run-card, select, input)')]
                .filter((e) => e.offsetParent && !['checkbox', 'radio', 'hidden'].includes(e.type)
                    && e.getBoundingClientRect().height < 45).map((e) => e.outerHTML.slice(0, 100))"""
        )
        assert small == [], path
