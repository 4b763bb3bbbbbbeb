"""Sets of coupled cranks for the property tests: two to four shafts, pins and knuckles, errors to a few hundredths."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

from hypothesis import strategies as st

from server.trade.turnover_train import JOINTS, CrankSide, Dimension, Joint, TrainGeometry

CENTRES_NM, THROW_NM, KNUCKLE_NM = 120_000_000, 20_000_000, 30_000_000

errors = st.integers(-50_000, 50_000)
clearances = st.integers(0, 60_000)


@st.composite
def sides(draw: Any, shafts: int, pins_only: bool, play: bool) -> CrankSide:
    kinds: st.SearchStrategy[Joint] = st.just("pin") if pins_only else st.sampled_from(JOINTS)
    joints = tuple(draw(kinds) for _ in range(shafts - 2))
    rods = [CENTRES_NM + draw(errors) for _ in range(shafts - 1)]
    for shaft, joint in enumerate(joints, 1):
        if joint != "pin":
            rods[shaft if joint == "knuckle after" else shaft - 1] -= KNUCKLE_NM
    return CrankSide(
        centres_nm=tuple(CENTRES_NM + draw(errors) for _ in range(shafts - 1)),
        rods_nm=tuple(rods),
        throws_nm=tuple(THROW_NM + draw(errors) for _ in range(shafts)),
        rod_clearances_nm=tuple((draw(clearances), draw(clearances)) for _ in range(shafts - 1)),
        shaft_clearances_nm=tuple(draw(clearances) if play else 0 for _ in range(shafts)),
        joints=joints,
        knuckle_offsets_nm=tuple(0 if joint == "pin" else KNUCKLE_NM for joint in joints),
    )


@st.composite
def trains(draw: Any, most_shafts: int = 4, pins_only: bool = False, play: bool = True) -> TrainGeometry:
    shafts = draw(st.integers(2, most_shafts))
    return TrainGeometry(
        draw(sides(shafts, pins_only, play)),
        draw(sides(shafts, pins_only, play)),
        tuple(draw(st.floats(-0.2, 0.2)) for _ in range(shafts)),
        draw(st.sampled_from((90.0, -90.0, 120.0, 72.0))),
    )


def two_shafts(
    near_rod_off: int = 0, far_rod_off: int = 0, clearance: int = 0, quartering_deg: float = 0.0, **more: Any
) -> TrainGeometry:
    """Two shafts, shaft centres longer than the rods by what is asked [nm], one clearance in all rod bores."""
    bores = ((clearance, clearance),)
    near, far = (
        replace(CrankSide((CENTRES_NM,), (CENTRES_NM - off,), (THROW_NM, THROW_NM), bores), **more)
        for off in (near_rod_off, far_rod_off)
    )
    return TrainGeometry(near, far, (0.0, quartering_deg))


def larger(train: TrainGeometry, which: Dimension, nm: int) -> TrainGeometry:
    """The same set with one dimension larger by `nm` [nm], or a quartering by as many millionths of a degree."""
    if which.kind == "quartering":
        errors_deg = [train.quartering(shaft) for shaft in range(train.shafts)]
        errors_deg[which.place] += nm / 1e6
        return replace(train, quartering_deg=tuple(errors_deg))
    assert which.side
    side = train.side(which.side)
    place = which.place

    def grown(lengths: tuple[int, ...], at: int) -> tuple[int, ...]:
        return (*lengths[:at], lengths[at] + nm, *lengths[at + 1 :])

    if which.kind == "centres":
        side = replace(side, centres_nm=grown(side.centres_nm, place))
    elif which.kind == "rod":
        side = replace(side, rods_nm=grown(side.rods_nm, place))
    elif which.kind == "throw":
        side = replace(side, throws_nm=grown(side.throws_nm, place))
    elif which.kind == "knuckle offset":
        side = replace(side, knuckle_offsets_nm=grown(side.knuckle_offsets_nm, place - 1))
    elif which.kind == "shaft bearing":
        side = replace(side, shaft_clearances_nm=grown(side.shaft_clearances_nm, place))
    else:
        flat = grown(tuple(nm for pair in side.rod_clearances_nm for nm in pair), place)
        side = replace(side, rod_clearances_nm=tuple(zip(flat[::2], flat[1::2], strict=True)))
    return replace(train, **{which.side: side})
