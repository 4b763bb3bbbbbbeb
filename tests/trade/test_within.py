from __future__ import annotations

import math

import pytest

from server.trade.errors import OutOfRange
from server.trade.within import within


def test_ends_are_included() -> None:
    assert within("tilt_deg", 0.0, 0.0, 60.0) == 0.0
    assert within("tilt_deg", 60.0, 0.0, 60.0) == 60.0


@pytest.mark.parametrize("value", [math.nan, math.inf, -math.inf])
def test_what_is_no_figure_is_refused(value: float) -> None:
    with pytest.raises(OutOfRange, match="not a number one can calculate with"):
        within("tilt_deg", value)


@pytest.mark.parametrize(
    ("least", "greatest", "told"),
    [
        (0.0, 60.0, "0 to 60 °"),
        (1.0, math.inf, "1 or more °"),
        (-math.inf, 5.0, "5 or less °"),
    ],
)
def test_refusal_tells_field_and_range(least: float, greatest: float, told: str) -> None:
    with pytest.raises(OutOfRange) as refused:
        within("tilt_deg", -1e9 if math.isfinite(least) else 1e9, least, greatest, "°")
    assert refused.value.field == "tilt_deg"
    assert refused.value.accepts == told


def test_refusal_without_bounds_asks_for_a_finite_number() -> None:
    with pytest.raises(OutOfRange) as refused:
        within("mean_nm", math.nan)
    assert refused.value.accepts == "a finite number"
