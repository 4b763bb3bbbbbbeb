"""Devices on the shop's network: unpaired, paired, looking only, revoked; and the attacks on each."""

from __future__ import annotations

import asyncio
import base64
import hashlib
import re
import sqlite3
from asyncio import to_thread
from collections.abc import Callable, Iterator
from datetime import datetime, timedelta
from typing import Any

import numpy as np
import pytest
import segno
import zxingcpp
from fastapi import FastAPI
from starlette.testclient import TestClient
from starlette.types import Message, Receive, Scope, Send

from server.app import create_app
from server.settings import Settings
from server.store import devices
from server.store.base import now
from server.store.writer import NotSaved
from server.web import session
from server.web.session import COOKIE
from tests.web.lan import HTTPS_PORT, SHOP, TABLET, Device, open_to_the_shop, the_host
from tests.web.test_pages import whole
from tests.web.web import Looked, Web, refusal


@pytest.fixture
def app(settings: Settings) -> Iterator[FastAPI]:
    app = create_app(open_to_the_shop(settings))
    with TestClient(app):
        yield app


@pytest.fixture
def host(app: FastAPI) -> Device:
    return the_host(app)


@pytest.fixture
def tablet(app: FastAPI, host: Device) -> Device:
    return Device(app).paired_by(host)


@pytest.fixture
def visitor(app: FastAPI, host: Device) -> Device:
    return Device(app, ("192.0.2.9", 5555)).paired_by(host, "viewer", "neighbour's phone")


@pytest.fixture
def ids(app: FastAPI, host: Device) -> dict[str, int]:
    return Web(host.client).small()


@pytest.fixture
def rows(settings: Settings) -> Callable[[str], list[Any]]:
    """What stands in the file, as a connection sees that knows nothing of the program."""

    def ask(sql: str) -> list[Any]:
        connection = sqlite3.connect(settings.database)
        try:
            return list(connection.execute(sql))
        finally:
            connection.close()

    return ask


def reading(ids: dict[str, int]) -> dict[str, Any]:
    return {"piece_id": ids["piece_id"], "dimension_id": ids["dimension_id"], "value": "25.01"}


def addresses(app: FastAPI, method: str) -> list[str]:
    """Every address the application answers to by this method."""
    routers = [included.original_router for included in app.routes if hasattr(included, "original_router")]
    return [route.path for router in routers for route in router.routes if method in getattr(route, "methods", ())]


PAGES = ("/", "/builds/new", "/devices", "/about", "/handbook", "/nothing", "/pair/", "/static", "//static/x", "/PAIR")
API = ("/api/builds", "/api/openapi.json", "/api/handbook", "/api/nothing", "/api/pair", "/api/invite")


# A device that is not paired


@pytest.mark.parametrize("page", PAGES)
def test_an_unpaired_device_is_sent_to_be_paired(app: FastAPI, page: str) -> None:
    answer = Device(app).get(page)
    assert (answer.status_code, answer.headers["location"]) == (303, "/pair"), answer.text
    assert "Matchmark" not in answer.text


@pytest.mark.parametrize("path", [path for path in API if path != "/api/pair"])
def test_an_unpaired_program_is_told_so(app: FastAPI, path: str) -> None:
    answer = Device(app).get(path)
    assert answer.status_code == 401
    assert answer.headers["www-authenticate"]
    assert "not paired" in refusal(answer)["message"]


def test_nothing_of_the_shop_is_read_unpaired(app: FastAPI, ids: dict[str, int]) -> None:
    stranger = Device(app)
    everything = addresses(app, "GET")
    assert len(everything) > 30
    for path in everything:
        answer = stranger.get(re.sub(r"\{[^}]*\}", "1", path))
        assert answer.status_code in (303, 401) or path in ("/pair", "/devices/ca.crt"), path
        assert "Proof press" not in answer.text


