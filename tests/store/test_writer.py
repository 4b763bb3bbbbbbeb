"""The one writer: commits together, each job for itself, nobody waits for ever."""

from __future__ import annotations

import sqlite3
import threading
from collections.abc import Callable, Iterator
from concurrent.futures import Future, ThreadPoolExecutor
from pathlib import Path
from typing import Any

import pytest
from sqlalchemy import Connection, event
from sqlalchemy.exc import IntegrityError, SQLAlchemyError

from server.store.sqlite import reader_engine, writer_engine
from server.store.writer import NotSaved, Writer

LONG = 30  # s, for what takes no time: only a hang gets there


@pytest.fixture
def file(tmp_path: Path) -> Path:
    file = tmp_path / "t.db"
    with sqlite3.connect(file) as connection:
        connection.execute("CREATE TABLE parent (id INTEGER PRIMARY KEY)")
        connection.execute(
            "CREATE TABLE t (x INTEGER UNIQUE, filling TEXT, parent_id INTEGER REFERENCES parent "
            "DEFERRABLE INITIALLY DEFERRED)"
        )
    connection.close()
    return file


@pytest.fixture
def writer(file: Path) -> Iterator[Writer]:
    writer = Writer(writer_engine(file))
    yield writer
    writer.stop()


def put(x: int, filling: str = "") -> Callable[[Connection], int]:
    def job(connection: Connection) -> int:
        connection.exec_driver_sql("INSERT INTO t (x, filling) VALUES (?, ?)", (x, filling))
        return x

    return job


def on_disk(file: Path) -> list[int]:
    connection = sqlite3.connect(file)
    try:
        return [row[0] for row in connection.execute("SELECT x FROM t ORDER BY x")]
    finally:
        connection.close()


class Held:
    """Holds the writer inside one job, so that what is handed in meanwhile waits together."""

    def __init__(self, writer: Writer) -> None:
        self._inside, self._go = threading.Event(), threading.Event()
        self._writer = writer
        self._pool = ThreadPoolExecutor(100)
        self._first = self._pool.submit(writer.do, self._hold)
        assert self._inside.wait(LONG)

    def _hold(self, connection: Connection) -> None:
        self._inside.set()
        assert self._go.wait(LONG)

    def hand_in(self, *jobs: Callable[[Connection], Any]) -> list[Future[Any]]:
        futures = []
        for job in jobs:
            futures.append(self._pool.submit(self._writer.do, job))
            # In this order, and waiting: the queue is looked into, since no caller is told before the commit.
            while self._writer._waiting.qsize() < len(futures):
                threading.Event().wait(0.001)
        return futures

    def let_go(self) -> None:
        self._go.set()
        self._first.result(LONG)
        self._pool.shutdown(wait=False)


def count_commits(writer: Writer) -> list[int]:
    commits: list[int] = []
    event.listen(writer._engine, "commit", lambda connection: commits.append(1))
    return commits


def test_jobs_that_wait_together_share_one_commit(writer: Writer, file: Path) -> None:
    held = Held(writer)
    futures = held.hand_in(*(put(x) for x in range(20)))
    commits = count_commits(writer)
    held.let_go()
    assert [future.result(LONG) for future in futures] == list(range(20))
    assert len(commits) == 2  # the job that held the writer, and the twenty
    assert on_disk(file) == list(range(20))


def test_nobody_is_told_before_the_commit(writer: Writer, file: Path) -> None:
    held = Held(writer)
    seen: list[list[int]] = []

    def look(connection: Connection) -> None:
        seen.append(on_disk(file))

    futures = held.hand_in(put(1), look, put(2))
    told_before_commit: list[bool] = []
    event.listen(
        writer._engine, "commit", lambda connection: told_before_commit.append(any(each.done() for each in futures))
    )
    held.let_go()
    for future in futures:
        future.result(LONG)
    assert seen == [[]]  # inside the shared transaction nothing was to be seen from outside
    assert told_before_commit[-1] is False
    assert on_disk(file) == [1, 2]


