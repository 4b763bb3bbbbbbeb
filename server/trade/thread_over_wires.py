"""What a drawing's thread asks of the micrometer over wires: found from the requirement as it was typed."""

from __future__ import annotations

from dataclasses import dataclass

from server.trade.errors import TradeError
from server.trade.limits import Cutting
from server.trade.thread_designation import parse_thread, thread_limits
from server.trade.thread_measuring import readings_over_wires, wires_for


@dataclass(frozen=True, slots=True)
class OverWires:
    """Best wire and the micrometer readings over three of it that keep the thread within its limits [nm]."""

    designation: str
    wire_nm: int
    low_nm: int
    high_nm: int


def over_wires(requirement: str, cutting: Cutting) -> OverWires | None:
    """The reading over the best wires for an external thread typed as `requirement`; None for anything else.

    Formula and range as `server.trade.thread_measuring.readings_over_wires` (with the lead angle).
    """
    if cutting == "larger":
        return None
    try:
        thread = parse_thread(requirement)
        if thread is None:
            return None
        limits = thread_limits(thread, internal=False)
        wire_nm = wires_for(thread.pitch_nm).best_nm
        low_nm, high_nm = readings_over_wires(limits, thread.pitch_nm, wire_nm)
    except TradeError:
        return None
    return OverWires(limits.designation, wire_nm, low_nm, high_nm)
