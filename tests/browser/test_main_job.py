"""The main job by hand: from an empty database to an exported record, as a builder does it with mouse, keys, touch."""

from __future__ import annotations

import csv
import io
import json
from collections.abc import Callable
from pathlib import Path

import pytest
from playwright.sync_api import Page, expect

from tests.browser.conftest import RunningServer

pytestmark = pytest.mark.browser

DIMENSIONS = """Part\tNo.\tWhat\tRequirement\tUnit\tCutting makes it\tOp\tMatters for\tGauge
CR Coupling rod\t1\tPlain-end bore\t22.000..22.021\tmm\tlarger\t20\tfit\tbore gauge
\t2\tThickness\t12 ± .05\tmm\tsmaller\t10\tworking\tmicrometer
"""
OPERATIONS = b"""part;op;what;machine;set-up;offset;cutters;min;check before
CR;10;Face both sides;mill;vice on parallels;G54/G55;40 mm face mill;25;parallels clean, piece seated
CR;20;Bore plain end;mill;vice on parallels;G54;\xd814 drill, boring head;40;
"""


def test_from_an_empty_database_to_an_exported_record(server: RunningServer, page: Page, tmp_path: Path) -> None:
    page.goto(server.address)
    page.get_by_role("link", name="Start a build").click()
    page.get_by_label("Name").fill("Proof press")
    page.get_by_role("button", name="Start the build").click()
    expect(page.get_by_text("The plan is empty.")).to_be_visible()

    page.get_by_role("link", name="Paste or load a sheet").click()
    page.get_by_label("Paste here").fill(DIMENSIONS.replace("22.000..22.021", "twenty-two"))
    page.get_by_role("button", name="Look at it").click()
    expect(page.get_by_text("2 dimensions; 1 cell cannot be read.")).to_be_visible()
    expect(page.locator("td.wrong")).to_contain_text("twenty-two")
    expect(page.get_by_role("button", name="Take all of it")).to_be_disabled()
    page.get_by_label("Paste here").fill(DIMENSIONS)
    page.get_by_role("button", name="Look at it").click()
    page.get_by_role("button", name="Take all of it").click()
    expect(page.get_by_role("link", name="CR")).to_be_visible()

    sheet = tmp_path / "operations.csv"
    sheet.write_bytes(OPERATIONS)
    page.get_by_role("link", name="Paste or load a sheet").click()
    page.get_by_label("Load a CSV file").set_input_files(sheet)
    expect(page.get_by_text("2 operations, all of it can be read: 2 new.")).to_be_visible()
    page.get_by_role("button", name="Take all of it").click()

    page.get_by_role("link", name="CR", exact=True).click()
    page.get_by_role("link", name="Start pieces").click()
    page.get_by_label("How many").fill("two")
    page.get_by_role("button", name="Start them").click()
    expect(page.get_by_text("“two”: it is not a whole number")).to_be_visible()
    expect(page.get_by_label("How many")).to_have_value("two")
    page.get_by_label("How many").fill("2")
    page.get_by_role("button", name="Start them").click()
    expect(page.get_by_role("link", name="CR-1")).to_be_visible()

    # Two blanks on two offsets: one run with two pieces.
    page.get_by_role("link", name="Go to the machine").click()
    page.get_by_role("link", name="CR op 10").click()
    page.get_by_label("CR-1").first.check()
    page.get_by_label("CR-2").first.check()
    page.get_by_label("Work offset of CR-2").select_option("G55")
    page.get_by_label("parallels clean").check()
    page.get_by_role("button", name="Start the run").click()
    expect(page.get_by_text("1 of the checks before starting is not ticked")).to_be_visible()
    page.get_by_role("button", name="Start all the same").click()

    # A gauge that types like a keyboard: value, Enter, value, Enter.
    value = page.get_by_label("Figure measured")
    expect(value).to_be_focused()
    page.keyboard.type("12.09")
    page.keyboard.press("Enter")
    told = page.locator("#told[role=status]")
    expect(told).to_contain_text("metal left")
    expect(told).to_contain_text("0.040 left: run op 10 again; to the middle of the limits takes 0.090 off Thickness.")
    page.keyboard.type("12.01")
    page.keyboard.press("Enter")
    expect(told).to_contain_text("CR-2 Thickness 12.010")
    expect(told).to_contain_text("good")

    page.get_by_role("button", name="Cut again").click()
    page.wait_for_url("**/runs/*")
    expect(page.get_by_role("button", name="Cut again")).to_be_visible()
    page.locator("[data-target]").first.click()
    for key in "12.02":
        page.locator(f'[data-key="{key}"]').click()
    page.get_by_role("button", name="Save", exact=True).click()
    expect(told).to_contain_text("CR-1 Thickness 12.020")
    page.get_by_role("button", name="Finish the run").click()

    # One piece alone through the bore; the wrong unit is asked about, a slip is corrected with its reason.
    page.get_by_role("link", name="CR op 20").click()
    page.get_by_label("CR-1").first.check()
    page.get_by_role("button", name="Start the run").click()
    page.wait_for_url("**/runs/*")
    page.get_by_label("Unit of the figure").get_by_role("button", name="in", exact=True).click()
    page.keyboard.type("22.01")
    page.keyboard.press("Enter")
    expect(page.get_by_role("dialog")).to_contain_text("Which is meant?")
    page.get_by_role("button", name="22.01 mm").click()
    expect(told).to_contain_text("good")
    page.get_by_role("button", name="Finish the run").click()
    page.wait_for_url("**/machine")
    page.get_by_role("link", name="Board").click()
    row = page.get_by_role("row", name="CR-1")
    expect(row).to_contain_text("finished")

    page.get_by_role("link", name="CR-1").click()
    page.locator("#d-1").get_by_role("link", name="Correct").click()
    page.get_by_label("What it should say").fill("22.03")
    page.get_by_role("button", name="Put it right").click()
    expect(page.get_by_text("Nothing was entered")).to_be_visible()
    expect(page.get_by_label("What it should say")).to_have_value("22.03")
    page.get_by_label("Why").first.fill("misread the gauge")
    page.get_by_role("button", name="Put it right").click()
    expect(page.locator(".standing-banner")).to_contain_text("to be decided")
    page.locator("#d-1").get_by_text("Accept deviation").click()
    page.get_by_label("Why it may stay so").fill("the bush is turned to suit")
    page.get_by_role("button", name="Accept it").click()
    expect(page.locator(".standing-banner")).to_contain_text("finished")

    page.get_by_role("link", name="Record", exact=True).click()
    base = page.url
    html = page.request.get(base + ".html").text()
    assert "misread the gauge" in html
    assert "<script" not in html
    readings = list(csv.reader(io.StringIO(page.request.get(base + ".csv").text().lstrip("\ufeff"))))
    assert any("misread the gauge" in cell for row in readings for cell in row)
    everything = json.loads(page.request.get(base + ".json").text())
    assert "the bush is turned to suit" in json.dumps(everything)


