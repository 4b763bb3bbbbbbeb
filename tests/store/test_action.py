"""Reading an action from untrusted data: whatever comes, it is taken or told, field by field."""

from __future__ import annotations

import json
from dataclasses import asdict
from datetime import datetime
from typing import Annotated, Any, ClassVar, Literal

import pytest
from hypothesis import given
from hypothesis import strategies as st
from pydantic import AwareDatetime, Field
from sqlalchemy import Connection

from server.store.action import Action, Effect, NotThere, Problem, Refused
from server.trade.errors import OutOfRange


class Inner(Action):
    path: ClassVar[str] = ""
    title: ClassVar[str] = ""

    piece_id: int


class Example(Action):
    path: ClassVar[str] = "example"
    title: ClassVar[str] = "An example"

    number: int = 0
    name: Annotated[str, Field(min_length=1, max_length=10)] = "x"
    note: str = ""
    rpm: Annotated[float, Field(gt=0, allow_inf_nan=False)] | None = None
    sure: bool = False
    hand: Literal["left", "right"] = "left"
    at: AwareDatetime | None = None
    several: Annotated[list[Inner], Field(min_length=1, max_length=3)] = [Inner(piece_id=1)]  # noqa: RUF012

    def carry_out(self, connection: Connection, moment: datetime) -> Effect:
        return Effect({})


def problems(data: Any) -> list[Problem]:
    with pytest.raises(Refused) as caught:
        Example.read(data)
    return caught.value.problems


@pytest.mark.parametrize(
    ("data", "field", "read", "why", "accepts"),
    [
        ({"number": "ten"}, "number", "ten", "it is not a whole number", "a whole number such as 10"),
        ({"number": 1.5}, "number", "1.5", "it is not a whole number", "a whole number such as 10"),
        ({"number": "1.5"}, "number", "1.5", "it is not a whole number", "a whole number such as 10"),
        ({"number": []}, "number", "[]", "it is not a whole number", "a whole number such as 10"),
        ({"number": True}, "number", "true", "it is not a whole number", "a whole number such as 10"),
        ({"number": None}, "number", "None", "it is not a whole number", "a whole number such as 10"),
        ({"number": "9" * 5000}, "number", "9" * 200, "it is out of range", "a whole number such as 10"),
        (
            {"number": float("nan")},
            "number",
            "nan",
            "it is not a number one can count with",
            "a number such as 45 or 2.5",
        ),
        ({"rpm": "fast"}, "rpm", "fast", "it is not a number", "a number such as 45 or 2.5"),
        ({"rpm": float("inf")}, "rpm", "inf", "it is not a number one can count with", "a number such as 45 or 2.5"),
        ({"rpm": "nan"}, "rpm", "nan", "it is not a number one can count with", "a number such as 45 or 2.5"),
        ({"rpm": 0}, "rpm", "0", "it is out of range", "more than 0"),
        ({"rpm": True}, "rpm", "true", "it is not a number", "a number such as 45 or 2.5"),
        ({"name": ""}, "name", "", "nothing was entered", ""),
        ({"name": "  "}, "name", "  ", "nothing was entered", ""),
        ({"name": "x" * 11}, "name", "x" * 11, "it is too long", "at most 10 characters"),
        ({"note": "x" * 4001}, "note", "x" * 200, "it is too long", "at most 4000 characters"),
        ({"name": 5}, "name", "5", "it is not text", "text"),
        ({"name": {"a": 1}}, "name", "{'a': 1}", "it is not text", "text"),
        ({"name": "\ud800"}, "name", "\\ud800", "it has half a character in it", "text"),
        ({"note": "a\x00b"}, "note", "a\x00b", "the character U+0000 cannot be written or read", ""),
        ({"note": "a\x1bb"}, "note", "a\x1bb", "the character U+001B cannot be written or read", ""),
        ({"sure": "perhaps"}, "sure", "perhaps", "it is neither yes nor no", "true or false"),
        ({"sure": []}, "sure", "[]", "it is neither yes nor no", "true or false"),
        ({"hand": "up"}, "hand", "up", "it is not one of the choices", "left or right"),
        ({"at": "yesterday"}, "at", "yesterday", "it is not a time", "a time such as 2026-05-01T20:15:00Z"),
        ({"at": []}, "at", "[]", "it is not a time", "a time such as 2026-05-01T20:15:00Z"),
        (
            {"at": "2026-05-01T20:15"},
            "at",
            "2026-05-01T20:15",
            "it has no time zone",
            "a time such as 2026-05-01T20:15:00Z",
        ),
        ({"several": 1}, "several", "1", "it is not a list", "a list"),
        ({"several": []}, "several", "[]", "it is empty", "at least 1"),
        ({"several": [1]}, "several.0", "1", "it is not an object", "an object of names and values"),
        ({"several": [{}]}, "several.0.piece_id", "", "nothing was entered", ""),
        ({"colour": "red"}, "colour", "red", "there is no such field", "only the fields the API's own page lists"),
        ([1], "the request", "[1]", "it is not an object", "an object of names and values"),
        (None, "the request", "None", "it is not an object", "an object of names and values"),
        ("text", "the request", "text", "it is not an object", "an object of names and values"),
    ],
)
def test_what_cannot_be_taken_is_told_with_field_and_reason(
    data: Any, field: str, read: str, why: str, accepts: str
) -> None:
    assert problems(data) == [Problem(field, read, why, accepts)]


