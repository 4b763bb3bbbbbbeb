"""A card entered afterwards, with the keyboard alone: each line once, in order; what was refused says why and stays."""

from __future__ import annotations

import json
import urllib.request
from typing import Any

import pytest
from playwright.sync_api import Page, Request, Route, expect

from tests.browser.conftest import RunningServer
from tests.browser.test_live import do

pytestmark = pytest.mark.browser

DAY = "2026-03-04"


@pytest.fixture
def ids(server: RunningServer) -> dict[str, int]:
    build = do(server, "add-build", name="Proof press")["build_id"]
    part = do(server, "add-part", build_id=build, number="CR", name="Rod")["part_id"]
    asked = {"part_id": part, "unit": "mm"}
    for number, name in ((10, "Face"), (20, "Bore")):
        do(server, "add-operation", part_id=part, number=number, name=name, work_offset="G54")
    for number, name, requirement, cutting, operation in (
        ("1", "Thickness", "12 ±0.05", "smaller", 10),
        ("2", "Eye", "22 H7", "larger", 20),
        ("3", "Depth", "5 ±0.1", "larger", 20),
    ):
        do(
            server,
            "add-dimension",
            **asked,
            number=number,
            name=name,
            requirement=requirement,
            cutting=cutting,
            operation_number=operation,
        )
    [piece] = do(server, "start-pieces", part_id=part, count=1)["piece_ids"]
    return {"build": build, "piece": piece}


def log_of(server: RunningServer, ids: dict[str, int]) -> list[dict[str, Any]]:
    """The story of the piece after its start."""
    with urllib.request.urlopen(f"{server.address}/api/pieces/{ids['piece']}/log") as answer:
        return list(json.loads(answer.read()))[1:]


def told(line: dict[str, Any]) -> tuple[Any, ...]:
    what = {"run": line["operation_number"], "run end": line["outcome"], "reading": line["typed"]}
    return (line["kind"], what.get(line["kind"], line["text"]))


def reading(page: Page, name: str) -> Any:
    return page.get_by_label(name)


def line_of(page: Page, name: str) -> Any:
    return page.locator(".entry-reading", has_text=name)


def step(page: Page, number: int) -> Any:
    return page.locator(f'.entry-step[data-number="{number}"]')


def test_a_card_is_entered_with_the_keyboard_alone(server: RunningServer, page: Page, ids: dict[str, int]) -> None:
    page.goto(f"{server.address}/pieces/{ids['piece']}/card-entry")
    keys = page.keyboard
    expect(step(page, 10).get_by_label("Done on")).to_be_focused()
    keys.type("03042026")  # as this browser's date field takes it: month, day, year
    for typed in ("0815AM", "Wren", "900", "", "rang a little"):
        keys.press("Enter")
        keys.type(typed)
    keys.press("Enter")
    keys.type("12.01")
    keys.press("Enter")
    expect(step(page, 20).get_by_label("Done on")).to_be_focused()
    for _ in range(6):
        keys.press("Enter")
    expect(reading(page, "Eye")).to_be_focused()
    keys.press("Enter")
    keys.press("Enter")
    button = page.get_by_role("button", name="Log the card")
    expect(button).to_be_focused()
    keys.press("Enter")
    expect(page.locator("#entry-outcome")).to_have_text("2 lines saved.")
    expect(line_of(page, "Thickness")).to_contain_text("Saved: 12.010 good")
    lines = log_of(server, ids)
    assert [told(each) for each in lines] == [
        ("run", 10),
        ("run end", "finished"),
        ("note", "rang a little"),
        ("reading", "12.01"),
    ]
    assert {each["occurred_at"] for each in lines} == {lines[0]["occurred_at"]}
    assert lines[0]["rpm"] == 900
    assert lines[0]["pieces"][0]["work_offset"] == "G54"
    assert {each["who"] for each in lines} == {"Wren"}
    assert lines[3]["run_id"] == lines[0]["id"]


def fill_run(page: Page, number: int, day: str = DAY, time: str = "09:30") -> None:
    step(page, number).get_by_label("Done on").fill(day)
    step(page, number).get_by_label("Time").fill(time)


def test_what_was_refused_stays_and_what_is_saved_is_not_sent_again(
    server: RunningServer, page: Page, ids: dict[str, int]
) -> None:
    page.goto(f"{server.address}/pieces/{ids['piece']}/card-entry")
    sent: list[str] = []

    def note(request: Request) -> None:
        if request.method == "POST":
            sent.append(request.url.rsplit("/", 1)[1])

    page.on("request", note)
    fill_run(page, 10)
    reading(page, "Thickness").fill("12.02")
    fill_run(page, 20)
    reading(page, "Eye").fill("22.x")
    reading(page, "Depth").fill("5.02")
    page.get_by_role("button", name="Log the card").click()
    expect(page.locator("#entry-outcome")).to_contain_text("4 lines saved. 1 line not saved")
    assert sent == ["start-run", "take-reading", "start-run", "take-reading", "take-reading"]
    expect(line_of(page, "Eye").locator(".entry-told")).to_contain_text("“22.x”")
    expect(line_of(page, "Eye").locator(".entry-told")).to_contain_text("Accepted:")
    expect(reading(page, "Eye")).to_be_focused()
    expect(reading(page, "Eye")).to_have_value("22.x")
    expect(reading(page, "Depth")).not_to_be_editable()

    reading(page, "Eye").fill("22.01")
    page.get_by_role("button", name="Log the card").click()
    expect(page.locator("#entry-outcome")).to_have_text("1 line saved.")
    assert sent[5:] == ["take-reading"]
    page.get_by_role("button", name="Log the card").click()
    expect(page.locator("#entry-outcome")).to_have_text("Nothing new is filled in.")
    assert len(sent) == 6
    assert [told(each) for each in log_of(server, ids)] == [
        ("run", 10),
        ("run end", "finished"),
        ("reading", "12.02"),
        ("run", 20),
        ("run end", "finished"),
        ("reading", "5.02"),
        ("reading", "22.01"),
    ]


