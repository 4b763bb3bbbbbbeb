"""What comes out of the printer: labels where their sheet has them, and cards that run over with their head."""

from __future__ import annotations

import re
import zlib
from typing import Any

import pytest
from playwright.sync_api import Page, expect

from server.records.label_sheets import PAPERS_NM, SHEETS, LabelSheet
from server.trade.length import NM_PER_MM
from server.web.labels import EDGE_NM, code_side_nm
from tests.browser.conftest import RunningServer
from tests.browser.test_live import do

pytestmark = pytest.mark.browser

MM_PER_PIXEL = 25.4 / 96  # CSS Values and Units, "absolute lengths": 1 in = 96 px


def pages_of(pdf: bytes) -> list[tuple[float, float]]:
    """Width and height [mm] of each page of a PDF as chromium writes it."""
    boxes = re.findall(rb"/MediaBox \[0 0 ([\d.]+) ([\d.]+)\]", pdf)
    return [(float(width) / 72 * 25.4, float(height) / 72 * 25.4) for width, height in boxes]


def printed(page: Page, address: str) -> bytes:
    page.goto(address)
    return page.pdf(prefer_css_page_size=True)


def squares_in(pdf: bytes, side_mm: float, height_mm: float) -> list[tuple[float, float]]:
    """Left and top [mm] of every drawing of that width and height, in the order they are drawn: in the coordinates of
    the PDF itself, whatever the browser did to the page on its way there."""
    found: list[tuple[float, float]] = []
    for compressed in re.findall(rb"stream\r?\n(.*?)endstream", pdf, re.DOTALL):
        try:
            content = zlib.decompress(compressed).decode("latin-1")
        except zlib.error:
            continue
        on_page = {}  # its white ground and its own edge are one square
        scale, right, up = 1.0, 0.0, 0.0  # of the transformations in force: chromium turns nothing
        flip, kept = 1.0, []
        for line in content.splitlines():
            *numbers, operator = line.split() or [""]
            if operator == "q":
                kept.append((scale, flip, right, up))
            elif operator == "Q":
                scale, flip, right, up = kept.pop()
            elif operator == "cm":
                a, _, _, d, e, f = map(float, numbers)
                right, up = right + scale * e, up + flip * f
                scale, flip = scale * a, flip * d
            elif operator == "re":
                x, y, width, height = map(float, numbers)
                if abs(width * scale - side_mm / 25.4 * 72) < 1 and abs(height * flip + side_mm / 25.4 * 72) < 1:
                    left, top = right + scale * x, up + flip * y
                    on_page[round(left), round(top)] = (left / 72 * 25.4, height_mm - top / 72 * 25.4)
        found += on_page.values()
    return found


@pytest.fixture
def ids(server: RunningServer) -> dict[str, int]:
    build = do(server, "add-build", name="Proof press")["build_id"]
    part = do(server, "add-part", build_id=build, number="CR", name="Rod with a long name " * 4)["part_id"]
    marks = f"CR-1 {'W' * 40} </p><b>x {'漢' * 40}"
    pieces = do(server, "start-pieces", part_id=part, marks=marks)["piece_ids"]
    return {"build": build, "part": part, "piece": pieces[0], "first": pieces[0], "last": pieces[-1]}


def test_labels_are_printed_where_the_sheet_has_them(server: RunningServer, page: Page, ids: dict[str, int]) -> None:
    for sheet in SHEETS.values():
        is_printed_where_it_should(server, page, ids, sheet)