def test_a_list_that_is_too_long_is_told() -> None:
    (problem,) = problems({"several": [{"piece_id": 1}] * 4})
    assert (problem.field, problem.why, problem.accepts) == ("several", "there are too many", "at most 3")


def test_every_field_is_told_at_once() -> None:
    assert [each.field for each in problems({"number": "x", "name": "", "rpm": -1})] == ["number", "name", "rpm"]


def test_a_field_left_empty_in_a_form_is_not_given() -> None:
    assert Example.read({"number": "", "rpm": "", "at": "", "note": "", "hand": ""}) == Example()


def test_what_a_form_sends_as_text_is_read() -> None:
    read = Example.read({"number": " 10 ", "rpm": "2.5", "sure": "on", "note": "  two\r\nlines\t½ 直径  "})
    assert (read.number, read.rpm, read.sure, read.note) == (10, 2.5, True, "two\r\nlines\t½ 直径")


anything = st.recursive(
    st.none()
    | st.booleans()
    | st.integers()
    | st.floats()
    | st.text(st.characters(), max_size=20)
    | st.just("\ud800")
    | st.datetimes().map(str),
    lambda inner: (
        st.lists(inner, max_size=3) | st.dictionaries(st.text(st.characters(), max_size=5), inner, max_size=3)
    ),
    max_leaves=5,
)
fields = st.sampled_from([*Example.model_fields, "colour", "\udfff"])


@given(anything | st.dictionaries(fields, anything, max_size=4))
def test_whatever_comes_is_taken_or_told_in_words_that_can_be_sent(data: Any) -> None:
    told: list[Problem] | None = None
    try:
        Example.read(data).model_dump_json().encode()
    except Refused as refused:
        told = refused.problems
    if told is not None:
        assert told
        assert all(problem.field and problem.why for problem in told)
        json.dumps([asdict(problem) for problem in told], ensure_ascii=False).encode()


def test_a_refusal_says_all_its_reasons_in_one_line() -> None:
    error = Refused(Problem("a", "1", "too small"), Problem("b", "", "nothing was entered"))
    assert str(error) == "a: too small; b: nothing was entered"
    assert str(NotThere("piece_id", 7, "piece")) == "piece_id: there is no piece with this number"


def test_an_error_of_the_trade_keeps_its_reason_under_the_fields_own_name() -> None:
    error = OutOfRange("size", 5, "it is too small", "3 to 500 mm")
    assert Problem.of(error) == Problem("size", "5", "it is too small", "3 to 500 mm")
    assert Problem.of(error, "requirement").field == "requirement"
