"""What was added to a build since a place in it: lines of the log and changes of the plan, in the order they came.

A place is the number of the last log entry and that of the last plan change, written "812.37": both only grow, in the
order of the commits, because one thread writes.
"""

from __future__ import annotations

import re
from dataclasses import asdict, dataclass
from typing import Any

from sqlalchemy import Connection, func, select

from server.log.story import lines_since
from server.log.tables import Entry
from server.plan.tables import PlanChange

AT_ONCE = 100
_LAST = (select(func.max(Entry.id)), select(func.max(PlanChange.id)))
_PLACE = re.compile(r"([0-9]{1,18})(?:\.([0-9]{1,18}))?")


@dataclass(frozen=True, slots=True)
class Place:
    """How far somebody has read."""

    entry_id: int
    plan_change_id: int

    def __str__(self) -> str:
        return f"{self.entry_id}.{self.plan_change_id}"

    @classmethod
    def read(cls, text: str) -> Place | None:
        """From "812.37"; from "812" alone, every change of the plan is still to come. None: it is no place."""
        found = _PLACE.fullmatch(text.strip())
        return cls(int(found[1]), int(found[2] or 0)) if found else None


@dataclass(frozen=True, slots=True)
class Addition:
    """One thing that was added, and the place after it. `kind` is "log", "plan", or "all" for: begin afresh."""

    place: Place
    kind: str
    line: dict[str, Any]


def place_now(connection: Connection) -> Place:
    """The place of somebody who has read everything, of whichever build: all builds share one count."""
    return Place(*(connection.execute(each).scalar() or 0 for each in _LAST))


def additions_since(connection: Connection, build_id: int, place: Place, limit: int = AT_ONCE) -> list[Addition]:
    """The next additions after a place, oldest first, `limit` at most; where none come, everything was read.

    A place that lies beyond the end belongs to another database (a backup was put back): everything is to be read
    afresh, which is one addition of its own.
    """
    end = place_now(connection)
    if place.entry_id > end.entry_id or place.plan_change_id > end.plan_change_id:
        return [Addition(end, "all", {})]
    found = []
    for line in lines_since(connection, build_id, place.entry_id, limit):
        place = Place(line.id, place.plan_change_id)
        found.append(Addition(place, "log", asdict(line)))
    rows = connection.execute(
        select(PlanChange.id, PlanChange.part_id, PlanChange.at, PlanChange.who, PlanChange.what)
        .where(PlanChange.build_id == build_id, PlanChange.id > place.plan_change_id)  # type: ignore[operator]
        .order_by(PlanChange.id)  # type: ignore[arg-type]
        .limit(limit - len(found))
    )
    for row in rows:
        place = Place(place.entry_id, row.id)
        found.append(Addition(place, "plan", dict(row._mapping)))
    return found
