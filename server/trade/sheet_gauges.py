"""Thickness of sheet and wire by gauge number. The same number means another thickness in each gauge: name the gauge.

American (Brown and Sharpe; AWG)   aluminium, brass, copper sheet, and wire; by formula
manufacturers' standard            uncoated sheet steel in North America; by weight, so by formula too
Birmingham (Stubs' iron wire)      tube walls, strip, some wire; a table with irregular steps
"""

from __future__ import annotations

import math
from decimal import ROUND_HALF_UP, Decimal
from typing import Literal

from server.trade.errors import OutOfRange

SheetGauge = Literal["American", "manufacturers' standard", "Birmingham"]
SHEET_GAUGES: tuple[SheetGauge, ...] = ("American", "manufacturers' standard", "Birmingham")
_NM_PER_INCH = 25_400_000

# Ounces to the square foot of the U.S. standard gauge, No. 3 to 38, which the manufacturers' standard keeps. From
# memory of the act of 1893, the steps compared with a public account of it (found, sizes.com, sheet metal).
_OUNCES: tuple[str, ...] = (
    *(
        "160",
        "150",
        "140",
        "130",
        "120",
        "110",
        "100",
        "90",
        "80",
        "70",
        "60",
        "50",
        "45",
        "40",
        "36",
        "32",
        "28",
        "24",
    ),
    *("22", "20", "18", "16", "14", "12", "11", "10", "9", "8", "7", "6.5", "6", "5.5", "5", "4.5", "4.25", "4"),
)
_FIRST_OUNCES = 3
_POUNDS_PER_SQ_FT_INCH = Decimal("41.82")  # found in several public tables

# Thousandths of an inch, 0000 to 36: Holtzapffel's measurements as printed in Notes on Building Construction, part 3
# (found), the same in two other public tables. One public table (sizes.com) prints the Imperial gauge from No. 4 on.
_BIRMINGHAM: tuple[int, ...] = (
    *(454, 425, 380, 340, 300, 284, 259, 238, 220, 203, 180, 165, 148, 134, 120, 109, 95, 83, 72, 65, 58),
    *(49, 42, 35, 32, 28, 25, 22, 20, 18, 16, 14, 13, 12, 10, 9, 8, 7, 5, 4),
)


def thickness_nm(gauge: SheetGauge, number: int) -> int:
    """Thickness of sheet, or diameter of wire [nm], for a gauge number; 0, −1, −2, −3 stand for 0, 00, 000, 0000.

    American: 0.005 in × 92^((36 − n)/39), −3 to 40, to the nearest nm (ASTM B258; tables round to 0.0001 in).
    manufacturers' standard: ounces to the square foot / 16 / 41.82, 3 to 38, rounded to 0.0001 in as it is printed.
    Birmingham: the table, −3 to 36. Nominal: rolling tolerances of several per cent come on top. Raises OutOfRange.
    """
    if gauge == "American":
        _number(number, -3, 40)
        return round(0.005 * math.pow(92, (36 - number) / 39) * _NM_PER_INCH)
    if gauge == "manufacturers' standard":
        _number(number, _FIRST_OUNCES, _FIRST_OUNCES + len(_OUNCES) - 1)
        inches = Decimal(_OUNCES[number - _FIRST_OUNCES]) / 16 / _POUNDS_PER_SQ_FT_INCH
        return int(inches.quantize(Decimal("0.0001"), ROUND_HALF_UP) * _NM_PER_INCH)
    if gauge == "Birmingham":
        _number(number, -3, len(_BIRMINGHAM) - 4)
        return _BIRMINGHAM[number + 3] * _NM_PER_INCH // 1000
    raise OutOfRange("gauge", gauge, "there is no such gauge here", ", ".join(SHEET_GAUGES))


def nearest_number(gauge: SheetGauge, thickness: int) -> int:
    """The gauge number whose thickness is nearest to a measured one [nm]; of two as near, the thinner.

    Raises OutOfRange for a thickness outside the gauge's own by more than a tenth.
    """
    numbers = {"American": range(-3, 41), "manufacturers' standard": range(3, 39), "Birmingham": range(-3, 37)}
    if gauge not in numbers:
        raise OutOfRange("gauge", gauge, "there is no such gauge here", ", ".join(SHEET_GAUGES))
    thick, thin = (thickness_nm(gauge, numbers[gauge][end]) for end in (0, -1))
    if not 0.9 * thin <= thickness <= 1.1 * thick:
        accepts = f"{thin / 1e6:.3f} to {thick / 1e6:.3f} mm"
        raise OutOfRange("thickness", f"{thickness / 1e6:g} mm", "the gauge has no such thickness", accepts)
    return min(numbers[gauge], key=lambda number: (abs(thickness_nm(gauge, number) - thickness), -number))


def _number(number: int, least: int, greatest: int) -> None:
    if not least <= number <= greatest:
        raise OutOfRange("number", number, "the gauge has no such number", f"{least} to {greatest}")
