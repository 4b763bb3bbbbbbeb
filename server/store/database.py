"""The builder's data, open: one lock, one writer, many readers."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from sqlalchemy import Connection

from server.settings import Settings
from server.store.lock import FolderLock
from server.store.migrate import bring_up_to_date
from server.store.sqlite import reader_engine, writer_engine
from server.store.watchers import Watchers
from server.store.writer import Writer


class Database:
    """Open one data folder. Raises InUse, NewerFile or NotADatabase before the data in it is touched."""

    def __init__(self, settings: Settings) -> None:
        self.file: Path = settings.database
        self.watchers = Watchers()
        self._lock = FolderLock(settings.lock)
        self._lock.take()
        try:
            self.backup_made = bring_up_to_date(self.file, settings.backups)
            writing = writer_engine(self.file)
            # Opened now, alone: a backup put back is not in WAL mode, and the change wants the file to itself.
            writing.connect().close()
            self._readers = reader_engine(self.file)
            self._writer = Writer(writing)
        except BaseException:
            self._lock.release()
            raise

    @contextmanager
    def read(self) -> Iterator[Connection]:
        """A connection that sees one state of the data throughout, and cannot write."""
        with self._readers.begin() as connection:
            yield connection

    def write(self, job: Callable[[Connection], Any]) -> Any:
        """Carry a job out on the writer; what it returns is on the disk when this returns."""
        return self._writer.do(job)

    def close(self) -> None:
        self._writer.stop()
        self._readers.dispose()
        self._lock.release()
