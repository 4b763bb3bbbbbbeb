"""A finding: what the rules say follows from the facts."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

Severity = Literal["stops the set", "costs metal or time", "worth knowing"]


@dataclass(frozen=True, slots=True)
class Finding:
    """What happened, why the rules think so, what to do about it; `rule` names the rule, `subject` what it is about."""

    rule: str
    severity: Severity
    subject: str
    what: str
    why: str
    do: str
    part_id: int | None = None
    operation_id: int | None = None
    dimension_id: int | None = None

    @property
    def id(self) -> str:
        """The same for the same trouble, however often it is worked out."""
        parts = [self.rule, self.subject, str(self.operation_id or ""), str(self.dimension_id or "")]
        return ":".join(parts).rstrip(":")
