"""What one client does, the others hear: in order, once, after a lost connection too, and to the server's end.

Before a real server on a port, because an answer without an end needs one.
"""

from __future__ import annotations

import asyncio
import http.client
import json
import shutil
import signal
import socket
import subprocess
import sys
import threading
from collections.abc import Coroutine, Iterator
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from typing import Any
from uuid import uuid4

import pytest
from starlette.types import Message

from server.app import create_app
from server.log.changes import AT_ONCE, Place, place_now
from server.log.perform import perform
from server.plan.builds import AddBuild
from server.settings import ROOT, Settings
from server.store.database import Database
from server.store.watchers import TooManyWatch, Watchers
from server.web import live
from server.web.live import ChangeStream
from server.web.serving import Server
from tests.shop import Shop
from tests.web.web import Web, refusal

WITHIN_S = 20  # for a machine with much else to do; nothing waits as long when all is well


class Listener:
    """One EventSource by hand: reads whole events from the stream."""

    def __init__(self, port: int, build_id: int, after: str = "", last_event_id: str = "") -> None:
        self.connection = http.client.HTTPConnection("127.0.0.1", port, timeout=WITHIN_S)
        headers = {"Accept": "text/event-stream"} | ({"Last-Event-ID": last_event_id} if last_event_id else {})
        self.connection.request("GET", f"/api/builds/{build_id}/changes?after={after}", headers=headers)
        self.answer = self.connection.getresponse()
        self.last_id = ""
        if self.answer.status == 200:
            assert self.answer.headers["content-type"].startswith("text/event-stream")
            assert self._block()["retry"] == "1000"  # it listens by now: what is done from here on is heard

    def _block(self) -> dict[str, str]:
        fields: dict[str, str] = {}
        while line := self.answer.readline().decode().rstrip("\n"):
            name, _, value = line.partition(":")
            fields[name] = value.strip()
        return fields

    def next(self) -> dict[str, Any]:
        """The next event, passing over heartbeats."""
        while "data" not in (block := self._block()):
            assert block, "the stream ended"
        assert block["event"] == "change"
        self.last_id = block["id"]
        return dict(json.loads(block["data"]))

    def ended(self) -> bool:
        return self.answer.readline() == b""

    def close(self) -> None:
        # Both the answer and the connection hold the socket.
        self.answer.close()
        self.connection.close()


class Served:
    def __init__(self, server: Server, database: Database, port: int) -> None:
        self.server = server
        self.database = database
        self.shop = Shop(database)
        self.port = port
        self.listening: list[Listener] = []

    def listen(self, build_id: int, **how: str) -> Listener:
        self.listening.append(Listener(self.port, build_id, **how))
        return self.listening[-1]

    def post(self, path: str, **fields: Any) -> dict[str, Any]:
        connection = http.client.HTTPConnection("127.0.0.1", self.port, timeout=WITHIN_S)
        headers = {"Content-Type": "application/json", "Idempotency-Key": uuid4().hex}
        connection.request("POST", f"/api/{path}", json.dumps(fields), headers)
        answer = connection.getresponse()
        body = json.loads(answer.read())
        connection.close()
        assert answer.status == 200, body
        return dict(body)


@pytest.fixture
def served(settings: Settings) -> Iterator[Served]:
    app = create_app(settings)
    with socket.socket() as listening:
        listening.bind(("127.0.0.1", 0))
        port = listening.getsockname()[1]
        server = Server(app, settings)
        thread = threading.Thread(target=server.run, kwargs={"sockets": [listening]})
        thread.start()
        while not server.started:
            assert thread.is_alive()
        served = Served(server, app.state.database, port)
        yield served
        for each in served.listening:
            each.close()
        server.should_exit = True
        thread.join(WITHIN_S)
        assert not thread.is_alive(), "the server does not end"


def small(shop: Shop) -> tuple[int, int, int]:
    """Build, piece, dimension."""
    build = shop.build()
    part = shop.part(build)
    dimension = shop.dimension(part)
    return build, shop.piece(part), dimension


def test_two_clients_hear_what_a_third_does_in_the_same_order(served: Served) -> None:
    build, piece, dimension = small(served.shop)
    one, two = served.listen(build), served.listen(build)
    values = ["25.001", "25.002", "25.003", "25.004"]
    for value in values:
        served.post("take-reading", piece_id=piece, dimension_id=dimension, value=value, who="Wren")
    heard = [[each.next() for _ in values] for each in (one, two)]
    assert heard[0] == heard[1]
    assert [change["line"]["typed"] for change in heard[0]] == values
    first = heard[0][0]
    assert first["kind"] == "log"
    assert first["line"]["kind"] == "reading"
    assert first["line"]["who"] == "Wren"
    assert first["line"]["verdict"] == "good"
    assert first["place"] == f"{first['line']['id']}.{first['place'].split('.')[1]}"


