"""Which column of a builder's sheet is which field of the plan.

Headings are the builder's own words. They are compared without regard to case, punctuation, plural and anything in
brackets, against the trade's usual words for each field. A heading that is not among them is never guessed at: it is
offered for the builder to place.
"""

from __future__ import annotations

import re
import unicodedata
from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from server.records.plan_fields import KINDS, Field, Kind, fields_of
from server.trade.errors import Unreadable

LEAVE_OUT = "leave out"
"""What the builder chooses for a column that is not to be read."""


@dataclass(frozen=True, slots=True)
class PlacedColumn:
    """A column whose field is known. `unit` is what its heading says ("Size (in)"), None when it says nothing."""

    index: int
    heading: str
    field: str
    unit: str | None


@dataclass(frozen=True, slots=True)
class OtherColumn:
    """A column that is not placed; `index` counts from 0."""

    index: int
    heading: str


@dataclass(frozen=True, slots=True)
class DuplicateField:
    """Two or more columns that mean the same field; none is used until the builder says which."""

    field: str
    columns: tuple[OtherColumn, ...]


@dataclass(frozen=True, slots=True)
class Placement:
    """Where every column of a sheet goes.

    columns     read, in the order of the sheet
    unplaced    headings not known: offered for the builder to place or to leave out
    left_out    columns the builder chose to leave out
    duplicates  fields that more than one column means
    missing     required fields no column means
    """

    kind: Kind
    columns: tuple[PlacedColumn, ...]
    unplaced: tuple[OtherColumn, ...]
    left_out: tuple[OtherColumn, ...]
    duplicates: tuple[DuplicateField, ...]
    missing: tuple[str, ...]

    @property
    def ready(self) -> bool:
        """True when rows can be read: every required field has one column. Columns not placed are no hindrance."""
        return not self.duplicates and not self.missing

    def column(self, field: str) -> PlacedColumn | None:
        """The column that holds `field`, None when the sheet has none."""
        return next((column for column in self.columns if column.field == field), None)


# A heading that means its second field when another column already holds the first: "No." beside "Operation", "What"
# beside "Dimension". Only used when no other column claims the second field.
_SECOND_MEANING: dict[Kind, dict[str, tuple[str, str]]] = {
    "dimensions": {"dimension": ("name", "requirement"), "dim": ("number", "requirement")},
    "operations": {"operation": ("number", "name"), "op": ("number", "name"), "step": ("number", "name")},
}

_UNITS_IN_HEADINGS: dict[str, dict[str, tuple[str, ...]]] = {
    "requirement": {
        "mm": ("mm", "millimetre", "millimetres", "millimeter", "millimeters"),
        "in": ("in", "inch", "inches", '"', "″"),
    },
    "planned_minutes": {
        "min": ("min", "mins", "minute", "minutes"),
        "h": ("h", "hr", "hrs", "hour", "hours"),
    },
}
_UNITS_REFUSED: dict[str, tuple[str, ...]] = {
    "requirement": ("cm", "m", "ft", "thou", "mil", "µm", "um", "nm", "centimetre", "metre"),
    "planned_minutes": ("s", "sec", "second", "seconds", "day", "days"),
}

_BRACKETED = re.compile(r"\(([^()]*)\)|\[([^\[\]]*)\]|\{([^{}]*)\}")


def _plain(heading: str) -> str:
    """The heading without case, punctuation, brackets, spaces and plural: "Set-ups (vice)" gives "setup"."""
    text = unicodedata.normalize("NFKC", _BRACKETED.sub(" ", heading)).casefold()
    words = re.findall(r"[^\W_]+", text.replace("#", " no ").replace("'", "").replace("’", ""))
    return "".join(
        word[:-1] if len(word) > 3 and word.endswith("s") and not word.endswith("ss") else word for word in words
    )


def _words_of(fields: tuple[Field, ...]) -> dict[str, str]:
    return {_plain(heading): field.name for field in fields for heading in field.headings}


_FIELD_BY_WORDS: dict[Kind, dict[str, str]] = {kind: _words_of(fields_of(kind)) for kind in KINDS}
_HOURS = frozenset(_plain(heading) for heading in ("hours", "hrs", "planned hours", "estimated hours", "time in hours"))


def is_known(heading: str) -> bool:
    """True when the heading means a field in at least one kind of sheet."""
    return any(_plain(heading) in words for words in _FIELD_BY_WORDS.values())


