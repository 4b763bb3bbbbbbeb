"""A tablet never loses a reading and delivers each once: lines cut anywhere, servers killed, disks that refuse."""

from __future__ import annotations

import signal
import sys
from collections import Counter
from collections.abc import Callable, Iterator
from dataclasses import asdict
from functools import partial
from typing import Any

import pytest
from playwright.sync_api import Browser, Dialog, Page, Response, Route, expect

from tests.browser.conftest import RunningServer
from tests.browser.tablets import Job, Shop, Tablet, all_delivered, chip, enter, kept, nudge, tablets

pytestmark = pytest.mark.browser

Make = Callable[..., Tablet]
TAKE = "**/api/take-reading"


@pytest.fixture
def shop(lan_server: RunningServer) -> Shop:
    return Shop(lan_server)


@pytest.fixture
def tablet(browser: Browser, shop: Shop) -> Iterator[Make]:
    yield from tablets(browser, shop)


def put(page: Page, job: Job, count: int, of: str = "a") -> None:
    """Entries as the pad makes them, through the page's own queue: each piece in turn, its two dimensions by turns."""
    page.evaluate(
        """async ([job, count, of]) => {
          const { keep } = await import("/static/js/outbox.js");
          const made = Array.from({ length: count }, (_, place) => {
            const piece_id = job.pieces[place % job.pieces.length];
            const first = place % (2 * job.pieces.length) < job.pieces.length;
            const dimension_id = first ? job.thickness : job.width;
            const value = `${first ? 12 : 30}.0${String(place).padStart(4, "0")}`;
            const body = { piece_id, dimension_id, run_id: job.run, value, unit: "mm", gauge: of };
            const line = `p${piece_id}/d${dimension_id}`;
            const entry = { key: `${of}-${place}-${value}`, path: "take-reading", body, what: value };
            return { ...entry, build_id: job.build, holds: [line], waits: [line] };
          });
          await Promise.all(made.map(keep));
        }""",
        [asdict(job), count, of],
    )


def test_over_plain_http_on_the_shops_network_nothing_is_missing_that_is_needed(shop: Shop, tablet: Make) -> None:
    job = shop.job()
    page = tablet().open(f"/runs/{job.run}")
    if shop.address != shop.server.address:
        assert page.evaluate("[isSecureContext, 'locks' in navigator, 'serviceWorker' in navigator]") == [False] * 3
    enter(page, "12.01")
    expect(page.locator("#told [data-saved-where=shop]")).to_have_text("saved")
    expect(chip(page)).to_be_hidden()
    assert shop.readings() == [(job.pieces[0], "12.01")]


def test_saved_on_this_tablet_is_told_apart_and_becomes_saved(shop: Shop, tablet: Make) -> None:
    job = shop.job()
    page = tablet().open(f"/runs/{job.run}")
    shop.server.kill()
    enter(page, "12.09")
    told = page.locator("#told")
    expect(told.locator("[data-saved-where=tablet]")).to_have_text("saved on this tablet")
    expect(told.locator("svg[data-shape=tablet]")).to_be_visible()
    expect(told).to_contain_text("metal left")
    expect(told).to_contain_text("0.040 left: run op 10 again; to the middle of the limits takes 0.090 off Thickness.")
    expect(told).to_contain_text("Provisional")
    enter(page, "30.02")
    expect(chip(page)).to_have_text("2 on this tablet only")
    assert [each["state"] for each in kept(page)] == ["waiting", "waiting"]
    shop.server.start()
    all_delivered(page)
    expect(told.locator("[data-saved-where=shop]")).to_have_text("saved")
    expect(told.locator("svg[data-shape=shop]")).to_be_visible()
    expect(told).not_to_contain_text("Provisional")
    assert shop.readings() == [(job.pieces[0], "12.09"), (job.pieces[0], "30.02")]
    assert kept(page) == []


def test_a_server_killed_while_a_request_is_under_way_gets_it_once(shop: Shop, tablet: Make) -> None:
    job = shop.job()
    page = tablet().open(f"/runs/{job.run}")
    process = shop.server.process
    assert process is not None
    process.send_signal(signal.SIGSTOP)
    with page.expect_request(TAKE):
        enter(page, "12.01")
    assert kept(page)[0]["attempts"] == 1
    shop.server.kill()
    shop.server.start()
    all_delivered(page)
    assert shop.readings() == [(job.pieces[0], "12.01")]


