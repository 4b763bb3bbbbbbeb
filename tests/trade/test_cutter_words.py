"""Cutters and materials as a plan writes them."""

from __future__ import annotations

import pytest

from server.trade.cutter_words import read_cutters, start_from, work_material
from server.trade.length import NM_PER_IN, NM_PER_MM


@pytest.mark.parametrize(
    ("words", "found"),
    [
        ("40 mm face mill", [(40 * NM_PER_MM, "mill", None)]),
        ("Ø8 drill, boring head", [(8 * NM_PER_MM, "drill", None)]),
        ("10 mm end mill, 6 mm end mill", [(10 * NM_PER_MM, "mill", None), (6 * NM_PER_MM, "mill", None)]),
        ("10 mm end mill, 4 flutes", [(10 * NM_PER_MM, "mill", 4)]),
        ("10 mm end mill x2", [(10 * NM_PER_MM, "mill", None)]),
        ("6 mm end mill r0.8", [(6 * NM_PER_MM, "mill", None)]),
        ("4,2 drill; M5 tap", [(4_200_000, "drill", None)]),
        ('1/4" 3-flute end mill', [(NM_PER_IN // 4, "mill", 3)]),
        ("Ø14 drill, slotting cutter (measure it!)", [(14 * NM_PER_MM, "drill", None)]),
        # Number and letter drills: #7 is 0.2010 in, F is 0.2570 in (Machinery's Handbook drill table, from memory; the
        # whole table is checked in tests/published).
        ("#7 drill, 1/4-20 tap", [(round(0.2010 * NM_PER_IN), "drill", None), (NM_PER_IN // 4, "tap", None)]),
        ("No. 7 drill", [(round(0.2010 * NM_PER_IN), "drill", None)]),
        ("letter F drill", [(round(0.2570 * NM_PER_IN), "drill", None)]),
        ("F drill", [(round(0.2570 * NM_PER_IN), "drill", None)]),
        ("turning tool, boring bar, parting tool", []),
        ("", []),
    ],
)
def test_a_cutter_is_read_from_its_words_and_nothing_is_guessed(
    words: str, found: list[tuple[int, str, int | None]]
) -> None:
    assert [(each.diameter_nm, each.kind, each.flutes) for each in read_cutters(words)] == found


def test_a_bare_size_is_in_the_unit_of_the_build() -> None:
    assert read_cutters("0.5 end mill", "in")[0].diameter_nm == NM_PER_IN // 2


@pytest.mark.parametrize(
    ("words", "material"),
    [
        ("C45 steel", "medium carbon and alloy steel, annealed"),
        ("bronze CuSn12", "phosphor bronze"),
        ("6082 aluminium", "aluminium, wrought"),
        ("stainless steel", "stainless steel, austenitic"),
        ("mild steel", "mild steel"),
        ("unknown metal", None),
        ("", None),
    ],
)
def test_a_material_is_known_by_its_designation_or_common_name(words: str, material: str | None) -> None:
    assert work_material(words) == material


def test_a_cutter_that_does_not_say_what_it_is_made_of_gets_an_answer_for_each() -> None:
    (mill,) = read_cutters("10 mm end mill")
    slow, fast = start_from(mill, "mild steel")
    assert (slow.cutter_material, fast.cutter_material) == ("high-speed steel", "carbide")
    # n = 1000 v / (π D): 25 m/min on 10 mm is 796 rev/min (standard formula).
    assert round(slow.slow_rpm) == 796
    (carbide,) = start_from(read_cutters("10 mm carbide end mill")[0], "mild steel")
    assert carbide.cutter_material == "carbide"


def test_a_drill_is_run_in_the_slow_half_and_a_tap_gets_no_figure() -> None:
    (mill,) = read_cutters("10 mm HSS end mill")
    (drill,) = read_cutters("10 mm HSS drill")
    (of_mill,), (of_drill,) = start_from(mill, "mild steel"), start_from(drill, "mild steel")
    assert of_drill.slow_rpm == of_mill.slow_rpm
    assert of_drill.fast_rpm < of_mill.fast_rpm
    assert of_drill.feed_nm_per_min is None
    assert start_from(read_cutters("5 mm tap")[0], "mild steel") == ()
