"""What a dimension must measure, read from the text a drawing or a builder gives.

The plain forms are read here: ± figures, two deviations, two sizes, at most, at least, reference, and a bare size held
to a general tolerance. Texts with a letter code (an ISO 286 class, a thread) are offered to CODE_READERS in turn.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass
from typing import Final, Literal, get_args

from server.trade.errors import Impossible, OutOfRange, TradeError, Unreadable
from server.trade.general_tolerances import Grade, general_tolerance
from server.trade.iso286 import parse_iso286_requirement
from server.trade.length import UNIT_WORDS, Mark, Unit, format_length, plain_signs, read_length
from server.trade.thread_designation import parse_thread_requirement

Cutting = Literal["smaller", "larger", "neither"]
RequirementKind = Literal["size", "at most", "at least", "reference"]

CodeReader = Callable[[str, Unit, Cutting], tuple[int, int, int, str] | None]
"""Reads one family of letter codes. Given the text without its Ø or R, its signs made plain, the unit of bare numbers
and the cutting direction: (nominal, low, high [nm], low below high, standard as it is to be shown), or None when the
text is not of its family. A text that is of its family and still cannot be taken is a TradeError."""

# Threads first: an M begins a thread before it is the letter of a hole.
CODE_READERS: Final[tuple[CodeReader, ...]] = (
    parse_thread_requirement,
    lambda text, unit, cutting: parse_iso286_requirement(text, unit),
)

ACCEPTS: Final = (
    "a size and what it may be, such as 25 ±0.02, 25 +0.021/0, 24.98 to 25, 25 H7, M8×1-6g, max 0.8, min 3, "
    "(30) for reference only, or a bare size where a general tolerance is set"
)
ACCEPTS_GENERAL: Final = "f, m, c or v of ISO 2768-1 (ISO 2768-m), or a figure of your own such as ±0.1"
_LONGEST_TEXT: Final = 120

_UNIT = "(?:" + "|".join(re.escape(word) for word in sorted(UNIT_WORDS | {"µm"}, key=len, reverse=True)) + ")"
_NUMBER = r"(?:[0-9]+(?:\s+|-)[0-9]+\s*/\s*[0-9]+|[0-9]+\s*/\s*[0-9]+|[0-9.,]+)"
_UNSIGNED = rf"{_NUMBER}(?:\s*{_UNIT})?(?![^\W\d_])"
_SIZE = rf"[+-]?\s*{_UNSIGNED}"
_ZERO = rf"(?:0+[.,]?0*|[.,]0+)(?:\s*{_UNIT})?(?![^\W\d_])"
_DEVIATION = rf"(?:[+-]\s*{_UNSIGNED}|{_ZERO})"
# A tight hyphen after a number belongs to the number (1-3/16); a deviation starts with a space, or a plus, or follows a
# written unit.
_BEFORE_DEVIATION = r"(?:\s+|(?=\+)|(?<=[^\d\s.,])(?=-))"
_BETWEEN_DEVIATIONS = r"(?:\s*/\s*|\s+|(?=[+-]))"
# "max.8" could be 8 or .8: after an abbreviation's point a space is wanted
_AFTER_WORD = r"(?:\.?\s+|(?=[0-9+-]))"


def _form(pattern: str) -> re.Pattern[str]:
    return re.compile(pattern + r"\Z", re.IGNORECASE)


_PREFIX: Final = re.compile(rf"(\(?\s*)(?:[Øø⌀∅φΦ□]\s*|dia(?:meter)?{_AFTER_WORD}|R(?=\s*[0-9.,])\s*)", re.IGNORECASE)
_PLUS_MINUS: Final = re.compile(r"\+\s*/?\s*-")
_EXPONENT: Final = re.compile(r"[0-9.,]+[eE][0-9]+")
_DOTS: Final = re.compile(r"\s*(?:\.{2,3}|…)\s*")
_DOTS_TWO_WAYS: Final = re.compile(r"\.\.\.[0-9]+(?![0-9.,])")
_WORD: Final = re.compile(r"[^\W\d_]+")
_WORDS: Final = frozenset(UNIT_WORDS | {"to", "max", "maximum", "min", "minimum", "ref", "reference"})

_REFERENCE: Final = (
    _form(rf"\(\s*({_SIZE})\s*\)"),
    _form(rf"({_SIZE})\s*ref(?:erence|\.)?"),
    _form(rf"ref(?:erence)?{_AFTER_WORD}({_SIZE})"),
)
_AT_MOST: Final = (
    _form(rf"(?:max(?:imum)?{_AFTER_WORD}|(?:≤|<=)\s*)({_SIZE})"),
    _form(rf"({_SIZE})\s*max(?:imum|\.)?"),
)
_AT_LEAST: Final = (
    _form(rf"(?:min(?:imum)?{_AFTER_WORD}|(?:≥|>=)\s*)({_SIZE})"),
    _form(rf"({_SIZE})\s*min(?:imum|\.)?"),
)
_EITHER_WAY: Final = _form(rf"({_SIZE})\s*±\s*({_UNSIGNED})")
_TWO_DEVIATIONS: Final = _form(rf"({_SIZE}){_BEFORE_DEVIATION}({_DEVIATION}){_BETWEEN_DEVIATIONS}({_DEVIATION})")
_SECOND_UNSIGNED: Final = _form(rf"({_SIZE}){_BEFORE_DEVIATION}({_DEVIATION}){_BETWEEN_DEVIATIONS}({_UNSIGNED})")
_ONE_DEVIATION: Final = _form(rf"({_SIZE}){_BEFORE_DEVIATION}([+-]\s*{_UNSIGNED})")
_TWO_SIZES: Final = (_form(rf"({_SIZE})\s*\bto\b\s*({_SIZE})"), _form(rf"({_SIZE})\s+-\s+({_SIZE})"))
_TIGHT_SIZES: Final = _form(rf"({_SIZE})-({_UNSIGNED})")
_ONE_SIZE: Final = _form(rf"({_SIZE})")
_GRADES: Final[dict[str, Grade]] = {grade: grade for grade in get_args(Grade)}
_GRADE: Final = _form(r"(?:ISO\s*2768(?:-1)?\s*-?\s*)?([fmcv])[HKL]?")


@dataclass(frozen=True, slots=True)
class Requirement:
    """What a dimension must measure.

    text        as it was typed
    unit        what its bare numbers are in
    nominal_nm  the size the deviations are from [nm]; None where the text has only limits
    low_nm      lowest acceptable size [nm]; None: open, or reference only
    high_nm     highest acceptable size [nm]; None: open, or reference only
    kind        "size" has both limits, "at most" and "at least" one, "reference" none
    standard    where the limits come from when not from the text itself ("ISO 2768-1 m"), else ""
    cutting     what removing metal does to the dimension
    """

    text: str
    unit: Unit
    nominal_nm: int | None
    low_nm: int | None
    high_nm: int | None
    kind: RequirementKind
    standard: str
    cutting: Cutting

    @property
    def width_nm(self) -> int | None:
        """Room between the limits [nm]; None when a side is open."""
        return None if self.low_nm is None or self.high_nm is None else self.high_nm - self.low_nm

    @property
    def middle_nm(self) -> int | None:
        """Half-way between the limits [nm], a half nanometre dropped; None when a side is open."""
        return None if self.low_nm is None or self.high_nm is None else (self.low_nm + self.high_nm) // 2


def parse_requirement(text: str, unit: Unit, cutting: Cutting, general: str | None = None) -> Requirement:
    """The requirement typed as `text`.

    text     `25 ±0.02`, `25 +/-0.02`; `25 +0.021/0`, `1.000 +.001 -.000`; `24.98..25`, `18 to 18.027`, `24.98 - 25`;
             `max 0.8`, `3 min`, `≤0.8`; `(30)`, `30 ref`; a bare `25`; `18 H7`; `M8×1-6g` (its pitch diameter).
             Numbers as `parse_length` takes them; Ø, R, □ or dia may stand before them
    unit     what bare numbers are in, "mm" or "in". A unit written on the first number holds for bare ones after it
    cutting  what removing metal does: "smaller", "larger" or "neither"
    general  what a bare size is held to: a class of ISO 2768-1 (`m`, `ISO 2768-m`) or a figure of one's own (`±0.1`)

    Assumes table 1 (linear sizes) when a class of ISO 2768-1 is given; an external radius or chamfer that is meant to
    be a broken edge wants its own figures. Nothing is guessed: text that reads two ways is refused.
    Raises Unreadable, naming the part that was not understood; Impossible for limits that leave no room or are the
    wrong way round; OutOfRange beyond ±1 km or beyond ISO 2768-1.
    """
    if unit not in get_args(Unit):
        raise Unreadable("unit", unit, f"{unit!r} is not a unit of length used here", "mm or in")
    if cutting not in get_args(Cutting):
        raise Unreadable("cutting", cutting, f"{cutting!r} is not what cutting does", "smaller, larger or neither")
    if len(text) > _LONGEST_TEXT:
        shown = text[:_LONGEST_TEXT] + "…"
        raise Unreadable("requirement", shown, f"{len(text)} characters are too many for a requirement", ACCEPTS)
    asked = _Asked(text, unit, cutting)
    nominal_nm, low_nm, high_nm, kind, standard = asked.read(general)
    if low_nm is not None and low_nm == high_nm:
        raise asked.refusal(f"no room between the limits, both are {asked.show(low_nm)}", Impossible)
    return Requirement(text, unit, nominal_nm, low_nm, high_nm, kind, standard, cutting)


_Limits = tuple[int | None, int | None, int | None, RequirementKind, str]


@dataclass(frozen=True, slots=True)
class _Asked:
    """One text being read: what was typed, what its bare numbers are in, and what cutting does to it."""

    text: str
    unit: Unit
    cutting: Cutting

    def refusal(self, why: str, error: type[TradeError] = Unreadable, accepts: str = ACCEPTS) -> TradeError:
        return error("requirement", self.text, why, accepts)

    def show(self, nm: int) -> str:
        return f"{format_length(nm, self.unit)} {self.unit}"

    def length(self, part: str, unit: Unit) -> tuple[int, Mark]:
        try:
            return read_length(part, unit)
        except TradeError as cause:
            raise type(cause)("requirement", self.text, cause.why, ACCEPTS) from cause

    def read(self, general: str | None) -> _Limits:
        plain = plain_signs(self.text)
        prefix = _PREFIX.match(plain)
        body = prefix[1] + plain[prefix.end() :] if prefix else plain
        if not body:
            raise self.refusal("nothing was typed" if not plain else f"no size after {plain!r}")
        unknown = _unknown_word(body)
        if unknown is not None:
            return self.code(body, unknown)
        if _DOTS_TWO_WAYS.search(body):
            raise self.refusal("three dots before a whole number read two ways; write 'to' between two sizes")
        body = _PLUS_MINUS.sub("±", _DOTS.sub(" to ", body))

        if found := _first(_REFERENCE, body):
            return self.length(found[1], self.unit)[0], None, None, "reference", ""
        if found := _first(_AT_MOST, body):
            return None, None, self.length(found[1], self.unit)[0], "at most", ""
        if found := _first(_AT_LEAST, body):
            return None, self.length(found[1], self.unit)[0], None, "at least", ""
        if found := _EITHER_WAY.match(body):
            nominal_nm, (either_nm,) = self.together(found[1], found[2])
            return nominal_nm, nominal_nm - either_nm, nominal_nm + either_nm, "size", ""
        if found := _TWO_DEVIATIONS.match(body):
            return self.deviations(found[1], found[2], found[3])
        if found := _first(_TWO_SIZES, body):
            return self.sizes(found[1], found[2])
        if found := _ONE_SIZE.match(body):
            return self.bare(found[1], general)
        if found := _TIGHT_SIZES.match(body):
            if "/" in body:
                raise self.refusal(f"{body!r} reads two ways; write 'to' between two sizes")
            return self.sizes(found[1], found[2])
        raise self.not_understood(body)

    def code(self, body: str, unknown: str) -> _Limits:
        if _EXPONENT.fullmatch(body):
            raise self.refusal(f"{body!r} reads two ways; for a class write a space before its letter")
        for reader in CODE_READERS:
            try:
                limits = reader(body, self.unit, self.cutting)
            except TradeError as cause:
                raise type(cause)("requirement", self.text, cause.why, cause.accepts) from cause
            if limits is not None:
                nominal_nm, low_nm, high_nm, standard = limits
                return nominal_nm, low_nm, high_nm, "size", standard
        raise self.refusal(f"{unknown!r} is not understood")

    def together(self, first: str, *others: str) -> tuple[int, list[int]]:
        """A size and the figures after it [nm]. A unit on the first holds for the bare ones after it; any other
        mixture of written units and bare numbers that would read differently with one unit throughout is refused.
        """
        first_nm, first_mark = self.length(first, self.unit)
        unit: Unit = first_mark if first_mark in ("mm", "in") else self.unit
        read = [self.length(other, unit) for other in others]
        marks = {mark for _, mark in read if mark}
        for other, (nm, mark) in zip(others, read, strict=True):
            if not first_mark and mark in ("mm", "in") and mark != self.unit and first_nm:
                raise self.refusal(f"{other!r} has its unit and {first!r} has none; write the unit on both")
            if nm and not mark and (first_mark not in ("", unit) or marks - {unit}):
                raise self.refusal(f"{other!r} has no unit and another figure has; write the unit on each")
        return first_nm, [nm for nm, _ in read]

    def deviations(self, nominal: str, first: str, second: str) -> _Limits:
        nominal_nm, (first_nm, second_nm) = self.together(nominal, first, second)
        if first_nm * second_nm > 0 and first_nm < second_nm:
            raise self.refusal(
                f"the deviations {first!r} and {second!r} are on one side and the lower is first; "
                f"is {self.show(nominal_nm + first_nm)} to {self.show(nominal_nm + second_nm)} meant, "
                "or is a sign wrong? Write the higher first, or the two sizes",
                Impossible,
            )
        low_nm, high_nm = sorted((first_nm, second_nm))
        return nominal_nm, nominal_nm + low_nm, nominal_nm + high_nm, "size", ""

    def sizes(self, low: str, high: str) -> _Limits:
        low_nm, (high_nm,) = self.together(low, high)
        if low_nm > high_nm:
            raise self.refusal(
                f"the first size {low!r} is larger than the second {high!r}; write the lower first", Impossible
            )
        return None, low_nm, high_nm, "size", ""

    def bare(self, size: str, general: str | None) -> _Limits:
        nominal_nm = self.length(size, self.unit)[0]
        if general is None or not general.strip():
            raise self.refusal(
                f"{size!r} has no limits; add ±, two deviations or a second size, make it max or min, write ({size}) "
                "for reference only, or set a general tolerance"
            )
        grade = _GRADE.match(plain_signs(general))
        if grade:
            letter = _GRADES[grade[1].casefold()]
            try:
                either_nm = general_tolerance(nominal_nm, letter)
            except OutOfRange as cause:
                accepts = f"{cause.accepts}, or a size with limits of its own"
                raise self.refusal(cause.why, OutOfRange, accepts) from cause
            return nominal_nm, nominal_nm - either_nm, nominal_nm + either_nm, "size", f"ISO 2768-1 {letter}"
        either_nm = _own_figure(general, self.unit)
        standard = f"general ±{format_length(either_nm, self.unit)} {self.unit}"
        return nominal_nm, nominal_nm - either_nm, nominal_nm + either_nm, "size", standard

    def not_understood(self, body: str) -> TradeError:
        if found := _ONE_DEVIATION.match(body):
            return self.refusal(f"{found[2]!r} is one deviation and two are wanted, such as {found[2]}/0")
        if found := _SECOND_UNSIGNED.match(body):
            return self.refusal(f"the second deviation {found[3]!r} has no sign")
        start = re.match(_SIZE, body, re.IGNORECASE)
        if start is None:
            return self.refusal(f"{body!r} is not understood")
        self.length(start[0], self.unit)  # when the number itself is at fault, its own refusal says so
        return self.refusal(f"{body[start.end() :].strip()!r} after {start[0]!r} is not understood")


def _first(forms: tuple[re.Pattern[str], ...], body: str) -> re.Match[str] | None:
    return next((found for form in forms if (found := form.match(body))), None)


def _unknown_word(body: str) -> str | None:
    """The first word that no plain form uses, up to the next space: a code such as H7, or something not understood."""
    for word in _WORD.finditer(body):
        thread_or_class = word[0] in ("M", "m") and body[word.end() :][:1].isdigit()  # M8, m6: not metres
        if word[0].casefold() not in _WORDS or thread_or_class:
            return body[word.start() :].split()[0]
    return None


def _own_figure(general: str, unit: Unit) -> int:
    plain = _PLUS_MINUS.sub("±", plain_signs(general)).removeprefix("±")
    try:
        nm = read_length(plain, unit)[0]
    except TradeError as cause:
        raise type(cause)("general", general, cause.why, ACCEPTS_GENERAL) from cause
    if nm <= 0:
        raise OutOfRange("general", general, "a general tolerance is more than nothing", ACCEPTS_GENERAL)
    return nm
