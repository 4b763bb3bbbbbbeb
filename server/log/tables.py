"""What happened. Every table here only grows: the database itself refuses an update or a delete.

`entry` is the spine: one row for everything logged, in the order it was received, with who, when, and which earlier
entry it replaces and why. Each kind has a table of its own that shares the entry's id.
"""

from __future__ import annotations

from datetime import datetime

from sqlalchemy import BigInteger, CheckConstraint, Index
from sqlmodel import Field, SQLModel

from server.store.base import Moment


class Entry(SQLModel, table=True):
    __tablename__ = "entry"
    __table_args__ = (
        Index("ix_entry_build_id_id", "build_id", "id"),
        CheckConstraint("kind IN ('piece', 'run', 'run end', 'reading', 'event', 'photo')", name="kind_known"),
    )

    id: int | None = Field(default=None, primary_key=True)
    build_id: int = Field(foreign_key="build.id")
    kind: str
    occurred_at: datetime = Field(sa_type=Moment)
    received_at: datetime = Field(sa_type=Moment)
    who: str = ""
    replaces_id: int | None = Field(default=None, foreign_key="entry.id", unique=True)
    why: str = ""


class Piece(SQLModel, table=True):
    """One workpiece made to a part, with the mark stamped on it. That no two standing pieces of a build carry one mark
    is held by piece_state: the mark of a piece entered by mistake is free again."""

    __tablename__ = "piece"
    __table_args__ = (
        Index("ix_piece_build_id_mark", "build_id", "mark"),
        CheckConstraint("hand IN ('none', 'left', 'right')", name="hand_known"),
    )

    id: int = Field(primary_key=True, foreign_key="entry.id")
    build_id: int = Field(foreign_key="build.id")
    part_id: int = Field(foreign_key="part.id", index=True)
    mark: str
    hand: str = "none"
    revision: str = ""


class Run(SQLModel, table=True):
    """One pass of one or more pieces through one operation. `feed_nm` is the table feed a minute.

    Machine, set-up and cutters are copied from the operation: the plan may change later, and a part has to be made
    again with what was used.
    """

    __tablename__ = "run"

    id: int = Field(primary_key=True, foreign_key="entry.id")
    operation_id: int = Field(foreign_key="operation.id", index=True)
    machine: str = ""
    setup: str = ""
    cutters: str = ""
    rpm: float | None = None
    feed_typed: str = ""
    feed_unit: str = "mm"
    feed_nm: int | None = Field(default=None, sa_type=BigInteger)


class RunPiece(SQLModel, table=True):
    """A piece in a run, and the work offset it sat on."""

    __tablename__ = "run_piece"
    __table_args__ = (Index("ix_run_piece_piece_id", "piece_id"),)

    run_id: int = Field(primary_key=True, foreign_key="run.id")
    piece_id: int = Field(primary_key=True, foreign_key="piece.id")
    work_offset: str = ""


class RunEnd(SQLModel, table=True):
    """The end of a run: finished, or broken off before the path was through. A run ends once."""

    __tablename__ = "run_end"
    __table_args__ = (CheckConstraint("outcome IN ('finished', 'broken off')", name="outcome_known"),)

    id: int = Field(primary_key=True, foreign_key="entry.id")
    run_id: int = Field(foreign_key="run.id", unique=True)
    outcome: str


class Reading(SQLModel, table=True):
    """One measured value, with the limits in force when it was made. Without a value: an earlier reading taken back.

    `first_id` is the reading that started a chain of corrections (itself, where there was none): a corrected reading
    keeps its place in the order of measuring, so that correcting last week's does not undo today's.
    """

    __tablename__ = "reading"
    __table_args__ = (Index("ix_reading_piece_id_dimension_id_first_id", "piece_id", "dimension_id", "first_id"),)

    id: int = Field(primary_key=True, foreign_key="entry.id")
    first_id: int
    piece_id: int = Field(foreign_key="piece.id")
    dimension_id: int = Field(foreign_key="dimension.id")
    limits_id: int = Field(foreign_key="limits.id")
    run_id: int | None = Field(default=None, foreign_key="run.id")
    value_nm: int | None = Field(default=None, sa_type=BigInteger)
    typed: str = ""
    unit: str = "mm"
    entered_as: str = "absolute"
    gauge: str = ""
    temperature_c: float | None = None


class Event(SQLModel, table=True):
    """Anything else worth keeping. `kind` is one of server.log.events.Kind."""

    __tablename__ = "event"
    __table_args__ = (Index("ix_event_piece_id_id", "piece_id", "id"), Index("ix_event_run_id", "run_id"))

    id: int = Field(primary_key=True, foreign_key="entry.id")
    kind: str
    piece_id: int | None = Field(default=None, foreign_key="piece.id")
    run_id: int | None = Field(default=None, foreign_key="run.id")
    dimension_id: int | None = Field(default=None, foreign_key="dimension.id")
    reading_id: int | None = Field(default=None, foreign_key="reading.id")
    text: str = ""


class Photo(SQLModel, table=True):
    """A photograph, kept as a file named by its SHA-256 beside the database. It belongs to a piece, a run, an
    operation's set-up or an event."""

    __tablename__ = "photo"
    __table_args__ = (
        Index("ix_photo_piece_id", "piece_id"),
        Index("ix_photo_run_id", "run_id"),
        Index("ix_photo_operation_id", "operation_id"),
        Index("ix_photo_event_id", "event_id"),
    )

    id: int = Field(primary_key=True, foreign_key="entry.id")
    sha256: str
    media_type: str
    width: int
    height: int
    size_bytes: int
    caption: str = ""
    piece_id: int | None = Field(default=None, foreign_key="piece.id")
    run_id: int | None = Field(default=None, foreign_key="run.id")
    operation_id: int | None = Field(default=None, foreign_key="operation.id")
    event_id: int | None = Field(default=None, foreign_key="event.id")


GROWS_ONLY = ("entry", "piece", "run", "run_piece", "run_end", "reading", "event", "photo", "plan_change")