def test_a_job_that_fails_takes_none_of_the_others_with_it(writer: Writer, file: Path) -> None:
    def half(connection: Connection) -> None:
        put(50)(connection)
        raise ValueError("changed its mind")

    held = Held(writer)
    first, failing, doubled, last = held.hand_in(put(1), half, put(1), put(2))
    held.let_go()
    assert first.result(LONG) == 1
    assert last.result(LONG) == 2
    with pytest.raises(ValueError, match="changed its mind"):
        failing.result(LONG)
    with pytest.raises(IntegrityError):
        doubled.result(LONG)
    assert on_disk(file) == [1, 2]


def test_a_full_disk_inside_one_job_takes_none_of_the_others_with_it(file: Path) -> None:
    engine = writer_engine(file)
    event.listen(engine, "connect", lambda connection, record: connection.execute("PRAGMA max_page_count=100"))
    writer = Writer(engine)

    def fill(connection: Connection) -> None:
        connection.exec_driver_sql("INSERT INTO t (x, filling) VALUES (99, ?)", ("x" * 10_000_000,))

    held = Held(writer)
    first, full, last = held.hand_in(put(1), fill, put(2))
    held.let_go()
    assert first.result(LONG) == 1
    assert last.result(LONG) == 2
    with pytest.raises(NotSaved, match="disk is full"):
        full.result(LONG)
    assert on_disk(file) == [1, 2]
    writer.stop()


def test_where_sqlite_gives_the_whole_transaction_up_the_others_are_done_again(writer: Writer, file: Path) -> None:
    def lose(connection: Connection) -> None:
        put(99)(connection)
        connection.exec_driver_sql("ROLLBACK")  # what SQLite does by itself after an I/O error
        raise sqlite3.OperationalError("disk I/O error")

    held = Held(writer)
    first, lost, last = held.hand_in(put(1), lose, put(2))
    held.let_go()
    assert first.result(LONG) == 1
    assert last.result(LONG) == 2
    with pytest.raises(sqlite3.OperationalError):
        lost.result(LONG)
    assert on_disk(file) == [1, 2]


def test_a_commit_that_fails_for_one_job_takes_none_of_the_others_with_it(writer: Writer, file: Path) -> None:
    def orphan(connection: Connection) -> None:
        connection.exec_driver_sql("INSERT INTO t (x, parent_id) VALUES (99, 12345)")  # found out at the commit

    held = Held(writer)
    first, failing, last = held.hand_in(put(1), orphan, put(2))
    held.let_go()
    assert first.result(LONG) == 1
    assert last.result(LONG) == 2
    with pytest.raises(IntegrityError, match="FOREIGN KEY"):
        failing.result(LONG)
    assert on_disk(file) == [1, 2]


def test_a_commit_that_fails_keeps_nothing_and_the_next_one_works(writer: Writer, file: Path) -> None:
    def orphan(connection: Connection) -> None:
        connection.exec_driver_sql("INSERT INTO t (x, parent_id) VALUES (99, 12345)")

    with pytest.raises(IntegrityError):
        writer.do(orphan)
    assert writer.do(put(1)) == 1
    assert on_disk(file) == [1]


class Fatal(BaseException):
    """What a fault deep inside a library may raise."""


def test_no_exception_of_any_kind_kills_the_thread_or_leaves_a_caller_waiting(writer: Writer, file: Path) -> None:
    def fatal(connection: Connection) -> None:
        put(99)(connection)
        raise Fatal

    def leave(connection: Connection) -> None:
        raise SystemExit

    held = Held(writer)
    first, failing, leaving, last = held.hand_in(put(1), fatal, leave, put(2))
    held.let_go()
    assert first.result(LONG) == 1
    assert last.result(LONG) == 2
    with pytest.raises(Fatal):
        failing.result(LONG)
    with pytest.raises(SystemExit):
        leaving.result(LONG)
    assert writer.do(put(3)) == 3
    assert on_disk(file) == [1, 2, 3]


def test_a_database_held_by_another_program_is_told_and_used_again_once_it_is_free(file: Path) -> None:
    engine = writer_engine(file)
    event.listen(engine, "connect", lambda connection, record: connection.execute("PRAGMA busy_timeout=1"))
    writer = Writer(engine)
    other = sqlite3.connect(file, isolation_level=None)
    other.execute("BEGIN IMMEDIATE")
    with pytest.raises(NotSaved, match="another program"):
        writer.do(put(1))
    other.execute("ROLLBACK")
    other.close()
    assert writer.do(put(1)) == 1
    writer.stop()


