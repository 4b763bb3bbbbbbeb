"""https in the shop: the certificates as OpenSSL judges them, and the real server over a real address of this machine.

OpenSSL (through Python's ssl) knows nothing of the library the certificates are made with: it is the outside opinion.
"""

from __future__ import annotations

import asyncio
import errno
import hashlib
import http.client
import json
import os
import socket
import ssl
import stat
import subprocess
import sys
import time
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from ipaddress import IPv4Address
from pathlib import Path
from typing import Any

import pytest
from cryptography import x509
from cryptography.hazmat.primitives import serialization
from cryptography.x509.oid import ExtendedKeyUsageOID
from starlette.testclient import TestClient

from server import tls
from server.addresses import own_addresses
from server.app import create_app
from server.settings import ROOT, Settings
from server.web import serving
from tests.web.lan import Device, open_to_the_shop, the_host

NAMES = ("bench", "bench.local", "192.168.1.20", "shop.example")
NOW = datetime(2026, 5, 1, 12, tzinfo=UTC)


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    folder = tmp_path / "tls"
    tls.make_ready(folder, NAMES)
    return folder


def certificate(folder: Path, name: str = "server") -> x509.Certificate:
    return x509.load_pem_x509_certificate((folder / f"{name}.crt").read_bytes())


def greet(trusted: Path, served: Path | ssl.SSLContext | None, name: str) -> None:
    """A TLS handshake in memory, as a strict client sees it. Raises ssl.SSLError with what is wrong."""
    client = ssl.create_default_context(cafile=str(trusted))
    client.verify_flags |= ssl.VERIFY_X509_STRICT
    if isinstance(served, Path):
        server = ssl.create_default_context(ssl.Purpose.CLIENT_AUTH)
        server.load_cert_chain(served / "server.crt", served / "server.key")
    else:
        assert served is not None
        server = served
    to_server, to_client = ssl.MemoryBIO(), ssl.MemoryBIO()
    asking = client.wrap_bio(to_client, to_server, server_hostname=name)
    answering = server.wrap_bio(to_server, to_client, server_side=True)
    for _ in range(4):
        for side in (asking, answering):
            try:
                side.do_handshake()
            except ssl.SSLWantReadError:
                continue
    assert asking.version() in ("TLSv1.2", "TLSv1.3")


@pytest.mark.parametrize("name", [*NAMES, "localhost", "127.0.0.1", "::1"])
def test_openssl_takes_the_certificate_for_every_name_it_serves(folder: Path, name: str) -> None:
    greet(folder / "ca.crt", folder, name)


@pytest.mark.parametrize("name", ["192.168.1.21", "bad.example", "bench.bad.example", "local"])
def test_openssl_takes_it_for_no_other(folder: Path, name: str) -> None:
    with pytest.raises(ssl.SSLCertVerificationError, match="mismatch"):
        greet(folder / "ca.crt", folder, name)


def test_another_shops_authority_does_not_vouch_for_it(folder: Path, tmp_path: Path) -> None:
    """A man in the middle with an authority of his own."""
    tls.make_ready(tmp_path / "other", NAMES)
    with pytest.raises(ssl.SSLCertVerificationError, match=r"signature|issuer|self-signed"):
        greet(tmp_path / "other" / "ca.crt", folder, "bench")


def signed_by_a_thief(folder: Path, names: list[str]) -> None:
    """A server certificate for whatever names, signed with the shop's stolen key."""
    key = serialization.load_pem_private_key((folder / "ca.key").read_bytes(), None)
    hosts, addresses = tls._sorted_out(names)
    leaf = tls._make_leaf((certificate(folder, "ca"), key), hosts, addresses, datetime.now(UTC))  # type: ignore[arg-type]
    tls._write(folder, "server", *leaf)


@pytest.mark.parametrize("name", ["bank.example", "8.8.4.4", "localhost.bank.example", "2001:db8::1"])
def test_a_stolen_key_signs_for_no_other_site(folder: Path, name: str) -> None:
    """The tablet trusts the shop's authority; name constraints (RFC 5280, 4.2.1.10) keep that trust in the shop."""
    signed_by_a_thief(folder, [name])
    with pytest.raises(ssl.SSLCertVerificationError, match="permitted subtree"):
        greet(folder / "ca.crt", folder, name)
    signed_by_a_thief(folder, ["other.local"])
    greet(folder / "ca.crt", folder, "other.local")


