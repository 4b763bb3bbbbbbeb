"""Limits of size and fits by ISO 286: `25 H7` as two sizes, `H7/g6` as a fit.

A tolerance class is a letter (where the zone lies: capitals for holes, small for shafts) and a grade (how wide it is).
"Hole" and "shaft" mean any internal and external size: a slot is a hole, the block that slides in it a shaft.

Source: ISO 286-1:2010 tables 1 to 5; ISO 286-2 lists the same sums. Standing of the figures: see
server/trade/iso286_tables.py.
"""

from __future__ import annotations

import re
from bisect import bisect_left
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction
from typing import Final, Literal

from server.trade import iso286_tables as tables
from server.trade.errors import Impossible, OutOfRange, TradeError, Unreadable
from server.trade.length import NM_PER_MM, NM_PER_UM, Unit, format_length, parse_length, plain_signs

FitKind = Literal["clearance", "transition", "interference"]

GRADES: Final = tuple(tables.STANDARD_TOLERANCES)  # "01", "0", "1" … "18", finest first
SHAFT_LETTERS: Final = (
    "a", "b", "c", "cd", "d", "e", "ef", "f", "fg", "g", "h", "js", "j",
    "k", "m", "n", "p", "r", "s", "t", "u", "v", "x", "y", "z", "za", "zb", "zc",
)  # fmt: skip
HOLE_LETTERS: Final = tuple(letter.upper() for letter in SHAFT_LETTERS)

_SIZES: Final = "nominal sizes over 0 up to and including 3150 mm"
_CODES: Final = "a letter A to ZC (hole) or a to zc (shaft) and a grade 01, 0, 1 to 18, such as H7, g6 or js9"
_GRADES: Final = "a standard tolerance grade: IT01, IT0, IT1 to IT18"


def _rows(*sources: Mapping[str, str]) -> dict[str, tuple[int | None, ...]]:
    """The printed rows in nm; None where the standard prints nothing."""
    return {
        key: tuple(None if figure == "-" else int(Fraction(figure) * NM_PER_UM) for figure in row.split())
        for source in sources
        for key, row in source.items()
    }


_TOLERANCES: Final = _rows(tables.STANDARD_TOLERANCES)
_MAIN: Final = _rows(tables.CLEAR_MAIN, tables.TIGHT_MAIN)
_FINE: Final = _rows(tables.CLEAR_FINE, tables.TIGHT_FINE)
_SHAFT_J: Final = _rows(tables.SHAFT_J)
_HOLE_J: Final = _rows(tables.HOLE_J)
_CLEAR: Final = frozenset(tables.CLEAR_MAIN) | frozenset(tables.CLEAR_FINE)


@dataclass(frozen=True, slots=True)
class Fit:
    """A hole and a shaft of one nominal size, each with its limits [nm], and what they are to each other.

    A clearance is hole less shaft [nm]; a negative one is an interference.
    """

    name: str
    nominal_nm: int
    hole_low_nm: int
    hole_high_nm: int
    shaft_low_nm: int
    shaft_high_nm: int

    @property
    def least_clearance_nm(self) -> int:
        """Smallest hole on the largest shaft [nm]."""
        return self.hole_low_nm - self.shaft_high_nm

    @property
    def greatest_clearance_nm(self) -> int:
        """Largest hole on the smallest shaft [nm]."""
        return self.hole_high_nm - self.shaft_low_nm

    @property
    def kind(self) -> FitKind:
        """Clearance when no pair can interfere, interference when no pair can have clearance, else transition.

        A pair just alike (0) counts with the rest of its fit. Source: ISO 286-1:2010 clause 3 (from memory).
        """
        if self.least_clearance_nm >= 0:
            return "clearance"
        return "interference" if self.greatest_clearance_nm <= 0 else "transition"


