"""A tablet is let in, as two people at two screens do it: over this machine's own address, which is no secure context.

On the loopback a browser is kinder (it sends Sec-Fetch-Site and more), so nothing of this could be proved there.
"""

from __future__ import annotations

import os
import socket
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from pathlib import Path

import numpy as np
import pytest
import zxingcpp
from playwright.sync_api import Locator, Page, expect

from server.addresses import own_addresses
from server.settings import ROOT
from tests.browser.conftest import free_port

pytestmark = pytest.mark.browser


@pytest.fixture
def shop(tmp_path: Path) -> Iterator[tuple[str, str]]:
    """The server's address on this computer, and that in the shop."""
    found = [str(each) for each in own_addresses() if each.version == 4]
    if not found:
        pytest.skip("this machine has no IPv4 address but its loopback's")
    port = free_port()
    command = [sys.executable, "-m", "server.cli", "serve", "--no-browser", "--data", str(tmp_path / "data")]
    command += ["--host", found[0], "--port", str(port)]
    with (tmp_path / "said.txt").open("w") as said:
        running = subprocess.Popen(command, cwd=ROOT, stdout=said, stderr=said, env=os.environ)
    end = time.monotonic() + 60
    while time.monotonic() < end and running.poll() is None:
        try:
            socket.create_connection(("127.0.0.1", port), 1).close()
            break
        except OSError:
            time.sleep(0.05)
    yield f"http://127.0.0.1:{port}", f"http://{found[0]}:{port}"
    running.kill()
    running.wait()


def test_a_tablet_is_let_in_writes_and_is_let_in_no_more(shop: tuple[str, str], open_page: Callable[..., Page]) -> None:
    here, there = shop
    desk, tablet = open_page(), open_page(1180, 820, touch=True, expects=("401",))
    tablet.goto(there + "/builds/new")
    expect(tablet).to_have_url(there + "/pair")
    assert tablet.evaluate("isSecureContext") is False

    desk.goto(here)
    desk.get_by_role("link", name="Devices").click()
    desk.get_by_role("button", name="A device that may write").click()
    code = desk.locator("[data-code]")
    expect(code).to_be_visible()
    expect(desk.locator("[data-left]")).to_contain_text("left")
    link = desk.locator("figcaption").first.inner_text()
    assert link == f"{there}/pair#{code.inner_text().replace('-', '')}"
    assert read_from(desk.get_by_alt_text("The same address as a square")) == [link]

    asked: list[str] = []
    tablet.on("request", lambda request: asked.append(request.url))
    tablet.goto(link)
    expect(tablet).to_have_url(there + "/pair")  # the code is wiped from the address, and from the history with it
    expect(tablet.get_by_label("Code")).to_have_value(link.rpartition("#")[2])
    tablet.get_by_label("Name of this device").fill("tablet at the mill")
    tablet.get_by_role("button", name="Pair").tap()
    expect(tablet.get_by_role("heading", name="Builds")).to_be_visible()
    assert not any(link.rpartition("#")[2] in url.partition("#")[0] for url in asked)
    assert "matchmark-device" not in tablet.evaluate("document.cookie")

    tablet.goto(there + "/builds/new")
    tablet.get_by_label("Name", exact=False).first.fill("Proof press")
    tablet.get_by_role("button", name="Start the build").tap()
    expect(tablet.locator(".build-name")).to_have_text("Proof press")

    desk.reload()
    desk.get_by_role("button", name="Let tablet at the mill in no more").click()
    expect(desk.get_by_text("Let in no more: 1")).to_be_visible()
    tablet.reload()
    expect(tablet).to_have_url(there + "/pair")


def read_from(picture: Locator) -> list[str]:
    """What a camera would read from a picture as it stands on the screen, by a library that did not draw it."""
    grey = picture.evaluate(
        """async (image) => {
          await image.decode();
          const side = (image.width = image.height = 400);
          const drawn = Object.assign(document.createElement("canvas"), { width: side, height: side }).getContext("2d");
          drawn.fillStyle = "white";
          drawn.fillRect(0, 0, side, side);
          drawn.drawImage(image, 0, 0, side, side);
          return Array.from(drawn.getImageData(0, 0, side, side).data.filter((_, place) => place % 4 === 0));
        }"""
    )
    side = int(len(grey) ** 0.5)
    return [each.text for each in zxingcpp.read_barcodes(np.array(grey, dtype=np.uint8).reshape(side, side))]


def test_a_wrong_code_is_told_beside_it_and_stays_on_the_screen(
    shop: tuple[str, str], open_page: Callable[..., Page]
) -> None:
    tablet = open_page(1180, 820, touch=True)
    tablet.goto(shop[1])
    tablet.get_by_label("Code").fill("aaaa-aaaa")
    tablet.get_by_label("Name of this device").fill("tablet")
    tablet.get_by_role("button", name="Pair").tap()
    expect(tablet.locator("#e-code")).to_contain_text("not the code that is open now")
    expect(tablet.get_by_label("Code")).to_have_value("aaaa-aaaa")
