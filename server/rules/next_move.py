"""What to do about one reading, in one sentence a builder can act on at the machine."""

from __future__ import annotations

from dataclasses import dataclass

from server.rules.facts import LimitFacts
from server.rules.verdict import Verdict
from server.trade.length import Unit, format_length

# What is shown at the machine: a micrometer's last figure and no more. mm: 0.001; in: 0.0001.
_DECIMALS: dict[Unit, int] = {"mm": 3, "in": 4}


@dataclass(frozen=True, slots=True)
class NextMove:
    """sentence for the builder; take_nm [nm] what to take to reach the aim (None where there is nothing to take)."""

    sentence: str
    take_nm: int | None = None


def shown(nm: int, unit: Unit) -> str:
    """A length as it is read in the shop, without its unit: 3 decimals of a millimetre or 4 of an inch, and one more
    where the size is not whole in those. One size reads the same wherever it stands."""
    decimals = _DECIMALS[unit]
    text = format_length(nm, unit, decimals)
    finer = format_length(nm, unit, decimals + 1)
    return text if finer == text + "0" else finer


def _by(nm: int, unit: Unit) -> str:
    """An amount to the last figure of a micrometer; one that is not nothing is not shown as nothing."""
    decimals = _DECIMALS[unit]
    said = format_length(nm, unit, decimals)
    return said if nm == 0 or said.strip("0.") else f"less than {10**-decimals:.{decimals}f}"


def next_move(
    name: str, value_nm: int, limits: LimitFacts, verdict: Verdict, operation_number: int | None, unit: Unit
) -> NextMove:
    """The next move after a reading of value_nm [nm] of the dimension `name`, lengths told in `unit`.

    Metal left: which operation to run again and what it takes to reach the middle of the limits, or the limit itself
    where only one is given. Past the limit: by how much, and that only accepting it or scrapping is left.
    """
    if verdict.word == "reference":
        return NextMove(f"{name} is for reference: nothing judges it.")
    by = _by(verdict.beyond_nm, unit)
    if verdict.word == "good":
        if verdict.to_middle_nm is None:
            return NextMove(f"{name} is good.")
        if verdict.to_middle_nm == 0:
            return NextMove(f"{name} is good, in the middle of its limits.")
        side = "above" if 2 * value_nm > (limits.low_nm or 0) + (limits.high_nm or 0) else "below"
        return NextMove(f"{name} is good, {_by(verdict.to_middle_nm, unit)} {side} the middle of its limits.")
    if verdict.word == "past the limit":
        limit = "lowest" if limits.low_nm is not None and value_nm < limits.low_nm else "highest"
        ending = "cutting again cannot bring it in" if limits.cutting != "neither" else "cutting does not change it"
        return NextMove(
            f"{name} is {by} past its {limit} limit; {ending}. Accept the deviation with a reason, or scrap the piece."
        )
    again = f"run op {operation_number} again" if operation_number is not None else "cut it again"
    if verdict.to_middle_nm is None:
        return NextMove(f"{by} left: {again}; the limit is at least {by} away.", verdict.beyond_nm)
    take = _by(verdict.to_middle_nm, unit)
    if limits.cutting == "smaller":
        aim = f"to the middle of the limits takes {take} off {name}"
    else:
        aim = f"opening {name} by {take} brings it to the middle of its limits"
    return NextMove(f"{by} left: {again}; {aim}.", verdict.to_middle_nm)