def test_the_certificates_say_what_they_are_for(folder: Path) -> None:
    """RFC 5280, 4.2.1.3, 4.2.1.9, 4.2.1.12; at most 397 days: one under CA/Browser Forum 6.3.2 (from memory)."""
    authority, leaf = certificate(folder, "ca"), certificate(folder)
    basic = authority.extensions.get_extension_for_class(x509.BasicConstraints)
    assert basic.critical
    assert (basic.value.ca, basic.value.path_length) == (True, 0)
    usage = authority.extensions.get_extension_for_class(x509.KeyUsage).value
    assert (usage.key_cert_sign, usage.digital_signature) == (True, False)
    assert authority.extensions.get_extension_for_class(x509.NameConstraints).critical
    assert not leaf.extensions.get_extension_for_class(x509.BasicConstraints).value.ca
    purposes = leaf.extensions.get_extension_for_class(x509.ExtendedKeyUsage).value
    assert list(purposes) == [ExtendedKeyUsageOID.SERVER_AUTH]
    assert not leaf.extensions.get_extension_for_class(x509.KeyUsage).value.key_cert_sign
    assert leaf.not_valid_after_utc - leaf.not_valid_before_utc <= timedelta(days=397)
    named = leaf.extensions.get_extension_for_class(x509.SubjectAlternativeName).value
    assert IPv4Address("192.168.1.20") in named.get_values_for_type(x509.IPAddress)
    assert "bench.local" in named.get_values_for_type(x509.DNSName)


@pytest.mark.skipif(os.name == "nt", reason="rights of files are others there")
def test_keys_are_for_their_owners_eyes(folder: Path) -> None:
    """Another account of the same computer reads no key."""
    assert stat.S_IMODE(folder.stat().st_mode) == 0o700
    for name in ("ca.key", "server.key"):
        assert stat.S_IMODE((folder / name).stat().st_mode) == 0o600
    assert {each.name for each in folder.iterdir()} == {"ca.key", "ca.crt", "server.key", "server.crt"}


def test_the_fingerprint_is_the_certificates_own(folder: Path) -> None:
    der = ssl.PEM_cert_to_DER_cert((folder / "ca.crt").read_text())
    assert tls.fingerprint(folder).replace(":", "").lower() == hashlib.sha256(der).hexdigest()
    assert len(tls.fingerprint(folder).split(":")) == 32


def test_what_is_good_is_left_as_it_is(tmp_path: Path) -> None:
    assert tls.make_ready(tmp_path, NAMES, NOW) == tls.Made(authority=True, certificate=True)
    before = {each.name: each.read_bytes() for each in tmp_path.iterdir()}
    assert tls.make_ready(tmp_path, reversed(NAMES), NOW) == tls.Made(authority=False, certificate=False)
    assert tls.make_ready(tmp_path, NAMES, NOW + timedelta(days=366)) == tls.Made(False, False)
    assert {each.name: each.read_bytes() for each in tmp_path.iterdir()} == before


@pytest.mark.parametrize(
    ("names", "later"),
    [
        (NAMES, timedelta(days=368)),  # less than 30 days to its end
        (NAMES, timedelta(days=-2)),  # the clock was ahead
        ((*NAMES, "192.168.1.21"), timedelta(0)),
        (("bench", "10.1.2.3"), timedelta(0)),
        (("other.local",), timedelta(0)),
    ],
)
def test_a_certificate_is_renewed_and_the_tablets_trust_stays(
    tmp_path: Path, names: tuple[str, ...], later: timedelta
) -> None:
    tls.make_ready(tmp_path, NAMES, NOW)
    authority = (tmp_path / "ca.crt").read_bytes()
    assert tls.make_ready(tmp_path, names, NOW + later) == tls.Made(authority=False, certificate=True)
    assert (tmp_path / "ca.crt").read_bytes() == authority
    certificate(tmp_path).verify_directly_issued_by(certificate(tmp_path, "ca"))