def test_nothing_is_written_unpaired(app: FastAPI, ids: dict[str, int], rows: Callable[[str], list[Any]]) -> None:
    stranger, before = Device(app), rows("SELECT count(*) FROM request_key")
    everything = addresses(app, "POST")
    assert len(everything) > 25
    for path in everything:
        answer = stranger.post(path, {"name": "press", **reading(ids)})
        assert answer.status_code == (422 if path == "/api/pair" else 401), path
        refusal(answer)
    assert rows("SELECT count(*) FROM request_key") == before
    assert rows("SELECT count(*) FROM device") == [(0,)]


@pytest.mark.parametrize("path", ["/static/../api/builds", "/static/..%2fapi/builds", "/static//../api/builds"])
def test_the_way_to_the_styles_leads_nowhere_else(app: FastAPI, ids: dict[str, int], path: str) -> None:
    assert Device(app).get("/static/css/devices.css").status_code == 200
    answer = Device(app).get(path)
    assert answer.status_code in (401, 404)
    assert "Proof press" not in answer.text


def test_the_page_to_pair_on_is_whole_and_holds_no_code(app: FastAPI, host: Device) -> None:
    code = host.invite()
    answer = Device(app).get("/pair")
    whole("/pair", answer.text)
    assert code not in answer.text
    assert code.replace("-", "") not in answer.text


def test_a_stranger_cannot_send_much(app: FastAPI, rows: Callable[[str], list[Any]]) -> None:
    """Filling the memory of the shop's computer, with a length that is said and with one that is not."""
    stranger = Device(app)
    padded = {"code": "AAAA-AAAA", "name": "x", "who": "y" * 5000}
    assert stranger.post("/api/pair", padded).status_code == 413

    def without_end() -> Iterator[bytes]:
        for _ in range(100):
            yield b" " * 1000

    headers = {"Origin": stranger.address, "Content-Type": "application/json"}
    answer = stranger.client.post("/api/pair", content=without_end(), headers=headers)
    assert answer.status_code == 413
    assert "4 KB" in answer.text


@pytest.mark.parametrize("kind", ["text/plain", "application/x-www-form-urlencoded", "multipart/form-data", ""])
def test_a_code_in_a_form_of_another_kind_is_not_taken(app: FastAPI, host: Device, kind: str) -> None:
    """What a form of another site can send without being asked first."""
    stranger, body = Device(app), f'{{"code": "{host.invite()}", "name": "x"}}'
    answer = stranger.client.post("/api/pair", content=body, headers={"Content-Type": kind, "Origin": stranger.address})
    assert answer.status_code == 422
    assert refusal(answer)["problems"][0]["field"] == "Content-Type"


@pytest.mark.parametrize(
    "headers", [{"X-Forwarded-For": "192.0.2.7"}, {"Forwarded": "for=192.0.2.7"}, {"Via": "1.1 door"}]
)
def test_what_a_program_passes_on_is_not_taken_for_this_computers_own(host: Device, headers: dict[str, str]) -> None:
    """A program on this computer that passes on what others ask makes them look like the computer itself."""
    assert host.get("/", **headers).status_code == 303
    assert host.post("/api/add-build", {"name": "press"}, **headers).status_code == 401


@pytest.mark.parametrize("said", ["127.0.0.1", "::1", "localhost"])
def test_a_stranger_cannot_say_that_it_is_this_computer(app: FastAPI, said: str) -> None:
    for name in ("X-Forwarded-For", "X-Real-IP", "Forwarded", "X-Client-IP", "Client-IP"):
        assert Device(app).get("/api/builds", **{name: said}).status_code == 401


@pytest.mark.parametrize("address", ["127.0.0.1", "127.0.0.2", "::1", "::ffff:127.0.0.1"])
def test_this_computer_itself_needs_no_pairing(app: FastAPI, address: str) -> None:
    assert Device(app, (address, 5)).get("/").status_code == 200