def it_tolerance(nominal_nm: int, grade: str | int) -> int:
    """The standard tolerance: width of the zone of a grade [nm].

    nominal_nm  nominal size [nm], over 0 up to and including 3150 mm (IT01 and IT0: 500 mm)
    grade       "01", "0", "1" to "18", with or without "IT" before it, or a whole number

    Raises OutOfRange for the size, Unreadable for an unknown grade, Impossible for IT14 to IT18 at 1 mm and less.
    Source: ISO 286-1:2010 table 1; the footnote on IT14 to IT18 from memory (table 1 of the 1988 edition).
    """
    name = str(grade).strip().upper().removeprefix("IT").strip()
    if name not in _TOLERANCES:
        raise Unreadable("grade", grade, f"there is no grade {name or 'without a number'}", _GRADES)
    _check_size(nominal_nm)
    if nominal_nm <= NM_PER_MM and GRADES.index(name) >= GRADES.index("14"):
        raise _undefined("grade", f"IT{name}", nominal_nm, "IT14 to IT18 are for nominal sizes over 1 mm")
    width = _at(_TOLERANCES[name], tables.MAIN_MM, nominal_nm)
    if width is None:
        raise OutOfRange(
            "nominal_nm", _mm(nominal_nm), f"IT{name} ends at 500 mm", "nominal sizes up to 500 mm, or IT1 to IT18"
        )
    return width


def iso286_deviations(nominal_nm: int, code: str) -> tuple[int, int]:
    """Lower and upper limit deviation (EI, ES or ei, es) of a tolerance class [nm, nm].

    nominal_nm  nominal size [nm], over 0 up to and including 3150 mm
    code        tolerance class: "H7", "g6", "JS9", "zc8"

    Rules: A to H and a to h lie clear of the nominal size by the tabulated deviation; js and JS lie ±IT/2 about it
    (the 1988 edition let ±IT/2 of grades 7 to 11 be rounded to a whole micrometre; here it is exact); k is 0 outside
    IT4 to IT7; holes K, M, N up to IT8 and P to ZC up to IT7 have Δ = ITn − IT(n−1) added (over 3 mm, to 500 mm).
    Raises OutOfRange for the size; Unreadable for the code; Impossible for a class that the standard does not define
    at this size (A, B at 1 mm and less; K above IT8 from 3 to 500 mm; T up to 24 mm; …), naming what it does define.
    Source: ISO 286-1:2010 tables 2 to 5, with Δ and the special case M6, 250 to 315 mm, from tables 2 and 3.
    """
    letters, grade = _read_code(code)
    _check_size(nominal_nm)
    try:
        width = it_tolerance(nominal_nm, grade)
    except TradeError as error:
        field = "code" if error.field == "grade" else error.field
        raise type(error)(field, error.read, error.why, error.accepts) from error
    letter, hole, number = letters.lower(), letters.isupper(), GRADES.index(grade) - 1
    _check_class(nominal_nm, letters, number)

    if letter == "js":
        return -width // 2, width // 2
    if letter == "j":
        return _deviations_j(nominal_nm, letters, grade, width)
    deviation = _tabulated(nominal_nm, letters)
    if letter in _CLEAR:
        return (deviation, deviation + width) if hole else (-deviation - width, -deviation)
    if not hole:
        lower = 0 if letter == "k" and not 4 <= number <= 7 else deviation
        return lower, lower + width
    upper = _upper_of_tight_hole(nominal_nm, letter, number, deviation)
    return upper - width, upper


def iso286_limits(nominal_nm: int, code: str) -> tuple[int, int]:
    """Lowest and highest acceptable size of `nominal_nm` with tolerance class `code` [nm, nm].

    Range, errors and source as `iso286_deviations`.
    """
    lower, upper = iso286_deviations(nominal_nm, code)
    return nominal_nm + lower, nominal_nm + upper


