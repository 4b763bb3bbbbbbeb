"""Who waits to hear that something was committed. Nothing of what was committed goes through here: a watcher is woken
and reads the log, which is on the disk and in order; so there is no queue to overflow and nothing to lose.
"""

from __future__ import annotations

import asyncio
import threading
from collections.abc import Iterator
from contextlib import contextmanager, suppress

AT_MOST = 50


class TooManyWatch(Exception):
    """As many are watching as the server holds open; asking from time to time still works."""


class Watcher:
    """One that waits, on the event loop it was made on. `woken` stays set until it is cleared by whoever waits."""

    def __init__(self) -> None:
        self._loop = asyncio.get_running_loop()
        self.woken = asyncio.Event()
        self.closing = asyncio.Event()

    def set_soon(self, event: asyncio.Event) -> None:
        """Set one of the two, from whichever thread. A loop that has ended waits for nothing."""
        with suppress(RuntimeError):  # what was committed is committed, whoever hears of it
            self._loop.call_soon_threadsafe(event.set)


class Watchers:
    """All that wait. `tell` and `close` may be called from any thread; `watch` on an event loop only."""

    def __init__(self, at_most: int = AT_MOST) -> None:
        self._at_most = at_most
        self._lock = threading.Lock()
        self._watching: set[Watcher] = set()
        self._closed = False

    @contextmanager
    def watch(self) -> Iterator[Watcher]:
        """A watcher for as long as the block lasts. Raises TooManyWatch."""
        watcher = Watcher()
        with self._lock:
            if len(self._watching) >= self._at_most:
                raise TooManyWatch
            self._watching.add(watcher)
            if self._closed:
                watcher.closing.set()
        try:
            yield watcher
        finally:
            with self._lock:
                self._watching.discard(watcher)

    def tell(self) -> None:
        """Something was committed."""
        for watcher in self._all():
            watcher.set_soon(watcher.woken)

    def close(self) -> None:
        """The server is ending: everyone is to leave, and whoever comes later leaves at once."""
        self._closed = True
        for watcher in self._all():
            watcher.set_soon(watcher.closing)

    def count(self) -> int:
        return len(self._watching)

    def _all(self) -> list[Watcher]:
        with self._lock:
            return list(self._watching)
