"""Inch fits by ANSI B4.1: `RC4` on a nominal size as a hole and a shaft.

RC are running and sliding fits, LC, LT and LN locational fits (clearance, transition, interference), FN force and
shrink fits. Every hole is a basic hole: it starts at the nominal size.

Source: ANSI B4.1-1967 (reaffirmed), tables for nominal sizes up to 19.69 in. How each figure is known is told with it
(`AnsiFit.standing`) and in server/trade/inch_fits_tables.py.
"""

from __future__ import annotations

from bisect import bisect_left
from dataclasses import dataclass
from fractions import Fraction
from typing import Final

from server.trade import inch_fits_tables as tables
from server.trade.errors import OutOfRange, Unreadable
from server.trade.iso286 import Fit
from server.trade.length import NM_PER_IN, format_length

ANSI_CLASSES: Final = tuple(tables.CLASSES)


@dataclass(frozen=True, slots=True)
class AnsiFit(Fit):
    """A fit with the range of the table it was read from.

    hole_symbol, shaft_symbol   of the American-British-Canadian system; "" where the standard gives none
    over_nm, to_nm              the size range [nm]: over the one, up to and including the other
    standing                    how the figures are known: found, from memory, or computed
    """

    hole_symbol: str
    shaft_symbol: str
    over_nm: int
    to_nm: int
    standing: str


def ansi_fit(nominal_nm: int, fit_class: str) -> AnsiFit:
    """Hole and shaft of an ANSI B4.1 fit class on a nominal size.

    nominal_nm  nominal size of both [nm], over 0 up to and including 19.69 in; LT3, LT4 over 0.24 in, FN3 over 0.95 in
    fit_class   RC1 to RC9, LC1 to LC11, LT1 to LT6, LN1 to LN3, FN1 to FN5; a space or small letters do no harm

    The figures are the standard's thousandths of an inch, exact in nm. A size at the end of a range belongs to it.
    Raises Unreadable for an unknown class; OutOfRange naming the sizes of the class.
    Source: ANSI B4.1-1967, tables of RC, LC, LT, LN and FN fits; over 19.69 in the standard goes on, this does not.
    """
    name = fit_class.upper().replace(" ", "")
    if name not in tables.CLASSES:
        raise Unreadable(
            "fit_class", fit_class, "it is not a class of ANSI B4.1", "RC1–RC9, LC1–LC11, LT1–LT6, LN1–LN3 or FN1–FN5"
        )
    hole_grade, shaft_symbol, uppers, lowers = tables.CLASSES[name]
    ends = _ends(tables.FN_SIZES_IN if name.startswith("FN") else tables.SIZES_IN)
    upper_row, lower_row = uppers.split(), lowers.split()
    first = upper_row.count("-")
    over_nm = ends[first - 1] if first else 0
    if not over_nm < nominal_nm <= ends[-1]:
        raise OutOfRange(
            "nominal_nm",
            f"{format_length(nominal_nm, 'in')} in",
            f"{name} is not tabulated for this nominal size",
            f"nominal sizes over {format_length(over_nm, 'in')} up to and including {format_length(ends[-1], 'in')} in",
        )
    row = bisect_left(ends, nominal_nm)
    hole = tables.HOLE_TOLERANCES[hole_grade].split()[bisect_left(_ends(tables.SIZES_IN), nominal_nm)]
    return AnsiFit(
        name=name,
        nominal_nm=nominal_nm,
        hole_low_nm=nominal_nm,
        hole_high_nm=nominal_nm + _thousandths(hole),
        shaft_low_nm=nominal_nm + _thousandths(lower_row[row]),
        shaft_high_nm=nominal_nm + _thousandths(upper_row[row]),
        hole_symbol=hole_grade,
        shaft_symbol=shaft_symbol,
        over_nm=ends[row - 1] if row else 0,
        to_nm=ends[row],
        standing=_standing(name, nominal_nm),
    )


def _standing(name: str, nominal_nm: int) -> str:
    for family, over, to, words in tables.STANDING:
        if family in (name, name[:2]) and _inches(over) < nominal_nm <= _inches(to):
            return words
    raise AssertionError(f"{name} at {nominal_nm} nm has no standing")


def _ends(sizes: str) -> tuple[int, ...]:
    return tuple(_inches(size) for size in sizes.split())


def _inches(text: str) -> int:
    return int(Fraction(text) * NM_PER_IN)


def _thousandths(text: str) -> int:
    """0.01 of a thousandth is 254 nm, so that every printed figure is a whole number of nm."""
    return int(Fraction(text) * NM_PER_IN / 1000)
