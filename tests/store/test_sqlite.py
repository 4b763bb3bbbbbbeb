"""Copying a live file."""

from __future__ import annotations

import sqlite3
from pathlib import Path

import pytest

from server.store import sqlite
from server.store.sqlite import copy_file


@pytest.fixture
def live(tmp_path: Path) -> Path:
    file = tmp_path / "live.db"
    connection = sqlite3.connect(file)
    connection.execute("PRAGMA journal_mode=WAL")
    connection.execute("CREATE TABLE t (x)")
    connection.executemany("INSERT INTO t VALUES (?)", [(n,) for n in range(1000)])
    connection.commit()
    connection.close()
    return file


def test_a_copy_is_one_file_with_everything_in_it(live: Path, tmp_path: Path) -> None:
    target = tmp_path / "backups" / "copy.db"
    copy_file(live, target)
    assert [each.name for each in target.parent.iterdir()] == ["copy.db"]
    connection = sqlite3.connect(target)
    assert connection.execute("SELECT count(*) FROM t").fetchone() == (1000,)
    connection.close()


def test_a_file_that_is_not_sound_is_told_and_no_copy_is_left(live: Path, tmp_path: Path) -> None:
    content = bytearray(live.read_bytes())
    content[4096 : 4096 + 200] = b"\xff" * 200  # the first page of the table
    live.write_bytes(content)
    target = tmp_path / "copy.db"
    with pytest.raises(sqlite3.DatabaseError):
        copy_file(live, target)
    assert not target.exists()


def test_a_copy_cut_off_half_way_is_removed(live: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    class Stopped(sqlite3.Connection):
        def backup(self, target: sqlite3.Connection, **_: object) -> None:  # type: ignore[override]
            target.execute("CREATE TABLE half (x)")
            target.commit()
            raise sqlite3.OperationalError("database or disk is full")

    connect = sqlite3.connect
    monkeypatch.setattr(sqlite.sqlite3, "connect", lambda file: connect(file, factory=Stopped))
    target = tmp_path / "copy.db"
    with pytest.raises(sqlite3.OperationalError, match="full"):
        copy_file(live, target)
    assert not target.exists()
