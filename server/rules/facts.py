"""What the rules are given: plain facts of one piece or one part, gathered from plan and log by log/.

Rows of the log are told apart by their ids, which grow in the order things were received; "since" and "after" in the
rules mean a greater id.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Literal

from server.trade.limits import Cutting

Importance = Literal["fit", "working", "cosmetic"]


@dataclass(frozen=True, slots=True)
class LimitFacts:
    """The sizes a dimension may have [nm]; an end that is open is None. kind as in server.trade.limits."""

    nominal_nm: int | None
    low_nm: int | None
    high_nm: int | None
    cutting: Cutting
    kind: Literal["size", "at most", "at least", "reference"] = "size"


@dataclass(frozen=True, slots=True)
class DimensionFacts:
    id: int
    number: str
    name: str
    operation_number: int | None
    importance: Importance
    limits: LimitFacts

    @property
    def required(self) -> bool:
        """Whether a piece is only finished once this is measured. Looks and references are not asked for."""
        return self.importance != "cosmetic" and self.limits.kind != "reference"


@dataclass(frozen=True, slots=True)
class OperationFacts:
    id: int
    number: int
    name: str


@dataclass(frozen=True, slots=True)
class RunFacts:
    """One run of one piece. outcome None: still open."""

    id: int
    operation_id: int
    outcome: Literal["finished", "broken off"] | None


@dataclass(frozen=True, slots=True)
class ReadingFacts:
    """The reading that stands for one dimension. `first_id` is its place in the order of measuring: for a corrected
    reading that of the reading it took the place of."""

    id: int
    first_id: int
    dimension_id: int
    value_nm: int


@dataclass(frozen=True, slots=True)
class PieceFacts:
    """Everything the rules need to say where a piece stands. Operations in the order of their numbers."""

    mark: str
    operations: tuple[OperationFacts, ...] = ()
    dimensions: tuple[DimensionFacts, ...] = ()
    runs: tuple[RunFacts, ...] = ()
    readings: dict[int, ReadingFacts] = field(default_factory=dict)  # by dimension id
    accepted: frozenset[int] = frozenset()  # ids of readings whose deviation was accepted
    scrapped: bool = False
    entered_by_mistake: bool = False
    fitted_to: str = ""


@dataclass(frozen=True, slots=True)
class PartFacts:
    """How many pieces of one part (and one hand, where there are two) there are and should be."""

    part_id: int
    number: str
    hand: Literal["none", "left", "right"]
    needed: int
    spares: int
    live: int  # neither scrap nor entered by mistake
    finished: int  # of the live ones: finished or fitted
    scrapped: int