def test_readings_wait_for_an_operation_that_was_refused(
    server: RunningServer, page: Page, ids: dict[str, int]
) -> None:
    page.goto(f"{server.address}/pieces/{ids['piece']}/card-entry")
    fill_run(page, 10)
    step(page, 10).get_by_label("Rev/min").fill("fast")
    reading(page, "Thickness").fill("12.01")
    page.get_by_role("button", name="Log the card").click()
    expect(step(page, 10).locator(".entry-run .entry-told")).to_contain_text("it is not a number")
    expect(line_of(page, "Thickness")).to_contain_text("it waits for op 10")
    assert log_of(server, ids) == []
    step(page, 10).get_by_label("Rev/min").fill("900")
    page.get_by_role("button", name="Log the card").click()
    expect(page.locator("#entry-outcome")).to_have_text("2 lines saved.")


def test_an_operation_without_its_day_is_asked_for_it(server: RunningServer, page: Page, ids: dict[str, int]) -> None:
    page.goto(f"{server.address}/pieces/{ids['piece']}/card-entry")
    step(page, 10).get_by_label("Rev/min").fill("900")
    page.get_by_role("button", name="Log the card").click()
    expect(step(page, 10).locator(".entry-run .entry-told")).to_have_text("On which day was op 10 done?")
    assert log_of(server, ids) == []
    # A remark alone is a note.
    step(page, 10).get_by_label("Rev/min").fill("")
    step(page, 10).get_by_label("Remarks").fill("blank is pitted")
    page.get_by_role("button", name="Log the card").click()
    expect(page.locator("#entry-outcome")).to_have_text("1 line saved.")
    assert [told(each) for each in log_of(server, ids)] == [("note", "op 10: blank is pitted")]


def test_several_readings_of_one_dimension_are_logged_in_their_order(
    server: RunningServer, page: Page, ids: dict[str, int]
) -> None:
    page.goto(f"{server.address}/pieces/{ids['piece']}/card-entry")
    reading(page, "Thickness").fill("12.2; 12.08;12.x; 12.01")
    page.get_by_role("button", name="Log the card").click()
    expect(reading(page, "Thickness")).to_have_value("12.x; 12.01")
    expect(line_of(page, "Thickness")).to_contain_text("Saved: 12.2; 12.08.")
    reading(page, "Thickness").fill("12.05; 12.01")
    page.get_by_role("button", name="Log the card").click()
    expect(page.locator("#entry-outcome")).to_have_text("1 line saved.")
    assert [told(each)[1] for each in log_of(server, ids)] == ["12.2", "12.08", "12.05", "12.01"]


def test_a_lost_answer_is_not_logged_twice(server: RunningServer, page: Page, ids: dict[str, int]) -> None:
    page.goto(f"{server.address}/pieces/{ids['piece']}/card-entry")
    reading(page, "Thickness").fill("12.01")

    def lose(route: Route) -> None:
        route.fetch()  # the server has it …
        route.fulfill(status=200, body="")  # … and the answer never comes whole

    page.route("**/api/take-reading", lose)
    page.get_by_role("button", name="Log the card").click()
    expect(line_of(page, "Thickness").locator(".entry-told")).to_contain_text("Not saved")
    page.unroute("**/api/take-reading")
    # Changed meanwhile: nobody knows whether the first arrived, and its key finds out.
    reading(page, "Thickness").fill("12.02")
    page.get_by_role("button", name="Log the card").click()
    expect(line_of(page, "Thickness").locator(".entry-told")).to_contain_text("It was saved before")
    reading(page, "Thickness").fill("12.01")
    page.get_by_role("button", name="Log the card").click()
    expect(page.locator("#entry-outcome")).to_have_text("1 line saved.")
    assert [told(each)[1] for each in log_of(server, ids)] == ["12.01"]


def test_a_question_is_asked_in_its_turn(server: RunningServer, page: Page, ids: dict[str, int]) -> None:
    page.goto(f"{server.address}/pieces/{ids['piece']}/card-entry")
    fill_run(page, 20)  # out of its turn: op 10 is not done
    page.get_by_role("button", name="Log the card").click()
    expect(page.get_by_role("dialog")).to_contain_text("Run op 20 all the same?")
    page.get_by_role("button", name="Leave it").click()
    expect(step(page, 20).locator(".entry-run .entry-told")).to_contain_text("Not sent")
    assert log_of(server, ids) == []
    page.get_by_role("button", name="Log the card").click()
    page.get_by_role("button", name="Yes, run op 20 now").click()
    expect(page.locator("#entry-outcome")).to_have_text("1 line saved.")
    assert told(log_of(server, ids)[0]) == ("run", 20)
