"""What one cell of a plan's sheet says, in the words builders use.

Every function takes the text of a cell that is not blank and raises Unreadable when it cannot be read. The synonyms are
common practice, no source.
"""

from __future__ import annotations

import re
import unicodedata
from typing import Literal

from server.trade.errors import OutOfRange, Unreadable
from server.trade.length import plain_signs

Unit = Literal["mm", "in"]
Cutting = Literal["smaller", "larger", "neither"]
Importance = Literal["fit", "working", "cosmetic"]
Hand = Literal["none", "left", "right", "both"]

LONGEST_TEXT = 200
LONGEST_NUMBER = 40
HIGHEST_OPERATION = 9_999
MOST_PIECES = 999
MOST_MINUTES = 60_000.0

_UNITS: dict[str, Unit] = {
    **dict.fromkeys(("mm", "millimetre", "millimetres", "millimeter", "millimeters", "metric"), "mm"),
    **dict.fromkeys(("in", "inch", "inches", '"', "''"), "in"),
}
_CUTTING: dict[str, Cutting] = {
    **dict.fromkeys(("smaller", "small", "less", "shrinks", "thinner", "narrower", "shorter", "down"), "smaller"),
    **dict.fromkeys(("larger", "large", "bigger", "more", "grows", "wider", "deeper", "longer", "up"), "larger"),
    **dict.fromkeys(("neither", "none", "no", "nothing", "n/a", "na", "moves", "position", "-"), "neither"),
}
_IMPORTANCE: dict[str, Importance] = {
    **dict.fromkeys(("fit", "fits", "fitting", "mating"), "fit"),
    **dict.fromkeys(("working", "work", "works", "function", "functional", "running"), "working"),
    **dict.fromkeys(("cosmetic", "looks", "look", "appearance"), "cosmetic"),
}
_HANDS: dict[str, Hand] = {
    **dict.fromkeys(("none", "neither", "no", "n/a", "-"), "none"),
    **dict.fromkeys(("left", "l", "lh", "left hand", "left handed"), "left"),
    **dict.fromkeys(("right", "r", "rh", "right hand", "right handed"), "right"),
    **dict.fromkeys(("both", "pair", "left and right", "l and r", "lh and rh", "l/r", "lh/rh", "left/right"), "both"),
}

_OPERATION = re.compile(r"(?:op(?:eration)?\.?\s*|#\s*)?([0-9]{1,9})(?:[.,]0+)?", re.IGNORECASE)
_COUNT = re.compile(r"([0-9]{1,9})(?:[.,]0+)?(?:\s*off)?", re.IGNORECASE)
_FIGURE = r"([0-9]{1,9}(?:[.,][0-9]{0,9})?|[.,][0-9]{1,9})"
_TIME = re.compile(rf"{_FIGURE}\s*(min|mins|minute|minutes|h|hr|hrs|hour|hours)?\.?", re.IGNORECASE)
_HOURS_AND_MINUTES = re.compile(
    r"([0-9]{1,4})\s*(?:h|hr|hrs|hour|hours)\.?\s*([0-9]{1,2})\s*(?:min|mins|minute|minutes)?\.?", re.IGNORECASE
)
# G54 to G59.3 select coordinate systems 1 to 9: RS274/NGC, NIST IR 6556 (2000), section 3.5.13 (from memory)
_WORK_OFFSETS = (*(f"G{number}" for number in range(54, 60)), "G59.1", "G59.2", "G59.3")


def read_text(cell: str) -> str:
    """Free text; spaces in a row become one, lines stay lines.

    Raises OutOfRange past LONGEST_TEXT characters, Unreadable for characters that do not print.
    """
    text = "\n".join(line for line in (" ".join(line.split()) for line in cell.splitlines()) if line)
    for character in text:
        if character == "\ufffd":
            raise Unreadable(
                "cell", cell, "a character was lost when the sheet was saved (\ufffd)", "the cell typed again"
            )
        if character != "\n" and unicodedata.category(character) in ("Cc", "Cs"):
            raise Unreadable(
                "cell",
                cell,
                f"it holds a character that does not print ({ord(character):#06x})",
                "the cell typed again",
            )
    if len(text) > LONGEST_TEXT:
        raise OutOfRange("cell", cell, f"it is {len(text):,} characters long", f"up to {LONGEST_TEXT} characters")
    return text


def read_mark(cell: str) -> str:
    """The number or short mark of a part, dimension or revision, on one line, up to LONGEST_NUMBER characters."""
    text = " ".join(read_text(cell).split())
    if len(text) > LONGEST_NUMBER:
        raise OutOfRange("cell", cell, f"it is {len(text)} characters long", f"up to {LONGEST_NUMBER} characters")
    if not any(character.isalnum() for character in text):
        raise Unreadable(
            "cell", cell, "there is no letter or figure in it", "a number or a short mark such as CR, 3 or 3a"
        )
    return text


