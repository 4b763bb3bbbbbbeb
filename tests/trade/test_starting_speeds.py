"""Starting speeds are ranges, and unknown names are not guessed."""

from __future__ import annotations

import pytest

from server.trade.errors import OutOfRange
from server.trade.starting_speeds import CUTTER_MATERIALS, MATERIALS, starting_speed


@pytest.mark.parametrize("material", MATERIALS)
def test_carbide_starts_faster_than_high_speed_steel_and_each_range_rises(material: str) -> None:
    steel, carbide = (starting_speed(material, cutter) for cutter in CUTTER_MATERIALS)
    assert 0 < steel.slow_m_per_min < steel.fast_m_per_min
    assert steel.slow_m_per_min < carbide.slow_m_per_min < carbide.fast_m_per_min
    assert all("memory" in each.standing or "found" in each.standing for each in (steel, carbide))


def test_an_unknown_material_is_refused_with_those_there_are() -> None:
    with pytest.raises(OutOfRange, match="mild steel") as refusal:
        starting_speed("unobtainium", "carbide")
    assert refusal.value.field == "material"
    with pytest.raises(OutOfRange, match="high-speed steel, carbide"):
        starting_speed("mild steel", "stone")  # type: ignore[arg-type]
