"""Runs: pieces going through an operation, from the check list to the finish."""

from __future__ import annotations

import json
from datetime import datetime
from types import SimpleNamespace
from typing import Annotated, Any, ClassVar, Literal

from pydantic import Field
from sqlalchemy import Connection, bindparam, insert, select

from server.log.entries import LogAction, the_piece
from server.log.kept_tables import PieceOperation, PieceState
from server.log.tables import Run, RunEnd, RunPiece
from server.plan.named import the_operation, the_part, the_row
from server.plan.operations import read_work_offsets
from server.plan.tables import Operation
from server.store.action import Action, Choice, Effect, Problem, Question, Refused
from server.store.tables import RequestKey
from server.trade.errors import TradeError
from server.trade.length import Unit, parse_length

_ANSWER = select(RequestKey.answer).where(RequestKey.key == bindparam("key"))
_STATE = select(PieceState.state, PieceState.mark).where(PieceState.piece_id == bindparam("piece_id"))


class OnOffset(Action):
    """One piece of a run and the work offset it sits on."""

    path: ClassVar[str] = ""
    title: ClassVar[str] = ""

    piece_id: int
    work_offset: Annotated[str, Field(max_length=20)] = ""


class StartRun(LogAction):
    """With `finished`, a run that was made already is put in the log, start and end at once."""

    path: ClassVar[str] = "start-run"
    title: ClassVar[str] = "Start a run of one or more pieces through an operation"

    operation_id: int
    pieces: Annotated[list[OnOffset], Field(min_length=1, max_length=50)]
    rpm: Annotated[float, Field(gt=0, le=500_000, allow_inf_nan=False)] | None = None
    feed: Annotated[str, Field(max_length=40, description="table feed a minute, with its unit: 250 mm")] = ""
    feed_unit: Unit = "mm"
    finished: bool = False
    sure: bool = False

    def carry_out(self, connection: Connection, moment: datetime) -> Effect:
        operation = the_operation(connection, self.operation_id)
        if operation.retired_at is not None:
            why = f"op {operation.number} was taken out of the sequence"
            raise Refused(Problem("operation_id", str(self.operation_id), why, "an operation of the plan"))
        part = the_part(connection, operation.part_id)
        self._can_be_run(connection, operation, part)
        run_id = self.add_entry(connection, moment, part.build_id, "run")
        feed_nm = self._feed()
        connection.execute(
            insert(Run).values(
                id=run_id,
                operation_id=operation.id,
                machine=operation.machine,
                setup=operation.setup,
                cutters=operation.cutters,
                rpm=self.rpm,
                feed_typed=self.feed,
                feed_unit=self.feed_unit,
                feed_nm=feed_nm,
            )
        )
        connection.execute(
            insert(RunPiece),
            [
                {
                    "run_id": run_id,
                    "piece_id": each.piece_id,
                    "work_offset": read_work_offsets(each.work_offset, "pieces"),
                }
                for each in self.pieces
            ],
        )
        page = f"/runs/{run_id}"
        if self.finished:
            end_run(self, connection, moment, part.build_id, run_id, "finished")
        return Effect({"run_id": run_id, "page": page}, pieces={each.piece_id for each in self.pieces})

    def _feed(self) -> int | None:
        if not self.feed:
            return None
        try:
            feed_nm = parse_length(self.feed.removesuffix("/min"), self.feed_unit)
        except TradeError as error:
            raise Refused(Problem.of(error, "feed")) from error
        if feed_nm <= 0:
            raise Refused(Problem("feed", self.feed, "a feed is more than nothing", "a feed such as 250 mm or 10 in"))
        return feed_nm

    def _can_be_run(self, connection: Connection, operation: Operation, part: Any) -> None:
        """Refuse what cannot be; ask about what should not be: an operation run out of its turn."""
        wanted = [each.piece_id for each in self.pieces]
        out_of_turn = []
        for piece_id in wanted:
            piece = the_piece(connection, piece_id)
            if wanted.count(piece_id) > 1:
                raise Refused(Problem("pieces", piece.mark, "it stands here twice", "each piece once"))
            if piece.part_id != part.id:
                why = f"op {operation.number} belongs to {part.number}, and {piece.mark} is not one"
                raise Refused(Problem("pieces", piece.mark, why, f"pieces of {part.number}"))
            refuse_on_dead_piece(connection, piece_id, "pieces")
            kept = connection.execute(
                select(PieceState.run_id, PieceState.fitted_to).where(PieceState.piece_id == piece_id)
            ).one()
            if kept.fitted_to:
                out_of_turn.append(f"{piece.mark} is fitted to {kept.fitted_to}")
            if kept.run_id is not None:
                why = f"{piece.mark} is in hand in run {kept.run_id}; finish that one first"
                raise Refused(Problem("pieces", piece.mark, why, "a piece that is in no open run"))
            here = connection.execute(
                select(PieceOperation.state, PieceOperation.why).where(
                    PieceOperation.piece_id == piece_id, PieceOperation.operation_id == operation.id
                )
            ).first()
            if here is not None and here.state == "not ready":
                out_of_turn.append(f"{piece.mark} {here.why}")
        if out_of_turn and not self.sure:
            raise Refused(
                question=Question(
                    f"{'; '.join(out_of_turn)}. Run op {operation.number} all the same?",
                    [Choice(f"Yes, run op {operation.number} now", {"sure": True})],
                )
            )


