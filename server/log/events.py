"""Events: everything worth keeping that is neither a run nor a reading."""

from __future__ import annotations

from datetime import datetime
from typing import Annotated, Any, ClassVar, Literal

from pydantic import Field
from sqlalchemy import Connection, insert, select

from server.log.entries import LogAction, is_replaced, the_piece
from server.log.gather import accepted_readings
from server.log.kept_tables import LatestReading, PieceState
from server.log.runs import OfRun, pieces_of, refuse_on_dead_piece, refuse_unless_in_run, the_run
from server.log.tables import Entry, Event, Reading
from server.plan.named import the_build, the_row
from server.rules.verdict import OUTSIDE
from server.store.action import Choice, Effect, Problem, Question, Refused

Kind = Literal[
    "scrap",
    "entered by mistake",
    "deviation accepted",
    "fitted",
    "taken off",
    "cutter broken",
    "chatter",
    "note",
    "taken back",
]
Reason = Annotated[str, Field(min_length=1, max_length=2000)]


class ScrapPiece(OfRun):
    path: ClassVar[str] = "scrap-piece"
    title: ClassVar[str] = "Scrap a piece, with the reason"

    piece_id: int
    text: Reason

    def carry_out(self, connection: Connection, moment: datetime) -> Effect:
        piece = the_piece(connection, self.piece_id)
        refuse_on_dead_piece(connection, self.piece_id, "piece_id")
        run_id = self.named_run(connection)
        if run_id is not None:
            refuse_unless_in_run(connection, run_id, piece)
        _put(self, connection, moment, piece.build_id, "scrap", piece_id=piece.id, run_id=run_id, text=self.text)
        return Effect(_about(piece), pieces={piece.id})


class MistakenPiece(LogAction):
    path: ClassVar[str] = "mistaken-piece"
    title: ClassVar[str] = "Say that a piece was entered by mistake: it does not count, and its mark is free again"

    piece_id: int
    text: Reason

    def carry_out(self, connection: Connection, moment: datetime) -> Effect:
        piece = the_piece(connection, self.piece_id)
        refuse_on_dead_piece(connection, self.piece_id, "piece_id")
        _put(self, connection, moment, piece.build_id, "entered by mistake", piece_id=piece.id, text=self.text)
        return Effect(_about(piece), pieces={piece.id})


class AcceptDeviation(LogAction):
    """The reading stays as it is; the piece may go on. A later reading has to be accepted anew."""

    path: ClassVar[str] = "accept-deviation"
    title: ClassVar[str] = "Accept a reading outside its limits, with the reason"

    reading_id: int
    text: Reason

    def carry_out(self, connection: Connection, moment: datetime) -> Effect:
        reading = the_row(connection, Reading, self.reading_id, "reading")
        latest = connection.execute(
            select(LatestReading.__table__).where(  # type: ignore[attr-defined]
                LatestReading.piece_id == reading.piece_id, LatestReading.dimension_id == reading.dimension_id
            )
        ).first()
        if latest is None or latest.reading_id != self.reading_id:
            why = "it is not the reading that stands for its dimension now"
            raise Refused(Problem("reading_id", str(self.reading_id), why, "the latest reading of a dimension"))
        if latest.verdict not in OUTSIDE:
            why = "it is for reference" if latest.verdict == "reference" else "it is good"
            raise Refused(Problem("reading_id", str(self.reading_id), f"{why}: nothing to accept", ""))
        piece = the_piece(connection, latest.piece_id)
        refuse_on_dead_piece(connection, piece.id, "reading_id")
        if self.reading_id in accepted_readings(connection, piece.id):
            why = "its deviation was accepted before"
            raise Refused(Problem("reading_id", str(self.reading_id), why, "a reading outside its limits"))
        about = {"piece_id": piece.id, "dimension_id": latest.dimension_id, "reading_id": self.reading_id}
        _put(self, connection, moment, piece.build_id, "deviation accepted", text=self.text, **about)
        return Effect(_about(piece), pieces={piece.id})


class FitPiece(LogAction):
    path: ClassVar[str] = "fit-piece"
    title: ClassVar[str] = "Log that a piece was fitted to its place"

    piece_id: int
    text: Annotated[str, Field(min_length=1, max_length=200, description="the place: near side, crank end")]
    sure: bool = False

    def carry_out(self, connection: Connection, moment: datetime) -> Effect:
        piece = the_piece(connection, self.piece_id)
        refuse_on_dead_piece(connection, self.piece_id, "piece_id")
        kept = connection.execute(
            select(PieceState.__table__).where(PieceState.piece_id == piece.id)  # type: ignore[attr-defined]
        ).one()
        if kept.fitted_to:
            why = f"{piece.mark} is fitted to {kept.fitted_to}; take it off first"
            raise Refused(Problem("piece_id", piece.mark, why, "a piece that is not fitted"))
        if kept.state != "finished" and not self.sure:
            text = f"{piece.mark} is not finished ({kept.next_move or kept.state}). Fit it all the same?"
            raise Refused(question=Question(text, [Choice("Yes, it is fitted", {"sure": True})]))
        _put(self, connection, moment, piece.build_id, "fitted", piece_id=piece.id, text=self.text)
        return Effect(_about(piece), pieces={piece.id})


