"""Judging a reading by its limits: good, metal left, or past the limit, and by how much.

A dimension for reference has no limits to be judged by: the word for its readings is "reference", which is no verdict.

Assumption: the reading is the size. Its uncertainty is not counted here.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from server.rules.facts import LimitFacts

Word = Literal["good", "metal left", "past the limit", "reference"]
OUTSIDE: tuple[Word, ...] = ("metal left", "past the limit")


@dataclass(frozen=True, slots=True)
class Verdict:
    """The verdict on one reading.

    beyond_nm      [nm] how far outside the limits; 0 when inside them, and for a reference
    to_middle_nm   [nm] how far from the middle of the limits, always >= 0; None where one end is open
    """

    word: Word
    beyond_nm: int
    to_middle_nm: int | None

    @property
    def outside(self) -> bool:
        """Whether something has to be done about it: it is cut again, accepted or scrapped."""
        return self.word in OUTSIDE


def judge(value_nm: int, limits: LimitFacts) -> Verdict:
    """The verdict on a reading of value_nm [nm]. A size on a limit is inside it (ISO 14405-1: limits are inclusive).

    Outside the limits on the side from which cutting comes, there is metal left; on the other side, and on either
    side of a dimension that cutting does not change, it is past the limit. A reference has no verdict.
    """
    if limits.kind == "reference":
        return Verdict("reference", 0, None)
    middle = None
    if limits.low_nm is not None and limits.high_nm is not None:
        # Twice the distance, halved downwards: limits an odd number of nanometres apart have no whole middle.
        middle = abs(2 * value_nm - limits.low_nm - limits.high_nm) // 2
    if limits.low_nm is not None and value_nm < limits.low_nm:
        word: Word = "metal left" if limits.cutting == "larger" else "past the limit"
        return Verdict(word, limits.low_nm - value_nm, middle)
    if limits.high_nm is not None and value_nm > limits.high_nm:
        word = "metal left" if limits.cutting == "smaller" else "past the limit"
        return Verdict(word, value_nm - limits.high_nm, middle)
    return Verdict("good", 0, middle)