@pytest.mark.parametrize("address", ["192.0.2.1", "192.168.1.5", "fd00::2", "::ffff:192.0.2.7", "", "testclient"])
def test_every_other_address_does_even_the_computers_own_on_the_network(app: FastAPI, address: str) -> None:
    assert Device(app, (address, 5)).get("/").status_code == 303


# Pairing


def test_a_paired_device_reads_and_writes_under_its_own_name(
    tablet: Device, host: Device, ids: dict[str, int], rows: Callable[[str], list[Any]]
) -> None:
    assert tablet.get(f"/builds/{ids['build_id']}").status_code == 200
    assert tablet.post("/api/take-reading", reading(ids), **{"Idempotency-Key": "the tablet's"}).status_code == 200
    assert host.post("/api/take-reading", reading(ids), **{"Idempotency-Key": "the host's"}).status_code == 200
    who = dict(rows("SELECT key, device_id FROM request_key WHERE key LIKE 'the %'"))
    assert who == {"the tablet's": 1, "the host's": None}
    assert rows("SELECT name, role FROM device") == [("tablet at the mill", "editor")]


def test_the_cookie_is_for_this_server_alone_and_for_no_script(app: FastAPI, host: Device) -> None:
    said = Device(app).pair(host.invite()).headers["set-cookie"]
    secret, *attributes = (each.strip() for each in said.split(";"))
    assert {each.lower() for each in attributes} == {"httponly", "samesite=strict", "path=/", "max-age=34560000"}
    assert len(base64.urlsafe_b64decode(secret.partition("=")[2] + "=")) * 8 == 256


def test_every_device_has_another_secret(app: FastAPI, host: Device) -> None:
    assert len({Device(app).paired_by(host).secret for _ in range(5)}) == 5


def test_the_secret_stands_nowhere_on_the_disk(tablet: Device, settings: Settings, ids: dict[str, int]) -> None:
    """A stolen data folder or backup lets nobody in: only a hash of the secret is kept, and a hash is no secret."""
    assert tablet.post("/api/take-reading", reading(ids)).status_code == 200
    secret = tablet.secret
    hashed = hashlib.sha256(secret.encode()).hexdigest()
    files = [file.read_bytes() for file in settings.data.rglob("*") if file.is_file()]
    assert any(hashed.encode() in content for content in files)
    assert not any(secret.encode() in content for content in files)


def test_a_stolen_hash_is_no_secret(app: FastAPI, tablet: Device) -> None:
    thief = Device(app)
    thief.client.cookies.set(COOKIE, hashlib.sha256(tablet.secret.encode()).hexdigest())
    assert thief.get("/api/builds").status_code == 401


@pytest.mark.parametrize("secret", ["", "x", "None", "1", "' OR 1=1 --", "%00", "a" * 4000])
def test_a_made_up_secret_lets_nobody_in(app: FastAPI, tablet: Device, secret: str) -> None:
    thief = Device(app)
    assert thief.get("/api/builds", Cookie=f"{COOKIE}={secret}").status_code == 401


def test_a_restart_logs_nobody_out(settings: Settings) -> None:
    app = create_app(open_to_the_shop(settings))
    with TestClient(app):
        secret = Device(app).paired_by(the_host(app)).secret
    again = create_app(open_to_the_shop(settings))
    with TestClient(again):
        tablet = Device(again)
        tablet.client.cookies.set(COOKIE, secret)
        assert tablet.get("/api/builds").status_code == 200


def test_a_code_is_used_up(app: FastAPI, host: Device) -> None:
    """Replay."""
    code = host.invite()
    assert Device(app).pair(code).status_code == 200
    answer = Device(app, ("192.0.2.66", 5)).pair(code)
    assert answer.status_code == 422
    assert "set-cookie" not in answer.headers
    [problem] = refusal(answer)["problems"]
    assert "a new code" in problem["accepts"]


