"""Screw threads against figures printed elsewhere: screw_threads.csv, a row a check, each with its source and standing.

"found": read in the source named; "from memory": recalled, not read; "computed": worked out from the formula named.
Tolerance 0 means the printed figure exactly. Where table and formula part by a rounding the note says which.
"""

from __future__ import annotations

import csv
from fractions import Fraction
from pathlib import Path

import pytest

from server.trade.drills import read_drill
from server.trade.length import NM_PER_IN, NM_PER_MM
from server.trade.thread_designation import parse_thread, thread_limits
from server.trade.thread_engagement import engagement
from server.trade.thread_form import basic_pitch_diameter_nm
from server.trade.thread_infeed import infeed
from server.trade.thread_measuring import over_wires_nm, wires_for
from server.trade.thread_tapping import Method, tap_drill_nm, thread_percent

ROWS = list(csv.DictReader((Path(__file__).parent / "screw_threads.csv").read_text(encoding="utf-8").splitlines()))
LIMITS = ("allowance", "major_low", "major_high", "pitch_low", "pitch_high", "minor_low", "minor_high", "root_high")


def rows(*quantities: str) -> list[object]:
    found = [row for row in ROWS if row["quantity"] in quantities]
    assert found
    return [
        pytest.param(row, id=" ".join(row[part] for part in ("thread", "class", "quantity", "given") if row[part]))
        for row in found
    ]


def nm(figure: str, unit: str) -> int:
    exact = Fraction(figure) * (NM_PER_IN if unit == "in" else NM_PER_MM)
    return int(exact)


def size(text: str) -> tuple[int, Fraction]:
    """Diameter and pitch of a row's thread. A bare decimal ("1.5-6") is read here: the program takes it for limits."""
    if "." in text and text[0].isdigit():
        diameter, turns = text.split("-")
        return nm(diameter, "in"), Fraction(NM_PER_IN) / int(turns)
    thread = parse_thread(text)
    assert thread is not None
    return thread.nominal_nm, thread.pitch_nm


def test_every_row_is_checked() -> None:
    checked = {
        *LIMITS, "percent 1.299P", "percent 1.0825P", "hole 1.0825P", "drill", "best wire", "over wires, basic",
        "over wires, lowest", "over wires, highest", "compound 29°, flat P/8", "compound 29.5°, rounded root",
        "depth, rounded root",
    }  # fmt: skip
    assert {row["quantity"] for row in ROWS} == checked
    assert {row["standing"] for row in ROWS} == {"found", "from memory", "computed"}


@pytest.mark.parametrize("row", rows(*LIMITS))
def test_limits_are_those_printed(row: dict[str, str]) -> None:
    found = thread_limits(f"{row['thread']}-{row['class']}")
    value = getattr(found, row["quantity"] + "_nm")
    assert value is not None
    assert abs(value - nm(row["expected"], row["unit"])) <= nm(row["tolerance"], row["unit"])


@pytest.mark.parametrize("row", rows("percent 1.299P", "percent 1.0825P"))
def test_a_drill_leaves_the_percentage_printed(row: dict[str, str]) -> None:
    nominal_nm, pitch_nm = size(row["thread"])
    method: Method = "1.299P" if row["quantity"].endswith("1.299P") else "1.0825P"
    percent = thread_percent(nominal_nm, pitch_nm, read_drill(row["given"]), method)
    assert percent == pytest.approx(float(row["expected"]), abs=float(row["tolerance"]))


@pytest.mark.parametrize("row", rows("hole 1.0825P"))
def test_the_hole_for_a_percentage_is_the_one_printed(row: dict[str, str]) -> None:
    hole_nm = tap_drill_nm(*size(row["thread"]), float(row["given"]), "1.0825P")
    assert abs(hole_nm - nm(row["expected"], "in")) <= nm(row["tolerance"], "in")


@pytest.mark.parametrize("row", rows("drill"))
def test_drills_are_the_size_printed(row: dict[str, str]) -> None:
    assert abs(read_drill(row["given"]) - nm(row["expected"], row["unit"])) <= nm(row["tolerance"], row["unit"])


