"""The measuring pad: a gauge that types, one press to undo, the same dimension again, and hands in wet gloves."""

from __future__ import annotations

from collections.abc import Callable, Iterator

import pytest
from playwright.sync_api import Browser, Route, expect

from tests.browser.conftest import RunningServer
from tests.browser.tablets import Shop, Tablet, all_delivered, chip, enter, kept, tablets

pytestmark = pytest.mark.browser

Make = Callable[..., Tablet]
TAKE = "**/api/take-reading"


@pytest.fixture
def shop(server: RunningServer) -> Shop:
    return Shop(server)


@pytest.fixture
def tablet(browser: Browser, shop: Shop) -> Iterator[Make]:
    yield from tablets(browser, shop)


@pytest.fixture(autouse=True)
def _at_the_shops_own_computer(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(Shop, "address", property(lambda self: self.server.address))


def test_a_gauge_that_types_needs_no_touch_even_when_the_focus_was_lost(shop: Shop, tablet: Make) -> None:
    job = shop.job()
    page = tablet().open(f"/runs/{job.run}")
    page.evaluate("document.activeElement.blur()")
    enter(page, "12.01")
    page.evaluate("document.activeElement.blur()")
    enter(page, "30.01")
    enter(page, "11.99")
    enter(page, "29.98")
    expect(page.locator("#told")).to_contain_text("CR-2 Width 29.980")
    all_delivered(page)
    one, two = job.pieces
    assert shop.readings() == [(one, "12.01"), (one, "30.01"), (two, "11.99"), (two, "29.98")]


def test_what_is_typed_into_another_field_stays_there(shop: Shop, tablet: Make) -> None:
    job = shop.job()
    page = tablet().open(f"/runs/{job.run}")
    gauge = page.get_by_label("Gauge")
    gauge.fill("micrometer 2")
    gauge.press("5")
    expect(page.get_by_label("Figure measured")).to_have_value("")
    page.get_by_label("Figure measured").focus()
    enter(page, "12.01")
    page.locator("[data-target]").first.tap()
    expect(gauge).to_have_value("micrometer 25")
    all_delivered(page)
    assert shop.rows("SELECT gauge FROM reading") == [("micrometer 25",)]


def test_keys_sign_back_clear_and_a_deviation(shop: Shop, tablet: Make) -> None:
    job = shop.job()
    page = tablet().open(f"/runs/{job.run}")
    figure = page.get_by_label("Figure measured")
    page.get_by_role("button", name="± from nominal").tap()
    for key in ("0", ".", "0", "3", "5", "back", "±"):
        page.locator(f'[data-key="{key}"]').tap()
    expect(figure).to_have_value("-0.03")
    page.get_by_role("button", name="clear", exact=True).tap()
    expect(figure).to_have_value("")
    for key in ("±", "0", ".", "0", "2"):
        page.locator(f'[data-key="{key}"]').tap()
    page.get_by_role("button", name="Save", exact=True).tap()
    expect(page.locator("#told")).to_contain_text("CR-1 Thickness 11.980")
    all_delivered(page)
    assert shop.rows("SELECT value_nm, entered_as FROM reading") == [(11_980_000, "deviation")]


def test_one_press_undoes_a_reading_the_server_has(shop: Shop, tablet: Make) -> None:
    job = shop.job()
    page = tablet().open(f"/runs/{job.run}")
    enter(page, "12.09")
    expect(page.locator("#told [data-saved-where=shop]")).to_be_visible()
    page.get_by_role("button", name="Undo CR-1 Thickness 12.090").tap()
    expect(page.locator("#told")).to_contain_text("It is taken back in the log")
    expect(page.locator("[data-target]").first).not_to_contain_text("12.090")
    # The take-back is made once the reading's own answer is there: between the two nothing is waiting.
    expect(page.locator("#told")).to_contain_text("taken back in the log")
    all_delivered(page)
    assert shop.rows("SELECT typed, value_nm IS NULL FROM reading ORDER BY id") == [("12.09", 0), ("", 1)]
    assert shop.rows("SELECT why FROM entry WHERE replaces_id IS NOT NULL") == [("undone at the pad",)]


def test_one_press_undoes_a_reading_that_was_never_sent_and_keeps_it_as_undone(shop: Shop, tablet: Make) -> None:
    job = shop.job()
    page = tablet().open(f"/runs/{job.run}")
    page.evaluate(
        """async (line) => {
          const { keep } = await import("/static/js/outbox.js");
          const body = { piece_id: 999, dimension_id: 999, value: "12" };
          await keep({ key: "refused", path: "take-reading", what: "refused", body, holds: [line], waits: [line] });
        }""",
        f"p{job.pieces[0]}/d{job.thickness}",
    )
    expect(chip(page)).to_have_text("1 needs attention")  # and what is entered on the same dimension waits for it
    enter(page, "12.09")
    expect(chip(page)).to_have_text("1 on this tablet only · 1 needs attention")
    page.get_by_role("button", name="Undo CR-1 Thickness 12.090").tap()
    expect(page.locator("#told")).to_contain_text("It was not sent, and stays in the list on this tablet as undone.")
    expect(page.locator('.outbox-item[data-state="undone"]')).to_contain_text("CR-1 Thickness 12.09 mm")
    enter(page, "12.01")
    page.locator('.outbox-item[data-state="attention"]').get_by_role("button", name="Put it aside").tap()
    expect(chip(page)).to_have_text("2 put aside")
    page.reload()
    expect(chip(page)).to_have_text("2 put aside")
    assert sorted(each["state"] for each in kept(page)) == ["aside", "undone"]
    assert shop.readings() == [(job.pieces[0], "12.01")]


def test_an_undone_reading_that_may_have_arrived_is_taken_back(shop: Shop, tablet: Make) -> None:
    job = shop.job()
    page = tablet().open(f"/runs/{job.run}")

    def lose(route: Route) -> None:
        route.fetch()
        route.abort()

    page.route(TAKE, lose, times=1)
    enter(page, "12.09")
    expect(page.locator("#told")).to_contain_text("saved on this tablet")
    page.wait_for_function("async () => (await import('/static/js/outbox.js')).standing.reach === 'unreached'")
    page.get_by_role("button", name="Undo CR-1 Thickness 12.090").tap()
    # The take-back is made once the reading's own answer is there: between the two nothing is waiting.
    expect(page.locator("#told")).to_contain_text("taken back in the log")
    all_delivered(page)
    assert shop.rows("SELECT typed, value_nm IS NULL FROM reading ORDER BY id") == [("12.09", 0), ("", 1)]


def test_an_undone_reading_the_server_refuses_leaves_nothing_to_take_back(shop: Shop, tablet: Make) -> None:
    job = shop.job()
    page = tablet().open(f"/runs/{job.run}")
    page.route(TAKE, lambda route: route.abort(), times=1)
    enter(page, "12.09")
    page.wait_for_function("async () => (await import('/static/js/outbox.js')).standing.reach === 'unreached'")
    shop.do("scrap-piece", piece_id=job.pieces[0], text="dropped")
    page.route(TAKE, lambda route: route.continue_())
    page.get_by_role("button", name="Undo CR-1 Thickness 12.090").tap()
    page.evaluate("dispatchEvent(new Event('online'))")
    expect(chip(page)).to_have_text("1 put aside")
    assert [each["state"] for each in kept(page)] == ["undone"]
    assert shop.readings() == []


def test_the_same_dimension_again_gives_mean_and_spread(shop: Shop, tablet: Make) -> None:
    job = shop.job()
    page = tablet().open(f"/runs/{job.run}")
    page.get_by_role("button", name="Measure it again").tap()
    for figure in ("12.01", "12.013", "12.014"):
        enter(page, figure)
    told = page.locator("#told")
    # By hand: (12.010 + 12.013 + 12.014) / 3 = 12.01233…; 12.014 - 12.010 = 0.004.
    expect(told).to_contain_text("3 readings: mean 12.0123, spread 0.004. The last one stands.")
    page.get_by_role("button", name="Measure it again").tap()
    enter(page, "12.012")
    expect(page.locator("#pad")).to_contain_text("CR-1 Width")
    all_delivered(page)
    assert len(shop.readings()) == 4


def test_a_slip_of_the_unit_is_asked_about_without_the_server(shop: Shop, tablet: Make) -> None:
    job = shop.job()
    page = tablet().open(f"/runs/{job.run}")
    shop.server.kill()
    page.get_by_label("Unit of the figure").get_by_role("button", name="in", exact=True).tap()
    enter(page, "12.01")
    question = "12.01 in is far from the drawing's 12 ± .05; 12.01 mm would be near it. Which is meant?"
    expect(page.get_by_role("dialog")).to_contain_text(question)
    page.get_by_role("button", name="12.01 mm").tap()
    expect(page.locator("#told")).to_contain_text("CR-1 Thickness 12.010")
    enter(page, "-3")
    expect(page.locator("#pad-error")).to_contain_text("is not a size that metal can have")
    expect(page.get_by_label("Figure measured")).to_have_value("-3")
    page.get_by_role("button", name="clear", exact=True).tap()
    enter(page, "12..0")
    expect(page.locator("#pad-error")).to_contain_text("Accepted: a length such as")
    shop.server.start()
    all_delivered(page)
    assert shop.rows("SELECT value_nm FROM reading") == [(12_010_000,)]


def test_a_gauge_that_goes_on_typing_neither_answers_a_question_nor_loses_a_figure(shop: Shop, tablet: Make) -> None:
    job = shop.job()
    page = tablet().open(f"/runs/{job.run}")
    enter(page, "30.01")
    dialog = page.get_by_role("dialog")
    expect(dialog).to_contain_text("30.0100 mm is far from the drawing's 12 ± .05")
    enter(page, "12.02")
    expect(dialog).to_be_visible()
    assert kept(page) == []
    # Typed in the very moment in which the answer closes the question.
    page.evaluate(
        """() => {
          document.querySelector("#question .choices button").click();
          for (const key of "30.05") document.body.dispatchEvent(new KeyboardEvent("keydown", { key, bubbles: true }));
        }"""
    )
    expect(page.get_by_label("Figure measured")).to_have_value("30.05")
    page.keyboard.press("Enter")
    expect(page.locator("#told")).to_contain_text("CR-1 Width 30.050")
    all_delivered(page)
    assert shop.readings() == [(job.pieces[0], "30.01"), (job.pieces[0], "30.05")]


def test_where_the_server_judges_otherwise_that_is_said_and_stands(shop: Shop, tablet: Make) -> None:
    job = shop.job()
    page = tablet().open(f"/runs/{job.run}")
    page.route("**/runs/*", lambda route: route.abort())  # it is not told of the change
    dimension = {"dimension_id": job.thickness, "requirement": "12 ± .1", "cutting": "smaller", "number": "1"}
    shop.do("edit-dimension", name="Thickness", operation_number=10, **dimension)
    enter(page, "12.09")
    told = page.locator("#told")
    expect(told).to_contain_text("The server judges otherwise than this tablet did (metal left")
    expect(told.locator(".told-head")).to_contain_text("good")


def test_what_another_tablet_measures_on_the_same_run_is_shown_and_disturbs_nothing(shop: Shop, tablet: Make) -> None:
    job = shop.job()
    one, other = tablet().open(f"/runs/{job.run}"), tablet().open(f"/runs/{job.run}")
    one.keyboard.type("30.0")
    other.locator("[data-target]").nth(2).tap()
    enter(other, "12.07")
    expect(one.locator("[data-target]").nth(2)).to_contain_text("12.070")
    expect(one.locator("[data-target]").nth(2)).to_contain_text("metal left")
    expect(one.get_by_label("Figure measured")).to_have_value("30.0")
    expect(one.locator("#pad")).to_contain_text("CR-1 Thickness")
    # What is kept on a tablet only is not put back by what the server knows.
    one.route(TAKE, lambda route: route.abort())
    one.get_by_role("button", name="clear", exact=True).tap()
    enter(one, "12.01")
    expect(one.locator("[data-target]").first).to_contain_text("saved on this tablet")
    with one.expect_response("**/runs/*"):
        enter(other, "30.02")
    expect(one.locator("[data-target]").nth(3)).to_contain_text("30.020")
    expect(one.locator("[data-target]").first).to_contain_text("saved on this tablet")


def test_what_the_tablet_cannot_keep_is_put_back_with_the_reason(shop: Shop, tablet: Make) -> None:
    job = shop.job()
    page = tablet().open(f"/runs/{job.run}")
    page.evaluate(
        "void (IDBObjectStore.prototype.add = () => { throw new DOMException('no room', 'QuotaExceededError'); })"
    )
    enter(page, "12.09")
    expect(page.locator("#pad-error")).to_have_text("Not saved: this tablet could not keep it (no room).")
    expect(page.get_by_label("Figure measured")).to_have_value("12.09")
    expect(page.locator("#pad")).to_contain_text("CR-1 Thickness")
    assert shop.readings() == []


def test_sound_and_buzz_are_off_until_switched_on_and_remembered(shop: Shop, tablet: Make) -> None:
    job = shop.job()
    one = tablet()
    one.context.add_init_script("navigator.vibrate = (ms) => { (window.buzzed ??= []).push(ms); return true; };")
    page = one.open(f"/runs/{job.run}")
    enter(page, "12.01")
    expect(page.locator("#told")).to_contain_text("CR-1 Thickness")
    assert page.evaluate("window.buzzed") is None
    page.get_by_role("button", name="Sound and buzz: off").tap()
    page.reload()
    expect(page.get_by_role("button", name="Sound and buzz: on")).to_be_visible()
    enter(page, "30.01")
    expect(page.locator("#told")).to_contain_text("CR-1 Width")
    assert page.evaluate("window.buzzed") == [30]


MEASURE = """() => {
  const seen = (each) => each.getClientRects().length > 0 && getComputedStyle(each).visibility !== "hidden";
  const small = [];
  const walk = document.createTreeWalker(document.querySelector("main"), NodeFilter.SHOW_TEXT);
  let figures = 0;
  while (walk.nextNode()) {
    const at = walk.currentNode.parentElement;
    if (!/[0-9]/.test(walk.currentNode.data) || !seen(at) || at.closest("script, template, title, .sr")) continue;
    const scale = at instanceof SVGElement ? at.getScreenCTM().a : 1;
    const size = parseFloat(getComputedStyle(at).fontSize) * scale;
    figures += 1;
    if (size < 19.99) small.push(`${walk.currentNode.data.trim()}: ${size}`);
  }
  const low = [...document.querySelectorAll("main button, main a, main summary, main .pad input")]
    .filter((each) => seen(each) && (each.offsetHeight < 48 || each.offsetWidth < 48))
    .map((each) => `${each.textContent.trim() || each.name}: ${each.offsetWidth}x${each.offsetHeight}`);
  const keys = [...document.querySelectorAll(".keys button")].flatMap((each) => [each.offsetHeight, each.offsetWidth]);
  return { small, low, figures, key: Math.min(...keys), wide: document.documentElement.scrollWidth - innerWidth };
}"""


@pytest.mark.parametrize("size", [(1180, 820), (820, 1180), (1024, 768)])
def test_figures_can_be_read_and_keys_hit_at_arms_length(shop: Shop, tablet: Make, size: tuple[int, int]) -> None:
    job = shop.job()
    page = tablet().open(f"/runs/{job.run}")
    page.set_viewport_size({"width": size[0], "height": size[1]})
    enter(page, "12.09")
    expect(page.locator("#told [data-saved-where=shop]")).to_be_visible()
    found = page.evaluate(MEASURE)
    assert found["figures"] > 10
    assert found["small"] == []
    assert found["low"] == []
    assert found["key"] >= 58
    assert found["wide"] <= 0
    assert page.evaluate("getComputedStyle(document.querySelector('.keys button')).touchAction") == "manipulation"