def test_a_reply_lost_after_the_commit_gives_one_row(shop: Shop, tablet: Make) -> None:
    job = shop.job()
    page = tablet().open(f"/runs/{job.run}")
    lost = []

    def lose(route: Route) -> None:
        answer = route.fetch()
        lost.append(answer.json()["reading_id"])
        route.abort()

    page.route(TAKE, lose, times=2)
    enter(page, "12.01")
    expect(page.locator("#told")).to_contain_text("saved on this tablet")
    all_delivered(page)
    assert len(lost) == 2
    assert len(set(lost)) == 1
    assert shop.readings() == [(job.pieces[0], "12.01")]


def test_two_tablets_with_200_entries_each_made_while_the_server_was_down_deliver_each_once_and_in_order(
    shop: Shop, tablet: Make
) -> None:
    job = shop.job(pieces=8)
    pages = {name: tablet().open("/about") for name in ("a", "b")}
    shop.server.kill()
    for name, page in pages.items():
        put(page, job, 200, name)
        expect(chip(page)).to_have_text("200 on this tablet only")
    shop.server.start()
    for page in pages.values():
        nudge(page)
    for page in pages.values():
        expect(chip(page)).to_be_hidden(timeout=60_000)
    rows = shop.rows("SELECT gauge, piece_id, dimension_id, typed FROM reading ORDER BY id")
    assert Counter(row[0] for row in rows) == {"a": 200, "b": 200}
    assert len(set(rows)) == 400
    for name in pages:
        for piece in job.pieces:
            figures = [row[3][-4:] for row in rows if row[0] == name and row[1] == piece]
            assert figures == sorted(figures)
            assert len(figures) == 25


def test_two_tabs_do_not_send_the_same_entry_twice(shop: Shop, tablet: Make) -> None:
    job = shop.job()
    one = tablet()
    pages = [one.open(f"/runs/{job.run}") for _ in range(2)]
    asked: list[str] = []

    # What was answered: tries while the server is down reach nobody, and the tabs may try again before they are nudged.
    def note(response: Response) -> None:
        if response.url.endswith("/api/take-reading"):
            asked.append(response.request.headers["idempotency-key"])

    for page in pages:
        page.on("response", note)
    shop.server.kill()
    put(pages[0], job, 30)
    shop.server.start()
    for page in pages:
        nudge(page)
    for page in pages:
        expect(chip(page)).to_be_hidden()
    assert Counter(asked) == Counter(set(asked))
    assert len(shop.readings()) == len(asked) == 30


def test_both_tabs_show_what_one_of_them_delivered(shop: Shop, tablet: Make) -> None:
    job = shop.job()
    one = tablet()
    first, second = one.open(f"/runs/{job.run}"), one.open(f"/builds/{job.build}")
    shop.server.kill()
    enter(first, "12.01")
    expect(chip(second)).to_have_text("1 on this tablet only")
    shop.server.start()
    nudge(second)
    expect(chip(second)).to_be_hidden()
    expect(first.locator("#told")).not_to_contain_text("Provisional")
    assert shop.readings() == [(job.pieces[0], "12.01")]


def test_a_page_closed_with_entries_unsent_delivers_them_from_whatever_page_is_opened_next(
    shop: Shop, tablet: Make
) -> None:
    job = shop.job()
    one = tablet()
    page = one.open(f"/runs/{job.run}")
    shop.server.kill()
    for figure in ("12.01", "30.01", "12.02"):
        enter(page, figure)
    expect(chip(page)).to_have_text("3 on this tablet only")
    page.close()
    shop.server.start()
    page = one.open(f"/builds/{job.build}/plan")
    expect(chip(page)).to_be_hidden()
    assert [figure for _, figure in shop.readings()] == ["12.01", "30.01", "12.02"]


def test_a_page_is_not_left_without_a_word_while_something_is_unsent(shop: Shop, tablet: Make) -> None:
    job = shop.job()
    page = tablet().open(f"/runs/{job.run}")
    asked: list[str] = []

    def answer(dialog: Dialog) -> None:
        asked.append(dialog.type)
        dialog.dismiss()

    page.on("dialog", answer)
    shop.server.kill()
    page.locator('[data-key="1"]').tap()  # a page nobody touched is left in silence
    enter(page, "2.01")
    expect(chip(page)).to_have_text("1 on this tablet only")
    with page.expect_event("dialog"):
        page.close(run_before_unload=True)
    assert asked == ["beforeunload"]
    shop.server.start()
    all_delivered(page)


