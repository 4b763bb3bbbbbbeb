"""What a record holds: the whole history of one piece, or of one part with all of its pieces, as plain values.

Lengths are whole nanometres, times are UTC. Nothing here reads or writes anything.
"""

from __future__ import annotations

import re
import unicodedata
from dataclasses import dataclass
from datetime import datetime
from typing import Final, Literal

from server.rules.facts import LimitFacts

DEAD: Final = ("scrap", "entered by mistake")
_LONGEST_NAME: Final = 60


@dataclass(frozen=True, slots=True)
class BuildTold:
    id: int
    name: str
    unit: str
    general_tolerance: str
    note: str


@dataclass(frozen=True, slots=True)
class LimitsTold:
    """Limits of a dimension from `since` on. until: None while they are in force."""

    id: int
    requirement: str
    unit: str
    kind: Literal["size", "at most", "at least", "reference"]
    nominal_nm: int | None
    low_nm: int | None
    high_nm: int | None
    standard: str
    cutting: Literal["smaller", "larger", "neither"]
    since: datetime
    until: datetime | None

    @property
    def facts(self) -> LimitFacts:
        return LimitFacts(self.nominal_nm, self.low_nm, self.high_nm, self.cutting, self.kind)


@dataclass(frozen=True, slots=True)
class DimensionTold:
    """A dimension and every set of limits it has had, oldest first; the last is the one in force."""

    id: int
    number: str
    name: str
    operation_number: int | None
    importance: str
    gauge: str
    retired_at: datetime | None
    limits: tuple[LimitsTold, ...]


@dataclass(frozen=True, slots=True)
class OperationTold:
    """An operation as the plan has it now; what it was before stands among the plan changes."""

    id: int
    number: int
    name: str
    machine: str
    setup: str
    work_offset: str
    cutters: str
    planned_minutes: float | None
    check_before: str
    retired_at: datetime | None


@dataclass(frozen=True, slots=True)
class PartTold:
    id: int
    number: str
    name: str
    revision: str
    material: str
    hand: str
    needed: int
    spares: int
    general_tolerance: str
    note: str
    operations: tuple[OperationTold, ...]
    dimensions: tuple[DimensionTold, ...]


@dataclass(frozen=True, slots=True)
class ChangeTold:
    """One change of the plan. part_id None: of the build as a whole."""

    id: int
    part_id: int | None
    at: datetime
    who: str
    what: str


@dataclass(frozen=True, slots=True)
class ReplacedTold:
    """That a later entry of the log stands in the place of this one, and why."""

    entry_id: int
    how: Literal["corrected", "taken back"]
    at: datetime
    who: str
    why: str


@dataclass(frozen=True, slots=True)
class RunTold:
    """One run, as one of its pieces saw it.

    machine, setup, cutters  what was used, which the plan of its day said; empty where nothing was written down
    feed_typed, feed_unit    as typed, and the unit that was meant where none was typed
    feed_nm   table feed a minute [nm]
    minutes   how long it took; None while it is open, and for a run put in the log after it was made
    together  marks of the other pieces in it
    """

    id: int
    piece_id: int
    operation_id: int
    operation_number: int
    operation_name: str
    machine: str
    setup: str
    cutters: str
    work_offset: str
    rpm: float | None
    feed_typed: str
    feed_unit: str
    feed_nm: int | None
    started_at: datetime
    ended_at: datetime | None
    outcome: Literal["finished", "broken off"] | None
    minutes: float | None
    who: str
    ended_by: str
    together: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class ReadingTold:
    """One measured value, with the limits in force when it was made.

    standing     latest: counts now; earlier: measured again since; corrected or taken back: see `replaced`
    verdict      under the limits it was made under; verdict_now under those in force now, None where they are the same
                 or the dimension was taken off
    beyond_nm    how far outside the limits it was made under [nm], 0 when good
    accepted     the reason for which its deviation was accepted, else ""
    """

    id: int
    first_id: int
    dimension_id: int
    number: str
    name: str
    value_nm: int
    typed: str
    unit: str
    entered_as: str
    gauge: str
    temperature_c: float | None
    run_id: int | None
    operation_number: int | None
    at: datetime
    received_at: datetime
    who: str
    limits: LimitsTold
    verdict: str
    beyond_nm: int
    verdict_now: str | None
    standing: Literal["latest", "earlier", "corrected", "taken back"]
    replaces_id: int | None
    replaced: ReplacedTold | None
    accepted: str


