"""An action: a typed request to change something, carried out in one transaction, or refused with every reason.

Screens and API make the same actions, so that they cannot disagree. An action is read-only data; `carry_out` does
SQL on the writer's connection and says what it touched, so that what follows from it can be kept ready.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, field
from datetime import datetime
from typing import Any, ClassVar, Self

from pydantic import BaseModel, ConfigDict, ValidationError, field_validator, model_validator
from sqlalchemy import Connection

from server.trade.errors import TradeError


@dataclass(frozen=True, slots=True)
class Problem:
    """Why one field was not taken: what was read, what is wrong, what would be accepted."""

    field: str
    read: str
    why: str
    accepts: str = ""

    @classmethod
    def of(cls, error: TradeError, field_name: str | None = None) -> Problem:
        return cls(field_name or error.field, error.read, error.why, error.accepts)


@dataclass(frozen=True, slots=True)
class Choice:
    """One answer to a question: what the button says and which fields of the action it sets."""

    label: str
    sets: dict[str, Any]


@dataclass(frozen=True, slots=True)
class Question:
    """Asked instead of guessed: nothing was kept; the same action with the chosen fields set is taken."""

    text: str
    choices: list[Choice]


class Refused(Exception):
    """The action was not carried out and nothing was kept."""

    def __init__(self, *problems: Problem, question: Question | None = None) -> None:
        self.problems = list(problems)
        self.question = question
        said = [question.text] if question else [f"{each.field}: {each.why}" for each in problems]
        super().__init__("; ".join(said))


class NotThere(Refused):
    """A thing was named that is not there."""

    def __init__(self, field_name: str, read: object, what: str) -> None:
        super().__init__(Problem(field_name, str(read), f"there is no {what} with this number"))


@dataclass(slots=True)
class Effect:
    """What an action did: its answer, and which parts and pieces it touched."""

    answer: dict[str, Any]
    parts: set[int] = field(default_factory=set)
    pieces: set[int] = field(default_factory=set)


class Action(BaseModel):
    """Base of every action. `path` is its address under /api/; `title` what it does, for the API's own page."""

    model_config = ConfigDict(extra="forbid", frozen=True, str_strip_whitespace=True, str_max_length=4000)

    path: ClassVar[str]
    title: ClassVar[str]

    def carry_out(self, connection: Connection, moment: datetime) -> Effect:
        raise NotImplementedError

    @model_validator(mode="before")
    @classmethod
    def _left_empty(cls, data: Any) -> Any:
        """A form sends an empty text for a field left alone; for anything but a text that means: not given."""
        if not isinstance(data, dict):
            return data
        texts = {name for name, field_ in cls.model_fields.items() if field_.annotation is str}
        flags = {name for name, field_ in cls.model_fields.items() if field_.annotation is bool}
        return {
            # JSON's true would be taken for the number 1: as text it is told.
            name: str(value).lower() if isinstance(value, bool) and name not in flags else value
            for name, value in data.items()
            if value != "" or name in texts
        }

    @field_validator("*", mode="after")
    @classmethod
    def _can_be_stored(cls, value: Any) -> Any:
        if isinstance(value, str) and (found := _NOT_WRITTEN.search(value)):
            raise ValueError(f"the character U+{ord(found[0]):04X} cannot be written or read")
        return value

    @classmethod
    def read(cls, data: Any) -> Self:
        """The action from untrusted data, or Refused with one problem a field."""
        try:
            return cls.model_validate(data)
        except ValidationError as error:
            raise Refused(*(_problem(each) for each in error.errors())) from error


# Control characters but tabs and line ends: no keyboard sends them, and SQLite's own functions stop at the first NUL.
_NOT_WRITTEN = re.compile(r"[\x00-\x08\x0e-\x1f\x7f]")

_ACCEPTS = {
    "missing": ("nothing was entered", ""),
    "int_parsing": ("it is not a whole number", "a whole number such as 10"),
    "int_from_float": ("it is not a whole number", "a whole number such as 10"),
    "int_type": ("it is not a whole number", "a whole number such as 10"),
    "int_parsing_size": ("it is out of range", "a whole number such as 10"),
    "float_parsing": ("it is not a number", "a number such as 45 or 2.5"),
    "float_type": ("it is not a number", "a number such as 45 or 2.5"),
    "finite_number": ("it is not a number one can count with", "a number such as 45 or 2.5"),
    "string_type": ("it is not text", "text"),
    "string_unicode": ("it has half a character in it", "text"),
    "bool_type": ("it is neither yes nor no", "true or false"),
    "bool_parsing": ("it is neither yes nor no", "true or false"),
    "extra_forbidden": ("there is no such field", "only the fields the API's own page lists"),
    "datetime_type": ("it is not a time", "a time such as 2026-05-01T20:15:00Z"),
    "datetime_object_invalid": ("it is not a time", "a time such as 2026-05-01T20:15:00Z"),
    "datetime_parsing": ("it is not a time", "a time such as 2026-05-01T20:15:00Z"),
    "datetime_from_date_parsing": ("it is not a time", "a time such as 2026-05-01T20:15:00Z"),
    "timezone_aware": ("it has no time zone", "a time such as 2026-05-01T20:15:00Z"),
    "list_type": ("it is not a list", "a list"),
    "dict_type": ("it is not an object", "an object of names and values"),
    "model_type": ("it is not an object", "an object of names and values"),
}


def _problem(error: Any) -> Problem:
    """One of pydantic's errors in plain words."""
    name = _plain_text(".".join(str(each) for each in error["loc"])) or "the request"
    kind, context = error["type"], error.get("ctx", {})
    if kind == "literal_error":
        why, accepts = "it is not one of the choices", context["expected"].replace("'", "")
    elif kind == "string_too_long":
        why, accepts = "it is too long", f"at most {context['max_length']} characters"
    elif kind == "too_long":
        why, accepts = "there are too many", f"at most {context['max_length']}"
    elif kind == "too_short":
        why, accepts = "it is empty", f"at least {context['min_length']}"
    elif kind == "string_too_short":
        why, accepts = "nothing was entered", ""
    elif kind in ("greater_than_equal", "less_than_equal", "greater_than", "less_than"):
        why = "it is out of range"
        bound = next(iter(context.values()))
        accepts = {
            "greater_than_equal": f"{bound:g} or more",
            "less_than_equal": f"{bound:g} or less",
            "greater_than": f"more than {bound:g}",
            "less_than": f"less than {bound:g}",
        }[kind]
    elif kind == "value_error":
        why, accepts = str(context["error"]), ""
    else:
        why, accepts = _ACCEPTS.get(kind, (error["msg"], ""))
    read = "" if kind == "missing" else _plain_text(str(error.get("input", ""))[:200])
    return Problem(name, read, why, accepts)


def _plain_text(text: str) -> str:
    """Halves of characters (lone surrogates) spelt out: an answer in UTF-8 could not carry them."""
    return text.encode("utf-8", "backslashreplace").decode("utf-8")
