"""A finding has the same name as long as it is the same trouble."""

from __future__ import annotations

from dataclasses import replace

from server.rules.finding import Finding

FOUND = Finding("blanks", "stops the set", "CR left", "what", "why", "do")


def test_the_id_stays_when_only_the_words_change() -> None:
    assert replace(FOUND, what="two", why="more", do="now", severity="worth knowing").id == FOUND.id


def test_the_id_tells_rules_subjects_operations_and_dimensions_apart() -> None:
    others = [
        replace(FOUND, rule="order"),
        replace(FOUND, subject="CR right"),
        replace(FOUND, operation_id=1),
        replace(FOUND, dimension_id=1),
        replace(FOUND, operation_id=1, dimension_id=1),
    ]
    assert len({each.id for each in [FOUND, *others]}) == 6
