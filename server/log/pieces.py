"""Starting pieces: a blank gets its mark and from then on has a story."""

from __future__ import annotations

import re
from datetime import datetime
from typing import Annotated, ClassVar, Literal

from pydantic import Field
from sqlalchemy import Connection, insert, select

from server.log.entries import LogAction
from server.log.kept_tables import PieceState
from server.log.tables import Piece
from server.plan.named import the_part
from server.plan.tables import Part
from server.store.action import Effect, Problem, Refused

MOST_AT_ONCE = 50


class StartPieces(LogAction):
    """Marks left empty are the part's number and the next free count: CR-3."""

    path: ClassVar[str] = "start-pieces"
    title: ClassVar[str] = "Start pieces of a part, each with its own mark"

    part_id: int
    marks: Annotated[str, Field(max_length=2000, description="separated by spaces or commas; empty: the next free")] = (
        ""
    )
    count: Annotated[int, Field(ge=1, le=MOST_AT_ONCE)] = 1
    hand: Literal["none", "left", "right"] = "none"

    def carry_out(self, connection: Connection, moment: datetime) -> Effect:
        part = the_part(connection, self.part_id)
        hand = self._hand(part)
        taken = _marks_taken(connection, part.build_id)
        marks = self._marks(part, taken)
        ids = []
        for mark in marks:
            piece_id = self.add_entry(connection, moment, part.build_id, "piece")
            connection.execute(
                insert(Piece).values(
                    id=piece_id,
                    build_id=part.build_id,
                    part_id=part.id,
                    mark=mark,
                    hand=hand,
                    revision=part.revision,
                )
            )
            ids.append(piece_id)
        answer = {"piece_ids": ids, "marks": marks, "page": f"/builds/{part.build_id}"}
        return Effect(answer, pieces=set(ids))

    def _hand(self, part: Part) -> str:
        if part.hand == "both":
            if self.hand == "none":
                raise Refused(Problem("hand", "none", f"{part.number} is made in both hands", "left or right"))
            return self.hand
        if self.hand not in ("none", part.hand):
            raise Refused(Problem("hand", self.hand, f"the hand of {part.number} is {part.hand}", part.hand))
        return part.hand

    def _marks(self, part: Part, taken: set[str]) -> list[str]:
        typed = [each for each in re.split(r"[\s,;]+", self.marks) if each]
        if not typed:
            return _next_free(part.number, taken, self.count)
        if self.count not in (1, len(typed)):
            marks = "mark" if len(typed) == 1 else "marks"
            raise Refused(
                Problem("marks", self.marks, f"{len(typed)} {marks} for {self.count} pieces", "as many marks as pieces")
            )
        for place, mark in enumerate(typed):
            if len(mark) > 40:
                raise Refused(Problem("marks", mark, "a mark is stamped on metal: this is too long", "40 characters"))
            if mark in taken:
                raise Refused(Problem("marks", mark, "another piece of this build carries it", "a mark not used yet"))
            if mark in typed[:place]:
                raise Refused(Problem("marks", mark, "it stands here twice", "each mark once"))
        if len(typed) > MOST_AT_ONCE:
            raise Refused(Problem("marks", f"{len(typed)} marks", "too many at once", f"at most {MOST_AT_ONCE}"))
        return typed


def _marks_taken(connection: Connection, build_id: int) -> set[str]:
    standing = select(PieceState.mark).where(PieceState.build_id == build_id, PieceState.state != "entered by mistake")
    return set(connection.execute(standing).scalars())


def _next_free(number: str, taken: set[str], count: int) -> list[str]:
    stem = re.sub(r"\s+", "-", number)
    free: list[str] = []
    place = 1
    while len(free) < count:
        if f"{stem}-{place}" not in taken:
            free.append(f"{stem}-{place}")
        place += 1
    return free
