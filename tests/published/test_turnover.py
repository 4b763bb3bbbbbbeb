"""Turning over coupled cranks against cases worked out by hand, and a linear programme of every part's position.

The cases are computed, for this project; there is no published table. The programme (scipy's HiGHS) knows nothing of
ways, pairs or round trips: it places every rod by x, y and angle and every shaft within its bearings, and asks for the
least opening of all rod bores with which each pin is inside its bore.
"""

from __future__ import annotations

import json
import math
from itertools import product
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from scipy.optimize import linprog

from server.trade.turnover import turn_over
from server.trade.turnover_first_order import first_order
from server.trade.turnover_forecast import Spread, forecast
from server.trade.turnover_pair import openings
from server.trade.turnover_remedy import bearing_openings
from server.trade.turnover_train import CrankSide, Dimension, TrainGeometry

CASES: list[dict[str, Any]] = json.loads(Path(__file__).with_name("turnover_cases.json").read_text("utf-8"))["cases"]
BY_NAME = {case["name"]: case for case in CASES}


def nm(lengths: list[float]) -> tuple[int, ...]:
    return tuple(round(mm * 1e6) for mm in lengths)


def side_of(case: dict[str, Any]) -> CrankSide:
    return CrankSide(
        centres_nm=nm(case["centres"]),
        rods_nm=nm(case["rods"]),
        throws_nm=nm(case["throws"]),
        rod_clearances_nm=tuple((a, b) for a, b in map(nm, case["rod_clearances"])),
        shaft_clearances_nm=nm(case["shaft_clearances"]),
        joints=tuple(case["joints"]),
        knuckle_offsets_nm=nm(case["knuckle_offsets"]),
    )


def train_of(case: dict[str, Any]) -> TrainGeometry:
    quartering = tuple(case["quartering_deg"])
    return TrainGeometry(side_of(case["near"]), side_of(case["far"]), quartering, case["between_sides_deg"])


@pytest.mark.parametrize("case", CASES, ids=list(BY_NAME))
def test_shortage_and_worst_angles_of_the_hand_worked_cases(case: dict[str, Any]) -> None:
    found = turn_over(train_of(case))
    assert found.shortage_nm / 1e6 == pytest.approx(case["shortage"], abs=case["tolerance"])
    assert found.turns == (case["shortage"] <= 0)
    for angle in case.get("worst_deg", []):
        assert any(arc.holds(angle) for arc in found.worst_arcs), angle
    assert sum(part.nm for part in found.contributions) == pytest.approx(found.shortage_nm, abs=1e-3)


def test_a_mirrored_set_binds_at_the_mirrored_angles_only() -> None:
    found = turn_over(train_of(BY_NAME["far cranks behind the near ones"]))
    assert [round(arc.middle_deg / 5) * 5 for arc in found.worst_arcs] == [45]


SLOPES = {  # computed; in mm for each mm, and for each radian of quartering
    ("centres", "near"): 0.5,
    ("rod", "near"): -0.5,
    ("centres", "far"): 0.5,
    ("rod bearing", "near"): -0.25,
    ("shaft bearing", "near"): -0.25,
    ("throw", "near"): 0.353553,
}


def test_slopes_of_the_short_rods_out_of_quarter() -> None:
    train = train_of(BY_NAME["the same with 0.05 in every rod bore"])
    slope = {(s.dimension.kind, s.dimension.side): s for s in turn_over(train).sensitivities if s.dimension.place == 0}
    for which, wanted in SLOPES.items():
        assert slope[which].at_worst == pytest.approx(wanted, abs=1e-3)
        assert slope[which].least < wanted < slope[which].most
    a_radian = math.degrees(slope["quartering", ""].at_worst) / 1e6
    assert a_radian == pytest.approx(-20 / (2 * math.sqrt(2)), rel=2e-3)


def test_one_bore_alone_needs_more_than_four_times_the_shortage() -> None:
    # computed: 0.019455 near, 0.019453 far
    train = train_of(BY_NAME["the same with 0.05 in every rod bore"])
    for each in bearing_openings(train):
        wanted = 19_454.7324 if each.bearing.side == "near" else 19_452.5743
        assert each.opening_nm == pytest.approx(wanted, abs=2)
        assert each.opening_nm > 4 * turn_over(train).shortage_nm


