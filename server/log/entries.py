"""Writing one row of the log, and the fields every logged action shares."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from typing import Annotated, Any

from pydantic import AwareDatetime, BeforeValidator, Field
from sqlalchemy import Connection, insert, select

from server.log.tables import Entry, Piece
from server.plan.named import the_row
from server.store.action import Action, Problem, Refused

# A tablet's clock may be a little ahead; a day ahead is a wrong clock or a wrong date.
AHEAD_AT_MOST = timedelta(days=1)
# Old records may be put in the log; a year such as 0026 is a slip of the keys.
EARLIEST = datetime(1900, 1, 1, tzinfo=UTC)


def _written_as_a_date(value: Any) -> Any:
    """A bare number would be read as seconds since 1970: "2026" is a year to everybody else."""
    if value is None or isinstance(value, datetime) or (isinstance(value, str) and "-" in value[1:]):
        return value
    raise ValueError("it is not a time such as 2026-05-01T20:15:00Z")


MomentGiven = Annotated[AwareDatetime, BeforeValidator(_written_as_a_date)]


_INSERT = insert(Entry)


class LogAction(Action):
    """An action that adds to the log: who did it and, where it is not now, when."""

    who: Annotated[str, Field(max_length=80)] = ""
    occurred_at: MomentGiven | None = None

    def add_entry(
        self,
        connection: Connection,
        moment: datetime,
        build_id: int,
        kind: str,
        replaces_id: int | None = None,
        why: str = "",
    ) -> int:
        """The spine row of what is logged. Returns its id."""
        if self.occurred_at is not None and not EARLIEST <= self.occurred_at <= moment + AHEAD_AT_MOST:
            read = self.occurred_at.isoformat(timespec="minutes")
            why = "it lies in the future" if self.occurred_at > moment else "it lies too far back"
            raise Refused(Problem("occurred_at", read, why, f"now or earlier, from {EARLIEST.year} on"))
        made = connection.execute(
            _INSERT,
            {
                "build_id": build_id,
                "kind": kind,
                "occurred_at": self.occurred_at or moment,
                "received_at": moment,
                "who": self.who,
                "replaces_id": replaces_id,
                "why": why,
            },
        )
        return int(made.inserted_primary_key[0])


def the_piece(connection: Connection, piece_id: int) -> Any:
    return the_row(connection, Piece, piece_id, "piece")


def is_replaced(connection: Connection, entry_id: int) -> bool:
    """Whether a later entry stands in the place of this one."""
    return connection.execute(select(Entry.id).where(Entry.replaces_id == entry_id)).first() is not None