def test_what_waits_when_the_writer_is_stopped_is_still_saved(file: Path) -> None:
    writer = Writer(writer_engine(file))
    held = Held(writer)
    futures = held.hand_in(*(put(x) for x in range(10)))
    stopping = threading.Thread(target=writer.stop)
    stopping.start()
    held.let_go()
    stopping.join(LONG)
    assert not stopping.is_alive()
    assert [future.result(LONG) for future in futures] == list(range(10))


def test_after_the_stop_a_job_is_refused_and_does_not_wait(file: Path) -> None:
    writer = Writer(writer_engine(file))
    held = Held(writer)
    stopping = threading.Thread(target=writer.stop)
    stopping.start()
    while not writer._stopping:
        threading.Event().wait(0.001)
    with pytest.raises(NotSaved, match="stopping"):  # asked for, and not gone yet
        writer.do(put(1))
    held.let_go()
    stopping.join(LONG)
    with pytest.raises(NotSaved, match="stopping"):
        writer.do(put(2))
    writer.stop()  # a second time does no harm
    assert on_disk(file) == []


def test_in_a_race_of_jobs_with_the_stop_each_is_saved_or_refused(file: Path) -> None:
    for turn in range(20):
        writer = Writer(writer_engine(file))
        start = threading.Barrier(9)

        def job(x: int, writer: Writer = writer, start: threading.Barrier = start) -> bool:
            start.wait(LONG)
            try:
                writer.do(put(x))
            except NotSaved:
                return False
            return True

        numbers = [turn * 100 + place for place in range(8)]
        with ThreadPoolExecutor(8) as pool:
            saved = [pool.submit(job, x) for x in numbers]
            start.wait(LONG)
            writer.stop()
            assert {x for x, each in zip(numbers, saved, strict=True) if each.result(LONG)} == set(on_disk(file)) & set(
                numbers
            )


def test_writes_that_read_first_lose_nothing_to_each_other(writer: Writer, file: Path) -> None:
    writer.do(put(0))

    def add_one(connection: Connection) -> None:
        x = connection.exec_driver_sql("SELECT x FROM t").scalar_one()
        connection.exec_driver_sql("UPDATE t SET x = ?", (x + 1,))

    with ThreadPoolExecutor(8) as pool:
        for future in [pool.submit(writer.do, add_one) for _ in range(320)]:
            future.result(LONG)
    assert on_disk(file) == [320]


def test_the_writing_connection_is_durable_and_minds_foreign_keys(writer: Writer) -> None:
    def pragmas(connection: Connection) -> dict[str, Any]:
        names = ("journal_mode", "synchronous", "foreign_keys", "query_only")
        return {name: connection.exec_driver_sql(f"PRAGMA {name}").scalar() for name in names}

    assert writer.do(pragmas) == {"journal_mode": "wal", "synchronous": 2, "foreign_keys": 1, "query_only": 0}


def test_a_write_takes_the_writers_place_from_its_beginning(writer: Writer, file: Path) -> None:
    other = sqlite3.connect(file, timeout=0, isolation_level=None, check_same_thread=False)

    def look(connection: Connection) -> None:
        with pytest.raises(sqlite3.OperationalError, match="locked"):
            other.execute("BEGIN IMMEDIATE")

    writer.do(look)
    other.close()


def test_readers_are_not_kept_waiting_by_a_write_and_cannot_write(writer: Writer, file: Path) -> None:
    readers = reader_engine(file)

    def while_writing(connection: Connection) -> None:
        put(1)(connection)
        with readers.begin() as reading:
            assert reading.exec_driver_sql("SELECT count(*) FROM t").scalar() == 0
            with pytest.raises(SQLAlchemyError, match="readonly"):
                reading.exec_driver_sql("INSERT INTO t (x) VALUES (5)")

    writer.do(while_writing)
    with readers.begin() as reading:
        assert reading.exec_driver_sql("SELECT x FROM t").scalars().all() == [1]
    readers.dispose()