def test_probability_of_a_normal_quartering_error() -> None:
    # computed: P(R |dq|/(2√2) ≤ C) = 2 Φ(0.24309/0.2) − 1, R 20, C 0.03
    side = CrankSide((120_000_000,), (120_000_000,), (20_000_000,) * 2, ((30_000, 30_000),))
    found = forecast(TrainGeometry(side, side), [Spread(Dimension("quartering", "", 1), 0.2)], samples=40_000)
    assert found.turns == pytest.approx(0.7757967, abs=0.008)  # four standard deviations of so many draws


def programme_shortage_um(train: TrainGeometry, angle_deg: float) -> float:
    """The least opening of all rod bores [µm] at one angle, by placing every part; bores are 32-sided."""
    shafts, columns = train.shafts, {"opening": 0}
    columns |= {f"phase {i}": len(columns) + i - 1 for i in range(1, shafts)}
    rows: list[dict[str, float]] = []
    limits: list[float] = []
    facing = [(math.cos(a), math.sin(a)) for a in np.arange(32) * math.pi / 16]

    def column(name: str) -> str:
        columns.setdefault(name, len(columns))
        return name

    def inside(parts: list[dict[str, float]], fixed: list[float], clearance_um: float, opens: bool) -> None:
        for ux, uy in facing:
            row: dict[str, float] = {}
            for along, part in zip((ux, uy), parts, strict=True):
                for name, factor in part.items():
                    row[name] = row.get(name, 0.0) + along * factor
            if opens:
                row["opening"] = row.get("opening", 0.0) - 0.5
            rows.append(row)
            limits.append(clearance_um / 2 - ux * fixed[0] - uy * fixed[1])

    for name, ahead_deg in (("near", 0.0), ("far", train.far_from_near_deg)):
        side = train.near if name == "near" else train.far
        psi = math.radians(angle_deg + ahead_deg)
        radius_um = side.mean_throw_nm / 1e3
        shaft_um = [sum(side.centres_nm[:i]) / 1e3 for i in range(shafts)]
        pin_moves: list[list[dict[str, float]]] = []
        pin_at: list[list[float]] = []
        for i in range(shafts):
            box = [column(f"{name} shaft {i} x"), column(f"{name} shaft {i} y")]
            inside([{box[0]: 1.0}, {box[1]: 1.0}], [0.0, 0.0], side.shaft_clearance_nm(i) / 1e3, opens=False)
            turned = [-radius_um * math.sin(psi), radius_um * math.cos(psi)]
            error = math.radians(train.quartering(i) - train.mean_quartering_deg) if name == "far" else 0.0
            out = side.throws_nm[i] / 1e3 - radius_um
            pin_at.append(
                [shaft_um[i] + out * math.cos(psi) + turned[0] * error, out * math.sin(psi) + turned[1] * error]
            )
            phase = {f"phase {i}": 1.0} if i else {}
            pin_moves.append([{box[n]: 1.0, **{which: turned[n] * by for which, by in phase.items()}} for n in (0, 1)])
        ideal_um = 0.0  # where the rod's first pin would be, rods end to end
        place_um: list[float] = []  # of each rod's first bore
        for rod, length_nm in enumerate(side.rods_nm):
            before = side.joint(rod) == "knuckle after"
            place_um.append(ideal_um + (side.knuckle_offset_nm(rod) / 1e3 if before else 0.0))
            after = side.joint(rod + 1) == "knuckle before"
            ideal_um = place_um[-1] + length_nm / 1e3 + (side.knuckle_offset_nm(rod + 1) / 1e3 if after else 0.0)

        def bore(rod: int, along_um: float, name: str = name) -> list[dict[str, float]]:
            """How a point of a rod moves with the rod's own position; the angle is in rod lengths of 100 mm."""
            x, y, turn = (column(f"{name} rod {rod} {what}") for what in ("x", "y", "turn"))
            return [{x: 1.0}, {y: 1.0, turn: along_um / 1e5}]

        def apart(a: list[dict[str, float]], b: list[dict[str, float]]) -> list[dict[str, float]]:
            return [
                {which: one.get(which, 0.0) - other.get(which, 0.0) for which in {*one, *other}}
                for one, other in zip(a, b, strict=True)
            ]

        for rod, end in product(range(shafts - 1), (0, 1)):
            shaft, clearance = rod + end, side.rod_clearances_nm[rod][end] / 1e3
            mine_um = place_um[rod] + end * side.rods_nm[rod] / 1e3
            knuckled = side.joint(shaft) == ("knuckle before" if end else "knuckle after")
            if knuckled:  # its bore runs on a pin carried by the neighbour's rod
                carrier = rod + (1 if end else -1)
                offset = side.knuckle_offset_nm(shaft) / 1e3 * (-1 if end else 1)
                own_um = (place_um[carrier] if end else place_um[carrier] + side.rods_nm[carrier] / 1e3) + offset
                moves = apart(bore(carrier, own_um), bore(rod, mine_um))
                inside(moves, [own_um - mine_um, 0.0], clearance, opens=True)
            else:
                moves = apart(pin_moves[shaft], bore(rod, mine_um))
                inside(moves, [pin_at[shaft][0] - mine_um, pin_at[shaft][1]], clearance, opens=True)
    matrix = np.zeros((len(rows), len(columns)))
    for n, row in enumerate(rows):
        for which, factor in row.items():
            matrix[n, columns[which]] = factor
    for i in range(1, shafts):
        matrix[:, columns[f"phase {i}"]] *= 1e-3  # in milliradians, so that all unknowns are of one size
    cost = np.zeros(len(columns))
    cost[0] = 1.0
    found = linprog(cost, A_ub=matrix, b_ub=limits, bounds=[(None, None)] * len(columns), method="highs")
    assert found.status == 0, found.message
    return float(found.fun)