def test_a_change_of_the_plan_is_heard(served: Served) -> None:
    build, _, _ = small(served.shop)
    listener = served.listen(build)
    part = served.post("add-part", build_id=build, number="ST", name="strap")["part_id"]
    change = listener.next()
    assert change["kind"] == "plan"
    assert change["line"]["part_id"] == part
    assert "ST" in change["line"]["what"]


def test_another_build_is_not_heard(served: Served) -> None:
    build, piece, dimension = small(served.shop)
    other = served.shop.build("lathe")
    listener = served.listen(build)
    served.post("log-event", build_id=other, kind="note", text="elsewhere")
    served.post("take-reading", piece_id=piece, dimension_id=dimension, value="25.01")
    assert listener.next()["line"]["typed"] == "25.01"


def test_a_refused_action_is_not_heard(served: Served) -> None:
    build, piece, dimension = small(served.shop)
    listener = served.listen(build)
    with pytest.raises(AssertionError):
        served.post("take-reading", piece_id=piece, dimension_id=dimension, value="much")
    served.post("take-reading", piece_id=piece, dimension_id=dimension, value="25.01")
    assert listener.next()["line"]["typed"] == "25.01"


def test_what_came_while_the_line_was_lost_is_caught_up_with(served: Served) -> None:
    build, piece, dimension = small(served.shop)
    before = served.listen(build)
    served.post("take-reading", piece_id=piece, dimension_id=dimension, value="25.001")
    assert before.next()["line"]["typed"] == "25.001"
    before.close()
    missed = ["25.002", "25.003"]
    for value in missed:
        served.post("take-reading", piece_id=piece, dimension_id=dimension, value=value)
    # The browser's header says more than the address, which is as old as the page.
    again = served.listen(build, last_event_id=before.last_id, after="0")
    assert [again.next()["line"]["typed"] for _ in missed] == missed
    served.post("take-reading", piece_id=piece, dimension_id=dimension, value="25.004")
    assert again.next()["line"]["typed"] == "25.004"


def test_nothing_is_lost_or_told_twice_under_500_quick_commits(served: Served) -> None:
    build, piece, dimension = small(served.shop)
    listeners = [served.listen(build) for _ in range(3)]

    def take(number: int) -> int:
        return served.shop.read(piece, dimension, f"25.{number:03}", sure=True)

    with ThreadPoolExecutor(8) as hands:
        made = sorted(hands.map(take, range(500)))
    for listener in listeners:
        assert [listener.next()["line"]["id"] for _ in made] == made


def test_a_place_of_another_database_means_everything_afresh(served: Served) -> None:
    build, piece, dimension = small(served.shop)
    listener = served.listen(build, after="999999.999999")
    assert listener.next()["kind"] == "all"
    served.post("take-reading", piece_id=piece, dimension_id=dimension, value="25.01")
    assert listener.next()["line"]["typed"] == "25.01"


def test_one_too_many_is_told_to_ask_instead(served: Served) -> None:
    build, _, _ = small(served.shop)
    served.database.watchers._at_most = 2
    first, _ = served.listen(build), served.listen(build)
    third = served.listen(build)
    assert third.answer.status == 503
    assert "asks from time to time" in json.loads(third.answer.read())["message"]
    first.close()
    # The server notices that the first is gone when its end of the line says so.
    while served.database.watchers.count() == 2:
        pass
    assert served.listen(build).answer.status == 200


def test_streams_are_closed_in_good_order_when_the_server_ends(served: Served) -> None:
    build, _, _ = small(served.shop)
    listeners = [served.listen(build) for _ in range(3)]
    served.server.should_exit = True
    assert all(each.ended() for each in listeners)


def test_ctrl_c_ends_a_server_that_pages_listen_to(tmp_path: Path, new_file: Path) -> None:
    data = tmp_path / "data"
    data.mkdir()
    shutil.copy(new_file, data / "matchmark.db")
    database = Database(Settings(data))
    build = perform(database, AddBuild.read({"name": "proof press"}), "key")["build_id"]
    database.close()
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        port = probe.getsockname()[1]
    command = [sys.executable, "-m", "server.cli", "serve", "--data", str(data), "--port", str(port), "--no-browser"]
    process = subprocess.Popen(command, cwd=ROOT, stdout=subprocess.PIPE, stderr=subprocess.PIPE)
    listener = None
    while listener is None:
        assert process.poll() is None, process.communicate()
        try:
            listener = Listener(port, build)
        except OSError:
            continue
    process.send_signal(signal.SIGINT)
    _, said = process.communicate(timeout=WITHIN_S)
    assert process.returncode == 0
    assert said == b""
    assert listener.ended()
    listener.close()


def test_a_client_that_takes_nothing_is_let_go(database: Database, shop: Shop, monkeypatch: pytest.MonkeyPatch) -> None:
    """The wire is full: `send` never returns. The stream ends all the same, and its place is free again."""
    monkeypatch.setattr(live, "TAKEN_WITHIN_S", 0.01)
    build, _, _ = small(shop)
    assert run(_sent_to(ChangeStream(database, build, Place(0, 0)), takes=1)) == ["http.response.start"]
    assert database.watchers.count() == 0