def _one_of(cell: str, words: dict[str, object], what: str, accepts: str) -> object:
    plain = " ".join(plain_signs(cell).casefold().replace("-", " ").split()).rstrip(".") or "-"
    if plain not in words:
        raise Unreadable("cell", cell, f"it is not {what}", accepts)
    return words[plain]


def read_unit(cell: str) -> Unit:
    """The unit of a requirement: "mm" or "in"."""
    unit: Unit = _one_of(cell, dict(_UNITS), "a unit taken here", "mm, in, or blank")  # type: ignore[assignment]
    return unit


def read_cutting(cell: str) -> Cutting:
    """What removing metal does to the dimension."""
    cutting: Cutting = _one_of(  # type: ignore[assignment]
        cell,
        dict(_CUTTING),
        "something cutting does to a dimension",
        "smaller (a shaft, a thickness), larger (a bore, a slot, a depth), neither (a position), or blank for neither",
    )
    return cutting


def read_importance(cell: str) -> Importance:
    """What the dimension matters for."""
    importance: Importance = _one_of(  # type: ignore[assignment]
        cell, dict(_IMPORTANCE), "something a dimension matters for", "fit, working, cosmetic, or blank for working"
    )
    return importance


def read_hand(cell: str) -> Hand:
    """The hand of a part."""
    hand: Hand = _one_of(cell, dict(_HANDS), "a hand", "left, right, both, none, or blank")  # type: ignore[assignment]
    return hand


def read_operation_number(cell: str) -> int:
    """The number of an operation, 1 to HIGHEST_OPERATION."""
    accepts = f"one whole number such as 10, 20 or 30, up to {HIGHEST_OPERATION:,}"
    match = _OPERATION.fullmatch(cell)
    if match is None:
        raise Unreadable("cell", cell, "it is not the number of an operation", accepts)
    number = int(match[1])
    if not 1 <= number <= HIGHEST_OPERATION:
        raise OutOfRange("cell", cell, f"an operation cannot have the number {number}", accepts)
    return number


def read_count(cell: str) -> int:
    """How many pieces, 0 to MOST_PIECES: "4", "4 off"."""
    accepts = f"a whole number from 0 to {MOST_PIECES}"
    match = _COUNT.fullmatch(cell)
    if match is None:
        raise Unreadable("cell", cell, "it is not a number of pieces", accepts)
    if int(match[1]) > MOST_PIECES:
        raise OutOfRange("cell", cell, "that is more pieces than are taken here", accepts)
    return int(match[1])


def read_minutes(cell: str, minutes_per_unit: float = 1.0) -> float:
    """A planned time [min], 0 to MOST_MINUTES: "25", "25 min", "1,5 h", "1 h 30 min".

    minutes_per_unit  what a number alone counts in [min]: 60.0 under a heading that says hours
    """
    accepts = f"minutes or hours such as 25, 25 min, 1.5 h or 1 h 30 min, up to {MOST_MINUTES / 60:,.0f} h"
    if match := _HOURS_AND_MINUTES.fullmatch(cell):
        minutes = 60.0 * int(match[1]) + int(match[2])
        if int(match[2]) > 59:
            raise Unreadable("cell", cell, "there are 60 minutes or more beside the hours", accepts)
    elif match := _TIME.fullmatch(cell):
        suffix = (match[2] or "").casefold()
        minutes = float(match[1].replace(",", ".")) * (
            minutes_per_unit if not suffix else 60.0 if suffix.startswith("h") else 1.0
        )
    else:
        raise Unreadable("cell", cell, "it is not a planned time", accepts)
    if minutes > MOST_MINUTES:
        raise OutOfRange("cell", cell, f"{minutes:,.0f} minutes are too long for one operation", accepts)
    return minutes


def read_work_offset(cell: str) -> str:
    """One work offset or several: "G54", and "G54/G55" for any of "G54+g55", "G54, G55", "G54 G55"."""
    offsets: list[str] = []
    for word in re.split(r"[\s/+,]+", cell.strip(" \t\n/+,")):
        if word.upper() not in _WORK_OFFSETS:
            raise Unreadable(
                "cell",
                cell,
                f'"{word}" is not a work offset' if word else "it names no work offset",
                "G54 to G59, G59.1, G59.2, G59.3, several as G54/G55, or blank",
            )
        if word.upper() not in offsets:
            offsets.append(word.upper())
    return "/".join(offsets)
