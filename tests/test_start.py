"""start.py before anything is installed: when it installs, and what it says when it cannot start."""

import ast
import importlib.util
import json
import socket
import subprocess
import sys
from pathlib import Path
from types import ModuleType

import pytest

from server.settings import DEFAULT_PORT

REPO = Path(__file__).resolve().parent.parent


def _by_path(path: Path) -> ModuleType:
    spec = importlib.util.spec_from_file_location("start", path)
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


start = _by_path(REPO / "start.py")


@pytest.fixture
def checkout(tmp_path: Path) -> Path:
    (tmp_path / "constraints.txt").write_text("one==1\n")
    (tmp_path / "pyproject.toml").write_text("[project]\n")
    return tmp_path


@pytest.fixture
def venv(checkout: Path) -> Path:
    folder = checkout / ".venv"
    folder.mkdir()
    return folder


# Python itself


def test_it_can_be_read_by_python_3_6() -> None:
    tree = ast.parse((REPO / "start.py").read_text("utf-8"), feature_version=(3, 6))
    # Annotations such as list[str] are evaluated as functions are defined, and "from __future__" fails on sight.
    functions = [node for node in ast.walk(tree) if isinstance(node, ast.FunctionDef)]
    assert not [f.name for f in functions if f.returns or any(a.annotation for a in f.args.args)]
    assert not [node for node in ast.walk(tree) if isinstance(node, ast.ImportFrom) and node.module == "__future__"]


def test_it_uses_the_standard_library_only() -> None:
    tree = ast.parse((REPO / "start.py").read_text("utf-8"))
    names = {alias.name for node in ast.walk(tree) if isinstance(node, ast.Import) for alias in node.names}
    names |= {str(node.module) for node in ast.walk(tree) if isinstance(node, ast.ImportFrom)}
    assert {name.split(".")[0] for name in names} <= sys.stdlib_module_names


@pytest.mark.parametrize("version", [(2, 7, 18), (3, 6, 15), (3, 10, 13)])
def test_an_old_python_is_told_so(version: tuple[int, int, int]) -> None:
    with pytest.raises(start.StartError) as told:
        start.refuse_old_python(version)
    assert "Python is too old: Matchmark needs 3.11" in str(told.value)
    assert f"this is {version[0]}.{version[1]}" in str(told.value)


@pytest.mark.parametrize("version", [(3, 11, 0), (3, 12, 1), (4, 0, 0)])
def test_python_from_3_11_is_taken(version: tuple[int, int, int]) -> None:
    start.refuse_old_python(version)


def test_the_oldest_python_is_the_one_the_package_names() -> None:
    assert 'requires-python = ">=3.11"' in (REPO / "pyproject.toml").read_text("utf-8")


@pytest.mark.parametrize("lacking", ["venv", "ensurepip"])
def test_on_debian_a_missing_module_is_told_with_its_package(lacking: str) -> None:
    with pytest.raises(start.StartError) as told:
        start.refuse_without_venv(lambda name: name != lacking, debian=True)
    assert f"without its module {lacking}," in str(told.value)
    assert "sudo apt-get install python3-venv" in str(told.value)


def test_elsewhere_a_missing_module_is_told_without_debians_package() -> None:
    with pytest.raises(start.StartError) as told:
        start.refuse_without_venv(lambda name: False, debian=False)
    assert "venv and ensurepip" in str(told.value)
    assert "apt-get" not in str(told.value)


def test_a_complete_python_passes() -> None:
    start.refuse_without_venv(lambda name: True, debian=True)


# The folder and the port


def test_a_folder_that_does_not_exist_yet_is_made_and_left_empty(tmp_path: Path) -> None:
    start.refuse_unwritable(tmp_path / "a b" / "c", "the data")
    assert list((tmp_path / "a b" / "c").iterdir()) == []


def test_a_folder_that_cannot_be_written_is_named_with_its_purpose(tmp_path: Path) -> None:
    (tmp_path / "file").touch()
    with pytest.raises(start.StartError) as told:
        start.refuse_unwritable(tmp_path / "file" / "data", "the data")
    assert str(tmp_path / "file" / "data") in str(told.value)
    assert "needed for the data" in str(told.value)


def test_a_taken_port_is_named_and_a_free_one_offered() -> None:
    with socket.socket() as holder:
        holder.bind(("127.0.0.1", 0))
        holder.listen()
        port = holder.getsockname()[1]
        with pytest.raises(start.StartError) as told:
            start.refuse_unusable_port("127.0.0.1", port)
    assert f"Port {port} on 127.0.0.1 is in use" in str(told.value)
    offered = int(str(told.value).rpartition("--port ")[2])
    assert port < offered <= port + 100


