"""The guard when the server is open to the shop: which names it answers to, and which pages may write to it."""

from __future__ import annotations

import socket
from collections.abc import Iterator
from ipaddress import ip_address

import pytest
from fastapi import FastAPI
from starlette.testclient import TestClient

from server import addresses
from server.addresses import OwnNames, is_loopback, own_addresses, own_names, shop_addresses
from server.app import create_app
from server.settings import Settings
from tests.web.lan import SHOP, Device, open_to_the_shop, the_host


@pytest.fixture
def app(settings: Settings, monkeypatch: pytest.MonkeyPatch) -> Iterator[FastAPI]:
    """Open to the shop, on a computer that is called bench and has one address."""
    monkeypatch.setattr(addresses, "own_addresses", lambda: [ip_address(SHOP)])
    monkeypatch.setattr(socket, "gethostname", lambda: "Bench.")
    app = create_app(open_to_the_shop(settings))
    with TestClient(app):
        yield app


@pytest.fixture
def tablet(app: FastAPI) -> Device:
    return Device(app).paired_by(the_host(app))


@pytest.mark.parametrize(
    "host",
    ["bad.example", "bad.example:8731", "192.0.2.8", "192.0.2.1.bad.example", "bench.bad.example", "0.0.0.0", "[::]"],
)
@pytest.mark.parametrize("path", ["/", "/pair", "/api/builds", "/static/css/shop.css", "/devices/ca.crt"])
def test_a_name_of_another_site_gets_nothing_from_a_paired_device(tablet: Device, host: str, path: str) -> None:
    """DNS rebinding: a page of bad.example, which now points at the shop, is same-origin to the tablet's browser."""
    answer = tablet.get(path, Host=host)
    assert answer.status_code == 421
    assert "Matchmark" not in answer.text


def test_a_rebound_page_cannot_write_though_its_origin_is_its_host(tablet: Device) -> None:
    headers = {"Host": "bad.example:8731", "Origin": "http://bad.example:8731"}
    assert tablet.post("/api/add-build", {"name": "press"}, **headers).status_code == 421
    assert tablet.get("/api/builds").json() == []


def test_a_name_that_was_not_asked_for_is_not_answered_on_this_computer_alone(settings: Settings) -> None:
    app = create_app(settings)
    with TestClient(app):
        for name in (socket.gethostname(), f"{socket.gethostname()}.local", *map(str, own_addresses())):
            if not is_loopback(name):
                assert the_host(app).get("/", Host=f"[{name}]" if ":" in name else name).status_code == 421


@pytest.mark.parametrize(
    "origin",
    [
        "null",
        "",
        "http://192.0.2.1",
        "http://192.0.2.1:9000",
        "https://192.0.2.1:8731",
        "http://127.0.0.1:8731",
        "http://bench.local:8731",
        "http://bad.example",
        "http://192.0.2.1:8731.bad.example",
    ],
)
def test_a_page_of_another_origin_cannot_write_with_the_tablets_cookie(tablet: Device, origin: str) -> None:
    """Across ports above all: to a cookie another program on the shop's computer is the same place. `null` is what a
    page in a sandbox says."""
    headers = {"Origin": origin} if origin else {"Origin": " "}
    assert tablet.post("/api/add-build", {"name": "press"}, **headers).status_code == 403
    assert tablet.get("/api/builds").json() == []


@pytest.mark.parametrize("more", [{}, {"Sec-Fetch-Site": "same-origin"}, {"Sec-Fetch-Site": "none"}])
def test_a_write_with_a_cookie_says_where_it_comes_from(tablet: Device, more: dict[str, str]) -> None:
    """An old browser, or a trick that makes one leave the origin out, is not given the benefit of the doubt."""
    answer = tablet.post("/api/add-build", {"name": "press"}, Origin=None, **more)
    assert answer.status_code == 403
    assert "does not say where it comes from" in answer.text
    assert tablet.get("/api/builds").json() == []
    assert tablet.post("/api/add-build", {"name": "press"}).status_code == 200


