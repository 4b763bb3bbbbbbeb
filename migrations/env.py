"""Runs the migrations on one SQLite file, all of them in one transaction; the file is proved before it is kept."""

from __future__ import annotations

import sqlite3

from alembic import context
from sqlalchemy import Connection, create_engine, event
from sqlalchemy.pool import NullPool

from server.store.sqlite import set_pragmas, url_of


def run() -> None:
    engine = create_engine(url_of(context.config.attributes["file"]), poolclass=NullPool)

    @event.listens_for(engine, "connect")
    def set_up(connection: sqlite3.Connection, _record: object) -> None:
        connection.isolation_level = None
        # Off while tables may be made anew: with them on, SQLite would delete the rows that point at an old table.
        set_pragmas(connection, foreign_keys=False)

    @event.listens_for(engine, "begin")
    def start(connection: Connection) -> None:
        connection.exec_driver_sql("BEGIN IMMEDIATE")

    with engine.connect() as connection:
        context.configure(connection=connection, render_as_batch=True, transactional_ddl=True)
        with context.begin_transaction():
            context.run_migrations()
            broken = connection.exec_driver_sql("PRAGMA foreign_key_check").fetchall()
            if broken:
                raise RuntimeError(f"the migration would leave rows that point at nothing: {broken[:5]}")
            sound = connection.exec_driver_sql("PRAGMA integrity_check").scalar()
            if sound != "ok":
                raise RuntimeError(f"the migration would leave a file that is not sound: {sound}")
    engine.dispose()


run()
