"""How large letters may be so that a mark fits its label, whatever was stamped: short, long, or in wide characters."""

from __future__ import annotations

import unicodedata
from typing import Final

# Widths in thousandths of the letter height (the em), of a wide bold face (DejaVu Sans Bold, as measured in chromium,
# rounded up): a narrower face leaves room.
_KNOWN: Final = dict.fromkeys("MWmw@%", 1110) | dict.fromkeys("iIlj.,:;|!'-/\\ ()[]", 460)
_UPPER, _OTHER, _SIGN, _FOREIGN = 850, 740, 900, 1330
_FIRST_FOREIGN = 0x370  # where Latin ends: Greek, Cyrillic and all that follow are given the widest letter's room


def width_per_mille(text: str) -> int:
    """The width of a line of bold letters, in thousandths of the em; rather too wide than too narrow."""
    total = 0
    for letter in text:
        if unicodedata.combining(letter) or unicodedata.category(letter) == "Cf":
            continue
        if letter in _KNOWN:
            total += _KNOWN[letter]
        elif ord(letter) >= _FIRST_FOREIGN:
            total += _FOREIGN
        elif letter.isalnum():
            total += _UPPER if letter.isupper() else _OTHER
        else:
            total += _SIGN
    return total


def letters_nm(text: str, room_nm: int, tallest_nm: int, smallest_nm: int) -> int:
    """The em [nm] at which `text` fits into a line of `room_nm` [nm], between the smallest and the tallest [nm].

    At the smallest it may not fit: then it has to be broken into lines.
    """
    width = width_per_mille(text)
    fitting_nm = room_nm * 1000 // width if width else tallest_nm
    return max(smallest_nm, min(tallest_nm, fitting_nm))