def test_silence_carries_a_heartbeat(database: Database, shop: Shop, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(live, "BEAT_S", 0.01)
    monkeypatch.setattr(live, "TAKEN_WITHIN_S", 0.5)
    build, _, _ = small(shop)
    with database.read() as connection:
        place = place_now(connection)
    assert run(_sent_to(ChangeStream(database, build, place), takes=3))[2] == ": still here\n\n"


def run(work: Coroutine[Any, Any, Any]) -> Any:
    """On a thread of its own: the browser's tests keep a loop running on this one."""
    with ThreadPoolExecutor(1) as thread:
        return thread.submit(asyncio.run, work).result()


async def _sent_to(stream: ChangeStream, takes: int) -> list[str]:
    """What a client gets that takes so many messages and then no more, until the stream lets it go."""
    live_messages: list[str] = []

    async def receive() -> Message:
        await asyncio.Event().wait()
        raise AssertionError

    async def send(message: Message) -> None:
        if len(live_messages) == takes:
            await asyncio.Event().wait()
        live_messages.append(message["body"].decode() if "body" in message else message["type"])

    await asyncio.wait_for(stream({"type": "http"}, receive, send), WITHIN_S)
    return live_messages


def test_asked_for_as_json_the_same_comes_in_order_with_the_place_to_go_on_from(web: Web) -> None:
    ids = web.small()
    address = f"/api/builds/{ids['build_id']}/changes"
    lines = web.get(f"/api/builds/{ids['build_id']}/log?limit=500").json()[::-1]
    everything = web.get(f"{address}?after=0").json()
    told = [change["line"]["id"] for change in everything["changes"] if change["kind"] == "log"]
    assert told == [line["id"] for line in lines]
    assert [change["line"] for change in everything["changes"] if change["kind"] == "log"] == lines
    plan = [change["line"]["what"] for change in everything["changes"] if change["kind"] == "plan"]
    assert any("CR" in what for what in plan)
    assert not everything["more"]
    assert web.get(f"{address}?after={everything['place']}").json() == {
        "place": everything["place"],
        "changes": [],
        "more": False,
    }
    assert web.get(address).json()["place"] == everything["place"]
    web.do("log-event", kind="note", build_id=ids["build_id"], text="one more")
    [added] = web.get(f"{address}?after={everything['place']}").json()["changes"]
    assert added["line"]["text"] == "one more"


def test_more_than_a_page_is_told_page_by_page(web: Web) -> None:
    build = web.do("add-build", name="Proof press")["build_id"]
    texts = [f"note {number}" for number in range(AT_ONCE + 5)]
    for text in texts:
        web.do("log-event", kind="note", build_id=build, text=text)
    heard, place, more = [], "0.999999", True
    while more:
        page = web.get(f"/api/builds/{build}/changes?after={place}").json()
        if page["changes"] and page["changes"][0]["kind"] == "all":
            place = "0"  # the place was of another database: from the start
            continue
        heard += [each["line"]["text"] for each in page["changes"] if each["kind"] == "log"]
        place, more = page["place"], page["more"]
    assert heard == texts


@pytest.mark.parametrize("after", ["x", "1.2.3", "-1", "1e3", "9" * 40, "٣"])
def test_a_place_that_is_none_is_told(web: Web, after: str) -> None:
    ids = web.small()
    answer = web.get(f"/api/builds/{ids['build_id']}/changes?after={after}")
    assert answer.status_code == 422
    assert refusal(answer)["problems"][0]["field"] == "after"


@pytest.mark.parametrize("stream", [{}, {"Accept": "text/event-stream"}])
def test_a_build_that_is_not_there_is_told(web: Web, stream: dict[str, str]) -> None:
    answer = web.get("/api/builds/999/changes", headers=stream)
    assert answer.status_code == 404
    refusal(answer)


@pytest.mark.parametrize("page", ["/builds/{build_id}", "/builds/{build_id}/machine", "/builds/{build_id}/log"])
def test_a_page_says_how_far_it_has_read(web: Web, page: str) -> None:
    ids = web.small()
    place = web.get(f"/api/builds/{ids['build_id']}/changes").json()["place"]
    html = web.get(page.format(**ids)).text
    assert f'data-changes="/api/builds/{ids["build_id"]}/changes" data-place="{place}"' in html


def test_a_watcher_leaves_its_place_to_the_next() -> None:
    async def watch() -> None:
        watchers = Watchers(at_most=1)
        with watchers.watch(), pytest.raises(TooManyWatch), watchers.watch():
            pass
        with watchers.watch() as watcher:
            watchers.tell()
            await asyncio.wait_for(watcher.woken.wait(), WITHIN_S)
            watchers.close()
            await asyncio.wait_for(watcher.closing.wait(), WITHIN_S)
        with watchers.watch() as late:
            assert late.closing.is_set()

    run(watch())


def test_telling_a_loop_that_has_ended_is_no_trouble() -> None:
    watchers = Watchers()

    async def leave_behind() -> None:
        watchers.watch().__enter__()

    run(leave_behind())
    watchers.tell()
