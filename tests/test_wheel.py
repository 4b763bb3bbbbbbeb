"""The wheel by itself: built, installed where the checkout cannot be seen, started, and asked for a page."""

import os
import re
import signal
import socket
import subprocess
import sys
import sysconfig
import time
import urllib.request
import zipfile
from collections.abc import Iterator
from pathlib import Path

import pytest

REPO = Path(__file__).resolve().parent.parent
BUNDLED = ("templates", "static", "migrations", "demo_data")
PATIENCE_S = 60.0


@pytest.fixture(scope="module")
def wheel(tmp_path_factory: pytest.TempPathFactory) -> Path:
    out = tmp_path_factory.mktemp("dist")
    build = [sys.executable, "-m", "build", "--wheel", "--no-isolation", "--outdir", str(out), str(REPO)]
    subprocess.run(build, cwd=out, check=True, capture_output=True)
    (built,) = out.glob("*.whl")
    return built


@pytest.fixture(scope="module")
def installed(wheel: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The scripts folder of a fresh environment with the wheel in it.

    What the wheel depends on is borrowed from the environment of the tests, so that this needs no network. The .pth
    files of that environment are not followed, so that an editable install of the checkout stays out of sight.
    """
    venv = tmp_path_factory.mktemp("installed") / "venv"
    subprocess.run([sys.executable, "-m", "venv", "--without-pip", str(venv)], check=True)
    paths = sysconfig.get_paths(scheme="venv", vars={"base": str(venv), "platbase": str(venv)})
    borrowed = {sysconfig.get_path("purelib"), sysconfig.get_path("platlib")}
    (Path(paths["purelib"]) / "borrowed.pth").write_text("\n".join(sorted(borrowed)), "utf-8")
    pip = [sys.executable, "-m", "pip", "--python", str(venv), "install", "--quiet", "--disable-pip-version-check"]
    # --ignore-installed: pip would else find the checkout's own install among what is borrowed, and replace that.
    options = ["--no-deps", "--no-index", "--ignore-installed"]
    subprocess.run([*pip, *options, str(wheel)], check=True, capture_output=True)
    return Path(paths["scripts"])


@pytest.fixture(scope="module")
def elsewhere(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return tmp_path_factory.mktemp("elsewhere")


@pytest.fixture(scope="module")
def environment(elsewhere: Path) -> dict[str, str]:
    inherited = {name: value for name, value in os.environ.items() if name not in ("PYTHONPATH", "PYTHONHOME")}
    return inherited | {"HOME": str(elsewhere), "XDG_DATA_HOME": str(elsewhere), "PYTHONUNBUFFERED": "1"}


def test_it_holds_every_page_migration_and_demo_file_and_no_tests(wheel: Path) -> None:
    with zipfile.ZipFile(wheel) as archive:
        held = set(archive.namelist())
    files = {f for folder in BUNDLED for f in (REPO / folder).rglob("*") if f.is_file() and f.suffix != ".pyc"}
    assert {f"server/_bundled/{f.relative_to(REPO).as_posix()}" for f in files} <= held
    assert {name.split("/")[2] for name in held if name.startswith("server/_bundled/")} == set(BUNDLED)
    assert {f.relative_to(REPO).as_posix() for f in (REPO / "server").rglob("*.py")} <= held
    assert {name.split("/")[0] for name in held if ".dist-info/" not in name} == {"server"}


def test_what_is_installed_is_not_the_checkout(installed: Path, elsewhere: Path, environment: dict[str, str]) -> None:
    ask = [str(installed / "python"), "-c", "from server import settings; print(settings.ROOT)"]
    root = subprocess.run(ask, cwd=elsewhere, env=environment, check=True, capture_output=True, text=True).stdout
    assert Path(root.strip()).parts[-2:] == ("server", "_bundled")
    assert REPO not in Path(root.strip()).parents


@pytest.fixture(scope="module")
def address(installed: Path, elsewhere: Path, environment: dict[str, str]) -> Iterator[str]:
    """The address of the demo served by the installed command; it is ended as by Ctrl-C."""
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        port = probe.getsockname()[1]
    command = [str(installed / "matchmark"), "serve", "--demo", "--no-browser", "--port", str(port)]
    said = elsewhere / "said.txt"
    with said.open("wb") as log:
        server = subprocess.Popen(
            [*command, "--data", str(elsewhere / "data")], cwd=elsewhere, env=environment, stdout=log, stderr=log
        )
    try:
        _wait_until_it_answers(server, port, said)
        yield f"http://127.0.0.1:{port}"
        server.send_signal(signal.SIGINT)
        server.wait(PATIENCE_S)
        assert "Traceback" not in said.read_text("utf-8"), said.read_text("utf-8")
    finally:
        server.kill()
        server.wait()


def _wait_until_it_answers(server: subprocess.Popen[bytes], port: int, said: Path) -> None:
    deadline = time.monotonic() + PATIENCE_S
    while True:
        try:
            socket.create_connection(("127.0.0.1", port), timeout=1).close()
        except OSError:
            assert time.monotonic() < deadline, said.read_text("utf-8")
        else:
            return
        try:
            server.wait(0.05)
        except subprocess.TimeoutExpired:
            continue
        pytest.fail(f"the server ended by itself:\n{said.read_text('utf-8')}")


def _fetch(url: str) -> tuple[int, str, str]:
    direct = urllib.request.build_opener(urllib.request.ProxyHandler({}))  # this computer is not behind its own proxy
    with direct.open(url, timeout=PATIENCE_S) as answer:
        return answer.status, answer.headers.get_content_type(), answer.read().decode("utf-8")


def test_it_serves_the_first_page_and_the_style_sheet_it_names(address: str) -> None:
    status, kind, page = _fetch(f"{address}/")
    assert (status, kind) == (200, "text/html")
    named = re.search(r'href="(/static/[^"]+\.css[^"]*)"', page)
    assert named is not None, page
    status, kind, style = _fetch(f"{address}{named[1]}")
    assert (status, kind) == (200, "text/css")
    assert style
