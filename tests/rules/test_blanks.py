"""How many more blanks a part needs."""

from __future__ import annotations

import pytest

from server.rules.blanks import blanks_to_start, count_in_words, shortage
from server.rules.facts import PartFacts


def part(needed: int, spares: int, live: int, scrapped: int = 0, hand: str = "none") -> PartFacts:
    return PartFacts(1, "CR", hand, needed, spares, live, 0, scrapped)  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("facts", "blanks"),
    [
        (part(4, 1, 5), 0),
        (part(4, 1, 4), 1),
        (part(4, 1, 0), 5),
        (part(4, 1, 9), 0),
        (part(0, 0, 0), 0),
    ],
)
def test_blanks_are_what_is_wanted_less_what_lives(facts: PartFacts, blanks: int) -> None:
    assert blanks_to_start(facts) == blanks


def test_a_scrapped_piece_stops_the_set_where_no_spare_takes_its_place() -> None:
    assert shortage(part(4, 1, 5)) is None
    spare_gone = shortage(part(4, 1, 4, scrapped=1))
    assert spare_gone is not None
    assert (spare_gone.severity, spare_gone.do) == (
        "worth knowing",
        "Start one more blank if you still want the spare.",
    )
    short = shortage(part(4, 1, 3, scrapped=2))
    assert short is not None
    assert (short.severity, short.what, short.why, short.do) == (
        "stops the set",
        "CR: two more blanks needed",
        "4 needed and 1 spare, 3 under way or finished, 2 scrapped",
        "Start two more blanks.",
    )


def test_each_hand_has_a_finding_of_its_own() -> None:
    left, right = shortage(part(2, 0, 1, 1, "left")), shortage(part(2, 0, 1, 1, "right"))
    assert left is not None
    assert right is not None
    assert (left.what, left.subject) == ("CR: one more left-handed blank needed", "CR left")
    assert left.id != right.id


def test_work_that_has_not_been_started_is_no_trouble_and_work_all_scrapped_is() -> None:
    assert shortage(part(4, 1, 0)) is None
    assert shortage(part(1, 0, 0, scrapped=1)) is not None


@pytest.mark.parametrize(("number", "said"), [(0, "no"), (1, "one"), (12, "twelve"), (13, "13")])
def test_small_counts_are_said_as_words(number: int, said: str) -> None:
    assert count_in_words(number) == said
