"""Several tablets at once: what one logs stands on the others' pages without a reload, and disturbs no typing."""

from __future__ import annotations

import json
import urllib.request
from collections.abc import Callable
from typing import Any
from uuid import uuid4

import pytest
from playwright.sync_api import Page, expect

from tests.browser.conftest import RunningServer

pytestmark = pytest.mark.browser


def do(server: RunningServer, path: str, **fields: Any) -> dict[str, Any]:
    headers = {"Content-Type": "application/json", "Idempotency-Key": uuid4().hex}
    request = urllib.request.Request(f"{server.address}/api/{path}", json.dumps(fields).encode(), headers)
    with urllib.request.urlopen(request) as answer:
        return dict(json.loads(answer.read()))


@pytest.fixture
def ids(server: RunningServer) -> dict[str, int]:
    build = do(server, "add-build", name="Proof press")["build_id"]
    part = do(server, "add-part", build_id=build, number="CR", name="Rod")["part_id"]
    operation = do(server, "add-operation", part_id=part, number=10, name="Bore")["operation_id"]
    dimension = do(
        server,
        "add-dimension",
        part_id=part,
        number="1",
        name="Eye",
        requirement="12 H7",
        unit="mm",
        cutting="larger",
        operation_number=10,
    )["dimension_id"]
    piece, second = do(server, "start-pieces", part_id=part, count=2)["piece_ids"]
    return {
        "build": build,
        "part": part,
        "operation": operation,
        "dimension": dimension,
        "piece": piece,
        "second": second,
    }


def run_it(server: RunningServer, ids: dict[str, int]) -> None:
    on = [{"piece_id": ids["piece"]}]
    do(server, "start-run", operation_id=ids["operation"], pieces=on, finished=True)


def read_it(server: RunningServer, ids: dict[str, int], value: str = "12.01") -> None:
    do(server, "take-reading", piece_id=ids["piece"], dimension_id=ids["dimension"], value=value)


def stays(page: Page) -> None:
    """A mark that a reload would wipe away."""
    page.evaluate("window.notReloaded = true")


def was_not_reloaded(page: Page) -> None:
    assert page.evaluate("window.notReloaded") is True


def test_a_reading_shows_on_an_open_board_and_on_the_piece(
    server: RunningServer, open_page: Callable[..., Page], ids: dict[str, int]
) -> None:
    board, piece, machine, log = (open_page() for _ in range(4))
    board.goto(f"{server.address}/builds/{ids['build']}")
    piece.goto(f"{server.address}/pieces/{ids['piece']}")
    machine.goto(f"{server.address}/builds/{ids['build']}/machine")
    log.goto(f"{server.address}/builds/{ids['build']}/log")
    for page in (board, piece, machine, log):
        stays(page)
    run_it(server, ids)
    read_it(server, ids)
    expect(board.get_by_role("row", name="CR-1")).to_contain_text("finished", timeout=5000)
    expect(piece.locator(".standing-banner")).to_contain_text("finished", timeout=5000)
    expect(piece.locator(".story")).to_contain_text("12.010", timeout=5000)
    expect(machine.locator(".marks")).to_have_text("CR-2", timeout=5000)
    expect(log.locator(".story li").first).to_contain_text("12.010", timeout=5000)
    for page in (board, piece, machine, log):
        was_not_reloaded(page)
        expect(page.locator(".something-added button")).to_have_count(0)


def test_a_form_on_a_page_that_was_swapped_works_and_is_sent_once(
    server: RunningServer, page: Page, ids: dict[str, int]
) -> None:
    page.goto(f"{server.address}/pieces/{ids['piece']}")
    stays(page)
    run_it(server, ids)
    expect(page.locator(".story")).to_contain_text("op 10 Bore finished")
    was_not_reloaded(page)
    page.locator(".dimension-card summary", has_text="Measure").click()
    page.get_by_label("Size measured, mm").fill("12.011")
    page.get_by_role("button", name="Save").click()
    expect(page.locator(".standing-banner")).to_contain_text("finished")
    expect(page.locator(".story li", has_text="12.011")).to_have_count(1)


