"""What the trade's calculations raise when they cannot take a figure.

Every message says three things: which input, what was read, what would be accepted. Screens put it beside the field,
the API puts it in the answer, the command line prints it.
"""

from __future__ import annotations


class TradeError(ValueError):
    """A figure a calculation cannot take.

    field    name of the input as the function's own parameter is called
    read     what was read, as text
    why      what is wrong with it, one plain sentence without a full stop
    accepts  what would be accepted, one plain phrase ("a length such as 12.7, 1/2\" or 5 thou")
    """

    def __init__(self, field: str, read: object, why: str, accepts: str) -> None:
        self.field = field
        self.read = str(read)
        self.why = why
        self.accepts = accepts
        super().__init__(f"{field}: {why} (read: {self.read!r}). Accepted: {accepts}.")


class Unreadable(TradeError):
    """Text that cannot be read as what it should be."""


class OutOfRange(TradeError):
    """A figure outside the range a formula or a standard covers."""


class Impossible(TradeError):
    """Figures that are each fine and cannot go together."""
