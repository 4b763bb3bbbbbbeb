"""Lengths as they are typed in a shop, to whole nanometres and back.

A length is an int of nanometres everywhere in this program; 1 in = 25.4 mm exactly (the international inch of 1959), so
both units are whole numbers of nanometres and nothing is lost between them. Reading and writing use exact fractions,
never floats.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Callable
from fractions import Fraction
from typing import Final, Literal

from server.trade.errors import OutOfRange, TradeError, Unreadable

Unit = Literal["mm", "in"]
Mark = Literal["", "mm", "in", "thou", "tenths", "µm"]

NM_PER_UM: Final = 1_000
NM_PER_MM: Final = 1_000_000
NM_PER_IN: Final = 25_400_000
LONGEST_NM: Final = 1_000_000 * NM_PER_MM  # 1 km: anything longer is a slip of the keys

ACCEPTS: Final = 'a length such as 12.7, 12,7 mm, 0.5 in, 1 3/16", 5 thou or 15 µm'

_NM_PER_MARK: Final[dict[Mark, Fraction]] = {
    "mm": Fraction(NM_PER_MM),
    "in": Fraction(NM_PER_IN),
    "thou": Fraction(NM_PER_IN, 1_000),
    "tenths": Fraction(NM_PER_IN, 10_000),
    "µm": Fraction(NM_PER_UM),
}
_MARKS: Final[dict[str, Mark]] = {
    "": "",
    **dict.fromkeys(("mm", "millimetre", "millimetres", "millimeter", "millimeters"), "mm"),
    **dict.fromkeys(('"', "in", "in.", "inch", "inches"), "in"),
    "thou": "thou",
    **dict.fromkeys(("tenth", "tenths"), "tenths"),
    # the Greek letter, as casefold leaves it
    **dict.fromkeys(("\u03bcm", "um", "micron", "microns"), "µm"),
    **dict.fromkeys(("micrometre", "micrometres", "micrometer", "micrometers"), "µm"),
}
_REFUSED_MARKS: Final = {
    **dict.fromkeys(("cm", "centimetre", "centimetres", "centimeter", "centimeters"), "centimetres are"),
    **dict.fromkeys(("m", "metre", "metres", "meter", "meters"), "metres are"),
    **dict.fromkeys(("'", "ft", "ft.", "foot", "feet"), "feet are"),
    # a thousandth of an inch to some, a millimetre to others
    **dict.fromkeys(("mil", "mils"), "mils (a thousandth of an inch or a millimetre?) are"),
}
UNIT_WORDS: Final = frozenset(_MARKS.keys() | _REFUSED_MARKS.keys()) - {
    ""
}  # every unit understood well enough to answer

# What keyboards, phones and word processors put in place of the plain signs.
_PLAIN_SIGNS: Final = str.maketrans(
    {
        **dict.fromkeys("\u2212\u2010\u2011\u2012\u2013\u2014\ufe63\uff0d", "-"),
        **dict.fromkeys("\u2044\u2215", "/"),
        **dict.fromkeys("\u2033\u201c\u201d\u201e\u02ba\uff02", '"'),
        **dict.fromkeys("\u2032\u2018\u2019\u02b9", "'"),
    }
)
_DECIMAL: Final = re.compile(r"(?:[0-9]+[.,]?[0-9]*|[.,][0-9]+)\Z")
_NUMBER: Final = re.compile(r"[0-9.,]+(?:(?:\s+|-)[0-9]+\s*/\s*[0-9]+|\s*/\s*[0-9.,]+)?")
_WHOLE_AND_FRACTION: Final = re.compile(r"(?:([0-9]+)(?:\s+|-))?([0-9]+)\s*/\s*([0-9]+)\Z")
_EXPONENT: Final = re.compile(r"e[+-]?[0-9]")
_LONGEST_TEXT: Final = 80


def plain_signs(text: str) -> str:
    """`text` with the typographic signs made plain: minus, quotation and prime marks, fraction bar, every kind of
    space, and single characters such as ½ written out (`1½` becomes `1 1/2`).
    """
    out: list[str] = []
    for character in text.translate(_PLAIN_SIGNS):
        if character.isspace() or unicodedata.category(character) == "Zs":
            out.append(" ")
        elif unicodedata.decomposition(character).startswith("<fraction>"):
            gap = " " if out and out[-1].isdecimal() else ""
            out.append(gap + unicodedata.normalize("NFKC", character).translate(_PLAIN_SIGNS))
        else:
            out.append(character)
    return "".join(out).replace("''", '"').strip()


def parse_length(text: str, unit: Unit = "mm", *, field: str = "length") -> int:
    """The length typed as `text` [nm].

    text   a decimal with point or comma (`12.7`, `.250`, `12,7`), a fraction (`1/2`, `1 3/16`, `1-3/16`, `1½`), with a
           sign or not, with a unit or not: `mm`; `in`, `inch`, `inches`, `"`, `''`; `thou`; `tenths` (ten-thousandths
           of an inch, in inch work only); `µm`, `um`, `micron`
    unit   what a bare number is in: "mm" or "in"
    field  the name of the input, for the message

    Assumes one comma or one point is the decimal mark; a text with both is refused, since it reads two ways. A value
    finer than 1 nm is rounded to the nearest, half to even.
    Raises Unreadable, naming the part that was not understood; OutOfRange beyond ±1 km.
    Source: 1 in = 25.4 mm exactly, ISO 31-1 / NIST SP 811 appendix B (from memory).
    """
    return read_length(text, unit, field=field)[0]


def read_length(text: str, unit: Unit = "mm", *, field: str = "length") -> tuple[int, Mark]:
    """As `parse_length`, with the unit that was written beside the number ("" when it was bare)."""
    if unit not in ("mm", "in"):
        raise Unreadable("unit", unit, f"{unit!r} is not a unit of length used here", "mm or in")

    def cannot(why: str) -> TradeError:
        return Unreadable(field, text, why, ACCEPTS)

    if len(text) > _LONGEST_TEXT:
        raise Unreadable(
            field, text[:_LONGEST_TEXT] + "…", f"{len(text)} characters are too many for a length", ACCEPTS
        )
    plain = plain_signs(text).casefold()
    if not plain:
        raise cannot("nothing was typed")

    negative = plain.startswith("-")
    unsigned = plain[1:].lstrip() if plain[0] in "+-" else plain
    if not unsigned:
        raise cannot(f"a sign {plain!r} without a number")
    if unsigned[0] in "+-":
        raise cannot("two signs before one number")
    found = _NUMBER.match(unsigned)
    if found is None:
        raise cannot(f"{unsigned!r} is not a number")
    number, rest = found.group().rstrip(), unsigned[found.end() :].strip()
    if _EXPONENT.match(rest):
        raise cannot(f"{number + rest!r} is written with an exponent; write the figure out")
    mark = _mark(rest, number, unit, cannot)
    value = _value(number, cannot)

    nm = round(value * _NM_PER_MARK[mark or unit])  # round() of a Fraction: exact, half to even
    if nm > LONGEST_NM:
        raise OutOfRange(field, text, f"{unsigned!r} is longer than 1 km", f"{ACCEPTS}, up to 1 km")
    return (-nm if negative else nm), mark


def _mark(rest: str, number: str, unit: Unit, cannot: Callable[[str], TradeError]) -> Mark:
    if rest in _MARKS:
        mark = _MARKS[rest]
        if mark == "tenths" and unit == "mm":
            raise cannot("tenths reads two ways in millimetre work: 0.1 mm, or 0.0001 in; write the figure out")
        return mark
    if rest in _REFUSED_MARKS:
        raise cannot(f"{_REFUSED_MARKS[rest]} not accepted, millimetres and inches are")
    if rest[0].isdecimal() or rest[0] in ".,/-+":
        raise cannot(f"{rest!r} after {number!r} is not understood; one number is wanted")
    raise cannot(f"{rest!r} is not a unit of length used here")


def _value(number: str, cannot: Callable[[str], TradeError]) -> Fraction:
    if "/" in number:
        parts = _WHOLE_AND_FRACTION.match(number)
        if parts is None:
            raise cannot(f"{number!r} mixes a decimal with a fraction")
        whole, above, below = parts.groups()
        if int(below) == 0:
            raise cannot(f"{number!r} divides by zero")
        return int(whole or 0) + Fraction(int(above), int(below))
    if _DECIMAL.match(number):
        return Fraction("0" + number.replace(",", ".").rstrip("."))
    if "." in number and "," in number:
        raise cannot(f"{number!r} has both a point and a comma, so it reads two ways; use one, as the decimal mark")
    if number.count(".") + number.count(",") > 1:
        raise cannot(f"{number!r} has more than one decimal mark")
    raise cannot(f"{number!r} is not a number")


def format_length(nm: int, unit: Unit, decimals: int | None = None) -> str:
    """`nm` [nm] written in `unit`, without the unit's name.

    decimals  how many, 0 to 9; None: as many as it takes and no more than 6 (exact in millimetres)
    Rounded half to even. A length that rounds to nothing is written without a sign. Negative lengths take a plain
    hyphen, so that what is written can be typed again.
    Raises OutOfRange for decimals outside 0 to 9.
    """
    if decimals is not None and not 0 <= decimals <= 9:
        raise OutOfRange("decimals", decimals, "that many decimals cannot be written", "0 to 9 decimals")
    places = 6 if decimals is None else decimals
    scaled = round(Fraction(nm * 10**places, NM_PER_IN if unit == "in" else NM_PER_MM))
    digits = str(abs(scaled)).rjust(places + 1, "0")
    text = f"{digits[:-places]}.{digits[-places:]}" if places else digits
    if decimals is None:
        text = text.rstrip("0").rstrip(".")
    return "-" + text if scaled < 0 else text


def format_signed(nm: int, unit: Unit, decimals: int | None = None) -> str:
    """`nm` [nm] as a deviation: `+0.021`, `−0.013` (a true minus sign), and nothing before a zero, as drawings have it.

    Otherwise as `format_length`.
    """
    text = format_length(nm, unit, decimals)
    if text.startswith("-"):
        return "−" + text[1:]
    return "+" + text if text.strip("0.") else text
