"""The data folder, open: what its connections are, and how it is closed."""

from __future__ import annotations

import sqlite3
from concurrent.futures import ThreadPoolExecutor

import pytest
from sqlalchemy.exc import OperationalError

from server.settings import Settings
from server.store.database import Database
from server.store.writer import NotSaved

PUT_KEY = "INSERT INTO request_key (key, request_hash, answer, created_at) VALUES ('k', 'h', '{}', '2026-05-01')"


def test_reading_connections_cannot_write_and_see_one_state_throughout(database: Database) -> None:
    with database.read() as connection:
        pragmas = [
            connection.exec_driver_sql(f"PRAGMA {name}").scalar()
            for name in ("journal_mode", "foreign_keys", "query_only")
        ]
        assert pragmas == ["wal", 1, 1]
        before = connection.exec_driver_sql("SELECT count(*) FROM request_key").scalar()
        database.write(lambda writing: writing.exec_driver_sql(PUT_KEY))
        assert connection.exec_driver_sql("SELECT count(*) FROM request_key").scalar() == before
        with pytest.raises(OperationalError, match="readonly"):
            connection.exec_driver_sql("DELETE FROM request_key")
    with database.read() as connection:
        assert connection.exec_driver_sql("SELECT count(*) FROM request_key").scalar() == 1


def test_a_backup_put_back_in_place_is_in_write_ahead_mode_from_the_start(settings: Settings) -> None:
    with sqlite3.connect(settings.database) as connection:
        connection.execute("PRAGMA journal_mode=DELETE")
    connection.close()
    database = Database(settings)

    def mode(_: int) -> str:
        with database.read() as reading:
            return str(reading.exec_driver_sql("PRAGMA journal_mode").scalar())

    with ThreadPoolExecutor(8) as pool:
        assert set(pool.map(mode, range(16))) == {"wal"}
    database.close()


def test_after_closing_nothing_is_written_and_the_file_stands_alone(settings: Settings) -> None:
    database = Database(settings)
    database.write(lambda connection: connection.exec_driver_sql(PUT_KEY))
    database.close()
    with pytest.raises(NotSaved):
        database.write(lambda connection: None)
    assert {each.name for each in settings.data.iterdir()} == {"matchmark.db", "in-use.lock"}
