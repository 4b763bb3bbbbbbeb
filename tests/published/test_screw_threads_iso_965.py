"""ISO 965-1:1998 tables 1 to 5: deviations and tolerances of metric threads.

Standing: from memory, all of them; the grade 6 columns agree with limits found in print (screw_threads.csv). The
program holds only deviations and grade 6 of the crest diameters and works the rest out, so that most cells here stand
against a formula and a rounding, not against a copy.
"""

from __future__ import annotations

import pytest

from server.trade.length import parse_length
from server.trade.thread_metric import (
    deviation_nm,
    major_diameter_tolerance_nm,
    minor_diameter_tolerance_nm,
    pitch_diameter_tolerance_nm,
)

# pitch [mm], then µm; "-" where the standard gives none
DEVIATIONS = """
0.2 - - 17|0.25 - - 18|0.3 - - 18|0.35 - 34 19|0.4 - 34 19|0.45 - 35 20|0.5 50 36 20|0.6 53 36 21|0.7 56 38 22
0.75 56 38 22|0.8 60 38 24|1 60 40 26|1.25 63 42 28|1.5 67 45 32|1.75 71 48 34|2 71 52 38|2.5 80 58 42|3 85 63 48
3.5 90 70 53|4 95 75 60|4.5 100 80 63|5 106 85 71|5.5 112 90 75|6 118 95 80|8 140 118 100
"""  # e f g
MAJOR = """
0.2 36 56 -|0.25 42 67 -|0.3 48 75 -|0.35 53 85 -|0.4 60 95 -|0.45 63 100 -|0.5 67 106 -|0.6 80 125 -|0.7 90 140 -
0.75 90 140 -|0.8 95 150 236|1 112 180 280|1.25 132 212 335|1.5 150 236 375|1.75 170 265 425|2 180 280 450
2.5 212 335 530|3 236 375 600|3.5 265 425 670|4 300 475 750|4.5 315 500 800|5 335 530 850|5.5 355 560 900
6 375 600 950|8 450 710 1180
"""  # grades 4 6 8
MINOR = """
0.2 38 48 - - -|0.25 45 56 - - -|0.3 53 67 85 - -|0.35 63 80 100 - -|0.4 71 90 112 - -|0.45 80 100 125 - -
0.5 90 112 140 180 -|0.6 100 125 160 200 -|0.7 112 140 180 224 -|0.75 118 150 190 236 -|0.8 125 160 200 250 315
1 150 190 236 300 375|1.25 170 212 265 335 425|1.5 190 236 300 375 475|1.75 212 265 335 425 530
2 236 300 375 475 600|2.5 280 355 450 560 710|3 315 400 500 630 800|3.5 355 450 560 710 900|4 375 475 600 750 950
4.5 425 530 670 850 1060|5 450 560 710 900 1120|5.5 475 600 750 950 1180|6 500 630 800 1000 1250
8 630 800 1000 1250 1600
"""  # grades 4 to 8
EXTERNAL_PITCH = """
1.4 0.2 24 30 38 48|1.4 0.25 26 34 42 53|1.4 0.3 28 36 45 56|2.8 0.2 25 32 40 50|2.8 0.25 28 36 45 56
2.8 0.35 32 40 50 63 80|2.8 0.4 34 42 53 67 85|2.8 0.45 36 45 56 71 90|5.6 0.35 34 42 53 67 85|5.6 0.5 38 48 60 75 95
5.6 0.6 42 53 67 85 106|5.6 0.7 45 56 71 90 112|5.6 0.75 45 56 71 90 112|5.6 0.8 48 60 75 95 118 150 190
11.2 0.75 50 63 80 100 125|11.2 1 56 71 90 112 140 180 224|11.2 1.25 60 75 95 118 150 190 236
11.2 1.5 67 85 106 132 170 212 265|22.4 1 60 75 95 118 150 190 236|22.4 1.25 67 85 106 132 170 212 265
22.4 1.5 71 90 112 140 180 224 280|22.4 1.75 75 95 118 150 190 236 300|22.4 2 80 100 125 160 200 250 315
22.4 2.5 85 106 132 170 212 265 335|45 1 63 80 100 125 160 200 250|45 1.5 75 95 118 150 190 236 300
45 2 85 106 132 170 212 265 335|45 3 100 125 160 200 250 315 400|45 3.5 106 132 170 212 265 335 425
45 4 112 140 180 224 280 355 450|45 4.5 118 150 190 236 300 375 475|90 1.5 80 100 125 160 200 250 315
90 2 90 112 140 180 224 280 355|90 3 106 132 170 212 265 335 425|90 4 118 150 190 236 300 375 475
90 5 125 160 200 250 315 400 500|90 5.5 132 170 212 265 335 425 530|90 6 140 180 224 280 355 450 560
180 2 95 118 150 190 236 300 375|180 3 112 140 180 224 280 355 450|180 4 125 160 200 250 315 400 500
180 6 150 190 236 300 375 475 600|180 8 170 212 265 335 425 530 670|355 3 125 160 200 250 315 400 500
355 4 140 180 224 280 355 450 560|355 6 160 200 250 315 400 500 630|355 8 180 224 280 355 450 560 710
"""  # diameter up to, pitch, grades 3 to 9
INTERNAL_PITCH = """
1.4 0.2 40|1.4 0.25 45 56|1.4 0.3 48 60 75|2.8 0.2 42|2.8 0.25 48 60|2.8 0.35 53 67 85|2.8 0.4 56 71 90
2.8 0.45 60 75 95|5.6 0.35 56 71 90|5.6 0.5 63 80 100 125|5.6 0.6 71 90 112 140|5.6 0.7 75 95 118 150
5.6 0.75 75 95 118 150|5.6 0.8 80 100 125 160 200|11.2 0.75 85 106 132 170|11.2 1 95 118 150 190 236
11.2 1.25 100 125 160 200 250|11.2 1.5 112 140 180 224 280|22.4 1 100 125 160 200 250|22.4 1.25 112 140 180 224 280
22.4 1.5 118 150 190 236 300|22.4 1.75 125 160 200 250 315|22.4 2 132 170 212 265 335|22.4 2.5 140 180 224 280 355
45 1 106 132 170 212|45 1.5 125 160 200 250 315|45 2 140 180 224 280 355|45 3 170 212 265 335 425
45 3.5 180 224 280 355 450|45 4 190 236 300 375 475|45 4.5 200 250 315 400 500|90 1.5 132 170 212 265 335
90 2 150 190 236 300 375|90 3 180 224 280 355 450|90 4 200 250 315 400 500|90 5 212 265 335 425 530
90 5.5 224 280 355 450 560|90 6 236 300 375 475 600|180 2 160 200 250 315 400|180 3 190 236 300 375 475
180 4 212 265 335 425 530|180 6 250 315 400 500 630|180 8 280 355 450 560 710|355 3 212 265 335 425 530
355 4 236 300 375 475 600|355 6 265 335 425 530 670|355 8 300 375 475 600 750
"""  # diameter up to, pitch, grades 4 to 8


