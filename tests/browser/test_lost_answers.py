"""A form whose answer was lost on the way says the same once more, and what it asks for is done once."""

from __future__ import annotations

from collections.abc import Callable, Iterator

import pytest
from playwright.sync_api import Browser, Route, expect

from tests.browser.conftest import RunningServer
from tests.browser.tablets import Shop, Tablet, tablets

pytestmark = pytest.mark.browser


@pytest.fixture
def shop(lan_server: RunningServer) -> Shop:
    return Shop(lan_server)


@pytest.fixture
def tablet(browser: Browser, shop: Shop) -> Iterator[Callable[..., Tablet]]:
    yield from tablets(browser, shop)


def test_a_question_answered_before_the_answer_was_lost_is_not_asked_again(
    shop: Shop, tablet: Callable[..., Tablet]
) -> None:
    job = shop.job(pieces=1)
    shop.do("finish-run", run_id=job.run, outcome="broken off")
    [bore] = shop.rows("SELECT id FROM operation WHERE number = 20")[0]
    page = tablet().open(f"/operations/{bore}/start?piece={job.pieces[0]}")
    sent: list[str] = []

    def lose_the_second_answer(route: Route) -> None:
        sent.append(route.request.post_data or "")
        if len(sent) == 2:
            route.fetch()
            route.abort()
        else:
            route.continue_()

    page.route("**/api/start-run", lose_the_second_answer)
    start = page.get_by_role("button", name="Start", exact=False).first
    start.click()
    page.get_by_role("button", name="Yes, run op 20 now").click()
    expect(page.get_by_text("the server did not answer")).to_be_visible()
    assert len(sent) == 2
    start.click()
    page.wait_for_url("**/runs/*")
    assert sent[2] == sent[1]
    assert shop.rows("SELECT count(*) FROM run WHERE operation_id = ?", bore) == [(1,)]