def fit(nominal_nm: int, code: str) -> Fit:
    """The fit of a hole class and a shaft class at one nominal size: `H7/g6`.

    nominal_nm  nominal size of both [nm]
    code        hole class, a stroke, shaft class

    Raises Unreadable when the text is not a hole and a shaft in this order; otherwise as `iso286_deviations`.
    Source: ISO 286-1:2010, the fit system.
    """
    halves = [half.strip() for half in plain_signs(code).split("/")]
    if len(halves) != 2 or not all(halves):
        raise Unreadable("code", code, "it is not a hole and a shaft with a stroke between", "a fit such as H7/g6")
    hole, shaft = ("".join(_read_code(half)) for half in halves)
    if not hole[0].isupper() or shaft[0].isupper():
        raise Unreadable(
            "code", code, "a fit is the hole in capitals, then the shaft in small letters", "a fit such as H7/g6"
        )
    return Fit(f"{hole}/{shaft}", nominal_nm, *iso286_limits(nominal_nm, hole), *iso286_limits(nominal_nm, shaft))


_SHAPE: Final = re.compile(
    r"""(?:[Øø⌀∅]|dia\.?)?\s*
        (?P<nominal>(?:\d[\d.,]*|[.,]\d+)(?:(?:\s+|-)\d+\s*/\s*\d+|\s*/\s*\d+)?
            \s*(?i:mm|inches|inch|in\.?|"|thou)?)\s*
        (?P<letters>[A-Za-z]{1,2})\s?(?P<grade>\d+)""",
    re.VERBOSE,
)


def read_iso286(text: str) -> tuple[str, str] | None:
    """A size with a tolerance class, parted: "Ø18H7" is ("18", "H7"). None when the text has another shape.

    Two letters that are no ISO letter in any spelling (`RC4`, `mm6`) are another shape; one letter, or a mixture of
    small and capital (`Js9`), is this shape and is left for the reader of the code to refuse.
    """
    if len(text) > 80:
        return None
    found = _SHAPE.fullmatch(plain_signs(text))
    if found is None or (len(found["letters"]) == 2 and found["letters"].lower() not in SHAFT_LETTERS):
        return None
    return found["nominal"].strip(), found["letters"] + found["grade"]


def parse_iso286_requirement(text: str, unit: Unit = "mm") -> tuple[int, int, int, str] | None:
    """A requirement such as "25 H7", "Ø18H7", "12 h6" or "1/2 in js9", with its limits.

    text  nominal size (as `parse_length` reads it, in mm, inches or thou), then a tolerance class; Ø or dia may lead
    unit  of a nominal size without one: "mm" or "in"

    Returns nominal size, lowest and highest size [nm, nm, nm] and where the limits come from ("ISO 286 H7"); None when
    the text has not that shape, so that another reader may try. "2 M6" has it: a 2 mm hole of class M6.
    Raises as `iso286_deviations` when it has the shape and cannot be: "25 H77" has no such grade.
    """
    parted = read_iso286(text)
    if parted is None:
        return None
    nominal_text, code = parted
    nominal_nm = parse_length(nominal_text, unit, field="text")
    try:
        low_nm, high_nm = iso286_limits(nominal_nm, code)
    except TradeError as error:
        raise type(error)("text", error.read, error.why, error.accepts) from error
    return nominal_nm, low_nm, high_nm, f"ISO 286 {code}"


def _read_code(code: str) -> tuple[str, str]:
    found = re.fullmatch(r"([A-Za-z]{1,2})\s?(\d+)", code.strip())
    if found is None:
        raise Unreadable("code", code, "it is not a letter with a grade", _CODES)
    letters, grade = found.groups()
    if letters not in SHAFT_LETTERS and letters not in HOLE_LETTERS:
        if letters.lower() in SHAFT_LETTERS:
            why = f"{letters} is neither the hole {letters.upper()} nor the shaft {letters.lower()}"
        else:
            why = f"ISO 286 has no letter {letters}"
        raise Unreadable("code", code, why, _CODES)
    if grade not in _TOLERANCES:
        raise Unreadable("code", code, f"there is no grade {grade}", _CODES)
    return letters, grade


def _check_size(nominal_nm: int) -> None:
    if not 0 < nominal_nm <= tables.MAIN_MM[-1] * NM_PER_MM:
        raise OutOfRange("nominal_nm", _mm(nominal_nm), "ISO 286 does not cover this nominal size", _SIZES)