def test_five_guesses_from_five_addresses_are_five_guesses(app: FastAPI, host: Device) -> None:
    code = host.invite()
    wrong = "AAAA-AAAA" if code != "AAAA-AAAA" else "CCCC-CCCC"
    for last in range(5):
        assert Device(app, (f"192.0.2.{last + 50}", 5)).pair(wrong).status_code == 422
    assert Device(app).pair(code).status_code == 422
    assert Device(app).pair(host.invite()).status_code == 200


def test_a_slip_is_told_and_is_no_guess(app: FastAPI, host: Device) -> None:
    code, tablet = host.invite(), Device(app)
    for slip in ("", "AAAA", "0000-0000", code + "A", "\x00"):
        for _ in range(3):
            [problem] = refusal(tablet.pair(slip))["problems"]
            assert problem["field"] == "code"
            assert problem["accepts"] or "\x00" in slip
    assert [each["field"] for each in refusal(tablet.pair(code, name=" "))["problems"]] == ["name"]
    assert tablet.pair(code.lower().replace("-", " ")).status_code == 200


def test_wrong_used_and_late_codes_are_told_in_the_same_words(app: FastAPI, host: Device) -> None:
    """Who guesses must not learn from the answer that a code was right but late."""
    used = host.invite()
    Device(app).pair(used)
    late = host.invite()
    host.invite()
    told = [refusal(Device(app).pair(code))["problems"][0]["why"] for code in (used, late, "AAAAAAAA")]
    assert len(set(told)) == 1


def test_pairing_again_lets_the_old_secret_in_no_more(app: FastAPI, host: Device, visitor: Device) -> None:
    old = visitor.secret
    assert visitor.pair(host.invite("editor"), "now it writes").status_code == 200
    assert visitor.post("/api/add-build", {"name": "press"}).status_code == 200
    thief = Device(app)
    thief.client.cookies.set(COOKIE, old)
    assert thief.get("/api/builds").status_code == 401


def test_the_computer_itself_is_not_paired(host: Device) -> None:
    assert "needs no pairing" in refusal(host.pair(host.invite()))["message"]


def test_the_code_and_its_picture_lead_to_the_same_place(host: Device) -> None:
    """The picture read by another library than drew it (zxing-cpp), and the code where no server sees it: after #."""
    answer = host.post("/api/invite", {"role": "editor"}).json()
    [link] = answer["links"]
    code = answer["code"].replace("-", "")
    assert link["address"] == f"http://{SHOP}:8731/pair#{code}"
    assert link["picture"].startswith("data:image/svg+xml")
    drawn = segno.make(link["address"], error="m")
    assert drawn.svg_data_uri(scale=6) == link["picture"]
    image = np.array([[0 if dark else 255 for dark in row] for row in drawn.matrix_iter(scale=4)], dtype=np.uint8)
    assert [each.text for each in zxingcpp.read_barcodes(image)] == [link["address"]]


def test_a_code_is_kept_nowhere(host: Device, settings: Settings) -> None:
    code = host.invite().replace("-", "")
    for file in settings.data.rglob("*"):
        if file.is_file():
            assert code.encode() not in file.read_bytes()


def test_no_code_is_given_where_nobody_could_use_it(web: Web) -> None:
    assert "--lan" in refusal(web.post("invite", {"role": "editor"}))["problems"][0]["accepts"]
    assert "--lan" in web.get("/devices").text


@pytest.mark.parametrize("body", [{"role": "host"}, {"role": ""}, {"role": None}, {"minutes": 60}, [], "editor"])
def test_no_other_code_can_be_asked_for(host: Device, body: Any) -> None:
    refusal(host.post("/api/invite", body))


# Devices that may look


def test_a_visitor_reads_but_can_take_nothing_away(visitor: Device, ids: dict[str, int]) -> None:
    for path in ("/", f"/pieces/{ids['piece_id']}", f"/pieces/{ids['piece_id']}/record", "/api/builds", "/handbook"):
        assert visitor.get(path).status_code == 200, path
    for thing in ("pieces", "parts"):
        for ending in ("html", "csv", "json"):
            answer = visitor.get(f"/{thing}/1/record.{ending}")
            assert answer.status_code == 403
            assert "may look and change nothing" in answer.text
    assert visitor.get("/devices").status_code == 403


