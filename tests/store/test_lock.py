"""One server on one data folder."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
from pathlib import Path

import pytest

from server.settings import ROOT, Settings
from server.store.database import Database
from server.store.lock import FolderLock, InUse

HOLD = """
import sys, time
from pathlib import Path
from server.store.lock import FolderLock
lock = FolderLock(Path(sys.argv[1]))
lock.take()
print("held", flush=True)
sys.stdin.read()
"""


def hold_elsewhere(file: Path) -> subprocess.Popen[str]:
    """Another process that takes the lock and keeps it until it is ended."""
    process = subprocess.Popen(
        [sys.executable, "-c", HOLD, str(file)], stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True, cwd=ROOT
    )
    assert process.stdout is not None
    assert process.stdout.readline() == "held\n"
    return process


def end(process: subprocess.Popen[str]) -> None:
    os.kill(process.pid, signal.SIGKILL)
    process.communicate()


def test_a_second_server_in_the_same_process_is_refused(database: Database, settings: Settings) -> None:
    with pytest.raises(InUse, match=f"process {os.getpid()}"):
        Database(settings)
    database.write(lambda connection: connection.exec_driver_sql("SELECT 1").scalar())  # the first works on


def test_a_second_server_from_another_process_is_refused_and_told_which_one_it_is(settings: Settings) -> None:
    process = hold_elsewhere(settings.lock)
    try:
        before = settings.database.read_bytes()
        with pytest.raises(InUse) as caught:
            Database(settings)
        assert str(process.pid) in str(caught.value)
        assert str(settings.data) in str(caught.value)
        assert settings.database.read_bytes() == before
    finally:
        end(process)


def test_the_lock_is_free_when_the_process_that_held_it_was_killed(settings: Settings) -> None:
    end(hold_elsewhere(settings.lock))
    Database(settings).close()


def test_the_lock_is_free_after_closing(settings: Settings) -> None:
    for _ in range(2):
        Database(settings).close()


def test_the_lock_is_given_back_when_opening_fails(settings: Settings) -> None:
    settings.database.write_bytes(b"no database at all")
    with pytest.raises(Exception, match="cannot be read as a database"):
        Database(settings)
    lock = FolderLock(settings.lock)
    lock.take()
    lock.release()


def test_a_lock_file_left_behind_does_not_lock(tmp_path: Path) -> None:
    file = tmp_path / "in-use.lock"
    file.write_text("99999")
    lock = FolderLock(file)
    lock.take()
    assert file.read_text() == str(os.getpid())
    lock.release()
    lock.release()  # a second time does no harm
