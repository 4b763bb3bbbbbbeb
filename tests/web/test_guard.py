"""What stands between a request and the pages: the name asked for, where it comes from, and how much it sends."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from pathlib import Path

import pytest
from starlette.testclient import TestClient

from server.app import create_app
from server.settings import Settings
from server.web.guard import LARGEST_BODY
from tests.web.test_pages import pages_from
from tests.web.web import ADDRESS, HERE, Web


def post(web: Web, **headers: str) -> int:
    """The status of a write that is right in all but its headers."""
    return web.post_with(headers).status_code


@pytest.mark.parametrize("name", ["localhost", "127.0.0.1", "[::1]", "LOCALHOST"])
@pytest.mark.parametrize("port", ["", ":8731", ":80"])
def test_this_computer_is_answered_under_its_own_names(web: Web, name: str, port: str) -> None:
    assert web.get("/", headers={"Host": name + port}).status_code == 200


@pytest.mark.parametrize(
    "host",
    [
        "bad.example",
        "bad.example:8731",
        "localhost.bad.example",
        "127.0.0.1.bad.example",
        "192.168.1.9",
        "0.0.0.0",
        "[::2]",
    ],
)
@pytest.mark.parametrize("path", ["/", "/api/builds", "/static/css/shop.css", "/api/openapi.json"])
def test_another_name_pointed_at_this_computer_gets_nothing(web: Web, host: str, path: str) -> None:
    answer = web.get(path, headers={"Host": host})
    assert answer.status_code == 421
    assert "<" not in answer.text


@pytest.mark.parametrize("host", ["", "[", "[::1", "localhost@bad.example", "bad.example@", "a b", "\xff"])
def test_a_host_that_is_no_name_gets_nothing(web: Web, host: str) -> None:
    assert web.get("/", headers={"Host": host.encode("latin-1")}).status_code == 421


def test_a_name_the_server_was_started_for_is_answered(settings: Settings) -> None:
    shop = Settings(data=settings.data, host="192.0.2.7", allowed_hosts=("192.0.2.7", "Shop.Lan"))
    with TestClient(create_app(shop), base_url="http://192.0.2.7:8731", client=HERE) as client:
        assert client.get("/").status_code == 200
        assert client.get("/", headers={"Host": "shop.lan:8731"}).status_code == 200
        assert client.get("/", headers={"Host": "192.0.2.8"}).status_code == 421
        web = Web(client)
        assert post(web, Origin="http://192.0.2.7:8731") == 200
        assert post(web, Origin="http://shop.lan:8731") == 403


def test_a_page_of_this_server_may_write(web: Web) -> None:
    assert post(web, Origin=ADDRESS) == 200
    assert post(web, Origin=ADDRESS.upper()) == 200
    assert post(web) == 200  # a program sends no origin
    assert post(web, **{"Sec-Fetch-Site": "same-origin"}) == 200
    assert post(web, **{"Sec-Fetch-Site": "none"}) == 200


@pytest.mark.parametrize(
    "origin",
    [
        "null",
        "",
        "http://bad.example",
        "http://127.0.0.1",
        "http://127.0.0.1:8732",
        "https://127.0.0.1:8731",
        "http://localhost:8731",
        "http://127.0.0.1:8731.bad.example",
        "http://127.0.0.1:8731/",
        "file://",
    ],
)
def test_a_page_of_another_origin_may_not_write(web: Web, origin: str) -> None:
    assert post(web, Origin=origin) == 403
    assert web.get("/api/builds").json() == []


@pytest.mark.parametrize("site", ["cross-site", "same-site", "anything"])
def test_a_page_of_another_site_may_not_write(web: Web, site: str) -> None:
    assert post(web, **{"Sec-Fetch-Site": site}) == 403
    assert post(web, Origin=ADDRESS, **{"Sec-Fetch-Site": site}) == 403
    assert web.get("/api/builds").json() == []


@pytest.mark.parametrize("path", ["/api/add-build", "/api/preview-sheet"])
def test_a_body_said_to_be_too_long_is_not_read(web: Web, path: str) -> None:
    answer = web.client.post(path, content=b"x", headers={"Content-Length": str(LARGEST_BODY + 1)})
    assert answer.status_code == 413
    assert "larger than 12 MB" in answer.text


@pytest.mark.parametrize("path", ["/api/add-build", "/api/preview-sheet"])
def test_a_body_of_no_stated_length_is_counted_as_it_comes(web: Web, path: str) -> None:
    sent = 0

    def chunks() -> Iterator[bytes]:
        nonlocal sent
        while sent <= LARGEST_BODY:
            sent += 1024 * 1024
            yield b" " * 1024 * 1024

    answer = web.client.post(
        path, content=chunks(), headers={"Idempotency-Key": "k", "Content-Type": "application/json"}
    )
    assert answer.status_code == 413
    assert "larger than 12 MB" in answer.text
    assert web.get("/api/builds").json() == []


def test_a_body_just_short_enough_is_read(web: Web) -> None:
    padded = b'{"name": "press"' + b" " * (LARGEST_BODY - 20) + b"}"
    answer = web.client.post(
        "/api/add-build", content=padded, headers={"Idempotency-Key": "k", "Content-Type": "application/json"}
    )
    assert answer.status_code == 200


@pytest.mark.parametrize("path", ["/", "/nothing", "/api/builds", "/api/nothing", "/static/css/shop.css", "/about"])
def test_every_answer_says_what_a_browser_may_do_with_it(web: Web, path: str) -> None:
    headers = web.get(path).headers
    policy = dict(each.strip().split(" ", 1) for each in headers["content-security-policy"].split(";"))
    assert policy["default-src"] == policy["script-src"] == "'self'"
    assert policy["frame-ancestors"] == policy["object-src"] == policy["base-uri"] == "'none'"
    assert policy["form-action"] == "'self'"
    assert headers["x-content-type-options"] == "nosniff"
    assert headers["referrer-policy"] == "same-origin"
    # What stands in the shop's pages is kept in no cache; the styles may be.
    assert headers.get("cache-control") == (None if path.startswith("/static/") else "no-store")
    assert "access-control-allow-origin" not in headers


def test_a_record_on_its_own_may_do_less_than_a_page(web: Web) -> None:
    ids = web.small()
    policy = web.get(f"/pieces/{ids['piece_id']}/record.html").headers["content-security-policy"]
    assert policy.startswith("default-src 'none'")
    assert "script-src" not in policy


def test_reading_changes_nothing(web: Web, settings: Settings) -> None:
    ids = web.small()
    before = dump(settings.database)
    visited = dict(pages_from(web))
    for path in web.get("/api/openapi.json").json()["paths"]:
        if "{name}" not in path:
            web.get(path.format(build_id=ids["build_id"], part_id=ids["part_id"], piece_id=ids["piece_id"]))
    assert len(visited) > 20
    assert dump(settings.database) == before


def dump(file: Path) -> list[str]:
    connection = sqlite3.connect(file)
    try:
        return list(connection.iterdump())
    finally:
        connection.close()
