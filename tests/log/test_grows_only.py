"""The log only grows: the database itself refuses a change, a deletion and a writing-over, whoever asks.

Tried on a bare connection, as a tool that knows nothing of this program would.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator

import pytest

from server.log.events import LogEvent
from server.log.tables import GROWS_ONLY
from server.plan.dimensions import EditDimension
from server.settings import Settings
from server.store.database import Database
from tests.shop import Shop


@pytest.fixture(scope="module")
def filled(tmp_path_factory: pytest.TempPathFactory) -> Iterator[sqlite3.Connection]:
    """A bare connection to a file with rows in each table of the log. One for all tests: nothing may change it."""
    database = Database(Settings(data=tmp_path_factory.mktemp("filled")))
    shop = Shop(database)
    part = shop.part(shop.build())
    operation = shop.operation(part)
    bore = shop.dimension(part, operation_number=10)
    piece = shop.piece(part)
    shop.run(operation, piece)
    shop.correct(shop.read(piece, bore, "25.5"), "25.01")
    shop.do(LogEvent, piece_id=piece, kind="note", text="a note")
    asked = {"number": "bore", "name": "bore", "requirement": "25 ±0.02", "cutting": "larger", "operation_number": 10}
    shop.do(EditDimension, dimension_id=bore, **asked)
    connection = sqlite3.connect(database.file)
    moment = "2026-05-01 20:00:00.000000"
    connection.execute(
        "INSERT INTO entry (id, build_id, kind, occurred_at, received_at, who, why) "
        "VALUES (999, 1, 'photo', ?, ?, '', '')",
        (moment, moment),
    )
    connection.execute(
        "INSERT INTO photo (id, sha256, media_type, width, height, size_bytes, caption, piece_id) "
        "VALUES (999, 'ab', 'image/png', 4, 3, 99, 'as cut', ?)",
        (piece,),
    )
    connection.commit()
    yield connection
    connection.close()
    database.close()


def refuses(connection: sqlite3.Connection, statement: str, table: str) -> None:
    before = connection.execute(f"SELECT * FROM {table}").fetchall()
    assert before
    with pytest.raises(sqlite3.IntegrityError, match=r"the log only grows|limits keep their past"):
        connection.execute(statement)
    connection.rollback()
    assert connection.execute(f"SELECT * FROM {table}").fetchall() == before


@pytest.mark.parametrize("table", GROWS_ONLY)
def test_no_column_of_a_row_of_the_log_can_be_changed(filled: sqlite3.Connection, table: str) -> None:
    for column in [row[1] for row in filled.execute(f"PRAGMA table_info({table})")]:
        refuses(filled, f"UPDATE {table} SET {column} = {column}", table)


@pytest.mark.parametrize("table", GROWS_ONLY)
def test_no_row_of_the_log_can_be_deleted(filled: sqlite3.Connection, table: str) -> None:
    refuses(filled, f"DELETE FROM {table}", table)


@pytest.mark.parametrize("table", [*GROWS_ONLY, "limits"])
def test_no_row_of_the_log_can_be_written_over(filled: sqlite3.Connection, table: str) -> None:
    refuses(filled, f"INSERT OR REPLACE INTO {table} SELECT * FROM {table}", table)
    refuses(filled, f"REPLACE INTO {table} SELECT * FROM {table} LIMIT 1", table)


PUSHES_OUT = {
    "entry": """SELECT max(id) + 1, build_id, kind, occurred_at, received_at, who, replaces_id, why FROM entry
        WHERE replaces_id IS NOT NULL""",
    "run_end": "SELECT id + 1000, run_id, outcome FROM run_end",
    "limits": """SELECT id + 1000, dimension_id, requirement, unit, kind, nominal_nm, low_nm, high_nm, standard,
        cutting, since, until FROM limits WHERE until IS NULL""",
}


@pytest.mark.parametrize(("table", "statement"), PUSHES_OUT.items())
def test_no_row_is_pushed_out_by_a_new_one_that_takes_its_place(
    filled: sqlite3.Connection, table: str, statement: str
) -> None:
    refuses(filled, f"INSERT OR REPLACE INTO {table} {statement}", table)


def test_the_sizes_of_limits_stand_for_ever_and_their_end_is_set_once(filled: sqlite3.Connection) -> None:
    columns = [row[1] for row in filled.execute("PRAGMA table_info(limits)") if row[1] not in ("until", "id")]
    for column in columns:
        refuses(filled, f"UPDATE limits SET {column} = '7', until = '2026-05-01' WHERE until IS NULL", "limits")
    refuses(filled, "UPDATE limits SET id = id + 1000, until = '2026-05-01' WHERE until IS NULL", "limits")
    refuses(filled, "UPDATE limits SET until = '2020-01-01' WHERE until IS NOT NULL", "limits")
    refuses(filled, "UPDATE limits SET until = NULL WHERE until IS NOT NULL", "limits")
    refuses(filled, "DELETE FROM limits", "limits")


def test_every_table_of_the_log_is_guarded(filled: sqlite3.Connection) -> None:
    tables = {row[0] for row in filled.execute("SELECT name FROM sqlite_master WHERE type = 'table'")}
    changes = {"alembic_version", "build", "part", "operation", "dimension", "request_key", "device"}
    kept = {"latest_reading", "piece_operation", "piece_state"}
    assert tables == set(GROWS_ONLY) | {"limits"} | changes | kept


def test_a_reading_is_kept_with_the_limits_that_were_in_force_when_it_was_made(
    filled: sqlite3.Connection,
) -> None:
    rows = filled.execute(
        "SELECT limits.requirement, limits.until IS NULL FROM reading JOIN limits ON limits.id = reading.limits_id"
    ).fetchall()
    assert rows == [("25 +0.021/0", 0)] * 2