def is_printed_where_it_should(server: RunningServer, page: Page, ids: dict[str, int], sheet: LabelSheet) -> None:
    pieces = "&".join(f"piece={each}" for each in range(ids["first"], ids["last"] + 1))
    copies = min(50, sheet.each // 4)
    address = f"{server.address}/builds/{ids['build']}/labels/sheet?{pieces}&copies={copies}&start=4&sheet={sheet.key}"
    paper_mm = tuple(each / NM_PER_MM for each in PAPERS_NM[sheet.paper])
    pdf = printed(page, address)
    # Chromium writes paper in whole points, a third of a millimetre.
    sizes = pages_of(pdf)
    assert sizes == [pytest.approx(paper_mm, abs=0.36)] * -(-(4 * copies + 3) // sheet.each)
    spots = list(sheet.spots(4 * copies, 4))
    code_mm = code_side_nm(sheet) / NM_PER_MM
    down_mm = (sheet.height_nm / NM_PER_MM - code_mm) / 2
    wanted = [
        ((spot.left_nm + EDGE_NM) / NM_PER_MM, spot.top_nm / NM_PER_MM + down_mm)
        for spot in sorted(spots, key=lambda spot: spot.sheet)
    ]
    # A quarter of a millimetre, of which chromium's whole points and pixels take the most.
    assert squares_in(pdf, code_mm, sizes[0][1]) == [pytest.approx(each, abs=0.25) for each in wanted]
    page.emulate_media(media="print")
    boxes: list[Any] = page.evaluate(
        """() => [...document.querySelectorAll(".label")].map((label) => {
             const paper = label.parentElement.getBoundingClientRect();
             const box = label.getBoundingClientRect();
             return [box.left - paper.left, box.top - paper.top, box.width, box.height];
           })"""
    )
    for spot, box in zip(spots, boxes, strict=True):
        wanted = (spot.left_nm, spot.top_nm, sheet.width_nm, sheet.height_nm)
        # Chromium lays out in 64ths of a pixel: 4 µm.
        assert [each * MM_PER_PIXEL for each in box] == pytest.approx([each / NM_PER_MM for each in wanted], abs=0.02)
    corner = page.locator(".label-page").first.bounding_box()
    assert corner is not None
    assert (corner["x"], corner["y"]) == (0, 0)  # the sheet's own corner is the paper's


def test_the_largest_letters_of_any_mark_stay_on_their_label(
    server: RunningServer, page: Page, ids: dict[str, int]
) -> None:
    pieces = "&".join(f"piece={each}" for each in range(ids["first"], ids["last"] + 1))
    for key in ("A4-99.1x67.7-2x4", "A4-38.1x21.2-5x13"):
        page.goto(f"{server.address}/builds/{ids['build']}/labels/sheet?{pieces}&sheet={key}")
        outside = page.evaluate(
            """() => [...document.querySelectorAll(".label")].filter((label) => {
                 const box = label.getBoundingClientRect();
                 const text = label.querySelector(".label-text").getBoundingClientRect();
                 const code = label.querySelector("svg").getBoundingClientRect();
                 return text.right > box.right + 0.1 || text.bottom > box.bottom + 0.1 || text.top < box.top - 0.1
                   || text.width < 20 || code.right > text.left + 0.1 || code.width < 30;
               }).length"""
        )
        assert outside == 0
        # A mark on one line is not cut off.
        short = page.locator(".label-letters").first
        assert short.evaluate("each => each.scrollWidth <= each.clientWidth && each.clientHeight < 90")


def card_part(server: RunningServer, build: int, dimensions: int) -> int:
    part = do(server, "add-part", build_id=build, number="BB", name="Bearing block")["part_id"]
    do(server, "add-operation", part_id=part, number=10, name="Bore", setup="vice", check_before="clean, seated")
    for number in range(1, dimensions + 1):
        do(
            server,
            "add-dimension",
            part_id=part,
            number=str(number),
            name=f"Hole {number}",
            requirement="12 H7",
            unit="mm",
            operation_number=10,
        )
    [piece] = do(server, "start-pieces", part_id=part, count=1)["piece_ids"]
    return int(piece)


@pytest.mark.parametrize("paper", ["A4", "Letter"])
def test_a_card_is_one_page_and_a_long_one_goes_on_with_its_head(
    server: RunningServer, page: Page, ids: dict[str, int], paper: str
) -> None:
    width_nm, height_nm = PAPERS_NM[paper]  # type: ignore[index]
    size_mm = pytest.approx((width_nm / NM_PER_MM, height_nm / NM_PER_MM), abs=0.36)
    few = card_part(server, ids["build"], 6)
    assert pages_of(printed(page, f"{server.address}/pieces/{few}/card?paper={paper}")) == [size_mm]
    many_build = do(server, "add-build", name="Another")["build_id"]
    many = card_part(server, many_build, 40)
    assert pages_of(printed(page, f"{server.address}/pieces/{many}/card?paper={paper}")) == [size_mm] * 2
    # What chromium repeats on every page is a table's head; no row is cut in two.
    page.emulate_media(media="print")
    expect(page.locator("thead .card-mark")).to_have_text("BB-1")
    assert page.locator("thead").evaluate("each => getComputedStyle(each).display") == "table-header-group"
    rows = page.locator(".card-dimension")
    assert rows.count() == 40
    assert rows.evaluate_all("all => all.every((each) => getComputedStyle(each).breakInside === 'avoid')")
    expect(page.locator(".plate, footer, .not-printed").first).to_be_hidden()