def cells(table: str) -> list[list[str]]:
    return [row.split() for row in table.strip().replace("\n", "|").split("|")]


@pytest.mark.parametrize("row", cells(DEVIATIONS), ids=lambda row: row[0])
def test_deviations_are_those_of_table_1(row: list[str]) -> None:
    for position, figure in zip("efg", row[1:], strict=True):
        if figure != "-":
            assert deviation_nm(parse_length(row[0]), position) == int(figure) * 1000
    assert deviation_nm(parse_length(row[0]), "G") == int(row[-1]) * 1000


@pytest.mark.parametrize("row", cells(MAJOR), ids=lambda row: row[0])
def test_major_diameter_tolerances_are_those_of_table_4(row: list[str]) -> None:
    for grade, figure in zip((4, 6, 8), row[1:], strict=True):
        if figure != "-":
            assert major_diameter_tolerance_nm(parse_length(row[0]), grade) == int(figure) * 1000


@pytest.mark.parametrize("row", cells(MINOR), ids=lambda row: row[0])
def test_minor_diameter_tolerances_are_those_of_table_2(row: list[str]) -> None:
    for grade, figure in zip((4, 5, 6, 7, 8), row[1:], strict=True):
        if figure != "-":
            assert minor_diameter_tolerance_nm(parse_length(row[0]), grade) == int(figure) * 1000


@pytest.mark.parametrize("row", cells(EXTERNAL_PITCH), ids=lambda row: f"{row[0]}-{row[1]}")
def test_external_pitch_diameter_tolerances_are_those_of_table_3(row: list[str]) -> None:
    nominal_nm, pitch_nm = parse_length(row[0]), parse_length(row[1])
    for grade, figure in enumerate(row[2:], 3):
        found = pitch_diameter_tolerance_nm(nominal_nm, pitch_nm, grade, internal=False)
        assert found == int(figure) * 1000


@pytest.mark.parametrize("row", cells(INTERNAL_PITCH), ids=lambda row: f"{row[0]}-{row[1]}")
def test_internal_pitch_diameter_tolerances_are_those_of_table_5(row: list[str]) -> None:
    nominal_nm, pitch_nm = parse_length(row[0]), parse_length(row[1])
    for grade, figure in enumerate(row[2:], 4):
        found = pitch_diameter_tolerance_nm(nominal_nm, pitch_nm, grade, internal=True)
        assert found == int(figure) * 1000


# The formulas of clause 13 against the tables: every tabulated pitch diameter tolerance of grade 6 lies within one
# step of R40 of 90 P^0.4 d^0.1, so a pair outside the tables is as good as one inside.
@pytest.mark.parametrize("row", cells(EXTERNAL_PITCH), ids=lambda row: f"{row[0]}-{row[1]}")
def test_the_formula_stands_behind_table_3(row: list[str]) -> None:
    bounds = [0.99, 1.4, 2.8, 5.6, 11.2, 22.4, 45, 90, 180, 355]
    up_to = bounds.index(float(row[0]))
    formula = 90 * float(row[1]) ** 0.4 * (bounds[up_to] * bounds[up_to - 1]) ** 0.05
    assert int(row[5]) == pytest.approx(formula, rel=0.06)