class OfRun(LogAction):
    """Names a run by its number, or by the key of the request that starts it.

    A tablet that is out of reach starts a run and goes on with it before the server has given it a number.
    """

    run_id: int | None = None
    run_key: Annotated[str, Field(max_length=200, description="the Idempotency-Key that started the run")] = ""

    def named_run(self, connection: Connection) -> int | None:
        """The run's number, None where no run is named. Where the key started none, what is logged may stand alone."""
        run_id = self._started(connection) if self.run_key else self.run_id
        if self.run_key and run_id is None:
            text = "The run this belongs to was never started. Log it all the same, without its run?"
            raise Refused(question=Question(text, [Choice("Log it without its run", {"run_key": ""})]))
        return run_id

    def needed_run(self, connection: Connection) -> int:
        """The run's number; refused where there is none."""
        run_id = self._started(connection) if self.run_key else self.run_id
        if self.run_key and run_id is None:
            raise Refused(Problem("run_key", self.run_key, "no run was started with this key", "the key of a run"))
        if run_id is None:
            raise Refused(Problem("run_id", "", "nothing was entered", "a run still in hand"))
        return run_id

    def _started(self, connection: Connection) -> int | None:
        if self.run_id is not None:
            raise Refused(Problem("run_key", self.run_key, "the run is named twice", "run_id or run_key, not both"))
        answer = connection.execute(_ANSWER, {"key": self.run_key}).scalar()
        return None if answer is None else json.loads(answer).get("run_id")


class FinishRun(OfRun):
    path: ClassVar[str] = "finish-run"
    title: ClassVar[str] = "Finish a run, or say that it was broken off"

    outcome: Literal["finished", "broken off"] = "finished"

    def carry_out(self, connection: Connection, moment: datetime) -> Effect:
        run_id = self.needed_run(connection)
        run = open_run(connection, run_id)
        end_run(self, connection, moment, run.build_id, run_id, self.outcome)
        page = f"/builds/{run.build_id}/machine"
        return Effect({"run_id": run_id, "page": page}, pieces=set(pieces_of(connection, run_id)))


