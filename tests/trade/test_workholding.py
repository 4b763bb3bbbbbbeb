"""Clamps, friction, V-blocks and packing."""

from __future__ import annotations

from itertools import combinations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from server.trade.errors import Impossible, OutOfRange
from server.trade.workholding import (
    FRICTION,
    MOST_PIECES,
    Packing,
    choose_packing,
    clamping_needed_n,
    holding_force_n,
    strap_clamp,
    v_block_rise,
)

MM = 1_000_000
lengths = st.integers(1, 300 * MM)
forces = st.floats(1, 1e6)


@given(forces, lengths, lengths)
def test_a_strap_clamp_gives_all_its_force_and_balances(bolt: float, to_work: int, to_heel: int) -> None:
    share = strap_clamp(bolt, to_work, to_heel)
    assert share.work_n + share.heel_n == pytest.approx(bolt)
    assert share.work_n * to_work == pytest.approx(share.heel_n * to_heel)


def test_a_bolt_a_third_of_the_way_from_the_work_gives_it_two_thirds() -> None:
    assert strap_clamp(9000, 20 * MM, 40 * MM).work_n == pytest.approx(6000)


@given(forces, st.floats(0.05, 0.5), st.sampled_from([1, 2]), st.floats(1, 5))
def test_hold_and_clamping_undo_each_other(force: float, mu: float, faces: int, safety: float) -> None:
    needed = clamping_needed_n(force, mu, faces, safety)
    assert holding_force_n(needed, mu, faces, safety) == pytest.approx(force)


def test_oil_takes_hold_away() -> None:
    oily = holding_force_n(10_000, FRICTION["steel on steel or iron, oily"])
    assert oily < holding_force_n(10_000, FRICTION["steel on steel or iron, dry"])
    assert oily == pytest.approx(1000)


@given(st.integers(-MM, MM), st.floats(30, 150))
def test_a_v_block_rises_and_falls_alike(change: int, angle: float) -> None:
    up, down = v_block_rise(change, angle), v_block_rise(-change, angle)
    assert up.centre_nm == -down.centre_nm
    assert up.top_nm - up.centre_nm == pytest.approx(change / 2, abs=1)


def every_stack(pieces: list[int], target: int) -> tuple[int, int, int]:
    """The best (off, count, total) by trying all of them."""
    return min(
        (abs(sum(stack) - target), count, sum(stack))
        for count in range(len(pieces) + 1)
        for stack in combinations(pieces, count)
    )


@given(st.lists(st.integers(1, 40), min_size=1, max_size=9), st.integers(0, 200))
def test_the_stack_chosen_is_the_best_of_all(pieces: list[int], target: int) -> None:
    packing = choose_packing(pieces, target)
    total = sum(packing.pieces_nm)
    assert (abs(packing.off_nm), len(packing.pieces_nm), packing.total_nm) == every_stack(pieces, target)
    assert packing.total_nm == total
    assert packing.off_nm == total - target
    left = list(pieces)
    for piece in packing.pieces_nm:
        left.remove(piece)  # each piece is there, and is used once


def test_two_pieces_are_preferred_to_three_that_make_the_same() -> None:
    assert choose_packing([1 * MM, 2 * MM, 3 * MM, 4 * MM], 7 * MM).pieces_nm == (4 * MM, 3 * MM)


def test_of_two_stacks_as_near_the_thinner_is_taken() -> None:
    assert choose_packing([4 * MM, 6 * MM], 5 * MM) == Packing((4 * MM,), 4 * MM, -1 * MM)


def test_nothing_is_under_the_end_where_every_piece_is_too_thick() -> None:
    assert choose_packing([10 * MM], 2 * MM) == Packing((), 0, -2 * MM)


def test_inch_and_millimetre_pieces_meet_exactly() -> None:
    packing = choose_packing([3_175_000, 1_600_000, 800_000, 127_000], 4_902_000)
    assert packing == Packing((3_175_000, 1_600_000, 127_000), 4_902_000, 0)


def test_as_many_pieces_as_are_allowed_are_all_tried() -> None:
    pieces = [1_000 + 37 * number * number for number in range(MOST_PIECES)]
    target = sum(pieces[::3])
    assert choose_packing(pieces, target).off_nm == 0


def test_no_packing_too_much_of_it_or_none_that_is_one_is_told() -> None:
    with pytest.raises(Impossible, match="1 to 32 pieces"):
        choose_packing([], MM)
    with pytest.raises(Impossible, match="1 to 32 pieces"):
        choose_packing([MM] * (MOST_PIECES + 1), MM)
    with pytest.raises(OutOfRange, match="more than 0"):
        choose_packing([MM, 0], MM)
    with pytest.raises(OutOfRange, match="0 or more"):
        choose_packing([MM], -1)


def test_figures_that_hold_nothing_are_refused() -> None:
    for refused in (
        lambda: strap_clamp(0, MM, MM),
        lambda: strap_clamp(100, 0, MM),
        lambda: strap_clamp(100, MM, 0),
        lambda: holding_force_n(0, 0.1),
        lambda: holding_force_n(100, 0),
        lambda: holding_force_n(100, 1.1),
        lambda: clamping_needed_n(0, 0.1),
    ):
        with pytest.raises(OutOfRange, match="more than 0"):
            refused()
    with pytest.raises(OutOfRange, match="1 or 2"):
        holding_force_n(100, 0.1, 3)
    with pytest.raises(OutOfRange, match="1 or more"):
        holding_force_n(100, 0.1, 2, 0.5)
    with pytest.raises(OutOfRange, match="less than 180"):
        v_block_rise(MM, 180)
