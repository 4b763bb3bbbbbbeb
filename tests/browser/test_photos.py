"""Photographs by hand: chosen from the tablet's own files, kept, seen upright, refused in words, and taken back."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any
from uuid import uuid4

import pytest
from PIL import Image
from playwright.sync_api import Page, Route, expect

from tests.browser.conftest import RunningServer
from tests.pictures import PRIVATE, heic, jpeg, png, scene

pytestmark = pytest.mark.browser


class Tablet:
    """A build with a piece and a run in hand, a page on a tablet, and photographs in its camera roll."""

    def __init__(self, server: RunningServer, page: Page, roll: Path) -> None:
        self.server, self.page, self.roll = server, page, roll
        build = self.act("add-build", name="Press")["build_id"]
        part = self.act("add-part", build_id=build, number="CR", name="Rod")["part_id"]
        self.operation = self.act("add-operation", part_id=part, number=10, name="Mill")["operation_id"]
        self.act("add-dimension", part_id=part, number="1", name="Width", requirement="25 ±0.02", cutting="smaller")
        self.piece = self.act("start-pieces", part_id=part)["piece_ids"][0]
        self.build = build

    def act(self, path: str, **fields: object) -> dict[str, Any]:
        answer = self.page.request.post(
            f"{self.server.address}/api/{path}", data=fields, headers={"Idempotency-Key": uuid4().hex}
        )
        assert answer.ok, answer.text()
        return dict(answer.json())

    def run(self) -> int:
        return int(self.act("start-run", operation_id=self.operation, pieces=[{"piece_id": self.piece}])["run_id"])

    def go(self, path: str) -> None:
        self.page.goto(f"{self.server.address}{path}")

    def file(self, name: str, data: bytes) -> Path:
        file = self.roll / name
        file.write_bytes(data)
        return file

    def kept(self) -> list[Path]:
        return sorted((self.server.data / "photos").glob("*/*"))


@pytest.fixture
def tablet(server: RunningServer, open_page: Callable[..., Page], tmp_path: Path) -> Tablet:
    roll = tmp_path / "camera roll"
    roll.mkdir()
    return Tablet(server, open_page(820, 1180, touch=True), roll)


def lying(width: int, height: int) -> bytes:
    """A photograph taken with the tablet upright: the pixels lie on their side, and the file says so."""
    return jpeg(6, scene(width, height).transpose(Image.Transpose.ROTATE_90))


def shown(page: Page, image: str) -> tuple[int, int]:
    """The size in pixels of an image that the browser has taken and shows."""
    found = page.locator(image).first
    expect(found).to_be_visible()
    page.wait_for_function("image => image.complete && image.naturalWidth > 0", arg=found.element_handle())
    return found.evaluate("image => [image.naturalWidth, image.naturalHeight]")  # type: ignore[no-any-return]


def test_a_photograph_from_the_camera_roll_is_kept_with_a_piece(tablet: Tablet) -> None:
    page = tablet.page
    tablet.go(f"/pieces/{tablet.piece}")
    photos = page.get_by_role("region", name="Photographs")
    photos.get_by_text("Add a photograph").tap()
    expect(photos.get_by_label("Take a photograph")).to_have_attribute("capture", "environment")
    photos.get_by_label("From pictures kept here").set_input_files(tablet.file("IMG_0042.JPG", lying(1600, 1000)))
    expect(photos.get_by_text("IMG_0042.JPG")).to_be_visible()
    photos.get_by_label("Caption").fill("burr at the eye")
    photos.get_by_role("button", name="Keep it").tap()

    expect(page.locator(".photos")).to_contain_text("burr at the eye")
    assert tuple(shown(page, ".photos img")) == (480, 300)  # upright
    expect(page.locator(".story")).to_contain_text("photograph CR-1: burr at the eye")
    [file] = tablet.kept()
    assert not [secret for secret in PRIVATE if secret in file.read_bytes()]

    # The whole of it in an image element, turned by the browser as the file asks.
    full = page.locator(".photos a").get_attribute("href")
    size = page.evaluate(
        "async address => { const i = new Image(); i.src = address; await i.decode();"
        " return [i.naturalWidth, i.naturalHeight]; }",
        full,
    )
    assert size == [1600, 1000]


def test_what_is_no_photograph_is_told_beside_it_and_what_was_typed_stays(tablet: Tablet) -> None:
    page = tablet.page
    tablet.go(f"/pieces/{tablet.piece}")
    photos = page.get_by_role("region", name="Photographs")
    photos.get_by_text("Add a photograph").tap()
    photos.get_by_role("button", name="Keep it").tap()
    expect(photos.get_by_text("No photograph is chosen")).to_be_visible()

    roll = photos.get_by_label("From pictures kept here")
    photos.get_by_label("Caption").fill("as it sat")
    for name, data, told in (
        ("IMG_1.HEIC", heic(), "“IMG_1.HEIC”: it is a HEIC picture"),
        ("notes.jpg", b"a list of things to buy", "“notes.jpg”: it is not a picture"),
        ("large.jpg", bytes(26 * 1024 * 1024), "“large.jpg”: it is 26.0 MB large. Accepted: at most 25 MB."),
    ):
        roll.set_input_files(tablet.file(name, data))
        photos.get_by_role("button", name="Keep it").tap()
        expect(photos.get_by_role("alert").first).to_contain_text(told)
        expect(photos.get_by_label("Caption")).to_have_value("as it sat")
    assert tablet.kept() == []

    # Of several, those that are good are kept, and the one that is not stays chosen with its reason.
    roll.set_input_files(
        [tablet.file("a.png", png()), tablet.file("b.jpg", b"not one"), tablet.file("c.jpg", jpeg(image=scene(80, 60)))]
    )
    photos.get_by_role("button", name="Keep it").tap()
    expect(photos.get_by_role("alert").first).to_contain_text("“b.jpg”: it is not a picture")
    expect(photos.locator("[data-chosen]")).to_have_text("b.jpg, 0.1 MB")
    assert len(tablet.kept()) == 2


def test_a_photograph_whose_answer_is_lost_is_kept_once(tablet: Tablet) -> None:
    page = tablet.page
    tablet.go(f"/pieces/{tablet.piece}")
    photos = page.get_by_role("region", name="Photographs")

    def lose_the_answer(route: Route) -> None:
        route.fetch()
        route.fulfill(status=422, content_type="text/plain", body="nothing that can be read")

    page.route("**/api/photos", lose_the_answer, times=1)
    photos.get_by_text("Add a photograph").tap()
    photos.get_by_label("From pictures kept here").set_input_files(tablet.file("a.jpg", jpeg()))
    photos.get_by_role("button", name="Keep it").tap()
    expect(photos.get_by_text("Not saved: the server answered with 422")).to_be_visible()
    photos.get_by_role("button", name="Keep it").tap()
    expect(page.locator(".story .photo")).to_have_count(1)
    log = page.request.get(f"{tablet.server.address}/api/pieces/{tablet.piece}/log").json()
    assert len([line for line in log if line["kind"] == "photo"]) == 1


def test_at_the_machine_a_photograph_joins_the_page_and_the_pad_stays(tablet: Tablet) -> None:
    page = tablet.page
    tablet.go(f"/operations/{tablet.operation}/edit")
    page.get_by_text("Add a photograph").tap()
    page.get_by_label("From pictures kept here").set_input_files(tablet.file("setup.jpg", jpeg(image=scene(90, 60))))
    page.get_by_label("Caption").fill("two clamps")
    page.get_by_role("button", name="Keep it").tap()
    expect(page.locator(".photos")).to_contain_text("two clamps")
    tablet.go(f"/operations/{tablet.operation}/start")
    expect(page.locator(".photos")).to_contain_text("two clamps")

    tablet.go(f"/runs/{tablet.run()}")
    photos = page.get_by_role("region", name="Photographs")
    expect(photos).to_contain_text("two clamps")
    page.get_by_label("Figure measured").fill("24.9")
    photos.get_by_text("Add a photograph").tap()
    photos.get_by_label("Take a photograph").set_input_files(tablet.file("chips.jpg", jpeg()))
    photos.get_by_label("Caption").fill("chips in the slot")
    photos.get_by_role("button", name="Keep it").tap()
    expect(photos.get_by_text("Saved.")).to_be_visible()
    expect(photos.locator(".photos").last).to_contain_text("chips in the slot")
    expect(page.get_by_label("Figure measured")).to_have_value("24.9")


def test_what_happened_is_photographed_and_a_photograph_taken_back(tablet: Tablet) -> None:
    page = tablet.page
    tablet.act("log-event", kind="note", piece_id=tablet.piece, text="a crack")
    tablet.go(f"/pieces/{tablet.piece}")
    line = page.locator(".story li", has_text="a crack")
    line.get_by_text("Photograph it").tap()
    line.get_by_label("From pictures kept here").set_input_files(tablet.file("crack.png", png()))
    line.get_by_role("button", name="Keep it").tap()
    photo = page.locator(".story li", has=page.locator(".photo"))
    expect(photo).to_contain_text("photograph CR-1 of note: a crack")
    photo.get_by_text("Take back").tap()
    photo.get_by_label("Why").fill("the other rod")
    photo.get_by_role("button", name="Take it back").tap()
    expect(page.locator(".story")).to_contain_text("“photo” taken back: the other rod")
    expect(photo).to_have_class("replaced")
    expect(page.locator(".photos img")).to_have_count(0)
