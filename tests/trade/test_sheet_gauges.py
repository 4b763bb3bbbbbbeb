"""Gauge numbers: order, the way back, and numbers there are none of. Tables are in tests/published/."""

from __future__ import annotations

import pytest

from server.trade.errors import OutOfRange
from server.trade.sheet_gauges import SHEET_GAUGES, SheetGauge, nearest_number, thickness_nm

RANGES: dict[SheetGauge, range] = {
    "American": range(-3, 41),
    "manufacturers' standard": range(3, 39),
    "Birmingham": range(-3, 37),
}


@pytest.mark.parametrize("gauge", SHEET_GAUGES)
def test_a_higher_number_is_thinner_and_every_thickness_finds_its_number(gauge: SheetGauge) -> None:
    thicknesses = [thickness_nm(gauge, number) for number in RANGES[gauge]]
    assert thicknesses == sorted(thicknesses, reverse=True)
    assert len(set(thicknesses)) == len(thicknesses)
    assert [nearest_number(gauge, each) for each in thicknesses] == list(RANGES[gauge])


def test_sixteen_gauge_is_three_thicknesses() -> None:
    assert len({thickness_nm(gauge, 16) for gauge in SHEET_GAUGES}) == 3


def test_a_measured_sheet_finds_its_number() -> None:
    assert nearest_number("manufacturers' standard", 1_500_000) == 16


@pytest.mark.parametrize("gauge", SHEET_GAUGES)
def test_a_number_outside_the_gauge_is_refused_with_the_range(gauge: SheetGauge) -> None:
    least, greatest = RANGES[gauge][0], RANGES[gauge][-1]
    for number in (least - 1, greatest + 1):
        with pytest.raises(OutOfRange, match=f"{least} to {greatest}"):
            thickness_nm(gauge, number)


def test_a_thickness_no_gauge_has_and_a_gauge_there_is_not_are_refused() -> None:
    with pytest.raises(OutOfRange, match=r"0\.080 to 11\.684 mm"):
        nearest_number("American", 20_000_000)
    for refused in (lambda: thickness_nm("Whitworth", 3), lambda: nearest_number("Whitworth", 3)):  # type: ignore[arg-type]
        with pytest.raises(OutOfRange, match="American, manufacturers"):
            refused()
