"""The one writer: a thread that owns the only writing connection and commits waiting jobs together.

A job is a function of the connection that does SQL and nothing else. Jobs that wait at the same time share one
transaction and so one fsync; each has a savepoint of its own, so that one that fails takes none of the others with
it. A caller gets its answer only after the commit: an answered write is on the disk.
"""

from __future__ import annotations

import queue
import sqlite3
import threading
from collections.abc import Callable
from concurrent.futures import Future
from typing import Any

from sqlalchemy import Connection, Engine
from sqlalchemy.exc import DBAPIError

from server.store.sqlite import is_lost

Job = Callable[[Connection], Any]

TOGETHER_AT_MOST = 64


class NotSaved(Exception):
    """The disk or the database refused: nothing of the request was kept, and sending it again is safe."""


class Writer:
    """Hands jobs to the writing thread. `do` may be called from any thread and returns after the commit.

    A job may be carried out a second time, when what it did the first time was rolled back: it does SQL only.
    """

    def __init__(self, engine: Engine) -> None:
        self._engine = engine
        self._waiting: queue.SimpleQueue[tuple[Job, Future[Any]] | None] = queue.SimpleQueue()
        self._stopping = False
        # Held for as long as it takes to put something in the queue: nothing can be put behind the sentinel of `stop`,
        # where it would wait for ever.
        self._door = threading.Lock()
        self._thread = threading.Thread(target=self._work, name="writer", daemon=True)
        self._thread.start()

    def do(self, job: Job) -> Any:
        """Carry the job out in the next transaction; raise what it raised, or NotSaved when the disk refused."""
        future: Future[Any] = Future()
        with self._door:
            if self._stopping:
                raise NotSaved("the server is stopping; nothing was saved")
            self._waiting.put((job, future))
        return future.result()

    def stop(self) -> None:
        """Finish what waits, then end the thread and close the connection."""
        with self._door:
            self._stopping = True
            self._waiting.put(None)
        self._thread.join()
        self._engine.dispose()

    def _work(self) -> None:
        stopping = False
        while not stopping:
            group = []
            each = self._waiting.get()
            while True:
                if each is None:
                    stopping = True
                    break
                group.append(each)
                if len(group) == TOGETHER_AT_MOST:
                    break
                try:
                    each = self._waiting.get_nowait()
                except queue.Empty:
                    break
            if group:
                self._serve(group)

    def _serve(self, group: list[tuple[Job, Future[Any]]]) -> None:
        """One transaction for the group; where it was lost as a whole, each job has a transaction of its own."""
        # Whatever is raised, the thread must go on and nobody may wait for ever: hence BaseException.
        try:
            connection = self._begin()
        except BaseException as error:
            for _, future in group:
                future.set_exception(_plain(error))
            return
        try:
            outcomes = self._together(connection, [job for job, _ in group])
        except BaseException as error:
            if len(group) == 1:
                group[0][1].set_exception(_plain(error))
                return
            for each in group:
                self._serve([each])
            return
        for (_, future), (answer, error) in zip(group, outcomes, strict=True):
            if error is None:
                future.set_result(answer)
            else:
                future.set_exception(error)

    def _begin(self) -> Connection:
        connection = self._engine.connect()
        try:
            connection.begin()
        except BaseException:
            connection.invalidate()
            connection.close()
            raise
        return connection

    def _together(self, connection: Connection, jobs: list[Job]) -> list[tuple[Any, BaseException | None]]:
        """What each job answered or raised, once all is committed. Raises when the transaction was lost as a whole."""
        outcomes: list[tuple[Any, BaseException | None]] = []
        with connection:
            try:
                for job in jobs:
                    savepoint = connection.begin_nested()
                    try:
                        answer = job(connection)
                        savepoint.commit()
                    except BaseException as error:
                        if is_lost(connection):
                            raise
                        savepoint.rollback()
                        outcomes.append((None, _plain(error)))
                    else:
                        outcomes.append((answer, None))
                connection.commit()
            except BaseException:
                # The connection serves the next group too: whatever happened, it must not stay inside a transaction.
                if not is_lost(connection):
                    connection.connection.driver_connection.rollback()  # type: ignore[union-attr]
                connection.invalidate()
                raise
        return outcomes


def _plain(error: BaseException) -> BaseException:
    """A disk or lock error as NotSaved with plain words; anything else as it is."""
    if isinstance(error, DBAPIError) and isinstance(error.orig, sqlite3.OperationalError):
        said = str(error.orig)
        if "full" in said:
            return NotSaved("the disk is full: nothing was saved; make room and send it again")
        if "locked" in said or "busy" in said:
            return NotSaved("another program holds the database: nothing was saved; close it and send it again")
        if "readonly" in said or "I/O" in said or "disk" in said:
            return NotSaved(f"the disk did not take it ({said}): nothing was saved")
    return error