@pytest.mark.parametrize(
    ("names", "later"),
    [
        (("bench", "203.0.113.9"), timedelta(0)),  # no private address, and not one it was made with
        (("elsewhere.example",), timedelta(0)),
        (NAMES, timedelta(days=3650 - 397)),  # it would end before the certificate it signs
    ],
)
def test_a_new_authority_is_made_only_where_the_old_one_may_not_sign(
    tmp_path: Path, names: tuple[str, ...], later: timedelta
) -> None:
    tls.make_ready(tmp_path, NAMES, NOW)
    assert tls.make_ready(tmp_path, names, NOW + later) == tls.Made(authority=True, certificate=True)


@pytest.mark.parametrize("name", ["ca.key", "ca.crt", "server.key", "server.crt"])
@pytest.mark.parametrize("content", [None, b"", b"-----BEGIN CERTIFICATE-----\n"])
def test_a_file_that_is_gone_or_spoilt_is_made_again(folder: Path, name: str, content: bytes | None) -> None:
    if content is None:
        (folder / name).unlink()
    else:
        (folder / name).write_bytes(content)
    assert tls.make_ready(folder, NAMES).certificate
    greet(folder / "ca.crt", folder, "bench")


def test_the_certificate_is_offered_before_pairing_and_only_where_there_is_https(settings: Settings) -> None:
    for https in (False, True):
        shop = open_to_the_shop(settings, https=https)
        tls.make_ready(shop.tls, ["192.0.2.1"])
        app = create_app(shop)
        with TestClient(app):
            answer = Device(app).get("/devices/ca.crt")
            page = the_host(app).get("/devices").text
        if not https:
            assert answer.status_code == 404
            assert "--https" in page
            continue
        assert answer.content == (shop.tls / "ca.crt").read_bytes()
        assert b"PRIVATE KEY" not in answer.content
        assert answer.headers["content-type"] == "application/x-x509-ca-cert"
        assert tls.fingerprint(shop.tls) in page
        for said in (
            "Certificate Trust Settings",
            "http://192.0.2.1:8731/devices/ca.crt",
            "not tested on devices here",
        ):
            assert said in page


def test_a_running_server_takes_up_a_new_certificate(settings: Settings, monkeypatch: pytest.MonkeyPatch) -> None:
    """The router hands out another address while the server runs; and a disk that is full then stops nothing."""
    shop = open_to_the_shop(settings, https=True)
    server = serving.Server(create_app(shop), shop)
    monkeypatch.setattr(serving, "own_names", lambda: {"192.168.1.20"})
    server.prepare_https()
    before = certificate(shop.tls)
    monkeypatch.setattr(serving, "own_names", lambda: {"192.168.1.21"})
    with monkeypatch.context() as full:
        full.setattr(tls, "_put", fails)
        asyncio.run(server.look_at_certificate())
    assert certificate(shop.tls) == before
    greet(shop.tls / "ca.crt", server.https, "192.168.1.20")
    asyncio.run(server.look_at_certificate())
    assert certificate(shop.tls) != before
    greet(shop.tls / "ca.crt", server.https, "192.168.1.21")


def fails(*_: Any) -> None:
    raise OSError(errno.ENOSPC, "no space left on device")


# The real server


