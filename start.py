"""Set Matchmark up beside this file and start it.

    python3 start.py --demo       the invented demo build, in a data folder of its own
    python3 start.py              your own build
    python3 start.py --tests      the whole test suite (words for pytest itself after --)

What it installs goes into the folder .venv beside this file. A stamp in there says what it was installed from, so that
later starts install nothing and need no network. Nothing here is newer than Python 3.6 can read, so that a Python that
is too old can still be told so.
"""

import argparse
import errno
import hashlib
import importlib.util
import json
import os
import shutil
import socket
import subprocess
import sys
import tempfile
from pathlib import Path

ROOT = Path(__file__).resolve().parent
VENV = ROOT / ".venv"
PYTHON = VENV / ("Scripts/python.exe" if os.name == "nt" else "bin/python")
DEFAULT_PORT = 8731  # as in server/settings.py, which cannot be imported before anything is installed


class StartError(Exception):
    """What stands in the way, in words for the person who typed the command."""


def refuse_old_python(version):
    """version: as sys.version_info."""
    if tuple(version[:2]) < (3, 11):
        raise StartError(
            f"Python is too old: Matchmark needs 3.11 or newer, and this is {version[0]}.{version[1]}.\n"
            "Start it with a newer one, for example: python3.12 start.py --demo"
        )


def refuse_without_venv(is_there, debian):
    """is_there: says whether a module of that name can be found. debian: whether this is Debian or built upon it."""
    lacking = [name for name in ("venv", "ensurepip") if not is_there(name)]
    if lacking:
        which = "python3-venv (sudo apt-get install python3-venv)" if debian else "of your system that holds it"
        lack = f"This Python came without its module {' and '.join(lacking)}, which sets up the folder .venv."
        raise StartError(f"{lack}\nInstall the package {which} and try again.")


def refuse_unwritable(folder, purpose):
    """Make the folder if need be and write a file that is gone at once: rights alone do not tell (a full disk)."""
    try:
        folder.mkdir(parents=True, exist_ok=True)
        tempfile.TemporaryFile(dir=str(folder)).close()
    except OSError as error:
        raise StartError(
            f"Cannot write to the folder {folder} ({error.strerror}).\n"
            f"It is needed for {purpose}. Allow this account to write there, or choose another folder."
        ) from None


def error_of_binding(host, port):
    """The OSError that stands in the way of serving there, or None."""
    try:
        family, kind, protocol, _, address = socket.getaddrinfo(host, port, type=socket.SOCK_STREAM)[0]
        with socket.socket(family, kind, protocol) as probe:
            if os.name != "nt":  # as the server does; on Windows this option would let two programs share the port
                probe.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
            probe.bind(address)
    except OSError as error:
        return error
    return None


def refuse_unusable_port(host, port):
    error = error_of_binding(host, port)
    if error is not None and error.errno == errno.EADDRINUSE:
        free = next((p for p in range(port + 1, min(port + 100, 65536)) if error_of_binding(host, p) is None), "NUMBER")
        raise StartError(
            f"Port {port} on {host} is in use, perhaps by Matchmark started earlier (look at http://127.0.0.1:{port}/).\n"
            f"To start on another port add: --port {free}"
        )
    if error is not None:
        raise StartError(
            f"Cannot serve on port {port} of {host} ({error.strerror}).\n"
            "Give an address of this computer with --host, or a port from 1024 to 65535 with --port."
        )


def basis(root, version):
    """A digest of what decides the contents of .venv; the place counts because what is installed refers to it."""
    files = [(root / name).read_bytes() for name in ("constraints.txt", "pyproject.toml")]
    return hashlib.sha256(repr((str(root), tuple(version[:2]), files)).encode("utf-8")).hexdigest()


def read_stamp(venv):
    try:
        return dict(json.loads((venv / "matchmark-stamp.json").read_text("utf-8")))
    except (OSError, ValueError, TypeError):
        return {}


def write_stamp(venv, version, basis="", extras=()):
    """Without a basis: the stamp of a .venv that is not finished."""
    stamp = {"python": version[:2], "basis": basis, "extras": extras}
    (venv / "matchmark-stamp.json").write_text(json.dumps(stamp), "utf-8")


def is_installed(stamp, wanted, extras):
    return stamp.get("basis") == wanted and set(extras) <= set(stamp.get("extras", ()))


def must_be_made_anew(stamp, version):
    """Whether .venv is ours but unfinished or of another Python. Without a stamp it is not ours, and only added to."""
    return bool(stamp) and (not stamp.get("basis") or stamp.get("python") != list(version[:2]))


