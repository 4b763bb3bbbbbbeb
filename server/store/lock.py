"""One server on one data folder: a lock the system itself gives back when the process ends, however it ends."""

from __future__ import annotations

import os
import sys
from pathlib import Path
from typing import IO


class InUse(Exception):
    """Another process works on this data folder."""


class FolderLock:
    """Held from `take` until `release` or the end of the process."""

    def __init__(self, file: Path) -> None:
        self._file = file
        self._held: IO[str] | None = None

    def take(self) -> None:
        """Take the lock, or raise InUse saying who holds it."""
        self._file.parent.mkdir(parents=True, exist_ok=True)
        held = self._file.open("a+", encoding="ascii")
        try:
            _lock(held)
        except OSError as error:
            held.seek(0)
            holder = held.read().strip() or "unknown"
            held.close()
            raise InUse(
                f"the data folder {self._file.parent} is already open in another Matchmark (process {holder}); "
                "use that one, or end it first"
            ) from error
        held.truncate(0)
        held.write(str(os.getpid()))
        held.flush()
        self._held = held

    def release(self) -> None:
        if self._held is not None:
            self._held.close()
            self._held = None


if sys.platform == "win32":
    import msvcrt

    def _lock(file: IO[str]) -> None:
        # Far behind the process number, which another process must still be able to read.
        file.seek(1024)
        msvcrt.locking(file.fileno(), msvcrt.LK_NBLCK, 1)

else:
    import fcntl

    def _lock(file: IO[str]) -> None:
        fcntl.flock(file, fcntl.LOCK_EX | fcntl.LOCK_NB)
