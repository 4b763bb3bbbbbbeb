"""Bring a database file to this version at start: a backup first, then Alembic; a newer file is refused, unharmed.

Nearly every start finds nothing to do: Alembic, which takes as long to load as all our own tables, is imported only
where there is something.
"""

from __future__ import annotations

import os
import sqlite3
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING

from server.settings import MIGRATIONS
from server.store.sqlite import copy_file

if TYPE_CHECKING:
    from alembic.config import Config


class NewerFile(Exception):
    """The file was written by a later version of the program."""


class NotADatabase(Exception):
    """The file is there and is no database of ours."""


# Tables every version has had: another program that keeps its revision in the same way is told apart by them.
OURS = {"alembic_version", "build", "entry", "piece"}


def bring_up_to_date(file: Path, backups: Path) -> Path | None:
    """Migrate `file` to the newest revision. Returns the backup made on the way, or None where none was needed.

    Raises NewerFile or NotADatabase, with the file as it was.
    """
    if not file.exists():
        _make(file)
        return None
    head = newest_revision()
    present = revision_of(file)
    if present == head:
        return None
    if present not in _known_revisions():
        raise NewerFile(
            f"the file {file} was written by a newer version of Matchmark (its revision is {present}, "
            f"this one knows up to {head}); it was left as it is. Install the newer version to open it"
        )
    stamp = datetime.now(UTC).strftime("%Y%m%d-%H%M%S")
    backup = backups / f"before-{head}-{stamp}.db"
    copy_file(file, backup)
    upgrade(file, "head")
    return backup


def upgrade(file: Path, revision: str) -> None:
    from alembic import command

    command.upgrade(_config(file), revision)


def _make(file: Path) -> None:
    """A new database, under its name only once it is whole: an empty file is then never a start that was cut off."""
    unsaved = _log_of(file)
    if unsaved.exists() and unsaved.stat().st_size > 0:
        raise NotADatabase(
            f"the file {file} is gone, but {unsaved.name}, which belongs to it, is still there with the last of what "
            "was saved; put the file back beside it, or move it away to begin anew"
        )
    file.parent.mkdir(parents=True, exist_ok=True)
    half_made = file.with_name(f"{file.name}.new")
    for ending in ("", "-wal", "-shm"):
        half_made.with_name(half_made.name + ending).unlink(missing_ok=True)
    upgrade(half_made, "head")
    os.replace(half_made, file)
    if os.name == "posix":  # the new name itself must survive a power cut, and with it all that is saved under it
        folder = os.open(file.parent, os.O_RDONLY)
        try:
            os.fsync(folder)
        finally:
            os.close(folder)


def _log_of(file: Path) -> Path:
    """The write-ahead log that belongs to a database file."""
    return file.with_name(f"{file.name}-wal")


def revision_of(file: Path) -> str:
    """The revision a file is at. Raises NotADatabase, saying what the file is instead."""
    if file.stat().st_size == 0:
        raise NotADatabase(
            f"the file {file} is empty, and a database never is: it may be the rest of a copy that went wrong. "
            "Put a backup in its place, or delete it to begin anew"
        )
    # Looking leaves no trace: without "immutable", SQLite puts an empty write-ahead log beside a file it only reads.
    # Where there is such a log it has to be read, since the last of what was saved may be in it.
    untouched = "" if _log_of(file).exists() else "&immutable=1"
    connection = sqlite3.connect(f"{file.resolve().as_uri()}?mode=ro{untouched}", uri=True)
    try:
        tables = {row[0] for row in connection.execute("SELECT name FROM sqlite_master WHERE type = 'table'")}
        row = None
        if tables >= OURS:
            row = connection.execute("SELECT version_num FROM alembic_version").fetchone()
        if row is None:
            raise NotADatabase(f"the file {file} is a database, but not one of Matchmark's; it was left as it is")
        return str(row[0])
    except sqlite3.DatabaseError as error:
        raise NotADatabase(f"the file {file} cannot be read as a database ({error}); it was left as it is") from error
    finally:
        connection.close()


def newest_revision() -> str:
    """By the names of the files, which begin with their revision: 0002_what_it_does.py."""
    return max(file.name.partition("_")[0] for file in (MIGRATIONS / "versions").glob("[0-9]*_*.py"))


def _known_revisions() -> set[str]:
    from alembic.script import ScriptDirectory

    return {script.revision for script in ScriptDirectory.from_config(_config(None)).walk_revisions()}


def _config(file: Path | None) -> Config:
    from alembic.config import Config

    config = Config()
    config.set_main_option("script_location", str(MIGRATIONS).replace("%", "%%"))
    config.attributes["file"] = file
    return config
