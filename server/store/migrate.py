"""Bring a database file to this version at start: a backup first, then Alembic; a newer file is refused, unharmed."""

from __future__ import annotations

import sqlite3
from datetime import UTC, datetime
from pathlib import Path

from alembic import command
from alembic.config import Config
from alembic.script import ScriptDirectory

from server.settings import MIGRATIONS
from server.store.sqlite import copy_file


class NewerFile(Exception):
    """The file was written by a later version of the program."""


class NotADatabase(Exception):
    """The file is there and is no database of ours."""


def bring_up_to_date(file: Path, backups: Path) -> Path | None:
    """Migrate `file` to the newest revision. Returns the backup made on the way, or None where none was needed.

    Raises NewerFile or NotADatabase, with the file as it was.
    """
    head = _scripts().get_current_head()
    present = revision_of(file)
    if present == head:
        return None
    known = {script.revision for script in _scripts().walk_revisions()}
    if present is not None and present not in known:
        raise NewerFile(
            f"the file {file} was written by a newer version of Matchmark (its revision is {present}, "
            f"this one knows up to {head}); it was left as it is. Install the newer version to open it"
        )
    backup = None
    if present is not None:
        stamp = datetime.now(UTC).strftime("%Y%m%d-%H%M%S")
        backup = backups / f"before-{head}-{stamp}.db"
        copy_file(file, backup)
    upgrade(file, "head")
    return backup


def upgrade(file: Path, revision: str) -> None:
    file.parent.mkdir(parents=True, exist_ok=True)
    command.upgrade(_config(file), revision)


def revision_of(file: Path) -> str | None:
    """The revision a file is at; None for a file that is not there yet or is empty."""
    if not file.exists() or file.stat().st_size == 0:
        return None
    connection = sqlite3.connect(f"{file.resolve().as_uri()}?mode=ro", uri=True)
    try:
        tables = {row[0] for row in connection.execute("SELECT name FROM sqlite_master WHERE type = 'table'")}
        if not tables:
            return None
        if "alembic_version" not in tables:
            raise NotADatabase(f"the file {file} is a database, but not one of Matchmark's; it was left as it is")
        row = connection.execute("SELECT version_num FROM alembic_version").fetchone()
        return row[0] if row else None
    except sqlite3.DatabaseError as error:
        raise NotADatabase(f"the file {file} cannot be read as a database ({error}); it was left as it is") from error
    finally:
        connection.close()


def _config(file: Path | None) -> Config:
    config = Config()
    config.set_main_option("script_location", str(MIGRATIONS).replace("%", "%%"))
    config.attributes["file"] = file
    return config


def _scripts() -> ScriptDirectory:
    return ScriptDirectory.from_config(_config(None))