def _answer(with_: dict[str, Any], route: Route) -> None:
    route.fulfill(**with_)


def test_a_server_in_trouble_is_tried_again(shop: Shop, tablet: Make) -> None:
    job = shop.job()
    page = tablet().open(f"/runs/{job.run}")
    answers: list[dict[str, Any]] = [
        {"status": 503, "json": {"message": "the disk is full", "problems": [], "question": None}},
        {"status": 429, "body": "slow down"},
        {"status": 408, "body": ""},
        {"status": 200, "body": "<html>a page of somebody else's</html>"},
        {"status": 200, "json": ["no answer"]},
        {"status": 302, "headers": {"Location": "/elsewhere"}},
    ]
    for each in answers:
        page.route(TAKE, partial(_answer, each), times=1)
        if each is answers[0]:
            enter(page, "12.01")
        else:
            nudge(page)
        expect(chip(page)).to_have_text("1 on this tablet only")
        page.wait_for_function(
            "async (n) => (await (await import('/static/js/outbox.js')).items())[0].attempts >= n",
            arg=answers.index(each) + 1,
        )
    all_delivered(page)
    assert len(shop.readings()) == 1


def test_a_fault_of_the_program_at_one_entry_does_not_keep_the_others_waiting(shop: Shop, tablet: Make) -> None:
    job = shop.job()
    page = tablet().open(f"/runs/{job.run}")
    fault = {"status": 500, "json": {"message": "The program made a fault.", "problems": [], "question": None}}
    page.route(TAKE, partial(_answer, fault), times=3)
    enter(page, "12.01")
    for attempts in (1, 2, 3):
        page.wait_for_function(
            "async (n) => (await (await import('/static/js/outbox.js')).items())[0].attempts >= n", arg=attempts
        )
        nudge(page)
    expect(chip(page)).to_have_text("1 needs attention")
    enter(page, "30.02")
    expect(page.locator("#told [data-saved-where=shop]")).to_have_text("saved")
    assert shop.readings() == [(job.pieces[0], "30.02")]
    page.get_by_role("button", name="Send again").tap()
    all_delivered(page)
    assert [typed for _, typed in shop.readings()] == ["30.02", "12.01"]


@pytest.mark.skipif(sys.platform != "linux", reason="limits another process's files, which only Linux can")
def test_a_disk_that_takes_nothing_more_loses_nothing(shop: Shop, tablet: Make) -> None:
    import resource

    job = shop.job()
    page = tablet().open(f"/runs/{job.run}")
    process = shop.server.process
    assert process is not None
    before = resource.prlimit(process.pid, resource.RLIMIT_FSIZE)
    resource.prlimit(process.pid, resource.RLIMIT_FSIZE, (0, before[1]))
    with page.expect_response(TAKE) as answered:
        enter(page, "12.01")
    assert answered.value.status == 503
    expect(chip(page)).to_have_text("1 on this tablet only")
    chip(page).tap()
    expect(page.locator(".outbox-head")).to_contain_text("the disk did not take it")
    assert shop.readings() == []
    resource.prlimit(process.pid, resource.RLIMIT_FSIZE, before)
    all_delivered(page)
    assert shop.readings() == [(job.pieces[0], "12.01")]


