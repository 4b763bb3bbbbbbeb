from __future__ import annotations

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from server.trade.errors import Impossible, OutOfRange
from server.trade.position import (
    AtMaximumMaterial,
    fastener_tolerance,
    position_against,
    position_nm,
    virtual_condition_nm,
)

OFFSETS = st.integers(-(10**9), 10**9)


@given(OFFSETS, OFFSETS)
def test_position_is_the_nearest_whole_nanometre(dx: int, dy: int) -> None:
    found = position_nm(dx, dy)
    true_square = 4 * (dx * dx + dy * dy)
    assert (found + Fraction(1, 2)) ** 2 >= true_square
    assert found == 0 or (found - Fraction(1, 2)) ** 2 <= true_square


@given(OFFSETS, OFFSETS)
def test_position_does_not_mind_signs_or_axes(dx: int, dy: int) -> None:
    assert position_nm(dx, dy) == position_nm(-dy, dx) == position_nm(-dx, -dy)


def test_three_four_five() -> None:
    assert position_nm(30_000, 40_000) == 100_000
    assert position_against(30_000, 40_000, 100_000).holds
    assert not position_against(30_000, 40_000, 99_999).holds


def test_a_hair_past_the_zone_is_past_it() -> None:
    """2√(1² + 1²) = 2.83 nm: a zone of 3 holds it, one of 2 does not."""
    assert position_against(1, 1, 3).holds
    assert not position_against(1, 1, 2).holds


@pytest.mark.parametrize(("actual", "bonus"), [(10_000_000, 0), (10_020_000, 20_000), (10_050_000, 50_000)])
def test_hole_gains_what_it_is_larger_than_its_smallest(actual: int, bonus: int) -> None:
    assert AtMaximumMaterial("hole", 10_000_000, 10_050_000, actual).bonus_nm == bonus


@pytest.mark.parametrize("feature", ["hole", "pin"])
@pytest.mark.parametrize("actual", [9_990_000, 10_060_000])
def test_feature_out_of_size_gains_nothing_and_does_not_hold(feature: str, actual: int) -> None:
    at = AtMaximumMaterial(feature, 10_000_000, 10_050_000, actual)  # type: ignore[arg-type]
    found = position_against(0, 0, 100_000, at)
    assert (found.bonus_nm, found.allowed_nm, found.in_size, found.holds) == (0, 100_000, False, False)


@given(st.sampled_from(["hole", "pin"]), st.integers(0, 100_000), st.integers(-(10**5), 2 * 10**5))
def test_bonus_is_never_negative_nor_more_than_the_size_tolerance(feature: str, tolerance: int, actual: int) -> None:
    at = AtMaximumMaterial(feature, 0, tolerance, actual)  # type: ignore[arg-type]
    assert 0 <= at.bonus_nm <= tolerance


@given(st.integers(1, 10**6), st.integers(0, 10**6), st.integers(0, 10**6))
def test_bonus_never_lets_metal_past_the_virtual_condition(tolerance: int, size_tolerance: int, larger: int) -> None:
    """A hole at its worst position still clears a pin of virtual size: actual − allowed is constant."""
    actual = min(larger, size_tolerance)
    at = AtMaximumMaterial("hole", 0, size_tolerance, actual)
    assert actual - position_against(0, 0, tolerance, at).allowed_nm == virtual_condition_nm("hole", 0, tolerance)


@given(st.integers(0, 10**7), st.integers(0, 10**7))
def test_fixed_fastener_shares_the_room(fastener: int, room: int) -> None:
    found = fastener_tolerance(fastener + room, fastener)
    assert found.floating_nm == room
    assert 0 <= room - 2 * found.fixed_each_nm <= 1


def test_fastener_larger_than_its_hole_is_refused() -> None:
    with pytest.raises(Impossible, match="does not enter") as refused:
        fastener_tolerance(5_900_000, 6_000_000)
    assert refused.value.field == "hole_smallest_nm"
    assert "6 mm" in refused.value.accepts


def test_negative_tolerances_and_crossed_limits_are_refused() -> None:
    with pytest.raises(OutOfRange):
        position_against(0, 0, -1)
    with pytest.raises(OutOfRange):
        virtual_condition_nm("pin", 1, -1)
    with pytest.raises(Impossible):
        AtMaximumMaterial("hole", 2, 1, 1)
