"""How long a forecast of the turn-over takes: 10,000 sets drawn, 180 angles and the dead centres, one core.

Run it with: python -m benchmarks.turnover

Wanted: two shafts within 0.1 s, five within 0.5 s. The best of several runs counts; the load of the machine is told,
since other work on it makes every figure larger.
"""

from __future__ import annotations

import os

os.environ["OPENBLAS_NUM_THREADS"] = "1"  # before numpy is loaded

from collections.abc import Callable
from time import perf_counter, process_time

from server.trade.turnover import turn_over
from server.trade.turnover_forecast import Spread, forecast
from server.trade.turnover_remedy import bearing_openings, changes
from server.trade.turnover_train import CrankSide, TrainGeometry

RUNS = 7
SAMPLES = 10_000
ANGLES = 180
STANDARD_NM = {"quartering": 0.05}  # in degrees; all else 8 µm
WANTED_S = {2: 0.1, 5: 0.5}


def main() -> None:
    print(f"load {os.getloadavg()[0]:.1f} on {os.cpu_count()} cores; {SAMPLES} sets, {ANGLES} angles, best of {RUNS}")
    for shafts, play_nm in ((2, 0), (2, 20_000), (5, 0), (5, 20_000)):
        train = _train(shafts, play_nm)
        spreads = [
            Spread(each, STANDARD_NM.get(each.kind, 8_000.0)) for each in train.dimensions() if _varies(each.kind)
        ]
        how = "neighbours" if train.pairs_stand_alone else "every two"
        wall, busy, answer = [], [], None
        for _ in range(RUNS):
            started, started_busy = perf_counter(), process_time()
            answer = forecast(train, spreads, SAMPLES, ANGLES)
            wall.append(perf_counter() - started)
            busy.append(process_time() - started_busy)
        assert answer is not None
        print(
            f"{shafts} shafts, {how:11s} {len(spreads):2d} spreads: {min(wall):.3f} s "
            f"({min(busy):.3f} s of processor), wanted {WANTED_S[shafts]} s; turns {answer.turns:.3f}"
        )
        print(
            f"    one set turned over {_best(turn_over, train):.3f} s, every bore alone "
            f"{_best(bearing_openings, train):.3f} s, every dimension otherwise "
            f"{_best(_otherwise, train):.3f} s"
        )


def _varies(kind: str) -> bool:
    return kind not in ("centres", "knuckle offset", "shaft bearing")


def _otherwise(train: TrainGeometry) -> object:
    return changes(train, [each for each in train.dimensions() if not each.kind.endswith("bearing")])


def _best(work: Callable[[TrainGeometry], object], train: TrainGeometry) -> float:
    times = []
    for _ in range(3):
        started = perf_counter()
        work(train)
        times.append(perf_counter() - started)
    return min(times)


def _train(shafts: int, play_nm: int) -> TrainGeometry:
    side = CrankSide(
        centres_nm=(120_010_000,) * (shafts - 1),
        rods_nm=(120_000_000,) * (shafts - 1),
        throws_nm=(20_000_000,) * shafts,
        rod_clearances_nm=((60_000, 60_000),) * (shafts - 1),
        shaft_clearances_nm=(play_nm,) * shafts,
    )
    return TrainGeometry(side, side, (0.0,) * shafts)


if __name__ == "__main__":
    main()