@pytest.mark.parametrize("site", ["cross-site", "same-site"])
def test_what_the_browser_says_of_the_site_counts_too(tablet: Device, site: str) -> None:
    assert tablet.post("/api/add-build", {"name": "press"}, **{"Sec-Fetch-Site": site}).status_code == 403


@pytest.mark.parametrize("kind", ["text/plain", "application/x-www-form-urlencoded", "multipart/form-data; boundary=x"])
def test_a_form_cannot_carry_an_action(tablet: Device, kind: str) -> None:
    headers = {"Content-Type": kind, "Origin": tablet.address, "Idempotency-Key": "k"}
    answer = tablet.client.post("/api/add-build", content='{"name": "press"}', headers=headers)
    assert answer.status_code == 422
    assert tablet.get("/api/builds").json() == []


def test_a_tablet_cannot_send_more_than_is_taken(tablet: Device) -> None:
    def without_end() -> Iterator[bytes]:
        for _ in range(13):
            yield b" " * 1024 * 1024

    headers = {"Content-Type": "application/json", "Origin": tablet.address, "Idempotency-Key": "k"}
    assert tablet.client.post("/api/add-build", content=without_end(), headers=headers).status_code == 413


def test_the_computers_own_names_are_answered_in_the_shop(app: FastAPI, tablet: Device) -> None:
    for name in (SHOP, "bench", "BENCH.local", "bench.local:8731", "127.0.0.1"):
        assert tablet.get("/pair", Host=name).status_code == 200, name


# Names that change


def test_a_new_address_is_answered_and_an_old_one_no_more() -> None:
    """A router that hands out another address; and no stranger makes the server look up its names all the time."""
    clock, names, looked = [0.0], {"192.0.2.1"}, []
    own = OwnNames(lambda: looked.append(1) or set(names), lambda: clock[0])  # type: ignore[func-returns-value]
    assert "192.0.2.1" in own
    assert "192.0.2.9" not in own
    names.clear()
    names.add("192.0.2.9")
    assert "192.0.2.9" not in own  # looked a moment ago
    assert len(looked) == 1
    clock[0] += 2
    assert "192.0.2.9" in own
    assert "192.0.2.1" not in own
    names.clear()
    clock[0] += 60
    assert "192.0.2.9" not in own
    for _ in range(100):
        assert "bad.example" not in own
    assert len(looked) == 3


def test_the_addresses_are_this_computers_own() -> None:
    """Each can be bound, which the system allows for one's own only."""
    for each in own_addresses():
        assert not each.is_loopback
        family = socket.AF_INET if each.version == 4 else socket.AF_INET6
        with socket.socket(family) as probe:
            probe.bind((str(each), 0))
    assert {str(each) for each in own_addresses()} <= own_names()


@pytest.mark.parametrize("host", ["127.0.0.1", "127.9.9.9", "localhost", "::1", "::ffff:127.0.0.1"])
def test_a_server_on_this_computer_has_no_address_in_the_shop(host: str) -> None:
    assert is_loopback(host)
    assert shop_addresses(host) == []


@pytest.mark.parametrize("host", ["0.0.0.0", "::", "192.0.2.1", "::ffff:192.0.2.1", "fd00::2", "128.0.0.1", "", "x"])
def test_another_address_is_not_this_computer(host: str) -> None:
    assert not is_loopback(host)


def test_the_likeliest_address_comes_first(monkeypatch: pytest.MonkeyPatch) -> None:
    found = [ip_address(each) for each in ("fd00::2", "8.8.4.4", "192.168.1.20", "10.0.0.2")]
    monkeypatch.setattr(addresses, "own_addresses", lambda: found)
    assert shop_addresses("0.0.0.0") == ["10.0.0.2", "192.168.1.20", "8.8.4.4"]
    assert shop_addresses("192.168.1.20") == ["192.168.1.20"]
