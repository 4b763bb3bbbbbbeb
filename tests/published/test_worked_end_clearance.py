"""End clearances against cases worked out by hand for this project: standing computed, each with its arithmetic."""

from __future__ import annotations

from dataclasses import replace

from server.trade.slider_crank import SliderCrank, end_clearances

MM = 1_000_000
BALANCED = SliderCrank(20 * MM, 100 * MM, 30 * MM, 12 * MM, 108_800_000, 54_400_000)


def test_balanced() -> None:
    """Computed: outer 108.8 + 54.4 − (100 + 20 + 30 + 12) = 1.2, inner 100 − 20 + 30 − 108.8 = 1.2; stroke 40."""
    found = end_clearances(BALANCED)
    assert (found.outer_nm, found.inner_nm, found.shim_nm, found.stroke_nm) == (1_200_000, 1_200_000, 0, 40 * MM)


def test_long_rod_moves_both_ends_opposite_ways() -> None:
    """Computed: rod 0.3 long: 0.9 and 1.5, shim −0.3, the sum still 54.4 − 12 − 40 = 2.4."""
    found = end_clearances(replace(BALANCED, rod_nm=100_300_000))
    assert (found.outer_nm, found.inner_nm, found.shim_nm, found.sum_nm) == (900_000, 1_500_000, -300_000, 2_400_000)
    assert found.evened_nm() == (1_200_000, 1_200_000)


def test_bearings_take_half_their_clearances_from_each_end() -> None:
    """Computed: 0.03 + 0.02 + 0.03: 0.04 off each end."""
    found = end_clearances(replace(BALANCED, clearances_nm=(30_000, 20_000, 30_000)))
    assert (found.loaded_outer_nm, found.loaded_inner_nm) == (1_160_000, 1_160_000)
    assert (found.outer_nm, found.inner_nm) == (1_200_000, 1_200_000)
    assert end_clearances(replace(BALANCED, clearances_nm=(1,))).loaded_outer_nm == 1_199_999


def test_offset_of_three() -> None:
    """Computed: √(120² − 9) = 119.962494, √(80² − 9) = 79.943730: 1.2375058612 and 1.1437302107."""
    found = end_clearances(replace(BALANCED, offset_nm=3 * MM))
    assert (found.outer_nm, found.inner_nm) == (1_237_506, 1_143_730)
    assert end_clearances(replace(BALANCED, offset_nm=-3 * MM)) == found
