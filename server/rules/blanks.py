"""How many more blanks a part needs: scrap shows at once."""

from __future__ import annotations

from server.rules.facts import PartFacts
from server.rules.finding import Finding


def blanks_to_start(part: PartFacts) -> int:
    """How many more pieces have to be started for `needed` and `spares` to be there."""
    return max(0, part.needed + part.spares - part.live)


def shortage(part: PartFacts) -> Finding | None:
    """The finding that blanks are missing, or None. Without pieces at all the work has just not been started."""
    short = blanks_to_start(part)
    if short == 0 or (part.live == 0 and part.scrapped == 0):
        return None
    hand = "" if part.hand == "none" else f" {part.hand}-handed"
    blanks = f"{count_in_words(short)} more{hand} blank{'s' if short > 1 else ''}"
    for_set = part.live < part.needed
    scrapped = f", {part.scrapped} scrapped" if part.scrapped else ""
    return Finding(
        rule="blanks",
        part_id=part.part_id,
        severity="stops the set" if for_set else "worth knowing",
        subject=part.number + (f" {part.hand}" if part.hand != "none" else ""),
        what=f"{part.number}: {blanks} needed",
        why=f"{part.needed} needed and {part.spares} spare, {part.live} under way or finished{scrapped}",
        do=f"Start {blanks}." if for_set else f"Start {blanks} if you still want the spare.",
    )


def count_in_words(number: int) -> str:
    """Small counts as words, as people say them; larger ones as figures."""
    words = ("no", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten", "eleven", "twelve")
    return words[number] if number < len(words) else str(number)