def test_a_visitor_writes_nothing(
    app: FastAPI, visitor: Device, ids: dict[str, int], rows: Callable[[str], list[Any]]
) -> None:
    before = rows("SELECT count(*) FROM request_key")
    for path in addresses(app, "POST"):
        if path != "/api/pair":
            answer = visitor.post(path, {"name": "press", "role": "editor", "device_id": 1, **reading(ids)})
            assert answer.status_code == 403, path
            assert "may look and change nothing" in refusal(answer)["message"]
    assert rows("SELECT count(*) FROM request_key") == before
    assert rows("SELECT revoked_at FROM device") == [(None,)]


@pytest.mark.parametrize("method", ["PUT", "PATCH", "DELETE", "TRACE", "MKCOL"])
def test_a_visitor_writes_nothing_by_any_other_method(visitor: Device, method: str) -> None:
    headers = {"Origin": visitor.address}
    assert visitor.client.request(method, "/api/add-build", headers=headers).status_code == 403


def test_a_visitors_page_says_that_it_may_look(visitor: Device, tablet: Device) -> None:
    assert "This device may look and change nothing." in visitor.get("/").text
    assert "/devices" not in Looked(visitor.get("/").text).links
    assert "This device may look" not in tablet.get("/").text


# The list of devices


def test_the_page_of_devices_is_whole_and_lists_them(tablet: Device, visitor: Device, host: Device) -> None:
    for who in (host, tablet):
        html = who.get("/devices").text
        whole("/devices", html)
        for said in ("tablet at the mill", "neighbour&#39;s phone", "may write", "may look", "last seen"):
            assert said in html
        assert tablet.secret not in html
        assert hashlib.sha256(tablet.secret.encode()).hexdigest() not in html
    assert "this device" in tablet.get("/devices").text


def test_a_revoked_device_is_out_at_once(
    tablet: Device, visitor: Device, host: Device, rows: Callable[[str], list[Any]]
) -> None:
    assert host.post("/api/revoke-device", {"device_id": 1}).status_code == 200
    assert tablet.get("/api/builds").status_code == 401
    assert tablet.post("/api/add-build", {"name": "press"}).status_code == 401
    assert tablet.get("/").headers["location"] == "/pair"
    assert visitor.get("/api/builds").status_code == 200
    assert rows("SELECT count(*) FROM device") == [(2,)]  # the log still tells which device it was
    html = host.get("/devices").text
    whole("/devices", html)
    assert "Let in no more: 1" in html


def test_an_answer_without_end_ends_when_its_device_is_revoked(app: FastAPI, tablet: Device, host: Device) -> None:
    """Listening on after the door was shut: a stream of changes is one answer, asked for once."""
    sent: list[Message] = []

    async def stream(scope: Scope, receive: Receive, send: Send) -> None:
        kind = (b"content-type", b"text/event-stream; charset=utf-8")
        await send({"type": "http.response.start", "status": 200, "headers": [kind]})
        await send({"type": "http.response.body", "body": b"before", "more_body": True})
        assert (await to_thread(host.post, "/api/revoke-device", {"device_id": 1})).status_code == 200
        for _ in range(3):
            await send({"type": "http.response.body", "body": b"after", "more_body": True})

    async def receive() -> Message:
        raise AssertionError("nothing is asked for")

    async def keep(message: Message) -> None:
        sent.append(message)

    headers = [(b"cookie", f"{COOKIE}={tablet.secret}".encode())]
    scope = {"type": "http", "method": "GET", "scheme": "http", "path": "/x", "query_string": b"", "headers": headers}
    asyncio.run(session.Session(stream)({**scope, "client": TABLET, "app": app}, receive, keep))
    assert [(each["body"], each.get("more_body", False)) for each in sent[1:]] == [(b"before", True), (b"", False)]


