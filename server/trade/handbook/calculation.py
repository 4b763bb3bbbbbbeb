"""What a handbook calculation is: its inputs, its work, its formula and its source, said once.

The Handbook screen, /api/handbook/ and `matchmark calc` are all made from these descriptions, so that they cannot
disagree. The work itself is a call of a public function of server/trade/; nothing is computed here.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Literal

from server.trade.errors import OutOfRange, TradeError, Unreadable
from server.trade.length import parse_length

InputKind = Literal["length", "number", "whole", "text", "choice", "lengths", "numbers"]


@dataclass(frozen=True, slots=True)
class Input:
    """One thing to type.

    kind      length (given to the work in whole nm), number (float), whole (int), text, choice (one of `choices`),
              lengths / numbers (a list separated by spaces or semicolons)
    unit      unit of a number, for the label: "m/min", "N/mm²", "°"
    least, greatest   bounds of a number or whole, inclusive
    """

    name: str
    label: str
    kind: InputKind
    unit: str = ""
    choices: tuple[str, ...] = ()
    default: str = ""
    optional: bool = False
    hint: str = ""
    least: float | None = None
    greatest: float | None = None

    @property
    def word(self) -> str:
        """The name as it stands in addresses and on the command line: what is typed there is no count of nm."""
        return self.name.removesuffix("_nm")


@dataclass(frozen=True, slots=True)
class Output:
    """One figure of the answer. A length is whole nm and is shown in the unit of the one who asks."""

    label: str
    value: int | float | str
    kind: Literal["length", "number", "text"] = "number"
    unit: str = ""
    decimals: int | None = None
    note: str = ""


@dataclass(frozen=True, slots=True)
class Calculation:
    """One page of the handbook.

    id       as it stands in addresses and on the command line: lower case, hyphens ("tap-drill")
    group    the heading it is found under ("Threads")
    asks     the question it answers, one line
    work     called with the parsed inputs by name (an optional input left empty is None)
    formula  as a handbook prints it, plain text
    source   edition and table or clause, or "common practice, no source"
    caution  where the figure could hurt someone
    """

    id: str
    group: str
    title: str
    asks: str
    inputs: tuple[Input, ...]
    work: Callable[[Mapping[str, Any]], Sequence[Output]]
    formula: str
    source: str
    caution: str = ""

    def answer(self, typed: Mapping[str, str], unit: Literal["mm", "in"] = "mm") -> Sequence[Output]:
        """Read what was typed (lengths without a unit are in `unit`) and work it out.

        Raises CannotAnswer naming every input that could not be read, or the one the calculation refused.
        """
        words = ", ".join(each.word for each in self.inputs)
        unknown = sorted(set(typed) - {name for each in self.inputs for name in (each.name, each.word)})
        problems: list[TradeError] = [
            Unreadable(name, typed[name], "there is no such input", words) for name in unknown
        ]
        values: dict[str, Any] = {}
        for each in self.inputs:
            try:
                values[each.name] = read_input(each, typed.get(each.word, typed.get(each.name, "")), unit)
            except TradeError as error:
                problems.append(error)
        if problems:
            raise CannotAnswer(problems)
        try:
            return self.work(values)
        except TradeError as error:
            raise CannotAnswer([error]) from error


class CannotAnswer(ValueError):
    """Everything that stood in the way of an answer, each with its field."""

    def __init__(self, problems: list[TradeError]) -> None:
        self.problems = problems
        super().__init__("; ".join(str(each) for each in problems))


def read_input(what: Input, text: str, unit: Literal["mm", "in"]) -> Any:
    """One typed text as the value its kind says; an empty one is its default, or None where it is optional."""
    text = text.strip() or what.default
    if not text:
        if what.optional:
            return None
        raise Unreadable(what.name, "", "nothing was entered", what.hint or what.label)
    if what.kind == "text":
        return text
    if what.kind == "choice":
        if text not in what.choices:
            raise Unreadable(what.name, text, "it is not one of the choices", ", ".join(what.choices))
        return text
    if what.kind == "lengths":
        return [_length(what, piece, unit) for piece in _pieces(text)]
    if what.kind == "numbers":
        return [_number(what, piece) for piece in _pieces(text)]
    if what.kind == "length":
        return _length(what, text, unit)
    number = _number(what, text)
    if what.kind == "whole":
        if number != int(number):
            raise Unreadable(what.name, text, "it is not a whole number", "a whole number such as 4")
        return int(number)
    return number


def _pieces(text: str) -> list[str]:
    return [piece for piece in text.replace(";", " ").split() if piece]


def _length(what: Input, text: str, unit: Literal["mm", "in"]) -> int:
    try:
        return parse_length(text, unit)
    except TradeError as error:
        raise type(error)(what.name, error.read, error.why, error.accepts) from error


def _number(what: Input, text: str) -> float:
    cleaned = text.replace("−", "-").replace(" ", "")
    if cleaned.count(",") == 1 and "." not in cleaned:
        cleaned = cleaned.replace(",", ".")
    try:
        number = float(cleaned)
    except ValueError as error:
        raise Unreadable(what.name, text, "it is not a number", "a number such as 3200 or 0.25") from error
    if number != number or number in (float("inf"), float("-inf")):
        raise Unreadable(what.name, text, "it is not a number one can calculate with", "a number such as 3200 or 0.25")
    low = what.least if what.least is not None else float("-inf")
    high = what.greatest if what.greatest is not None else float("inf")
    if not low <= number <= high:
        raise OutOfRange(what.name, text, "it is outside what the formula covers", _bounds(what))
    return number


def _bounds(what: Input) -> str:
    unit = f" {what.unit}" if what.unit else ""
    if what.least is not None and what.greatest is not None:
        return f"{what.least:g} to {what.greatest:g}{unit}"
    if what.least is not None:
        return f"{what.least:g}{unit} or more"
    return f"{what.greatest:g}{unit} or less"
