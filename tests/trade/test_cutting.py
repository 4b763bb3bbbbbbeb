"""Laws that speeds, feeds and chip thinning obey, and the input they refuse."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from server.trade.cutting import (
    CHIP_METHODS,
    ChipMethod,
    chip_factor,
    chip_thickness_nm,
    cutting_speed_m_per_min,
    feed_for_chip_nm,
    feed_per_tooth_nm,
    spindle_setting,
    spindle_speed_rpm,
    table_feed_nm_per_min,
)
from server.trade.errors import OutOfRange

MM = 1_000_000
speeds = st.floats(1, 1000)
diameters = st.integers(MM // 10, 500 * MM)
rpms = st.floats(1, 60_000)
flutes = st.integers(1, 12)
feeds = st.floats(100, 2e6)


@given(speeds, diameters)
def test_speed_and_rpm_undo_each_other(speed: float, diameter: int) -> None:
    assert cutting_speed_m_per_min(spindle_speed_rpm(speed, diameter), diameter) == pytest.approx(speed)


@given(speeds, diameters)
def test_twice_the_diameter_takes_half_the_rpm(speed: float, diameter: int) -> None:
    assert spindle_speed_rpm(speed, 2 * diameter) == pytest.approx(spindle_speed_rpm(speed, diameter) / 2)


@given(rpms, flutes, feeds)
def test_table_feed_and_feed_a_tooth_undo_each_other(rpm: float, z: int, feed: float) -> None:
    assert feed_per_tooth_nm(rpm, z, table_feed_nm_per_min(rpm, z, feed)) == pytest.approx(feed)


@given(speeds, diameters, rpms, st.floats(0, 1))
def test_the_spindle_never_leaves_its_range(speed: float, diameter: int, highest: float, low_share: float) -> None:
    lowest = highest * low_share
    setting = spindle_setting(speed, diameter, highest, lowest)
    assert lowest <= setting.rpm <= highest
    assert setting.speed_m_per_min == pytest.approx(cutting_speed_m_per_min(setting.rpm, diameter))
    assert setting.limited == (not lowest <= setting.wanted_rpm <= highest)


def test_a_speed_within_the_range_is_reached_as_wanted() -> None:
    setting = spindle_setting(30, 10 * MM, 5000, 100)
    assert not setting.limited
    assert setting.speed_m_per_min == pytest.approx(30)


def test_a_spindle_that_cannot_go_slow_enough_says_so() -> None:
    setting = spindle_setting(10, 100 * MM, 5000, 100)
    assert setting.limited
    assert setting.rpm == 100
    assert setting.speed_m_per_min == pytest.approx(31.416, abs=1e-3)


@given(st.sampled_from(CHIP_METHODS), diameters, st.floats(0.001, 0.5), feeds)
def test_feed_and_chip_undo_each_other(method: ChipMethod, diameter: int, share: float, feed: float) -> None:
    width = max(1, int(share * diameter))
    chip = chip_thickness_nm(feed, width, diameter, method)
    assert chip <= feed
    assert feed_for_chip_nm(chip, width, diameter, method) == pytest.approx(feed)


@given(st.sampled_from(CHIP_METHODS), diameters, st.floats(0.001, 0.249))
def test_a_wider_cut_up_to_half_makes_a_thicker_chip(method: ChipMethod, diameter: int, share: float) -> None:
    width = max(1, int(share * diameter))
    assert chip_factor(2 * width, diameter, method) > chip_factor(width, diameter, method)


@given(diameters, st.floats(0.001, 1))
def test_the_mean_lies_below_the_greatest_and_above_half_of_it(diameter: int, share: float) -> None:
    width = max(1, int(share * diameter))
    mean, greatest = chip_factor(width, diameter, "mean"), chip_factor(width, diameter, "greatest")
    assert greatest / 2 <= mean * (1 + 1e-9)
    assert mean < greatest


@given(diameters, st.floats(0.001, 0.5))
def test_the_catalogue_mean_is_at_most_eleven_per_cent_high(diameter: int, share: float) -> None:
    width = max(1, int(share * diameter))
    ratio = chip_factor(width, diameter, "mean, small widths") / chip_factor(width, diameter, "mean")
    assert 1 - 1e-9 <= ratio <= 1.1108


@pytest.mark.parametrize("width", [5 * MM, 7 * MM, 10 * MM])
def test_from_half_the_diameter_up_the_chip_is_as_thick_as_the_feed(width: int) -> None:
    assert chip_factor(width, 10 * MM, "greatest") == 1


@pytest.mark.parametrize("bad", [0.0, -1.0, float("nan"), float("inf")])
def test_a_speed_that_is_none_is_refused_by_name(bad: float) -> None:
    with pytest.raises(OutOfRange) as refusal:
        spindle_speed_rpm(bad, MM)
    assert refusal.value.field == "speed_m_per_min"
    assert refusal.value.accepts == "more than 0 m/min"
    with pytest.raises(OutOfRange):
        cutting_speed_m_per_min(bad, MM)
    with pytest.raises(OutOfRange):
        table_feed_nm_per_min(1000, 2, bad)
    with pytest.raises(OutOfRange):
        feed_per_tooth_nm(1000, 2, bad)


@pytest.mark.parametrize("z", [0, -2])
def test_a_cutter_without_flutes_is_refused(z: int) -> None:
    with pytest.raises(OutOfRange, match="1 or more"):
        table_feed_nm_per_min(1000, z, 1000)
    with pytest.raises(OutOfRange, match="1 or more"):
        feed_per_tooth_nm(1000, z, 1000)


def test_a_cut_wider_than_the_cutter_is_refused_with_the_range() -> None:
    with pytest.raises(OutOfRange, match=r"up to 10 mm \(0\.3937 in\)"):
        chip_factor(10 * MM + 1, 10 * MM)
    with pytest.raises(OutOfRange, match=r"up to 5 mm"):
        chip_factor(5 * MM + 1, 10 * MM, "mean, small widths")


@pytest.mark.parametrize("diameter", [0, -1])
def test_a_diameter_of_nothing_is_refused(diameter: int) -> None:
    with pytest.raises(OutOfRange, match="more than 0"):
        spindle_speed_rpm(30, diameter)


def test_an_unknown_method_is_refused_with_those_there_are() -> None:
    with pytest.raises(OutOfRange, match="greatest, mean"):
        chip_factor(MM, 10 * MM, "middling")  # type: ignore[arg-type]


def test_a_slowest_speed_above_the_fastest_is_refused() -> None:
    with pytest.raises(OutOfRange, match="0 to 100 rev/min"):
        spindle_setting(30, MM, 100, 200)