def test_a_port_is_free_again_after_its_holder_is_gone() -> None:
    with socket.socket() as holder:
        holder.bind(("127.0.0.1", 0))
        port = holder.getsockname()[1]
    start.refuse_unusable_port("127.0.0.1", port)


def test_an_address_of_another_computer_is_told() -> None:
    with pytest.raises(start.StartError, match="Give an address of this computer with --host"):
        start.refuse_unusable_port("192.0.2.1", 8731)  # RFC 5737: kept for documentation, on no computer


def test_the_port_is_the_servers_own() -> None:
    assert start.DEFAULT_PORT == DEFAULT_PORT


# When it installs


def test_a_second_start_installs_nothing(checkout: Path, venv: Path) -> None:
    wanted = start.basis(checkout, (3, 11, 2))
    start.write_stamp(venv, (3, 11, 2), wanted, [])
    assert start.is_installed(start.read_stamp(venv), start.basis(checkout, (3, 11, 2)), [])


@pytest.mark.parametrize("name", ["constraints.txt", "pyproject.toml"])
def test_a_changed_requirement_installs_again_into_the_same_venv(checkout: Path, venv: Path, name: str) -> None:
    start.write_stamp(venv, (3, 11, 2), start.basis(checkout, (3, 11, 2)), [])
    with (checkout / name).open("a") as file:
        file.write("# changed\n")
    stamp = start.read_stamp(venv)
    assert not start.is_installed(stamp, start.basis(checkout, (3, 11, 2)), [])
    assert not start.must_be_made_anew(stamp, (3, 11, 2))


def test_a_later_patch_of_the_same_python_changes_nothing(checkout: Path) -> None:
    assert start.basis(checkout, (3, 11, 2)) == start.basis(checkout, (3, 11, 9))


def test_another_python_makes_the_venv_anew(checkout: Path, venv: Path) -> None:
    start.write_stamp(venv, (3, 11, 2), start.basis(checkout, (3, 11, 2)), [])
    stamp = start.read_stamp(venv)
    assert not start.is_installed(stamp, start.basis(checkout, (3, 12, 1)), [])
    assert start.must_be_made_anew(stamp, (3, 12, 1))


def test_a_moved_checkout_installs_again(checkout: Path, tmp_path_factory: pytest.TempPathFactory) -> None:
    moved = tmp_path_factory.mktemp("moved")
    for name in ("constraints.txt", "pyproject.toml"):
        (moved / name).write_bytes((checkout / name).read_bytes())
    assert start.basis(moved, (3, 11, 2)) != start.basis(checkout, (3, 11, 2))


def test_tests_need_their_extras_and_the_server_does_not_mind_them(checkout: Path, venv: Path) -> None:
    wanted = start.basis(checkout, (3, 11, 2))
    start.write_stamp(venv, (3, 11, 2), wanted, [])
    assert not start.is_installed(start.read_stamp(venv), wanted, ["tests"])
    start.write_stamp(venv, (3, 11, 2), wanted, ["tests"])
    assert start.is_installed(start.read_stamp(venv), wanted, ["tests"])
    assert start.is_installed(start.read_stamp(venv), wanted, [])


def test_a_venv_left_half_made_is_made_anew(checkout: Path, venv: Path) -> None:
    start.write_stamp(venv, (3, 11, 2))
    stamp = start.read_stamp(venv)
    assert not start.is_installed(stamp, start.basis(checkout, (3, 11, 2)), [])
    assert start.must_be_made_anew(stamp, (3, 11, 2))


@pytest.mark.parametrize("written", [None, "", "{", "[1]", '"text"'])
def test_a_venv_without_a_readable_stamp_is_added_to_and_not_deleted(venv: Path, written: str | None) -> None:
    if written is not None:
        (venv / "matchmark-stamp.json").write_text(written)
    stamp = start.read_stamp(venv)
    assert not start.is_installed(stamp, "anything", [])
    assert not start.must_be_made_anew(stamp, (3, 11, 2))


