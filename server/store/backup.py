"""A backup: one .zip with the database and every photograph, proved before it has its name.

It holds what a data folder holds, under the same names (`matchmark.db`, `photos/ab/abcdef….jpg`): putting it back is
unpacking it into an empty folder. Thumbnails are left out, since they are made again; so are the certificates and keys
of https, which belong to the computer and not to the data.
"""

from __future__ import annotations

import hashlib
import os
import sqlite3
import tempfile
import zipfile
from dataclasses import dataclass
from pathlib import Path

from server.settings import Settings
from server.store.photo_files import is_name, name_of, sha256_in
from server.store.sqlite import copy_file

ENDING = ".zip"


class BackupNotSound(Exception):
    """What was written does not read back as it was. Nothing is left under the backup's name."""


@dataclass(frozen=True, slots=True)
class BackupMade:
    """How many photographs are in it, and which the log names but the folder no longer held sound."""

    photos: int
    lost: list[str]


def make_backup(settings: Settings, target: Path) -> BackupMade:
    """Write and prove a backup of a data folder, while a server runs on it or not.

    The database is copied first: a photograph is on the disk before the log names it, so that every one the copy names
    is there when the folder is read afterwards.
    Raises BackupNotSound, OSError, or sqlite3.DatabaseError when the copy of the database is not sound; nothing is then
    left under the name of the target.
    """
    target.parent.mkdir(parents=True, exist_ok=True)
    with tempfile.TemporaryDirectory(prefix=".backup-", dir=target.parent) as folder:
        database, half_made = Path(folder) / settings.database.name, Path(folder) / target.name
        copy_file(settings.database, database)
        named = _named(database)
        kept = set()
        with zipfile.ZipFile(half_made, "w") as archive:
            archive.write(database, settings.database.name, zipfile.ZIP_DEFLATED)
            for file in sorted(settings.photos.glob("*/*")):
                name = file.relative_to(settings.photos).as_posix()
                if is_name(name) and hashlib.sha256(data := file.read_bytes()).hexdigest() == sha256_in(name):
                    # Stored as it is: a photograph does not get smaller by packing.
                    archive.writestr(f"{settings.photos.name}/{name}", data, zipfile.ZIP_STORED)
                    kept.add(name)
        _prove(half_made, database, settings)
        with half_made.open("rb+") as written:
            os.fsync(written.fileno())
        os.replace(half_made, target)
    return BackupMade(len(kept & named), sorted(named - kept))


def _named(database: Path) -> set[str]:
    connection = sqlite3.connect(database)
    try:
        return {name_of(*row) for row in connection.execute("SELECT DISTINCT sha256, media_type FROM photo")}
    finally:
        connection.close()


def _prove(archive_file: Path, database: Path, settings: Settings) -> None:
    """Read all of it back: the database as it was proved, and each photograph against its name."""
    with zipfile.ZipFile(archive_file) as archive:
        for member in archive.namelist():
            with archive.open(member) as packed:
                read = hashlib.file_digest(packed, "sha256").hexdigest()
            if member == settings.database.name:
                with database.open("rb") as copied:
                    meant = hashlib.file_digest(copied, "sha256").hexdigest()
            else:
                meant = sha256_in(member.removeprefix(f"{settings.photos.name}/"))
            if read != meant:
                raise BackupNotSound(f"{member} does not read back from the backup as it was written; nothing was kept")