def guess_kind(headings: Sequence[str]) -> Kind | None:
    """The kind of sheet with these headings, from the headings only one kind has; None when they do not say."""
    fields: dict[Kind, set[str]] = {
        kind: {words[_plain(heading)] for heading in headings if _plain(heading) in words}
        for kind, words in _FIELD_BY_WORDS.items()
    }
    # "operation" is a field of one kind and the number of the other: it says nothing by itself.
    telling = {
        "dimensions": len(fields["dimensions"] & {"requirement", "unit", "cutting", "importance", "gauge"}),
        "operations": len(
            fields["operations"] & {"machine", "setup", "work_offset", "cutters", "planned_minutes", "check_before"}
        ),
    }
    if telling["dimensions"] == telling["operations"]:
        return None
    return "dimensions" if telling["dimensions"] > telling["operations"] else "operations"


def _unit_said(heading: str, field: str) -> str | None:
    """The unit a heading names in brackets: "mm", "in", "min", "h", or the text itself when it is not taken."""
    if field == "planned_minutes" and _plain(heading) in _HOURS:
        return "h"
    for groups in _BRACKETED.findall(heading):
        text = "".join(groups).strip().casefold().rstrip(".")
        for unit, spellings in _UNITS_IN_HEADINGS.get(field, {}).items():
            if text in spellings:
                return unit
        if text in _UNITS_REFUSED.get(field, ()):
            return text
    return None


def place_headings(headings: Sequence[str], kind: Kind, chosen: Mapping[int, str] | None = None) -> Placement:
    """Say which column holds which field.

    headings  the sheet's headings, in order
    kind      "dimensions" or "operations"
    chosen    what the builder said: column index, counted from 0, to a field's name or `LEAVE_OUT`. It goes before what
              the headings say; a column that loses its field to it is offered again.

    Raises Unreadable (field "chosen") for a column that is not there or a field this kind of sheet does not have.
    """
    names = [field.name for field in fields_of(kind)]
    chosen = chosen or {}
    for index, field in chosen.items():
        if not 0 <= index < len(headings):
            raise Unreadable(
                "chosen", index, f"the sheet has {len(headings)} columns", "a column number of the sheet, from 0"
            )
        if field != LEAVE_OUT and field not in names:
            raise Unreadable("chosen", field, f"a sheet of {kind} has no such field", ", ".join([*names, LEAVE_OUT]))

    claims: dict[str, list[int]] = defaultdict(list)
    for index, field in chosen.items():
        if field != LEAVE_OUT:
            claims[field].append(index)
    taken = set(claims)
    for index, heading in enumerate(headings):
        by_heading = _FIELD_BY_WORDS[kind].get(_plain(heading))
        if index not in chosen and by_heading is not None and by_heading not in taken:
            claims[by_heading].append(index)
    _give_second_meanings(claims, headings, kind, chosen)

    field_by_index = {claimants[0]: field for field, claimants in claims.items() if len(claimants) == 1}
    in_dispute = {index for claimants in claims.values() if len(claimants) > 1 for index in claimants}
    others = [OtherColumn(index, heading) for index, heading in enumerate(headings)]
    return Placement(
        kind=kind,
        columns=tuple(
            PlacedColumn(other.index, other.heading, field, _unit_said(other.heading, field))
            for other in others
            if (field := field_by_index.get(other.index, ""))
        ),
        unplaced=tuple(
            other
            for other in others
            if other.index not in field_by_index and other.index not in in_dispute and other.index not in chosen
        ),
        left_out=tuple(other for other in others if chosen.get(other.index) == LEAVE_OUT),
        duplicates=tuple(
            DuplicateField(field, tuple(others[index] for index in sorted(claims[field])))
            for field in names
            if len(claims.get(field, [])) > 1
        ),
        missing=tuple(field.name for field in fields_of(kind) if field.required and not claims.get(field.name)),
    )


def _give_second_meanings(
    claims: dict[str, list[int]], headings: Sequence[str], kind: Kind, chosen: Mapping[int, str]
) -> None:
    """Settle a field two headings claim, where one of them can as well mean a field nobody claims."""
    for words, (first, second) in _SECOND_MEANING[kind].items():
        movable = [
            index for index in claims.get(first, []) if index not in chosen and _plain(headings[index]) == _plain(words)
        ]
        if len(movable) == 1 and len(claims[first]) > 1 and not claims.get(second):
            claims[first].remove(movable[0])
            claims[second] = movable