def test_what_failed_is_told_with_its_last_words_and_leaves_the_venv_known_as_half_made(
    checkout: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(start, "ROOT", checkout)
    monkeypatch.setattr(start, "VENV", checkout / ".venv")
    monkeypatch.setattr(start, "PYTHON", checkout / ".venv" / "bin" / "python")
    real_run = start.run

    def without_network(*command: str) -> None:
        real_run(sys.executable, "-c", "import sys; print('name resolution failed'); sys.exit(1)")

    monkeypatch.setattr(start, "run", without_network)
    with pytest.raises(start.StartError) as told:
        start.install([])
    for words in ("name resolution failed", "nothing was started", "Running this again is safe", "network"):
        assert words in str(told.value)
    assert start.must_be_made_anew(start.read_stamp(checkout / ".venv"), sys.version_info)


def test_install_runs_nothing_when_the_stamp_holds(checkout: Path, venv: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(start, "ROOT", checkout)
    monkeypatch.setattr(start, "VENV", venv)
    monkeypatch.setattr(start, "PYTHON", Path(sys.executable))
    start.write_stamp(venv, sys.version_info, start.basis(checkout, sys.version_info), ["tests"])
    ran: list[tuple[str, ...]] = []
    monkeypatch.setattr(start, "run", lambda *command: ran.append(command))
    start.install(["tests"])
    assert ran == []
    monkeypatch.setattr(start, "PYTHON", checkout / "gone")
    start.install(["tests"])
    assert [command[-1] for command in ran] == [str(venv), "hatchling", ".[tests]"]
    assert json.loads((venv / "matchmark-stamp.json").read_text())["extras"] == ["tests"]


# The command line


def _handed_over(monkeypatch: pytest.MonkeyPatch, *words: str) -> tuple[list[str], list[str]]:
    """The extras installed and the words handed over."""
    extras: list[str] = []
    handed: list[str] = []

    class Gone(Exception):
        """Stands for the hand-over, after which nothing here runs on."""

    def hand_over(*arguments: str) -> None:
        handed.extend(arguments)
        raise Gone

    monkeypatch.setattr(start, "install", extras.extend)
    monkeypatch.setattr(start, "refuse_unusable_port", lambda host, port: None)
    monkeypatch.setattr(start, "hand_over", hand_over)
    with pytest.raises(Gone):
        start.main(list(words))
    return extras, handed


def test_the_builders_own_data_is_served_to_this_computer_only(monkeypatch: pytest.MonkeyPatch) -> None:
    extras, handed = _handed_over(monkeypatch)
    assert extras == []
    assert handed == ["server.cli", "serve", "--host", "127.0.0.1", "--port", str(DEFAULT_PORT)]


def test_what_was_asked_reaches_the_server(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    monkeypatch.chdir(tmp_path)
    _, handed = _handed_over(monkeypatch, "--demo", "--data", "here", "--port", "8099", "--no-browser")
    assert handed[2:] == [
        *("--host", "127.0.0.1", "--port", "8099", "--data", str(tmp_path / "here")),
        *("--demo", "--no-browser"),
    ]


def test_opening_to_the_shop_is_asked_for_and_passed_on(monkeypatch: pytest.MonkeyPatch) -> None:
    _, handed = _handed_over(monkeypatch, "--lan", "--https", "--name", "bench.example", "--no-browser")
    assert handed[2:] == [
        *("--host", "0.0.0.0", "--port", str(DEFAULT_PORT), "--https", "--name", "bench.example"),
        "--no-browser",
    ]


def test_words_after_the_dashes_go_to_pytest(monkeypatch: pytest.MonkeyPatch) -> None:
    assert _handed_over(monkeypatch, "--tests", "--", "-x", "tests/trade") == (
        ["tests"],
        ["pytest", "-x", "tests/trade"],
    )


def test_without_further_words_all_tests_are_run(monkeypatch: pytest.MonkeyPatch) -> None:
    assert _handed_over(monkeypatch, "--tests") == (["tests"], ["pytest", "-n", "2", "--dist", "loadfile"])


@pytest.mark.parametrize("words", [["--port", "0"], ["--port", "65536"], ["--demo", "--", "-x"], ["--demo", "--tests"]])
def test_words_that_make_no_sense_are_refused(words: list[str], capsys: pytest.CaptureFixture[str]) -> None:
    with pytest.raises(SystemExit) as ended:
        start.main(words)
    assert ended.value.code == 2
    assert "error:" in capsys.readouterr().err


def test_a_refusal_is_words_and_not_a_traceback(tmp_path: Path) -> None:
    (tmp_path / "file").touch()
    command = [sys.executable, str(REPO / "start.py"), "--data", str(tmp_path / "file" / "data")]
    done = subprocess.run(command, capture_output=True, text=True, check=False)
    assert done.returncode == 1
    assert done.stderr.startswith("Cannot write to the folder")
    assert "Traceback" not in done.stderr
