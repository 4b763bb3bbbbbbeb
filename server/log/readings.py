"""Readings: taking one, and correcting one. A reading is never changed; a correction takes its place and says why."""

from __future__ import annotations

from datetime import datetime, timedelta
from typing import Annotated, Any, ClassVar, Literal

from pydantic import Field
from sqlalchemy import Connection, bindparam, insert, select

from server.log.entries import LogAction, is_replaced, the_piece
from server.log.kept_tables import LatestReading
from server.log.runs import OfRun, refuse_on_dead_piece, refuse_unless_in_run
from server.log.tables import Entry, Piece, Reading
from server.plan.named import the_dimension, the_row
from server.plan.tables import Limits
from server.rules.facts import LimitFacts
from server.rules.plausible import doubt
from server.store.action import Choice, Effect, Problem, Question, Refused
from server.trade.errors import TradeError
from server.trade.length import Mark, Unit, format_length, read_length

EnteredAs = Literal["absolute", "deviation"]

# Ready-made, as those in gather.py and for the same reason.
_IN_FORCE = select(Limits.__table__).where(  # type: ignore[attr-defined]
    Limits.dimension_id == bindparam("dimension_id"),
    Limits.until.is_(None),  # type: ignore[union-attr]
)
_IN_FORCE_THEN = select(Limits.__table__).where(  # type: ignore[attr-defined]
    Limits.dimension_id == bindparam("dimension_id"),
    Limits.since <= bindparam("then"),
    Limits.until > bindparam("then"),  # type: ignore[operator]
)
_STANDING = (
    select(LatestReading.value_nm, Entry.occurred_at)
    .join(Entry, Entry.id == LatestReading.first_id)
    .where(
        LatestReading.piece_id == bindparam("piece_id"),
        LatestReading.dimension_id == bindparam("dimension_id"),
    )
)
_INSERT = insert(Reading)
# Clocks of tablets and of the shop's computer differ by minutes, not by more than this.
LATER = timedelta(hours=1)


class _ReadingFields(LogAction):
    value: Annotated[str, Field(max_length=80, description='31.782, 1 1/4", or a deviation such as +2 thou')]
    unit: Unit = "mm"
    entered_as: EnteredAs = "absolute"
    gauge: Annotated[str, Field(max_length=200)] = ""
    temperature_c: Annotated[float, Field(ge=-50, le=150, allow_inf_nan=False)] | None = None
    sure: bool = False

    def size(self, limits: Any) -> int:
        """The size in nm, or Refused: unreadable, impossible, or so far off that it is asked about."""
        try:
            value_nm, mark = read_length(self.value, self.unit, field="value")
        except TradeError as error:
            raise Refused(Problem.of(error, "value")) from error
        if self.entered_as == "deviation":
            if limits.nominal_nm is None:
                why = f"“{limits.requirement}” has no nominal size to deviate from"
                raise Refused(Problem("value", self.value, why, "the size itself"))
            value_nm += limits.nominal_nm
        self._ask_if_absurd(value_nm, limits, mark)
        return value_nm

    def _ask_if_absurd(self, value_nm: int, limits: Any, mark: Mark) -> None:
        found = doubt(value_nm, self.unit, limit_facts(limits))
        if found is None:
            return
        size = f"{format_length(value_nm, self.unit, 4)} {self.unit}"
        if found.kind == "not a size":
            accepts = f"a size near {limits.requirement}, or a deviation"
            raise Refused(Problem("value", self.value, f"{size} is not a size that metal can have", accepts))
        if self.sure:
            return
        other = "mm" if self.unit == "in" else "in"
        # Only a whole size typed without its unit can have been meant in the other one.
        if found.kind == "other unit" and mark == "" and self.entered_as == "absolute":
            raise Refused(
                question=Question(
                    f"{self.value} {self.unit} is far from the drawing's {limits.requirement}; "
                    f"{self.value} {other} would be near it. Which is meant?",
                    [
                        Choice(f"{self.value} {other}", {"unit": other}),
                        Choice(f"{self.value} {self.unit} is right", {"sure": True}),
                    ],
                )
            )
        raise Refused(
            question=Question(
                f"{size} is far from the drawing's {limits.requirement}. Is it right?",
                [Choice(f"Yes, it measured {size}", {"sure": True})],
            )
        )


