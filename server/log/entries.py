"""Writing one row of the log, and the fields every logged action shares."""

from __future__ import annotations

from datetime import datetime, timedelta
from typing import Annotated, Any

from pydantic import AwareDatetime, Field
from sqlalchemy import Connection, insert, select

from server.log.tables import Entry, Piece
from server.plan.named import the_row
from server.store.action import Action, Problem, Refused

# A tablet's clock may be a little ahead; a day ahead is a wrong clock or a wrong date.
AHEAD_AT_MOST = timedelta(days=1)


class LogAction(Action):
    """An action that adds to the log: who did it and, where it is not now, when."""

    who: Annotated[str, Field(max_length=80)] = ""
    occurred_at: AwareDatetime | None = None

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
        if self.occurred_at is not None and self.occurred_at > moment + AHEAD_AT_MOST:
            read = self.occurred_at.isoformat(timespec="minutes")
            raise Refused(Problem("occurred_at", read, "it lies in the future", "now or earlier"))
        made = connection.execute(
            insert(Entry).values(
                build_id=build_id,
                kind=kind,
                occurred_at=self.occurred_at or moment,
                received_at=moment,
                who=self.who,
                replaces_id=replaces_id,
                why=why,
            )
        )
        return int(made.inserted_primary_key[0])


def the_piece(connection: Connection, piece_id: int) -> Any:
    return the_row(connection, Piece, piece_id, "piece")


def is_replaced(connection: Connection, entry_id: int) -> bool:
    """Whether a later entry stands in the place of this one."""
    return connection.execute(select(Entry.id).where(Entry.replaces_id == entry_id)).first() is not None
