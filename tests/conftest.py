"""What every test may ask for: a data folder, the database open on it, a shop to do things in, and an outside eye.

The database is a real file, migrated as at the first start: real locks, a real write-ahead log, real triggers.
"""

from __future__ import annotations

import os
import shutil
import sqlite3
from collections.abc import Iterator
from pathlib import Path

import pytest
from hypothesis import settings as hypothesis_settings

from server.settings import Settings
from server.store.database import Database
from server.store.migrate import bring_up_to_date
from tests.shop import Shop

# The machine decides how long an example takes: nothing here is timed. At the desk each run draws new examples; in CI
# they are the same each time, so that a change is judged by what it changed.
hypothesis_settings.register_profile("tests", deadline=None, derandomize="CI" in os.environ)
hypothesis_settings.load_profile("tests")


@pytest.fixture(scope="session")
def new_file(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A new database file, made once: copying it is quicker than migrating."""
    file = tmp_path_factory.mktemp("new") / "matchmark.db"
    bring_up_to_date(file, file.parent / "backups")
    return file


@pytest.fixture
def settings(tmp_path: Path, new_file: Path) -> Settings:
    """A data folder with a new database in it, not open."""
    settings = Settings(data=tmp_path / "data")
    settings.data.mkdir()
    shutil.copy(new_file, settings.database)
    return settings


@pytest.fixture
def database(settings: Settings) -> Iterator[Database]:
    database = Database(settings)
    yield database
    database.close()


@pytest.fixture
def shop(database: Database) -> Shop:
    """Builders: `shop.build()`, `shop.part(build)`, `shop.read(piece, dimension, "25.01")` … See tests/shop.py."""
    return Shop(database)


@pytest.fixture
def outside(database: Database) -> Iterator[sqlite3.Connection]:
    """A bare connection of its own to the same file: sees what is on the disk, and obeys none of our code."""
    connection = sqlite3.connect(database.file)
    yield connection
    connection.close()
