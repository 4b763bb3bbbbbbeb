"""The process is killed while readings come in: what was acknowledged is there, and what is there is sound."""

from __future__ import annotations

import os
import random
import signal
import sqlite3
import subprocess
import sys
from pathlib import Path

import pytest

from server.settings import ROOT, Settings
from server.store.database import Database
from tests.shop import Shop

# Writes readings from several threads and prints the number of each once it is acknowledged.
CHILD = """
import os, sys, threading
from pathlib import Path
from server.settings import Settings
from server.store.database import Database
from tests.shop import Shop

folder, pieces, dimension = Path(sys.argv[1]), [int(each) for each in sys.argv[2].split(",")], int(sys.argv[3])
shop = Shop(Database(Settings(data=folder)))

def write(piece):
    for count in range(100_000):
        reading = shop.read(piece, dimension, f"25.{count % 50:03d}")
        os.write(1, b"%d\\n" % reading)

for piece in pieces:
    threading.Thread(target=write, args=(piece,)).start()
"""
THREADS = 6
ROUNDS = 4


@pytest.mark.parametrize("round_", range(ROUNDS))
def test_every_acknowledged_reading_survives_the_kill(settings: Settings, round_: int) -> None:
    database = Database(settings)
    shop = Shop(database)
    part = shop.part(shop.build())
    bore = shop.dimension(part, requirement="25 ±0.02")
    pieces = shop.pieces(part, THREADS)
    database.close()
    count = random.Random(round_).randint(5, 150)
    acknowledged = _readings_until_killed(settings.data, pieces, bore, kill_after=count)
    assert len(acknowledged) >= count

    bare = sqlite3.connect(settings.database)
    assert bare.execute("PRAGMA integrity_check").fetchall() == [("ok",)]
    assert bare.execute("PRAGMA foreign_key_check").fetchall() == []
    there = {row[0] for row in bare.execute("SELECT id FROM reading")}
    half = bare.execute(
        "SELECT id FROM entry WHERE kind = 'reading' AND id NOT IN (SELECT id FROM reading) UNION "
        "SELECT piece_id FROM reading WHERE piece_id NOT IN (SELECT piece_id FROM latest_reading)"
    ).fetchall()
    bare.close()
    assert acknowledged - there == set()
    assert half == []

    database = Database(settings)
    kept, rebuilt = Shop(database).kept_and_rebuilt()
    database.close()
    assert kept == rebuilt


def _readings_until_killed(folder: Path, pieces: list[int], dimension: int, kill_after: int) -> set[int]:
    """The numbers the child acknowledged until it was killed in the midst of writing."""
    marks = ",".join(str(piece) for piece in pieces)
    child = subprocess.Popen(
        [sys.executable, "-c", CHILD, str(folder), marks, str(dimension)], stdout=subprocess.PIPE, text=True, cwd=ROOT
    )
    assert child.stdout is not None
    lines = [child.stdout.readline() for _ in range(kill_after)]
    os.kill(child.pid, signal.SIGKILL)
    rest, _ = child.communicate()
    assert child.returncode == -signal.SIGKILL
    # A line without its end was cut off by the kill: nobody has read that acknowledgement.
    whole = [line for line in [*lines, *rest.splitlines(keepends=True)] if line.endswith("\n")]
    return {int(line) for line in whole}
