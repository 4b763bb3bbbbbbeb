"""How long one reading takes to be safely on the disk, and how a large build reads.

Run it with: python -m benchmarks.log_a_reading

The base is what cannot be had for less on this disk: bare sqlite3, the same pragmas, the same rows, a commit a reading.
Disks drift within seconds, so both are measured in turn, in shuffled order, many times; the ratio is what counts.
"""

from __future__ import annotations

import random
import sqlite3
import statistics
import tempfile
import threading
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from time import perf_counter
from uuid import uuid4

from server.log.board import board
from server.log.kept import kept_rows, rebuild
from server.log.perform import perform
from server.log.pieces import StartPieces
from server.log.readings import TakeReading
from server.plan.builds import AddBuild
from server.plan.dimensions import AddDimension, EditDimension
from server.plan.operations import AddOperation
from server.plan.parts import AddPart
from server.settings import Settings
from server.store.action import Action
from server.store.database import Database
from server.store.sqlite import set_pragmas

ROUNDS = 12
AT_A_TIME = 40  # readings a round
CLIENTS = 16
PIECES = 500
DIMENSIONS = 10
READINGS_EACH = 50


def main() -> None:
    with tempfile.TemporaryDirectory() as folder:
        database = Database(Settings(data=Path(folder)))
        try:
            part, pieces, dimensions = _plan(database)
            print(f"sqlite {sqlite3.sqlite_version}; {DIMENSIONS} dimensions a part, {ROUNDS} rounds of {AT_A_TIME}")
            _against_bare(database, Path(folder) / "bare.db", pieces, dimensions, "few readings")
            _fill(database, pieces, dimensions)
            _against_bare(database, Path(folder) / "bare.db", pieces, dimensions, f"{READINGS_EACH} a piece")
            _large_build(database, part, dimensions)
        finally:
            database.close()


def _do(database: Database, action: type[Action], **fields: object) -> dict[str, object]:
    return perform(database, action.read(fields), uuid4().hex)


def _plan(database: Database) -> tuple[int, list[int], list[int]]:
    """A part of three operations with its pieces, as a builder would enter it."""
    build = _do(database, AddBuild, name="proof press")["build_id"]
    part = _do(database, AddPart, build_id=build, number="CR", name="connecting rod", needed=PIECES)["part_id"]
    for number in (10, 20, 30):
        _do(database, AddOperation, part_id=part, number=number, name=f"step {number}")
    dimensions = [
        _do(
            database,
            AddDimension,
            part_id=part,
            number=f"D{place}",
            name=f"bore {place}",
            requirement="25 ±0.02",
            cutting="larger",
            operation_number=10 * (place % 3 + 1),
        )["dimension_id"]
        for place in range(DIMENSIONS)
    ]
    pieces: list[int] = []
    while len(pieces) < PIECES:
        pieces += _do(database, StartPieces, part_id=part, count=50)["piece_ids"]  # type: ignore[operator]
    return part, pieces, dimensions  # type: ignore[return-value]


class Bare:
    """The least a log could do: a spine row, a reading and the client's key, and a commit."""

    def __init__(self, file: Path) -> None:
        self._connection = sqlite3.connect(file, isolation_level=None, check_same_thread=False)
        set_pragmas(self._connection)
        self._connection.executescript(
            "CREATE TABLE IF NOT EXISTS entry (id INTEGER PRIMARY KEY, build_id INTEGER, kind TEXT, at TEXT, who TEXT);"
            "CREATE TABLE IF NOT EXISTS reading"
            "  (id INTEGER PRIMARY KEY, piece_id INTEGER, dimension_id INTEGER, nm INTEGER);"
            "CREATE TABLE IF NOT EXISTS key (key TEXT PRIMARY KEY, hash TEXT, answer TEXT);"
        )
        self._lock = threading.Lock()

    def log(self, piece: int, dimension: int) -> None:
        with self._lock:
            self._connection.execute("BEGIN IMMEDIATE")
            entry = self._connection.execute(
                "INSERT INTO entry (build_id, kind, at, who) VALUES (1, 'reading', '2026-05-01 20:15:00', 'me')"
            ).lastrowid
            self._connection.execute("INSERT INTO reading VALUES (?, ?, ?, 25010000)", (entry, piece, dimension))
            self._connection.execute("INSERT INTO key VALUES (?, 'hash', '{}')", (uuid4().hex,))
            self._connection.execute("COMMIT")

    def close(self) -> None:
        self._connection.close()