@dataclass(slots=True)
class Running:
    """`matchmark serve`, on an address of this machine that is not the loopback's, over http and https."""

    host: str
    port: int
    data: Path
    process: subprocess.Popen[str] | None = None

    def start(self) -> None:
        command = [sys.executable, "-m", "server.cli", "serve", "--no-browser", "--https", "--data", str(self.data)]
        command += ["--host", self.host, "--port", str(self.port)]
        self.process = subprocess.Popen(
            command,
            cwd=ROOT,
            stdout=subprocess.PIPE,
            stderr=subprocess.STDOUT,
            text=True,
            env={**os.environ, "PYTHONUNBUFFERED": "1"},
        )
        end = time.monotonic() + 60
        while time.monotonic() < end and self.process.poll() is None:
            try:
                socket.create_connection(("127.0.0.1", self.port + 1), 1).close()
            except OSError:
                time.sleep(0.05)
            else:
                return
        raise AssertionError(self.stop())

    def stop(self) -> str:
        assert self.process is not None
        self.process.terminate()
        return self.process.communicate(timeout=30)[0]

    def ask(
        self, method: str, path: str, body: Any = None, cookie: str = "", https: bool = False, host: str = ""
    ) -> tuple[int, dict[str, str], str]:
        """Over a socket of its own; the answer's status, headers and text."""
        host = host or self.host
        port = self.port + 1 if https else self.port
        if https:
            trust = ssl.create_default_context(cafile=str(self.data / "tls" / "ca.crt"))
            line: http.client.HTTPConnection = http.client.HTTPSConnection(host, port, timeout=20, context=trust)
        else:
            line = http.client.HTTPConnection(host, port, timeout=20)
        headers = {"Cookie": cookie} if cookie else {}
        if body is not None:
            origin = f"{'https' if https else 'http'}://{host}:{port}"
            headers |= {"Content-Type": "application/json", "Origin": origin, "Idempotency-Key": os.urandom(8).hex()}
        line.request(method, path, json.dumps(body) if body is not None else None, headers)
        answer = line.getresponse()
        text = answer.read().decode()
        line.close()
        return answer.status, {name.lower(): said for name, said in answer.getheaders()}, text

    def paired(self, https: bool) -> str:
        """The cookie of a device that is let in by a code from the computer's own screen."""
        _, _, said = self.ask("POST", "/api/invite", {"role": "editor"}, host="127.0.0.1")
        status, headers, text = self.ask(
            "POST", "/api/pair", {"code": json.loads(said)["code"], "name": "t"}, "", https
        )
        assert status == 200, text
        return headers["set-cookie"].partition(";")[0]


def two_free_ports(host: str) -> int:
    """The first of two ports in a row that are free here and on the loopback."""
    for port in range(20_000 + os.getpid() % 20_000, 60_000, 2):
        try:
            for each in (host, "127.0.0.1"):
                for at in (port, port + 1):
                    with socket.socket() as probe:
                        probe.bind((each, at))
        except OSError:
            continue
        return port
    raise AssertionError("no two free ports")


@pytest.fixture(scope="module")
def running(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Running]:
    found = [str(each) for each in own_addresses() if each.version == 4]
    if not found:
        pytest.skip("this machine has no IPv4 address but its loopback's: nothing here can be asked over the network")
    running = Running(found[0], two_free_ports(found[0]), tmp_path_factory.mktemp("shop") / "data")
    running.start()
    yield running
    running.stop()


@pytest.mark.parametrize("https", [False, True])
def test_over_the_machines_own_address_a_device_is_a_stranger_until_it_is_paired(running: Running, https: bool) -> None:
    status, headers, _ = running.ask("GET", "/", https=https)
    assert (status, headers["location"]) == (303, "/pair")
    assert running.ask("GET", "/api/builds", https=https)[0] == 401
    cookie = running.paired(https)
    assert cookie.startswith("__Host-") == https
    assert running.ask("GET", "/", cookie=cookie, https=https)[0] == 200
    status, _, text = running.ask("POST", "/api/add-build", {"name": f"press {https}"}, cookie, https)
    assert status == 200, text
    assert running.ask("GET", "/api/builds", cookie=cookie, https=not https)[0] == 401


def test_this_computer_is_let_in_at_its_own_address_while_the_shop_has_another(running: Running) -> None:
    assert running.ask("GET", "/devices", host="127.0.0.1")[0] == 200
    assert running.ask("GET", "/devices", host="127.0.0.1", https=True)[0] == 200


def test_after_a_restart_the_tablet_is_let_in_and_the_certificate_is_the_same(running: Running) -> None:
    cookie = running.paired(https=True)
    before = (running.data / "tls" / "server.crt").read_bytes()
    said = running.stop()
    running.start()
    assert running.ask("GET", "/api/builds", cookie=cookie, https=True)[0] == 200
    assert (running.data / "tls" / "server.crt").read_bytes() == before
    assert f"In the shop: http://{running.host}:{running.port}/ or https://{running.host}:{running.port + 1}/" in said
    assert "paired first" in said


def test_who_does_not_trust_the_shop_is_warned(running: Running) -> None:
    with (
        socket.create_connection((running.host, running.port + 1), 20) as line,
        pytest.raises(ssl.SSLCertVerificationError),
    ):
        ssl.create_default_context().wrap_socket(line, server_hostname=running.host)