class CutAgain(OfRun):
    """Ends the open run and starts another of the same operation, on the same pieces and offsets: a re-run.

    A piece that was scrapped in the run is off the machine and is left out.
    """

    path: ClassVar[str] = "cut-again"
    title: ClassVar[str] = "Run the same operation again on the pieces that sit there"

    def carry_out(self, connection: Connection, moment: datetime) -> Effect:
        old = self.needed_run(connection)
        run = open_run(connection, old)
        operation = the_operation(connection, run.operation_id)
        if operation.retired_at is not None:
            why = f"op {operation.number} was taken out of the sequence; finish this run"
            raise Refused(Problem("run_id", str(old), why, "a run of an operation of the plan"))
        rows = connection.execute(
            select(RunPiece.piece_id, RunPiece.work_offset)
            .join(PieceState, PieceState.piece_id == RunPiece.piece_id)
            .where(RunPiece.run_id == old, PieceState.state.not_in(("scrap", "entered by mistake")))  # type: ignore
        ).all()
        if not rows:
            why = "every piece of this run is scrap"
            raise Refused(Problem("run_id", str(old), why, "a run with a piece that can still be cut"))
        end_run(self, connection, moment, run.build_id, old, "finished")
        again = self.add_entry(connection, moment, run.build_id, "run")
        connection.execute(
            insert(Run).values(
                id=again,
                **{
                    name: getattr(run, name)
                    for name in (
                        "operation_id",
                        "machine",
                        "setup",
                        "cutters",
                        "rpm",
                        "feed_typed",
                        "feed_unit",
                        "feed_nm",
                    )
                },
            )
        )
        connection.execute(insert(RunPiece), [{"run_id": again, **row._asdict()} for row in rows])
        # The end of the old run is news for the scrapped pieces too.
        pieces = set(pieces_of(connection, old))
        return Effect({"run_id": again, "page": f"/runs/{again}"}, pieces=pieces)


def the_run(connection: Connection, run_id: int) -> Any:
    """The run with its build's id and how it ended (None: still open)."""
    run = the_row(connection, Run, run_id, "run")
    operation = the_operation(connection, run.operation_id)
    part = the_part(connection, operation.part_id)
    outcome = connection.execute(select(RunEnd.outcome).where(RunEnd.run_id == run_id)).scalar()
    return SimpleNamespace(build_id=part.build_id, outcome=outcome, **run._asdict())


def open_run(connection: Connection, run_id: int) -> Any:
    run = the_run(connection, run_id)
    if run.outcome is not None:
        raise Refused(Problem("run_id", str(run_id), f"this run is over: {run.outcome}", "a run still in hand"))
    return run


def refuse_unless_in_run(connection: Connection, run_id: int, piece: Any) -> None:
    """Refuse a run that is not there, or that the piece was not part of."""
    the_row(connection, Run, run_id, "run")
    if piece.id not in pieces_of(connection, run_id):
        raise Refused(Problem("piece_id", piece.mark, "it is not in this run", "a piece of the run"))


def pieces_of(connection: Connection, run_id: int) -> list[int]:
    return list(connection.execute(select(RunPiece.piece_id).where(RunPiece.run_id == run_id)).scalars())


def end_run(
    action: LogAction, connection: Connection, moment: datetime, build_id: int, run_id: int, outcome: str
) -> None:
    end_id = action.add_entry(connection, moment, build_id, "run end")
    connection.execute(insert(RunEnd).values(id=end_id, run_id=run_id, outcome=outcome))


def feed_as_said(typed: str, unit: str) -> str:
    """A feed as it was typed, with the unit it was meant in where none was typed."""
    typed = typed.removesuffix("/min").rstrip()
    return f"{typed} {unit}" if typed and typed[-1].isdecimal() else typed


def refuse_on_dead_piece(connection: Connection, piece_id: int, field: str) -> None:
    """Nothing is cut or measured on a piece that is scrap."""
    state, mark = connection.execute(_STATE, {"piece_id": piece_id}).one()
    if state == "scrap":
        why = "it is scrap; if that was a mistake, take the scrap entry back on its own page first"
        raise Refused(Problem(field, mark, why, "a piece that is not scrap"))
    if state == "entered by mistake":
        raise Refused(Problem(field, mark, "it was entered by mistake and does not count", "another piece"))