def random_train(random: np.random.Generator, shafts: int) -> TrainGeometry:
    def off(width: int, count: int, least: int = -1) -> list[int]:
        return random.integers(width * least, width + 1, count).tolist()

    def side(throw_nm: int) -> CrankSide:
        joints = tuple(random.choice(["pin", "knuckle before", "knuckle after"], shafts - 2).tolist())
        offsets = tuple(0 if joint == "pin" else 30_000_000 for joint in joints)
        rods = [120_000_000 + nm for nm in off(60_000, shafts - 1)]
        for shaft, joint in enumerate(joints, 1):
            if joint != "pin":
                rods[shaft if joint == "knuckle after" else shaft - 1] -= 30_000_000
        bores = off(60_000, 2 * (shafts - 1), 0)
        return CrankSide(
            centres_nm=tuple(120_000_000 + nm for nm in off(60_000, shafts - 1)),
            rods_nm=tuple(rods),
            throws_nm=tuple(throw_nm + nm for nm in off(40_000, shafts)),
            rod_clearances_nm=tuple(zip(bores[::2], bores[1::2], strict=True)),
            shaft_clearances_nm=tuple(off(40_000, shafts, 0)),
            joints=joints,
            knuckle_offsets_nm=offsets,
        )

    throws = random.choice([20_000_000, 26_000_000], 2).tolist()
    between = float(random.choice([90.0, -90.0, 60.0, 130.0]))
    return TrainGeometry(*map(side, throws), tuple(random.uniform(-0.2, 0.2, shafts).tolist()), between)


@pytest.mark.parametrize("seed", range(16))
def test_the_programme_of_every_position_finds_the_same_shortage(seed: int) -> None:
    random = np.random.default_rng(seed)
    train = random_train(random, 2 + seed % 4)
    dead = -train.far_from_near_deg % 360.0
    angles = np.array([0.0, dead, *random.uniform(0, 360, 3)])
    found = openings(first_order(train), angles, first_order(train).bores / 2)
    for angle, shortage_nm in zip(angles.tolist(), found.needed.tolist(), strict=True):
        programme = programme_shortage_um(train, angle)
        least = -train.least_rod_clearance_nm / 1e3
        assert max(shortage_nm / 1e3, least) == pytest.approx(max(programme, least), abs=1e-4)