@dataclass(frozen=True, slots=True)
class EventTold:
    id: int
    kind: str
    at: datetime
    received_at: datetime
    who: str
    text: str
    run_id: int | None
    operation_number: int | None
    dimension_id: int | None
    reading_id: int | None
    taken_back: ReplacedTold | None


@dataclass(frozen=True, slots=True)
class PhotoTold:
    """A photograph. Its bytes are not here: they are the file of this SHA-256 among the photographs of the data folder.

    of            what it shows: the piece itself, a run, an operation's set-up, or an event (event_id)
    width, height [pixels] as it stands upright
    """

    id: int
    of: Literal["piece", "run", "operation", "event"]
    sha256: str
    media_type: str
    width: int
    height: int
    size_bytes: int
    caption: str
    at: datetime
    received_at: datetime
    who: str
    run_id: int | None
    operation_id: int | None
    operation_number: int | None
    event_id: int | None
    taken_back: ReplacedTold | None


@dataclass(frozen=True, slots=True)
class AtOperationTold:
    operation_id: int
    number: int
    name: str
    state: str
    runs: int
    why: str


@dataclass(frozen=True, slots=True)
class PieceTold:
    """One piece: what it is, where it stands, and everything logged of it in the order it was received.

    revision  of the part when the piece was started
    """

    id: int
    mark: str
    hand: str
    revision: str
    started_at: datetime
    who: str
    state: str
    next_move: str
    fitted_to: str
    fitted_at: datetime | None
    operations: tuple[AtOperationTold, ...]
    runs: tuple[RunTold, ...]
    readings: tuple[ReadingTold, ...]
    events: tuple[EventTold, ...]
    photos: tuple[PhotoTold, ...]

    def readings_of(self, dimension_id: int) -> tuple[ReadingTold, ...]:
        """The readings of one dimension in the order of measuring; a corrected one just before its correction."""
        found = [each for each in self.readings if each.dimension_id == dimension_id]
        return tuple(sorted(found, key=lambda each: (each.first_id, each.id)))

    def latest(self, dimension_id: int) -> ReadingTold | None:
        found = (each for each in self.readings if each.dimension_id == dimension_id and each.standing == "latest")
        return next(found, None)


@dataclass(frozen=True, slots=True)
class WorkedTold:
    """What worked at one operation: the settings of a finished run that left a good piece.

    run     None where no run has yet
    machine, setup, cutters  what that run used; what the plan says, where there is no run or it says nothing
    mark    the good piece; on: which of its runs at this operation it was, counted from 1
    remarks what was noted at the runs of this operation, on whatever piece: broken cutters, chatter and its cure
    """

    operation: OperationTold
    run: RunTold | None
    mark: str
    on: int
    remarks: tuple[EventTold, ...]

    @property
    def machine(self) -> str:
        return (self.run and self.run.machine) or self.operation.machine

    @property
    def setup(self) -> str:
        return (self.run and self.run.setup) or self.operation.setup

    @property
    def cutters(self) -> str:
        return (self.run and self.run.cutters) or self.operation.cutters


@dataclass(frozen=True, slots=True)
class Record:
    """about: of one piece (`pieces` holds it alone) or of a part with all its pieces. made_at: when it was drawn up.
    setup_photos: of the part's operations; those of pieces, runs and events are with each piece."""

    about: Literal["piece", "part"]
    made_at: datetime
    build: BuildTold
    part: PartTold
    what_worked: tuple[WorkedTold, ...]
    setup_photos: tuple[PhotoTold, ...]
    pieces: tuple[PieceTold, ...]
    changes: tuple[ChangeTold, ...]

    @property
    def title(self) -> str:
        return self.pieces[0].mark if self.about == "piece" else self.part.number


def file_name(record: Record, ending: str) -> str:
    """A name for the record's file: letters, digits and hyphens only, safe on every common file system.

    ending  without its point: "html". What is lost from a mark in making it safe is not lost from the name's meaning:
    the number of the piece or part in the database ends it.
    """
    plain = unicodedata.normalize("NFKD", record.title).encode("ascii", "ignore").decode()
    stem = re.sub(r"[^A-Za-z0-9]+", "-", plain)[:_LONGEST_NAME].strip("-")
    number = record.pieces[0].id if record.about == "piece" else record.part.id
    safe_ending = re.sub(r"[^A-Za-z0-9]+", "", ending)
    return "-".join(each for each in ("record", record.about, stem, str(number)) if each) + f".{safe_ending}"