def test_what_is_refused_needs_attention_and_is_still_there_after_a_reload_while_the_rest_goes_on(
    shop: Shop, tablet: Make
) -> None:
    job = shop.job()
    page = tablet().open(f"/runs/{job.run}")
    shop.server.kill()
    enter(page, "12.01")
    for figure in ("30.01", "12.02", "30.02"):  # width of CR-1, then thickness and width of CR-2
        enter(page, figure)
    expect(chip(page)).to_have_text("4 on this tablet only")
    shop.server.start()
    shop.do("scrap-piece", piece_id=job.pieces[0], text="dropped at the desk")
    nudge(page)
    expect(chip(page)).to_have_text("2 need attention")
    assert [piece for piece, _ in shop.readings()] == [job.pieces[1]] * 2
    page.reload()
    expect(chip(page)).to_have_text("2 need attention")
    rows = page.locator(".outbox-item")
    expect(rows.first).to_contain_text("CR-1 Thickness 12.01 mm")
    expect(rows.first).to_contain_text("is scrap")

    # Throwing away wants a reason, and leaves a note in the log.
    rows.first.get_by_role("button", name="Throw away…").tap()
    rows.first.get_by_role("button", name="Throw it away").tap()
    expect(rows.first).to_contain_text("Say why it is thrown away")
    rows.first.get_by_label("Why?").fill("the piece is scrap")
    rows.first.get_by_role("button", name="Throw it away").tap()
    expect(chip(page)).to_have_text("1 needs attention")
    # What is put aside is kept, and can be sent after all.
    rows.first.get_by_role("button", name="Put it aside").tap()
    expect(chip(page)).to_have_text("1 put aside")
    page.reload()
    expect(chip(page)).to_have_text("1 put aside")
    event = shop.rows("SELECT id FROM event WHERE kind = 'scrap'")[0][0]
    shop.do("take-back-event", event_id=event, why="it was another one")
    chip(page).tap()
    page.get_by_role("button", name="Send it after all").tap()
    expect(chip(page)).to_be_hidden()
    assert [piece for piece, _ in shop.readings()] == [job.pieces[1]] * 2 + [job.pieces[0]]
    notes = shop.rows("SELECT text FROM event WHERE kind = 'note'")
    assert len(notes) == 1
    assert notes[0][0] == "Thrown away at the tablet, not sent: CR-1 Thickness 12.01 mm. Why: the piece is scrap"


def test_a_question_of_the_server_waits_with_what_depends_on_it_and_is_answered_from_the_list(
    shop: Shop, tablet: Make
) -> None:
    job = shop.job()
    page = tablet().open(f"/builds/{job.build}")
    one, two = job.pieces
    entries = [
        (one, job.thickness, "1.2"),
        (one, job.thickness, "12.01"),
        (two, job.thickness, "12.02"),
        (one, job.width, "30"),
    ]
    page.evaluate(
        """async (entries) => {
          const { keep } = await import("/static/js/outbox.js");
          for (const [piece_id, dimension_id, value] of entries) {
            const line = `p${piece_id}/d${dimension_id}`;
            const entry = { key: `k${piece_id}-${value}`, path: "take-reading", what: value };
            await keep({ ...entry, holds: [line], waits: [line], body: { piece_id, dimension_id, value } });
          }
        }""",
        entries,
    )
    expect(chip(page)).to_have_text("1 on this tablet only · 1 needs attention")
    assert shop.readings() == [(two, "12.02"), (one, "30")]
    chip(page).tap()
    expect(page.locator(".outbox-item").first).to_contain_text("The server asks: 1.2000 mm is far from")
    page.get_by_role("button", name="Yes, it measured 1.2000 mm").tap()
    expect(chip(page)).to_be_hidden()
    assert shop.readings() == [(two, "12.02"), (one, "30"), (one, "1.2"), (one, "12.01")]


def test_a_tablet_that_is_no_longer_let_in_keeps_everything_and_asks_to_be_paired_again(
    shop: Shop, tablet: Make
) -> None:
    if shop.address == shop.server.address:
        pytest.skip("this computer has no address but its own, from which nobody needs pairing")
    job = shop.job()
    one = tablet()
    page = one.open(f"/runs/{job.run}")
    device = shop.rows("SELECT id FROM device")[0][0]
    shop.do("revoke-device", device_id=device)
    enter(page, "12.01")
    expect(chip(page)).to_have_text("1 on this tablet only")
    chip(page).tap()
    expect(page.locator(".outbox-head")).to_contain_text("Pair this tablet again")
    expect(page.get_by_role("link", name="Pair this tablet")).to_have_attribute("href", "/pair")
    one.pair("the same tablet")
    all_delivered(page)
    assert shop.readings() == [(job.pieces[0], "12.01")]


