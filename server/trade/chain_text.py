"""A chain as it is typed: members apart by semicolons, each a sign and what it must measure.

    + 31.782 to 31.790; - 31.70 ±0.01; - measured 20.012 ±0.004

After the sign a requirement as server.trade.limits reads it, with both limits; after the word `measured`, a size and
its expanded uncertainty (U = 2u) as ±.
"""

from __future__ import annotations

import re
from typing import Final

from server.trade.chains import Drawn, Measured, Member, Spread
from server.trade.errors import OutOfRange, TradeError, Unreadable
from server.trade.length import Unit, plain_signs
from server.trade.limits import Requirement, parse_requirement

MOST_MEMBERS: Final = 40
ACCEPTS: Final = "members apart by semicolons, each with its sign: + 31.782 to 31.790; - measured 20.012 ±0.004"
_MEASURED: Final = re.compile(r"measured\b\s*", re.IGNORECASE)


def parse_members(text: str, unit: Unit, spread: Spread = "rectangular", *, field: str = "members") -> list[Member]:
    """The members typed as `text`, bare figures in `unit`; drawn ones spread as `spread` says.

    Each is named by its number and what was typed: "2. - 31.70 ±0.01". Raises Unreadable, OutOfRange, Impossible with
    the member's number in the reason.
    """
    typed = [each.strip() for each in text.split(";")]
    typed = typed[:-1] if len(typed) > 1 and not typed[-1] else typed
    if len(typed) > MOST_MEMBERS:
        raise OutOfRange(field, f"{len(typed)} members", "that is more than a chain here has", f"1 to {MOST_MEMBERS}")
    return [_member(number, each, unit, spread, field) for number, each in enumerate(typed, 1)]


def _member(number: int, typed: str, unit: Unit, spread: Spread, field: str) -> Member:
    plain = plain_signs(typed)
    if not plain:
        raise Unreadable(field, typed, f"member {number} is empty", ACCEPTS)
    if plain[0] not in "+-":
        raise Unreadable(field, typed, f"member {number} has no sign before it", ACCEPTS)
    coefficient = -1 if plain[0] == "-" else 1
    size = plain[1:].lstrip()
    name = f"{number}. {typed}"
    measured = _MEASURED.match(size)
    try:
        found = parse_requirement(size[measured.end() :] if measured else size, unit, "neither")
    except TradeError as error:
        raise type(error)(field, typed, f"member {number}: {error.why}", ACCEPTS) from error
    low_nm, high_nm = found.low_nm, found.high_nm
    if low_nm is None or high_nm is None:
        raise Unreadable(field, typed, f"member {number} has not both its limits", ACCEPTS)
    if not measured:
        return Drawn(name, coefficient, low_nm, high_nm, spread)
    if found.nominal_nm is None or found.nominal_nm - low_nm != high_nm - found.nominal_nm or found.standard:
        raise Unreadable(field, typed, f"member {number} is measured and not given as a size ± U", ACCEPTS)
    return Measured(name, coefficient, found.nominal_nm, high_nm - found.nominal_nm)


def parse_wanted(text: str, unit: Unit, field: str) -> Requirement:
    """Limits wanted for a total or a size, typed as `text`; one of them may be open. Raises Unreadable, Impossible."""
    try:
        found = parse_requirement(text, unit, "neither")
    except TradeError as error:
        raise type(error)(field, error.read, error.why, error.accepts) from error
    if found.kind == "reference":
        raise Unreadable(field, text, "a size for reference has no limits", "limits, such as 0.04 to 0.06, or min 0.1")
    return found