class TakeReading(_ReadingFields, OfRun):
    path: ClassVar[str] = "take-reading"
    title: ClassVar[str] = "Log a measured value of one dimension of one piece"

    piece_id: int
    dimension_id: int

    def carry_out(self, connection: Connection, moment: datetime) -> Effect:
        piece = the_piece(connection, self.piece_id)
        refuse_on_dead_piece(connection, self.piece_id, "piece_id")
        limits = limits_in_force(connection, piece, self.dimension_id, self.occurred_at)
        run_id = self.named_run(connection)
        if run_id is not None:
            refuse_unless_in_run(connection, run_id, piece)
        value_nm = self.size(limits)
        self._ask_if_measured_since(connection, piece)
        reading_id = self.add_entry(connection, moment, piece.build_id, "reading")
        _put(
            connection,
            self,
            id=reading_id,
            first_id=reading_id,
            piece_id=piece.id,
            dimension_id=self.dimension_id,
            limits_id=limits.id,
            run_id=run_id,
            value_nm=value_nm,
        )
        answer = {
            "reading_id": reading_id,
            "piece_id": piece.id,
            "dimension_id": self.dimension_id,
            "value_nm": value_nm,
            "page": f"/pieces/{piece.id}",
        }
        return Effect(answer, pieces={piece.id})

    def _ask_if_measured_since(self, connection: Connection, piece: Any) -> None:
        """A card entered a week later, or a tablet long out of reach, must not undo today's reading unasked: the
        reading received last is the one that counts."""
        if self.occurred_at is None or self.sure:
            return
        since = connection.execute(_STANDING, {"piece_id": piece.id, "dimension_id": self.dimension_id}).first()
        if since is None or since.occurred_at <= self.occurred_at + LATER:
            return
        size = f"{format_length(since.value_nm, self.unit, 4)} {self.unit}"
        at = since.occurred_at.astimezone().strftime("%Y-%m-%d %H:%M")
        raise Refused(
            question=Question(
                f"{piece.mark} was measured here again later, {size} on {at}, and that counts now. "
                "Shall this older reading count instead?",
                [Choice("Yes, let this one count", {"sure": True})],
            )
        )


class CorrectReading(_ReadingFields):
    path: ClassVar[str] = "correct-reading"
    title: ClassVar[str] = "Put a corrected value in the place of a reading, and say why"

    reading_id: int
    why: Annotated[str, Field(min_length=1, max_length=1000)]

    def carry_out(self, connection: Connection, moment: datetime) -> Effect:
        old, piece = _standing(connection, self.reading_id)
        limits = the_row(connection, Limits, old.limits_id, "limits")
        value_nm = self.size(limits)
        new = self.add_entry(connection, moment, piece.build_id, "reading", self.reading_id, self.why)
        _put(connection, self, **_in_place_of(old, new), value_nm=value_nm)
        answer = {
            "reading_id": new,
            "piece_id": piece.id,
            "dimension_id": old.dimension_id,
            "value_nm": value_nm,
            "page": f"/pieces/{piece.id}",
        }
        return Effect(answer, pieces={piece.id})


class TakeBackReading(LogAction):
    path: ClassVar[str] = "take-back-reading"
    title: ClassVar[str] = "Take a reading back that should not be there, and say why"

    reading_id: int
    why: Annotated[str, Field(min_length=1, max_length=1000)]

    def carry_out(self, connection: Connection, moment: datetime) -> Effect:
        old, piece = _standing(connection, self.reading_id)
        new = self.add_entry(connection, moment, piece.build_id, "reading", self.reading_id, self.why)
        connection.execute(insert(Reading).values(**_in_place_of(old, new), value_nm=None, unit=old.unit))
        return Effect({"reading_id": new, "piece_id": piece.id, "page": f"/pieces/{piece.id}"}, pieces={piece.id})


def limits_in_force(connection: Connection, piece: Piece, dimension_id: int, then: datetime | None) -> Any:
    """The limits row in force when a reading was made (None: now), or Refused when the dimension is not of this piece.

    What a tablet kept comes hours later: a deviation is from the nominal that was on the drawing when it was measured.
    A reading older than the dimension itself has the limits of now.
    """
    dimension = the_dimension(connection, dimension_id)
    if dimension.part_id != piece.part_id:
        why = f"{piece.mark} has no such dimension"
        raise Refused(Problem("dimension_id", str(dimension_id), why, "a dimension of its part"))
    if dimension.retired_at is not None:
        why = f"{dimension.name} was taken off the part"
        raise Refused(Problem("dimension_id", str(dimension_id), why, "a dimension of the plan"))
    now = connection.execute(_IN_FORCE, {"dimension_id": dimension_id}).one()
    if then is None or then >= now.since:
        return now
    return connection.execute(_IN_FORCE_THEN, {"dimension_id": dimension_id, "then": then}).first() or now


def limit_facts(limits: Any) -> LimitFacts:
    return LimitFacts(limits.nominal_nm, limits.low_nm, limits.high_nm, limits.cutting, limits.kind)


def _standing(connection: Connection, reading_id: int) -> tuple[Any, Any]:
    """The reading and its piece, refused where it was corrected or taken back before."""
    old = the_row(connection, Reading, reading_id, "reading")
    if is_replaced(connection, reading_id):
        why = "it was corrected before; correct the reading that took its place"
        raise Refused(Problem("reading_id", str(reading_id), why, "a reading that still stands"))
    if old.value_nm is None:
        raise Refused(Problem("reading_id", str(reading_id), "it was taken back", "a reading that still stands"))
    return old, the_piece(connection, old.piece_id)


def _in_place_of(old: Any, new_id: int) -> dict[str, Any]:
    """What a reading that takes another's place shares with it: above all its place in the order of measuring."""
    same = ("first_id", "piece_id", "dimension_id", "limits_id", "run_id")
    return {"id": new_id, **{name: getattr(old, name) for name in same}}


def _put(connection: Connection, action: _ReadingFields, **columns: Any) -> None:
    connection.execute(
        _INSERT,
        {
            "typed": action.value,
            "unit": action.unit,
            "entered_as": action.entered_as,
            "gauge": action.gauge,
            "temperature_c": action.temperature_c,
            **columns,
        },
    )