def _check_class(nominal_nm: int, letters: str, number: int) -> None:
    """Refuse the classes that the footnotes and empty columns of tables 2 to 5 leave out."""
    letter, hole = letters.lower(), letters.isupper()

    def refuse(defined: str) -> Impossible:
        return _undefined("code", f"{letters}{GRADES[number + 1]}", nominal_nm, defined)

    if letter in ("a", "b") and nominal_nm <= NM_PER_MM:
        raise refuse(f"{letters} is for nominal sizes over 1 mm")
    if letter in ("h", "js"):
        return
    if nominal_nm > 500 * NM_PER_MM and number < 6:
        raise refuse("over 500 mm the letters other than H and JS are for IT6 and coarser")
    if not hole or letter in _CLEAR or letter == "j":
        return
    if number < 3:
        raise refuse("holes K to ZC are for IT3 and coarser, since Δ begins there")
    if letter == "k" and number > 8 and 3 * NM_PER_MM < nominal_nm <= 500 * NM_PER_MM:
        raise refuse("K over 3 mm is for IT3 to IT8")
    if letter == "n" and number > 8 and nominal_nm <= NM_PER_MM:
        raise refuse("N above IT8 is for nominal sizes over 1 mm")


def _tabulated(nominal_nm: int, letters: str) -> int:
    letter = letters.lower()
    row, ends = (_MAIN[letter], tables.MAIN_MM) if letter in _MAIN else (_FINE[letter], tables.FINE_MM)
    deviation = _at(row, ends, nominal_nm)
    if deviation is None:
        blank = row.count(None)
        over = f"over {ends[blank - 1]} mm " if blank else ""
        defined = f"{letters} is for nominal sizes {over}up to and including {ends[len(row) - 1]} mm"
        raise _undefined("code", letters, nominal_nm, defined)
    return deviation


def _deviations_j(nominal_nm: int, letters: str, grade: str, width: int) -> tuple[int, int]:
    rows = _HOLE_J if letters == "J" else _SHAFT_J
    defined = (
        "J is for IT6 to IT8 up to 500 mm"
        if letters == "J"
        else "j is for IT5 to IT7 up to 500 mm, and IT8 up to and including 3 mm"
    )
    deviation = _at(rows.get(grade, ()), tables.MAIN_MM, nominal_nm)
    if deviation is None:
        raise _undefined("code", f"{letters}{grade}", nominal_nm, defined)
    return (deviation - width, deviation) if letters == "J" else (deviation, deviation + width)


def _upper_of_tight_hole(nominal_nm: int, letter: str, number: int, deviation: int) -> int:
    """ES of holes K to ZC [nm] from the deviation of the shaft of the same letter."""
    small, ordinary = nominal_nm <= 3 * NM_PER_MM, nominal_nm <= 500 * NM_PER_MM
    if letter == "n" and number > 8 and not small and ordinary:
        return 0
    if letter == "m" and number == 6 and 250 * NM_PER_MM < nominal_nm <= 315 * NM_PER_MM:
        return -9 * NM_PER_UM  # the standard's own exception; the rule would give −11
    if small or not ordinary or number > (8 if letter in ("k", "m", "n") else 7):
        return -deviation
    return -deviation + it_tolerance(nominal_nm, number) - it_tolerance(nominal_nm, number - 1)


def _at(row: Sequence[int | None], ends_mm: Sequence[int], nominal_nm: int) -> int | None:
    """The figure of the range "over … up to and including …" that holds `nominal_nm`; None where there is none."""
    place = bisect_left(ends_mm, Fraction(nominal_nm, NM_PER_MM))
    return row[place] if place < len(row) else None


def _undefined(field: str, read: str, nominal_nm: int, defined: str) -> Impossible:
    return Impossible(field, read, f"ISO 286 does not define it at {_mm(nominal_nm)}", defined)


def _mm(nominal_nm: int) -> str:
    return f"{format_length(nominal_nm, 'mm')} mm"