class TakeOffPiece(LogAction):
    path: ClassVar[str] = "take-off-piece"
    title: ClassVar[str] = "Log that a fitted piece was taken off its place"

    piece_id: int
    text: Reason

    def carry_out(self, connection: Connection, moment: datetime) -> Effect:
        piece = the_piece(connection, self.piece_id)
        fitted_to = connection.execute(select(PieceState.fitted_to).where(PieceState.piece_id == piece.id)).scalar_one()
        if not fitted_to:
            raise Refused(Problem("piece_id", piece.mark, "it is not fitted to any place", "a fitted piece"))
        _put(self, connection, moment, piece.build_id, "taken off", piece_id=piece.id, text=self.text)
        return Effect(_about(piece), pieces={piece.id})


class LogEvent(OfRun):
    """About a piece, a run (and so each piece in it), or the build as a whole."""

    path: ClassVar[str] = "log-event"
    title: ClassVar[str] = "Log a broken cutter, chatter and what cured it, or a note"

    kind: Literal["cutter broken", "chatter", "note"]
    text: Reason
    piece_id: int | None = None
    build_id: int | None = None

    def carry_out(self, connection: Connection, moment: datetime) -> Effect:
        touched: set[int] = set()
        run_id = self.named_run(connection)
        if self.piece_id is not None:
            piece = the_piece(connection, self.piece_id)
            if run_id is not None:
                refuse_unless_in_run(connection, run_id, piece)
            build_id, page = piece.build_id, f"/pieces/{piece.id}"
            touched = {piece.id}
        elif run_id is not None:
            run = the_run(connection, run_id)
            build_id, page = run.build_id, f"/runs/{run_id}"
            touched = set(pieces_of(connection, run_id))
        elif self.build_id is not None:
            build_id = the_build(connection, self.build_id).id
            page = f"/builds/{build_id}/log"
        else:
            raise Refused(Problem("piece_id", "", "nothing says what it is about", "a piece, a run or a build"))
        if self.build_id not in (None, build_id):
            why = "what it is about belongs to another build"
            raise Refused(Problem("build_id", str(self.build_id), why, str(build_id)))
        event_id = _put(
            self, connection, moment, build_id, self.kind, piece_id=self.piece_id, run_id=run_id, text=self.text
        )
        return Effect({"event_id": event_id, "page": page}, pieces=touched)


class TakeBackEvent(LogAction):
    """For a scrap that was none, a deviation accepted too soon, a slip of the finger: the entry stays, struck out."""

    path: ClassVar[str] = "take-back-event"
    title: ClassVar[str] = "Take an event back, and say why"

    event_id: int
    why: Reason

    def carry_out(self, connection: Connection, moment: datetime) -> Effect:
        old = the_row(connection, Event, self.event_id, "event")
        if old.kind == "taken back" or is_replaced(connection, self.event_id):
            why = "it was taken back before"
            raise Refused(Problem("event_id", str(self.event_id), why, "an event that still stands"))
        if old.kind == "entered by mistake":
            self._mark_must_be_free(connection, old.piece_id)
        from_build = _build_of(connection, self.event_id)
        new = self.add_entry(connection, moment, from_build, "event", self.event_id, self.why)
        same = {name: getattr(old, name) for name in ("piece_id", "run_id", "dimension_id", "reading_id")}
        connection.execute(insert(Event).values(id=new, kind="taken back", text=old.kind, **same))
        page = f"/pieces/{old.piece_id}" if old.piece_id else f"/builds/{from_build}/log"
        return Effect({"event_id": new, "page": page}, pieces={old.piece_id} if old.piece_id else set())

    def _mark_must_be_free(self, connection: Connection, piece_id: int) -> None:
        piece = the_piece(connection, piece_id)
        standing = select(PieceState.piece_id).where(
            PieceState.build_id == piece.build_id,
            PieceState.mark == piece.mark,
            PieceState.state != "entered by mistake",
        )
        if connection.execute(standing).first() is not None:
            why = f"another piece carries the mark {piece.mark} by now"
            raise Refused(Problem("event_id", str(self.event_id), why, "start a piece with a mark of its own"))


def _put(action: LogAction, connection: Connection, moment: datetime, build_id: int, kind: Kind, **columns: Any) -> int:
    event_id = action.add_entry(connection, moment, build_id, "event")
    connection.execute(insert(Event).values(id=event_id, kind=kind, **columns))
    return event_id


def _about(piece: Any) -> dict[str, Any]:
    return {"piece_id": piece.id, "page": f"/pieces/{piece.id}"}


def _build_of(connection: Connection, entry_id: int) -> int:
    return int(connection.execute(select(Entry.build_id).where(Entry.id == entry_id)).scalar_one())