def test_whoever_types_is_not_disturbed_and_is_told(server: RunningServer, page: Page, ids: dict[str, int]) -> None:
    page.goto(f"{server.address}/pieces/{ids['piece']}")
    page.locator(".happenings summary", has_text="Note").click()
    note = page.get_by_label("What is worth keeping?")
    note.click()
    page.keyboard.type("the first half")
    run_it(server, ids)
    read_it(server, ids)
    button = page.get_by_role("button", name="Something was added: show it")
    expect(button).to_be_visible()
    expect(page.locator("dialog[open]")).to_have_count(0)
    expect(note).to_be_focused()
    page.keyboard.type(", and the second")
    expect(note).to_have_value("the first half, and the second")
    expect(page.locator(".standing-banner")).not_to_contain_text("finished")
    # Shown when asked for, and what was typed is still there.
    button.click()
    expect(page.locator(".standing-banner")).to_contain_text("finished")
    expect(note).to_have_value("the first half, and the second")
    expect(button).to_have_count(0)
    page.locator(".happenings details[open]").get_by_role("button", name="Log it").click()
    expect(page.locator(".story")).to_contain_text("the first half, and the second")


def test_scroll_and_focus_stay_where_they_are(server: RunningServer, page: Page, ids: dict[str, int]) -> None:
    for number in range(40):
        do(server, "log-event", kind="note", piece_id=ids["piece"], text=f"note {number}")
    page.goto(f"{server.address}/pieces/{ids['piece']}")
    page.evaluate("window.scrollTo(0, 900)")
    link = page.get_by_role("link", name="Record")
    link.evaluate("each => each.focus({ preventScroll: true })")
    before = page.locator("#story").evaluate("each => each.getBoundingClientRect().top")
    run_it(server, ids)
    expect(page.locator(".story")).to_contain_text("op 10 Bore finished")
    expect(link).to_be_focused()
    after = page.locator("#story").evaluate("each => each.getBoundingClientRect().top")
    assert abs(after - before) < 2


def test_without_a_stream_the_page_asks_from_time_to_time(
    server: RunningServer, page: Page, ids: dict[str, int]
) -> None:
    # An EventSource that only ever fails, as behind a firewall that cuts long answers off.
    page.add_init_script(
        """window.EventSource = class extends EventTarget {
             static CLOSED = 2;
             readyState = 2;
             constructor() { super(); setTimeout(() => this.dispatchEvent(new Event("error"))); }
             close() {}
           };"""
    )
    page.goto(f"{server.address}/builds/{ids['build']}")
    stays(page)
    run_it(server, ids)
    read_it(server, ids)
    expect(page.get_by_role("row", name="CR-1")).to_contain_text("finished")
    was_not_reloaded(page)


def test_the_run_page_is_left_alone_and_its_script_is_told(
    server: RunningServer, page: Page, ids: dict[str, int]
) -> None:
    run = do(server, "start-run", operation_id=ids["operation"], pieces=[{"piece_id": ids["piece"]}])["run_id"]
    page.goto(f"{server.address}/runs/{run}")
    page.evaluate(
        "const heard = (tell) => window.addEventListener('matchmark:change', (event) => tell(event.detail));"
        "window.heard = new Promise(heard); undefined"
    )
    page.get_by_label("Figure measured").fill("12.0")
    do(
        server,
        "take-reading",
        piece_id=ids["piece"],
        dimension_id=ids["dimension"],
        value="12.012",
        run_id=run,
        who="Wren",
    )
    told = page.evaluate("window.heard")
    assert told["kind"] == "log"
    assert told["line"]["typed"] == "12.012"
    assert told["line"]["run_id"] == run
    expect(page.get_by_label("Figure measured")).to_have_value("12.0")
    expect(page.locator(".something-added button")).to_have_count(0)
