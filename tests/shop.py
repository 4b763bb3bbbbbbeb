"""A shop to do things in: each method carries one action out, as the API does; most give the new thing's number."""

from __future__ import annotations

from typing import Any
from uuid import uuid4

import pytest
from sqlalchemy import Connection, select

from server.log.kept import kept_rows, rebuild
from server.log.kept_tables import LatestReading, PieceOperation, PieceState
from server.log.perform import perform
from server.log.pieces import StartPieces
from server.log.readings import CorrectReading, TakeReading
from server.log.runs import FinishRun, StartRun
from server.plan.builds import AddBuild
from server.plan.dimensions import AddDimension
from server.plan.operations import AddOperation
from server.plan.parts import AddPart
from server.store.action import Action, Problem, Question, Refused
from server.store.database import Database


class Shop:
    def __init__(self, database: Database) -> None:
        self.database = database

    def do(self, action: type[Action], key: str | None = None, **fields: Any) -> dict[str, Any]:
        """The action's answer. The fields are read as untrusted data, the way a request's are."""
        return perform(self.database, action.read(fields), key or uuid4().hex)

    def refused(self, action: type[Action], **fields: Any) -> Problem:
        """The one problem for which the action is refused; nothing of it may have been kept."""
        error = self._refusal(action, fields)
        assert error.question is None, error.question
        assert len(error.problems) == 1, error.problems
        problem = error.problems[0]
        assert problem.field
        assert problem.why
        return problem

    def asked(self, action: type[Action], **fields: Any) -> Question:
        """The question asked instead of carrying the action out; nothing of it may have been kept."""
        question = self._refusal(action, fields).question
        assert question is not None
        return question

    def _refusal(self, action: type[Action], fields: dict[str, Any]) -> Refused:
        before = self.everything()
        with pytest.raises(Refused) as caught:
            self.do(action, **fields)
        assert self.everything() == before, "a refused action kept something"
        return caught.value

    def build(self, name: str = "proof press", **fields: Any) -> int:
        return int(self.do(AddBuild, name=name, **fields)["build_id"])

    def part(self, build_id: int, number: str = "CR", name: str = "connecting rod", **fields: Any) -> int:
        return int(self.do(AddPart, build_id=build_id, number=number, name=name, **fields)["part_id"])

    def operation(self, part_id: int, number: int = 10, name: str = "", **fields: Any) -> int:
        name = name or f"step {number}"
        return int(self.do(AddOperation, part_id=part_id, number=number, name=name, **fields)["operation_id"])

    def dimension(
        self, part_id: int, name: str = "bore", requirement: str = "25 +0.021/0", cutting: str = "larger", **fields: Any
    ) -> int:
        asked = {"number": name, "name": name, "requirement": requirement, "cutting": cutting, **fields}
        return int(self.do(AddDimension, part_id=part_id, **asked)["dimension_id"])

    def piece(self, part_id: int, **fields: Any) -> int:
        return self.pieces(part_id, 1, **fields)[0]

    def pieces(self, part_id: int, count: int, **fields: Any) -> list[int]:
        return list(self.do(StartPieces, part_id=part_id, count=count, **fields)["piece_ids"])

    def run(self, operation_id: int, *pieces: int, finished: bool = True, **fields: Any) -> int:
        on = [{"piece_id": piece} for piece in pieces]
        return int(self.do(StartRun, operation_id=operation_id, pieces=on, finished=finished, **fields)["run_id"])

    def finish(self, run_id: int, outcome: str = "finished") -> None:
        self.do(FinishRun, run_id=run_id, outcome=outcome)

    def read(self, piece_id: int, dimension_id: int, value: str, **fields: Any) -> int:
        asked = {"piece_id": piece_id, "dimension_id": dimension_id, "value": value, **fields}
        return int(self.do(TakeReading, **asked)["reading_id"])

    def correct(self, reading_id: int, value: str, why: str = "misread", **fields: Any) -> int:
        return int(self.do(CorrectReading, reading_id=reading_id, value=value, why=why, **fields)["reading_id"])

    def standing(self, piece_id: int) -> Any:
        """The kept row of the piece as a whole."""
        asked = select(PieceState.__table__).where(PieceState.piece_id == piece_id)  # type: ignore[attr-defined]
        with self.database.read() as connection:
            return connection.execute(asked).one()

    def state_at(self, piece_id: int, operation_id: int) -> str:
        asked = select(PieceOperation.state).where(
            PieceOperation.piece_id == piece_id, PieceOperation.operation_id == operation_id
        )
        with self.database.read() as connection:
            return str(connection.execute(asked).scalar_one())

    def latest(self, piece_id: int, dimension_id: int) -> Any:
        """The kept row of the reading that stands, or None."""
        asked = select(LatestReading.__table__).where(  # type: ignore[attr-defined]
            LatestReading.piece_id == piece_id, LatestReading.dimension_id == dimension_id
        )
        with self.database.read() as connection:
            return connection.execute(asked).first()

    def kept_and_rebuilt(self) -> tuple[Any, Any]:
        """The kept rows as they stand, and as they come out when they are made anew from the log."""

        def both(connection: Connection) -> tuple[Any, Any]:
            kept = kept_rows(connection)
            rebuild(connection)
            return kept, kept_rows(connection)

        return self.database.write(both)  # type: ignore[no-any-return]

    def everything(self) -> dict[str, list[tuple[Any, ...]]]:
        """Every row of every table, as another connection sees it."""
        with self.database.read() as connection:
            tables = connection.exec_driver_sql(
                "SELECT name FROM sqlite_master WHERE type = 'table' ORDER BY name"
            ).scalars()
            return {
                table: sorted((tuple(row) for row in connection.exec_driver_sql(f"SELECT * FROM {table}")), key=repr)
                for table in tables.all()
            }