def _against_bare(database: Database, file: Path, pieces: list[int], dimensions: list[int], called: str) -> None:
    bare = Bare(file)

    def ours(piece: int, dimension: int) -> None:
        _do(database, TakeReading, piece_id=piece, dimension_id=dimension, value="25.01")

    ways: dict[str, Callable[[int, int], None]] = {"bare sqlite3": bare.log, "server.log": ours}
    one: dict[str, list[float]] = {way: [] for way in ways}
    many: dict[str, list[float]] = {way: [] for way in ways}
    for _ in range(ROUNDS):
        turns = [(way, clients) for way in ways for clients in (1, CLIENTS)]
        random.shuffle(turns)
        for way, clients in turns:
            asked = [(random.choice(pieces), random.choice(dimensions)) for _ in range(AT_A_TIME)]
            if clients == 1:
                for each in asked:
                    start = perf_counter()
                    ways[way](*each)
                    one[way].append(perf_counter() - start)
            else:
                with ThreadPoolExecutor(clients) as pool:
                    start = perf_counter()
                    list(pool.map(lambda each, way=way: ways[way](*each), asked))  # type: ignore[misc]
                    many[way].append(AT_A_TIME / (perf_counter() - start))
    bare.close()
    for way in ways:
        p50, p99 = statistics.median(one[way]), statistics.quantiles(one[way], n=100)[98]
        print(
            f"{called}: {way:12}  1 client p50 {p50 * 1e3:6.2f} ms  p99 {p99 * 1e3:6.2f} ms   "
            f"{CLIENTS} clients {statistics.median(many[way]):6.0f} readings/s"
        )
    ratio = statistics.median(one["server.log"]) / statistics.median(one["bare sqlite3"])
    rate = statistics.median(many["server.log"]) / statistics.median(many["bare sqlite3"])
    print(
        f"{called}: ratio         1 client {ratio:.2f} x                  {CLIENTS} clients {rate:.2f} x the readings/s"
    )


def _fill(database: Database, pieces: list[int], dimensions: list[int]) -> None:
    """Readings by the thousand, put straight into the tables; what follows from them is then made from the log."""

    def put(connection: object) -> None:
        bare: sqlite3.Connection = connection.connection.driver_connection  # type: ignore[attr-defined]
        first = bare.execute("SELECT max(id) + 1 FROM entry").fetchone()[0]
        rows = [
            (first + place, piece, dimensions[place % len(dimensions)])
            for place, piece in enumerate(piece for _ in range(READINGS_EACH) for piece in pieces)
        ]
        bare.executemany(
            "INSERT INTO entry VALUES (?, 1, 'reading', '2026-05-01 20:15:00', '2026-05-01 20:15:00', '', NULL, '')",
            [row[:1] for row in rows],
        )
        bare.executemany(
            "INSERT INTO reading (id, first_id, piece_id, dimension_id, limits_id, value_nm, typed, unit, entered_as, "
            "gauge) SELECT ?1, ?1, ?2, ?3, id, 25010000, '25.01', 'mm', 'absolute', '' FROM limits "
            "WHERE dimension_id = ?3 AND until IS NULL",
            rows,
        )
        rebuild(connection)  # type: ignore[arg-type]

    database.write(put)


def _large_build(database: Database, part: int, dimensions: list[int]) -> None:
    def median(job: Callable[[], object], times: int) -> float:
        taken = []
        for _ in range(times):
            start = perf_counter()
            job()
            taken.append(perf_counter() - start)
        return statistics.median(taken) * 1e3

    def read_board() -> None:
        with database.read() as connection:
            board(connection, 1)

    def edit() -> None:
        place = random.choice((1, 2, 3))
        fields = {"number": "D0", "name": "bore 0", "requirement": f"25 ±0.0{place}", "cutting": "larger"}
        _do(database, EditDimension, dimension_id=dimensions[0], operation_number=10, **fields)

    print(f"{PIECES} pieces with {READINGS_EACH} readings each: the board {median(read_board, 20):.1f} ms")
    print(f"{PIECES} pieces: changing a dimension {median(edit, 7):.0f} ms, writers waiting meanwhile")
    print(f"{PIECES} pieces: making every kept row again {median(lambda: database.write(rebuild), 5):.0f} ms")
    with database.read() as connection:
        kept = sum(len(rows) for rows in kept_rows(connection).values())
    print(f"{kept} kept rows")


if __name__ == "__main__":
    main()