def test_scrap_at_the_machine_shows_at_once_that_a_blank_is_needed(
    server: RunningServer, open_page: Callable[..., Page]
) -> None:
    page = open_page(800, 1280, touch=True)
    api = page.request

    def act(path: str, **fields: object) -> dict[str, int]:
        answer = api.post(f"{server.address}/api/{path}", data=fields, headers={"Idempotency-Key": f"{path}{fields}"})
        assert answer.ok, answer.text()
        return dict(answer.json())

    build = act("add-build", name="Press")["build_id"]
    part = act("add-part", build_id=build, number="DP", name="Drive pin", needed=1)["part_id"]
    operation = act("add-operation", part_id=part, number=10, name="Turn")["operation_id"]
    act("add-dimension", part_id=part, number="1", name="Journal", requirement="15.966..15.984", cutting="smaller")
    piece = act("start-pieces", part_id=part)["piece_ids"][0]
    run = act("start-run", operation_id=operation, pieces=[{"piece_id": piece}])["run_id"]
    page.goto(f"{server.address}/runs/{run}")
    page.get_by_text("Scrap a piece").tap()
    page.get_by_label("Why").fill("turned under size")
    page.get_by_role("button", name="Scrap it").tap()
    expect(page.locator("[data-piece-state]")).to_have_text("scrap")
    page.get_by_role("link", name="Board").tap()
    expect(page.get_by_text("DP: one more blank needed")).to_be_visible()
