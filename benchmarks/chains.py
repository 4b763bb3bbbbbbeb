"""How long a chain of twelve members takes with a million samples, against the same sum in bare numpy.

Run it with: python -m benchmarks.chains

Both are measured in turn, several times, since the machine may be busy; the ratio is what counts, and it is to be at
most 1.5. The base does what cannot be left out: draw, sum, quantiles, count.
"""

from __future__ import annotations

import statistics
from time import perf_counter

import numpy as np

from server.trade.chain_sampling import sample_chain
from server.trade.chains import Drawn, Spread

SAMPLES = 1_000_000
ROUNDS = 7
LIMITS_NM = (-40_000, 40_000)
SPREADS: tuple[Spread, ...] = ("normal", "rectangular", "rectangular")
MEMBERS = [Drawn(f"member {i}", 1 if i % 2 else -1, 9_988_000, 10_012_000, SPREADS[i % 3]) for i in range(12)]


def bare() -> float:
    rng = np.random.default_rng(1)
    total = np.zeros(SAMPLES)
    for each in MEMBERS:
        if each.spread == "normal":
            half = (each.high_nm - each.low_nm) / 2
            total += each.coefficient * rng.normal((each.low_nm + each.high_nm) / 2, half / 3, SAMPLES)
        else:
            total += each.coefficient * rng.uniform(each.low_nm, each.high_nm, SAMPLES)
    np.quantile(total, [0.025, 0.975])
    total.mean(), total.std()
    return float(((total >= LIMITS_NM[0]) & (total <= LIMITS_NM[1])).mean())


def ours() -> float:
    return sample_chain(MEMBERS, *LIMITS_NM, samples=SAMPLES).inside


def main() -> None:
    times: dict[str, list[float]] = {"bare": [], "ours": []}
    found: dict[str, float] = {}
    for _ in range(ROUNDS):
        for name, work in (("bare", bare), ("ours", ours)):
            begun = perf_counter()
            found[name] = work()
            times[name].append(perf_counter() - begun)
    ratio = statistics.median(a / b for a, b in zip(times["ours"], times["bare"], strict=True))
    print(f"inside the limits: {found['ours']:.5f}, in bare numpy {found['bare']:.5f}")
    for name, each in times.items():
        print(f"{name} {statistics.median(each) * 1000:.0f} ms")
    print(f"ratio {ratio:.2f} (at most 1.5 is wanted)")


if __name__ == "__main__":
    main()
