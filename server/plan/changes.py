"""Notes what was changed in the plan, beside the change itself: the plan keeps its past."""

from __future__ import annotations

from datetime import datetime
from typing import Any

from sqlalchemy import Connection, insert

from server.plan.tables import PlanChange


def note_change(
    connection: Connection, moment: datetime, who: str, build_id: int, part_id: int | None, what: str
) -> None:
    connection.execute(insert(PlanChange).values(build_id=build_id, part_id=part_id, at=moment, who=who, what=what))


def differences(before: Any, after: dict[str, Any], names: dict[str, str]) -> str:
    """What an edit changes, in words: "needed from 2 to 3; material from '' to 'C45'". Empty when nothing does."""
    said = []
    for column, called in names.items():
        old, new = getattr(before, column), after[column]
        if old != new:
            said.append(f"{called} from {_quoted(old)} to {_quoted(new)}")
    return "; ".join(said)


def _quoted(value: object) -> str:
    if value is None or value == "":
        return "nothing"
    return f"“{value}”" if isinstance(value, str) else f"{value:g}" if isinstance(value, float) else str(value)