def test_a_run_is_cut_again_and_finished_while_the_server_is_down(shop: Shop, tablet: Make) -> None:
    job = shop.job()
    page = tablet().open(f"/runs/{job.run}")
    shop.server.kill()
    enter(page, "12.09")
    page.get_by_role("button", name="Cut again").tap()
    expect(page.locator('[data-run="since"]')).to_contain_text("cut again since")
    expect(page.locator('[data-run="saved"]')).to_have_text("saved on this tablet")
    expect(page.locator("#pad")).to_contain_text("CR-1 Thickness")
    enter(page, "12.02")
    page.get_by_text("Chatter").tap()
    page.get_by_label("What rang, and what cured it?").fill("slower")
    page.locator("form:visible", has=page.get_by_label("What rang")).get_by_role("button", name="Log it").tap()
    expect(page.locator("form:visible [data-kept]")).to_have_text("saved on this tablet")
    page.get_by_role("button", name="Cut again").tap()
    expect(chip(page)).to_have_text("5 on this tablet only")
    enter(page, "30.01")
    page.get_by_role("button", name="Finish the run").tap()
    expect(page.locator('[data-run="over"]')).to_contain_text("This run is over: finished")
    expect(page.locator('[data-run="over"]')).to_contain_text("Next in the plan of CR: op 20 Bore, mill, vice")
    expect(chip(page)).to_have_text("7 on this tablet only")
    shop.server.start()
    all_delivered(page)
    runs = [row[0] for row in shop.rows("SELECT id FROM run ORDER BY id")]
    assert len(runs) == 3
    assert shop.rows("SELECT run_id, typed FROM reading ORDER BY id")[0] == (runs[0], "12.09")
    assert [row[0] for row in shop.rows("SELECT run_id FROM reading ORDER BY id")] == runs
    assert shop.rows("SELECT run_id, kind FROM event") == [(runs[1], "chatter")]
    assert [row[0] for row in shop.rows("SELECT run_id FROM run_end ORDER BY id")] == runs


def test_a_page_loaded_again_goes_on_with_the_run_that_was_cut_again(shop: Shop, tablet: Make) -> None:
    job = shop.job()
    page = tablet().open(f"/runs/{job.run}")
    page.route("**/api/cut-again", lambda route: route.abort())
    page.get_by_role("button", name="Cut again").tap()
    enter(page, "12.02")
    expect(chip(page)).to_have_text("2 on this tablet only")
    page.reload()
    expect(page.locator('[data-run="saved"]')).to_have_text("saved on this tablet")
    expect(page.locator("[data-target]").first).to_contain_text("saved on this tablet")
    enter(page, "30.01")
    page.unroute("**/api/cut-again")
    all_delivered(page)
    again = shop.rows("SELECT max(id) FROM run")[0][0]
    page.wait_for_url(f"**/runs/{again}")
    assert shop.rows("SELECT run_id FROM reading") == [(again,), (again,)]


def test_a_clock_far_off_is_told_and_an_entry_from_the_future_is_not_lost(shop: Shop, tablet: Make) -> None:
    job = shop.job()
    one = tablet()
    ahead = """{
      const [Clock, now] = [Date, Date.now];
      Date = class extends Clock { constructor(...given) { given.length ? super(...given) : super(Date.now()) } };
      Date.now = () => now() + %d;
    }"""
    one.context.add_init_script(ahead % (3 * 60_000))
    page = one.open(f"/runs/{job.run}")
    expect(page.locator("[data-clock]")).to_contain_text("3 min ahead of the shop's computer")
    one.context.add_init_script(ahead % (48 * 3600_000))
    page = one.open(f"/runs/{job.run}")
    enter(page, "12.01")
    expect(chip(page)).to_have_text("1 needs attention")
    expect(page.locator(".outbox-told")).to_contain_text("it lies in the future")
    assert shop.readings() == []


def test_a_reading_has_the_time_at_which_it_was_made_and_that_at_which_it_came(shop: Shop, tablet: Make) -> None:
    job = shop.job()
    page = tablet().open(f"/runs/{job.run}")
    page.route(TAKE, lambda route: route.abort(), times=1)
    enter(page, "12.01")
    expect(chip(page)).to_have_text("1 on this tablet only")
    made = kept(page)[0]["body"]["occurred_at"]
    all_delivered(page)
    occurred, received = shop.rows("SELECT occurred_at, received_at FROM entry WHERE kind = 'reading'")[0]
    assert occurred.replace(" ", "T")[:23] == made.rstrip("Z")[:23]
    assert occurred < received