@pytest.mark.parametrize("row", rows("best wire"))
def test_the_best_wire_is_the_one_printed(row: dict[str, str]) -> None:
    _, pitch_nm = size(row["thread"])
    assert abs(wires_for(pitch_nm).best_nm - nm(row["expected"], "in")) <= nm(row["tolerance"], "in")


@pytest.mark.parametrize("row", rows("over wires, basic"))
def test_basic_threads_read_over_wires_as_printed(row: dict[str, str]) -> None:
    nominal_nm, pitch_nm = size(row["thread"])
    basic_nm = basic_pitch_diameter_nm(nominal_nm, pitch_nm)
    reading_nm = over_wires_nm(basic_nm, pitch_nm, nm(row["given"], "in"), "simple")
    assert abs(reading_nm - nm(row["expected"], "in")) <= nm(row["tolerance"], "in")


@pytest.mark.parametrize("row", rows("over wires, lowest", "over wires, highest"))
def test_the_limits_of_a_class_read_over_wires_as_reckoned(row: dict[str, str]) -> None:
    _, pitch_nm = size(row["thread"])
    limits = thread_limits(f"{row['thread']}-{row['class']}")
    diameter_nm = limits.pitch_low_nm if row["quantity"].endswith("lowest") else limits.pitch_high_nm
    reading_nm = over_wires_nm(diameter_nm, pitch_nm, nm(row["given"], "in"), "simple")
    assert abs(reading_nm - nm(row["expected"], "in")) <= nm(row["tolerance"], "in")


@pytest.mark.parametrize("row", rows("compound 29°, flat P/8", "compound 29.5°, rounded root", "depth, rounded root"))
def test_infeed_is_that_printed(row: dict[str, str]) -> None:
    pitch_nm = Fraction(NM_PER_IN) / int(row["given"])
    if row["quantity"].startswith("compound 29°"):
        value_nm = infeed(pitch_nm, "external, flat root P/8", 29).compound_nm
    else:
        found = infeed(pitch_nm, "external, rounded root", 29.5)
        value_nm = found.compound_nm if row["quantity"].startswith("compound") else found.radial_nm
    assert abs(value_nm - nm(row["expected"], "in")) <= nm(row["tolerance"], "in")


# Machinery's Handbook 31st ed., worked calculations of 19/64-36 UNS-2A and -2B (tables 5 and 6) and of 1/2-28 UNEF
# (tables 3 and 4): found. The 2B table's title is printed 19/64-28, its pitch is that of 36 threads.
def test_the_worked_special_thread_comes_out_step_by_step() -> None:
    inner = thread_limits("19/64-36 UNS-2B")
    assert (inner.minor_low_nm, inner.minor_high_nm) == (nm("0.267", "in"), nm("0.273", "in"))
    assert inner.pitch_low_nm == nm("0.2789", "in")
    assert inner.major_low_nm == nm("0.2969", "in")
    outer = thread_limits("19/64-36 UNS-2A")
    assert outer.major_high_nm == nm("0.2960", "in")
    assert outer.minor_high_nm == nm("0.2659", "in")
    assert outer.root_high_nm == nm("0.2629", "in")


def test_the_worked_extra_fine_thread_comes_out_step_by_step() -> None:
    outer = thread_limits("1/2-28 UNEF-2A")
    assert outer.minor_high_nm == nm("0.4602", "in")
    # nine pitches of engagement: with the diameter instead, the lowest would be 0.0002 in less (0.4718)
    assert outer.pitch_low_nm == nm("0.4720", "in")


# ISO 4032 nut heights, least (from memory): a nut of full height in the bolt's own material lets the bolt break.
@pytest.mark.parametrize(
    ("thread", "height"),
    [("M6", "4.9"), ("M8", "6.44"), ("M10", "8.04"), ("M12", "10.37"), ("M16", "14.1"), ("M20", "16.9")],
)
def test_a_standard_nut_is_high_enough(thread: str, height: str) -> None:
    needed_nm = engagement(thread, 800, 800).needed_nm
    assert 0.6 * nm(height, "mm") < needed_nm < nm(height, "mm")
