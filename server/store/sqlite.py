"""Everything that is SQLite's own: pragmas, how a transaction begins, how a file is copied and proved.

The recipe and its reasons were measured: see DEVELOPERS.md, "The database". SQLAlchemy's legacy transaction mode is
switched off, so that BEGIN, savepoints and transactional DDL mean what they say.
"""

from __future__ import annotations

import sqlite3
from pathlib import Path

from sqlalchemy import URL, Connection, Engine, create_engine, event
from sqlalchemy.pool import QueuePool, StaticPool

READERS = 8


def url_of(file: Path) -> URL:
    """Made from its parts: a folder's name may have a ? or a % in it."""
    return URL.create("sqlite", database=str(file))


def writer_engine(file: Path) -> Engine:
    """The one connection that writes. Every transaction on it takes the writer's place at once (BEGIN IMMEDIATE)."""
    engine = create_engine(
        url_of(file), poolclass=StaticPool, connect_args={"check_same_thread": False, "timeout": 5.0}
    )
    _prepare(engine, begin="BEGIN IMMEDIATE", read_only=False)
    return engine


def reader_engine(file: Path) -> Engine:
    """Connections that only read; they see the last commit and are never blocked by the writer."""
    engine = create_engine(
        url_of(file),
        poolclass=QueuePool,
        pool_size=READERS,
        max_overflow=READERS,
        connect_args={"check_same_thread": False, "timeout": 5.0},
    )
    _prepare(engine, begin="BEGIN DEFERRED", read_only=True)
    return engine


def _prepare(engine: Engine, begin: str, read_only: bool) -> None:
    @event.listens_for(engine, "connect")
    def set_up(connection: sqlite3.Connection, _record: object) -> None:
        connection.isolation_level = None
        set_pragmas(connection)
        if read_only:
            connection.execute("PRAGMA query_only=ON")

    @event.listens_for(engine, "begin")
    def start(connection: Connection) -> None:
        connection.exec_driver_sql(begin)


def set_pragmas(connection: sqlite3.Connection, foreign_keys: bool = True) -> None:
    """WAL so that readers never wait; FULL so that an answered write survives a power cut."""
    for pragma in (
        "busy_timeout=5000",
        "journal_mode=WAL",
        "synchronous=FULL",
        f"foreign_keys={'ON' if foreign_keys else 'OFF'}",
    ):
        connection.execute(f"PRAGMA {pragma}")


def copy_file(source: Path, target: Path) -> None:
    """Copy a live database with SQLite's own backup, then prove the copy sound; a bad or half-made copy is removed.

    Raises sqlite3.DatabaseError when the copy does not pass the integrity check.
    """
    target.parent.mkdir(parents=True, exist_ok=True)
    reading, writing = sqlite3.connect(source), sqlite3.connect(target)
    try:
        reading.backup(writing)
        writing.execute("PRAGMA journal_mode=DELETE")  # a backup is one file, with nothing beside it
        proved = writing.execute("PRAGMA integrity_check").fetchone()[0]
        if proved != "ok":
            raise sqlite3.DatabaseError(f"the copy {target} is not sound: {proved}")
    except BaseException:
        writing.close()
        target.unlink(missing_ok=True)
        raise
    finally:
        reading.close()
        writing.close()


def is_lost(connection: Connection) -> bool:
    """Whether SQLite itself gave up the whole transaction (disk full, I/O error) and not only the last statement."""
    return not connection.connection.driver_connection.in_transaction  # type: ignore[union-attr]


def integrity(file: Path) -> list[str]:
    """What SQLite finds wrong with the file: nothing, when it is sound and every foreign key points at a row."""
    connection = sqlite3.connect(file)
    try:
        found = [row[0] for row in connection.execute("PRAGMA integrity_check") if row[0] != "ok"]
        keys = connection.execute("PRAGMA foreign_key_check").fetchall()
    finally:
        connection.close()
    return found + [f"a row of {row[0]} points at a row of {row[2]} that is not there" for row in keys]
