"""The prior from the shop's own cuts: a machine in simulation, whose habits are known, is found again."""

from __future__ import annotations

import math
import random

import pytest

from server.trade.errors import Impossible
from server.trade.machine_habits import prior_from_log
from server.trade.next_cut import Cut, Prior

MM = 1_000_000


def log_of(habits: Prior, jobs: int, seed: int, cuts: int = 3) -> list[list[Cut]]:
    rng = random.Random(seed)
    made = []
    for _ in range(jobs):
        offset, spring = rng.gauss(habits.offset_nm, habits.u_offset_nm), rng.gauss(habits.spring, habits.u_spring)
        size, job = 21 * MM, []
        for _ in range(cuts):
            commanded = size - rng.randrange(50_000, 600_000)
            measured = round(commanded + offset + spring * (size - commanded) + rng.gauss(0, habits.scatter_nm))
            job.append(Cut(size, commanded, measured))
            size = measured
        made.append(job)
    return made


@pytest.mark.parametrize("seed", range(3))
def test_habits_of_a_machine_are_found_again(seed: int) -> None:
    true = Prior(8_000, 15_000, 0.04, 0.02, 3_000)
    found = prior_from_log(log_of(true, 200, seed))
    assert found.offset_nm == pytest.approx(true.offset_nm, abs=4 * 15_000 / math.sqrt(200))
    assert found.u_offset_nm == pytest.approx(true.u_offset_nm, rel=0.25)
    assert found.spring == pytest.approx(true.spring, abs=4 * 0.025 / math.sqrt(200))
    assert found.u_spring == pytest.approx(true.u_spring, rel=0.3)
    assert found.scatter_nm == pytest.approx(true.scatter_nm, rel=0.15)
    assert found.standing == "the shop's log"


def likelihood(prior: Prior, jobs: list[list[Cut]]) -> float:
    """Log likelihood of a log, by the whole covariance of each job at once, through numpy."""
    import numpy as np

    total = 0.0
    for job in jobs:
        depth = np.array([cut.previous_nm - cut.commanded_nm for cut in job], dtype=float)
        rest = np.array([cut.measured_nm - cut.commanded_nm for cut in job]) - prior.offset_nm - prior.spring * depth
        spread = prior.u_offset_nm**2 + prior.u_spring**2 * np.outer(depth, depth)
        spread = spread + prior.scatter_nm**2 * np.eye(len(job))
        total -= 0.5 * (rest @ np.linalg.solve(spread, rest) + np.linalg.slogdet(spread)[1])
    return total


def test_no_figure_moved_by_a_little_makes_the_log_likelier() -> None:
    jobs = log_of(Prior(8_000, 15_000, 0.04, 0.02, 3_000), 30, 7)
    found = prior_from_log(jobs)
    narrowed = math.sqrt(29 / 31)  # the widening for few jobs taken back
    figures = [
        found.offset_nm,
        found.u_offset_nm * narrowed,
        found.spring,
        found.u_spring * narrowed,
        found.scatter_nm,
    ]
    best = likelihood(Prior(*figures), jobs)
    for i in range(5):
        for factor in (0.97, 1.03):
            moved = [value * factor if j == i else value for j, value in enumerate(figures)]
            assert likelihood(Prior(*moved), jobs) < best


def test_order_of_the_jobs_does_not_matter() -> None:
    jobs = log_of(Prior(0, 15_000, 0.03, 0.02, 3_000), 12, 3)
    one, other = prior_from_log(jobs), prior_from_log(jobs[::-1])
    assert one.u_offset_nm == pytest.approx(other.u_offset_nm, rel=1e-4)
    assert one.scatter_nm == pytest.approx(other.scatter_nm, rel=1e-4)


def test_too_little_to_learn_from() -> None:
    habits = Prior(0, 15_000, 0.03, 0.02, 3_000)
    for jobs in ([], log_of(habits, 7, 1), log_of(habits, 20, 1, cuts=1)):
        with pytest.raises(Impossible) as told:
            prior_from_log(jobs)
        assert told.value.field == "jobs"


def test_log_that_was_not_measured_is_refused() -> None:
    jobs = [[Cut(21 * MM, 20 * MM, 20 * MM), Cut(20 * MM, 19_500_000, 19_500_000)] for _ in range(10)]
    with pytest.raises(Impossible) as told:
        prior_from_log(jobs)
    assert "nanometre" in told.value.why