def test_a_device_is_renamed_and_what_is_not_there_is_told(tablet: Device, host: Device) -> None:
    assert tablet.post("/api/rename-device", {"device_id": 1, "name": "tablet at the lathe"}).status_code == 200
    assert "tablet at the lathe" in host.get("/devices").text
    for number in (2, 0, -1, 2**63):
        told = refusal(host.post("/api/revoke-device", {"device_id": number}))["problems"]
        assert told[0]["field"] == "device_id"


def test_when_it_was_seen_is_written_once_a_minute(
    tablet: Device, rows: Callable[[str], list[Any]], monkeypatch: pytest.MonkeyPatch
) -> None:
    def seen() -> str:
        return str(rows("SELECT last_seen_at FROM device")[0][0])

    start, first = now(), seen()
    at(monkeypatch, start + timedelta(seconds=50))
    tablet.get("/")
    assert seen() == first
    at(monkeypatch, start + timedelta(seconds=61))
    tablet.get("/")
    assert seen() == (start + timedelta(seconds=61)).strftime("%Y-%m-%d %H:%M:%S.%f")


def at(monkeypatch: pytest.MonkeyPatch, moment: datetime) -> None:
    monkeypatch.setattr(session, "now", lambda: moment)


def test_a_full_disk_keeps_nobody_from_reading(app: FastAPI, tablet: Device, monkeypatch: pytest.MonkeyPatch) -> None:
    def full(job: Any) -> None:
        raise NotSaved("the disk is full")

    at(monkeypatch, now() + timedelta(hours=1))
    monkeypatch.setattr(app.state.database, "write", full)
    assert tablet.get("/api/builds").status_code == 200


def test_a_pairing_ends_after_its_time(tablet: Device, monkeypatch: pytest.MonkeyPatch) -> None:
    """The browser drops its cookie by then; a copied one is of no more use either."""
    at(monkeypatch, now() + devices.LIFE - timedelta(minutes=1))
    assert tablet.get("/api/builds").status_code == 200
    at(monkeypatch, now() + devices.LIFE + timedelta(minutes=1))
    assert tablet.get("/api/builds").status_code == 401


# Over https


def test_over_https_the_cookie_is_bound_to_this_server_and_to_https(settings: Settings) -> None:
    app = create_app(open_to_the_shop(settings))
    with TestClient(app):
        tablet = Device(app, address=f"https://{SHOP}:{HTTPS_PORT}")
        said = tablet.pair(the_host(app).invite()).headers["set-cookie"]
        assert said.startswith("__Host-")
        attributes = {each.strip().lower() for each in said.split(";")[1:]}
        assert {"secure", "httponly", "samesite=strict", "path=/"} <= attributes
        assert not any(each.startswith("domain") for each in attributes)
        assert tablet.get("/api/builds").status_code == 200


def test_a_secret_from_plain_http_is_not_taken_over_https_nor_the_other_way(app: FastAPI, tablet: Device) -> None:
    """A secret read along on http would else open https as well."""
    secure = Device(app, address=f"https://{SHOP}:{HTTPS_PORT}")
    assert secure.get("/api/builds", Cookie=f"{COOKIE}={tablet.secret}").status_code == 401
    plain = Device(app, TABLET)
    assert plain.get("/api/builds", Cookie=f"{session.COOKIE_OVER_HTTPS}={tablet.secret}").status_code == 401


def test_a_visitor_is_told_on_every_page_that_nothing_is_changed_from_there(
    ids: dict[str, int], visitor: Device, tablet: Device
) -> None:
    said = "This device may look; nothing is changed from here."
    for path in ("/", "/builds/1", "/builds/1/machine", f"/parts/{ids['part_id']}"):
        assert said in visitor.get(path).text
        assert said not in tablet.get(path).text
