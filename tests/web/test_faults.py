"""When the program itself is at fault, or the disk refuses: told plainly, without its insides, and nothing is kept."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import pytest
from starlette.testclient import TestClient

from server.app import create_app
from server.log.events import LogEvent
from server.plan.builds import AddBuild
from server.settings import Settings
from server.store.writer import NotSaved
from server.web import builds
from tests.web.test_pages import whole
from tests.web.web import ADDRESS, HERE, Web, refusal


@pytest.fixture
def web(settings: Settings) -> Iterator[Web]:
    """As a browser meets it: a fault in the program reaches it as an answer, not as an exception."""
    with TestClient(create_app(settings), base_url=ADDRESS, client=HERE, raise_server_exceptions=False) as client:
        yield Web(client)


def fail(error: Exception) -> Any:
    def raise_it(*_: Any, **__: Any) -> Any:
        raise error

    return raise_it


def test_a_fault_while_making_a_page_is_a_plain_page(
    web: Web, monkeypatch: pytest.MonkeyPatch, caplog: pytest.LogCaptureFixture
) -> None:
    monkeypatch.setattr(builds, "the_build", fail(ZeroDivisionError("secret insides")))
    answer = web.get("/builds/1/edit")
    assert answer.status_code == 500
    whole("/builds/1/edit", answer.text)
    assert "The program made a fault" in answer.text
    assert "secret" not in answer.text
    assert "Traceback" not in answer.text
    assert "secret insides" in caplog.text  # the program's own log has it all
    assert "content-security-policy" in answer.headers


def test_a_fault_while_carrying_out_an_action_is_plain_json_and_keeps_nothing(
    web: Web, monkeypatch: pytest.MonkeyPatch, caplog: pytest.LogCaptureFixture
) -> None:
    build = web.do("add-build", name="press")["build_id"]
    before = web.get(f"/api/builds/{build}/log").json()
    with monkeypatch.context() as broken:
        broken.setattr(LogEvent, "carry_out", fail(KeyError("secret insides")))
        answer = web.post("log-event", {"kind": "note", "build_id": build, "text": "oil"}, key="one")
    assert answer.status_code == 500
    assert refusal(answer)["message"] == "The program made a fault; nothing was saved. It is in its log."
    assert "secret" not in answer.text
    assert "secret insides" in caplog.text
    assert web.get(f"/api/builds/{build}/log").json() == before
    # Mended, the same request with the same key is taken.
    web.do("log-event", key="one", kind="note", build_id=build, text="oil")


def test_a_disk_that_refuses_is_told_and_the_request_may_be_sent_again(
    web: Web, monkeypatch: pytest.MonkeyPatch
) -> None:
    with monkeypatch.context() as full:
        full.setattr(AddBuild, "carry_out", fail(NotSaved("the disk is full: nothing was saved; make room")))
        answer = web.post("add-build", {"name": "press"}, key="one")
    assert answer.status_code == 503
    assert refusal(answer)["message"] == "the disk is full: nothing was saved; make room"
    assert web.get("/api/builds").json() == []
    web.do("add-build", key="one", name="press")


def test_a_server_that_is_stopping_says_so(web: Web) -> None:
    web.client.app.state.database._writer.stop()  # type: ignore[attr-defined]
    answer = web.post("add-build", {"name": "press"})
    assert answer.status_code == 503
    assert "nothing was saved" in refusal(answer)["message"]
