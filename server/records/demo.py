"""The demo build: an invented machine, its plan loaded from two sheets as a builder loads them, and weeks of its log.

`demo_data/story.json` tells the log in evenings before today, so that the demo looks right whenever it is started. A
step names things as a builder does (the piece CR-1, the run it was last in); they are looked up as the step's turn
comes. Steps are the same actions that screens and API make. They are carried out in one transaction, each at the moment
the story gives it: the demo is there as a whole or not at all, and its plan is older than the readings made to it.
"""

from __future__ import annotations

import json
from datetime import date, datetime, time, timedelta
from typing import Any

from sqlalchemy import Connection, Select, func, select

from server.log.events import AcceptDeviation, FitPiece, LogEvent, ScrapPiece, TakeOffPiece
from server.log.kept import refresh
from server.log.kept_tables import LatestReading
from server.log.pieces import StartPieces
from server.log.readings import CorrectReading, TakeReading
from server.log.runs import CutAgain, FinishRun, StartRun
from server.log.tables import Piece, RunPiece
from server.plan.builds import AddBuild
from server.plan.dimensions import EditDimension
from server.plan.tables import Build, Dimension, Operation, Part
from server.records.load_plan import LoadPlan
from server.settings import DEMO_DATA
from server.store.action import Action
from server.store.base import now
from server.store.database import Database

_ACTIONS: dict[str, type[Action]] = {
    action.path: action
    for action in (
        AddBuild,
        LoadPlan,
        EditDimension,
        StartPieces,
        StartRun,
        CutAgain,
        FinishRun,
        TakeReading,
        CorrectReading,
        AcceptDeviation,
        ScrapPiece,
        FitPiece,
        TakeOffPiece,
        LogEvent,
    )
}

# Three steps in five. They ask for nothing that these steps change in what is kept ready, so keeping it ready can wait
# for the next step of another kind: it halves the time of the first start.
_ONLY_ADD = ("take-reading", "finish-run", "log-event")


def put_demo_where_empty(database: Database) -> bool:
    """Put the demo build into a database that has no build. Returns False, and does nothing, where there is one."""
    story = json.loads((DEMO_DATA / "story.json").read_text("utf-8"))
    today = now().astimezone().date()

    def job(connection: Connection) -> bool:
        if connection.execute(select(Build.id).limit(1)).first() is not None:
            return False
        pieces: set[int] = set()
        parts: set[int] = set()
        for evening in story["evenings"]:
            for step in evening["steps"]:
                if step["do"] not in _ONLY_ADD:
                    refresh(connection, pieces, parts)
                    pieces, parts = set(), set()
                action = _ACTIONS[step["do"]].read({"who": story["who"], **_fields(connection, step)})
                effect = action.carry_out(connection, _moment(today, evening["days_ago"], step["at"]))
                pieces |= effect.pieces
                parts |= effect.parts
        refresh(connection, pieces, parts)
        return True

    return bool(database.write(job))


def _moment(today: date, days_ago: int, at: str) -> datetime:
    """A time of an evening before today, by the clock of the computer the demo is looked at on."""
    return datetime.combine(today - timedelta(days=days_ago), time.fromisoformat(at)).astimezone()


def _fields(connection: Connection, step: dict[str, Any]) -> dict[str, Any]:
    """The fields of a step's action: what the story calls by name as its number, everything else as it stands."""
    fields: dict[str, Any] = {}
    for name, value in step.items():
        match name:
            case "at" | "do":
                pass
            case "build":
                fields["build_id"] = _only(connection, select(Build.id).where(Build.name == value))
            case "sheet":
                fields["text"] = (DEMO_DATA / value).read_text("utf-8")
            case "part":
                fields["part_id"] = _only(connection, select(Part.id).where(Part.number == value))
            case "op":  # CR 30
                fields["operation_id"] = _operation(connection, *value.split())
            case "dimension":  # CR Plain-end bore
                fields["dimension_id"] = _dimension(connection, *value.split(maxsplit=1))
            case "piece":
                fields["piece_id"] = _piece(connection, value)
            case "pieces":  # each with the work offset it sits on
                fields["pieces"] = [
                    {"piece_id": _piece(connection, mark), "work_offset": offset} for mark, offset in value.items()
                ]
            case "run_of":  # the run this piece was last in
                last = select(func.max(RunPiece.run_id)).where(RunPiece.piece_id == _piece(connection, value))
                fields["run_id"] = _only(connection, last)
            case "reading":  # CR-2 Thickness: the one that stands
                fields["reading_id"] = _reading(connection, *value.split(maxsplit=1))
            case _:
                fields[name] = value
    return fields


def _only(connection: Connection, asked: Select[Any]) -> int:
    return int(connection.execute(asked).scalar_one())


def _piece(connection: Connection, mark: str) -> int:
    return _only(connection, select(Piece.id).where(Piece.mark == mark))


def _operation(connection: Connection, part: str, number: str) -> int:
    asked = select(Operation.id).join(Part, Part.id == Operation.part_id)
    return _only(connection, asked.where(Part.number == part, Operation.number == int(number)))


def _dimension(connection: Connection, part: str, name: str) -> int:
    asked = select(Dimension.id).join(Part, Part.id == Dimension.part_id)
    return _only(connection, asked.where(Part.number == part, Dimension.name == name))


def _reading(connection: Connection, mark: str, name: str) -> int:
    asked = select(LatestReading.reading_id).join(Dimension, Dimension.id == LatestReading.dimension_id)
    here = (LatestReading.piece_id == _piece(connection, mark), Dimension.name == name)
    return _only(connection, asked.where(*here))