def run(*command):
    done = subprocess.run(command, cwd=str(ROOT), stdout=subprocess.PIPE, stderr=subprocess.STDOUT, errors="replace")
    if done.returncode:
        last = "\n".join(["    " + line for line in done.stdout.splitlines() if line.strip()][-6:])
        raise StartError(
            f"Installing did not succeed and nothing was started. What was said last:\n{last}\n"
            "If this computer is not on the network, connect it: the first start needs it, later ones do not.\n"
            f"Running this again is safe. (This is Python {sys.version.split()[0]}.)"
        )


def install(extras):
    """Bring .venv to what constraints.txt and pyproject.toml say, unless it is there already."""
    wanted, stamp = basis(ROOT, sys.version_info), read_stamp(VENV)
    if is_installed(stamp, wanted, extras) and PYTHON.exists():
        return
    refuse_unwritable(ROOT, "the folder .venv, where Matchmark is installed")
    refuse_without_venv(lambda name: importlib.util.find_spec(name) is not None, Path("/etc/debian_version").exists())
    print(f"Installing into {VENV} (this once; needs the network, a minute or two and 350 MB of disk) ...", flush=True)
    if must_be_made_anew(stamp, sys.version_info):
        shutil.rmtree(str(VENV))
    VENV.mkdir(exist_ok=True)
    write_stamp(VENV, sys.version_info)  # before anything else, so that a half-made .venv is known as ours
    run(getattr(sys, "_base_executable", sys.executable), "-m", "venv", str(VENV))  # this one may be .venv's own
    pip = (str(PYTHON), "-m", "pip", "install", "--quiet", "--disable-pip-version-check", "-c", "constraints.txt")
    run(*pip, "hatchling")  # first and by itself, so that the constraints hold for what builds the package too
    run(*pip, "--no-build-isolation", "-e", f".[{','.join(extras)}]" if extras else ".")
    write_stamp(VENV, sys.version_info, wanted, extras)
    print("Installed.", flush=True)


def hand_over(*arguments):
    """Become the server or the tests: their exit is ours, and Ctrl-C is theirs to answer."""
    os.chdir(str(ROOT))
    command = [str(PYTHON), "-m", *arguments]
    if os.name != "nt":
        os.execv(command[0], command)
    with subprocess.Popen(command) as child:  # after os.execv on Windows the prompt would not wait for the server
        while True:
            try:
                sys.exit(child.wait())
            except KeyboardInterrupt:
                continue  # the child has had it too and is closing


def main(words):
    words, beyond = (words[: words.index("--")], words[words.index("--") + 1 :]) if "--" in words else (words, [])
    parser = argparse.ArgumentParser(description="Install Matchmark beside this file if need be, and start it.")
    what = parser.add_mutually_exclusive_group()
    what.add_argument("--demo", action="store_true", help="the invented demo build, in a data folder of its own")
    what.add_argument("--tests", action="store_true", help="run all tests instead; words after -- go to pytest")
    parser.add_argument("--data", metavar="FOLDER", help="keep the data here")
    parser.add_argument("--host", default="127.0.0.1", help="address to serve on (default: this computer only)")
    parser.add_argument("--lan", action="store_true", help="open it to the shop: every address of this computer")
    parser.add_argument("--https", action="store_true", help="offer https as well, on the next port")
    parser.add_argument("--name", action="append", default=[], help="another name the server is asked for by")
    parser.add_argument("--port", type=int, metavar="N", default=DEFAULT_PORT, help="default %(default)s")
    parser.add_argument("--no-browser", action="store_true", help="do not open a browser")
    asked = parser.parse_args(words)
    if beyond and not asked.tests:
        parser.error("words after -- have a meaning with --tests only")
    if not 1 <= asked.port <= 65535:
        parser.error(f"--port takes a number from 1 to 65535, not {asked.port}")
    if asked.tests:
        install(["tests"])
        # In two processes, a file each at a time: the browser tests wait more than they work.
        hand_over("pytest", *(beyond or ["-n", "2", "--dist", "loadfile"]))
    host = "0.0.0.0" if asked.lan else asked.host
    serve = ["--host", host, "--port", str(asked.port), *["--https"] * asked.https]
    serve += [word for name in asked.name for word in ("--name", name)]
    if asked.data is not None:
        serve += ["--data", str(Path(asked.data).expanduser().absolute())]  # before the working folder changes
        refuse_unwritable(Path(serve[-1]), "the data")
    refuse_unusable_port(host, asked.port)  # before a long install rather than after it
    install([])
    hand_over("server.cli", "serve", *serve, *["--demo"] * asked.demo, *["--no-browser"] * asked.no_browser)


if __name__ == "__main__":
    try:
        refuse_old_python(sys.version_info)
        main(sys.argv[1:])
    except (StartError, OSError) as problem:
        sys.exit(str(problem))
    except KeyboardInterrupt:
        sys.exit("\nStopped. Running this again is safe.")
