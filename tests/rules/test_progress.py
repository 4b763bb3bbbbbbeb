"""Where a piece stands: each state at an operation, each standing as a whole, and which comes before which.

Ids of runs and readings grow in the order things were received, as they do in the log.
"""

from __future__ import annotations

from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from server.rules.facts import DimensionFacts, LimitFacts, OperationFacts, PieceFacts, ReadingFacts, RunFacts
from server.rules.progress import URGENCY, Standing, standing

LOW, HIGH = 25_000_000, 25_021_000
LIMITS = LimitFacts(LOW, LOW, HIGH, "larger")
FIRST, SECOND, THIRD = (OperationFacts(number, number, f"step {number}") for number in (10, 20, 30))
BORE = DimensionFacts(1, "D1", "bore", 10, "fit", LIMITS)
GOOD, METAL_LEFT, PAST = LOW + 5_000, LOW - 1, HIGH + 1


def run(id_: int, operation: OperationFacts = FIRST, outcome: Any = "finished") -> RunFacts:
    return RunFacts(id_, operation.id, outcome)


def read(id_: int, value: int, dimension: DimensionFacts = BORE, first: int | None = None) -> dict[int, ReadingFacts]:
    return {dimension.id: ReadingFacts(id_, first or id_, dimension.id, value)}


def piece(*runs: RunFacts, readings: dict[int, ReadingFacts] | None = None, **facts: Any) -> PieceFacts:
    facts = {"operations": (FIRST, SECOND, THIRD), "dimensions": (BORE,), **facts}
    return PieceFacts(mark="CR-1", runs=runs, readings=readings or {}, **facts)


def states(facts: PieceFacts) -> list[str]:
    return [each.state for each in standing(facts).operations]


@pytest.mark.parametrize(
    ("facts", "expected", "state", "move"),
    [
        (piece(), ["ready", "not ready", "not ready"], "ready", "run op 10 step 10"),
        (
            piece(run(1, outcome=None)),
            ["in hand", "not ready", "not ready"],
            "in hand",
            "op 10 step 10 is in hand",
        ),
        (
            piece(run(1)),
            ["to be measured", "not ready", "not ready"],
            "to be measured",
            "measure after op 10: bore",
        ),
        (
            piece(run(1, outcome="broken off")),
            ["to be cut again", "not ready", "not ready"],
            "to be cut again",
            "run op 10 again: the run was broken off",
        ),
        (
            piece(run(1), run(2, outcome="broken off"), readings=read(3, GOOD)),
            ["to be cut again", "not ready", "not ready"],
            "to be cut again",
            "run op 10 again: the last run was broken off",
        ),
        (piece(run(1), readings=read(2, GOOD)), ["done", "ready", "not ready"], "ready", "run op 20 step 20"),
        (
            piece(run(1), readings=read(2, METAL_LEFT)),
            ["to be cut again", "not ready", "not ready"],
            "to be cut again",
            "run op 10 again: bore",
        ),
        (
            piece(run(1), readings=read(2, PAST)),
            ["to be decided", "not ready", "not ready"],
            "to be decided",
            "op 10: bore past the limit; accept or scrap",
        ),
        (
            piece(run(1), readings=read(2, PAST), accepted=frozenset({2})),
            ["done", "ready", "not ready"],
            "ready",
            "run op 20 step 20",
        ),
        (
            piece(run(1, SECOND)),
            ["forgotten", "done", "not ready"],
            "forgotten",
            "op 10 step 10 was forgotten: op 20 is done and this is not",
        ),
        (
            piece(run(1, SECOND), run(2, THIRD)),
            ["forgotten", "done", "done"],
            "forgotten",
            "op 10 step 10 was forgotten: op 30 is done and this is not",
        ),
        (
            piece(run(1), run(3, SECOND), run(4, THIRD), readings=read(2, GOOD)),
            ["done", "done", "done"],
            "finished",
            "",
        ),
    ],
)
def test_the_state_at_each_operation_and_as_a_whole(
    facts: PieceFacts, expected: list[str], state: str, move: str
) -> None:
    assert states(facts) == expected
    assert (standing(facts).state, standing(facts).next_move) == (state, move)


@pytest.mark.parametrize(
    ("value", "expected"),
    [
        (LOW - 1, "to be cut again"),
        (LOW, "done"),
        (LOW + 1, "done"),
        (HIGH - 1, "done"),
        (HIGH, "done"),
        (HIGH + 1, "to be decided"),
    ],
)
def test_a_nanometre_decides_on_either_side_of_a_limit(value: int, expected: str) -> None:
    assert states(piece(run(1), readings=read(2, value)))[0] == expected


def test_a_size_that_was_not_good_before_a_re_run_is_asked_for_again() -> None:
    assert states(piece(run(1), run(3), readings=read(2, METAL_LEFT)))[0] == "to be measured"
    assert states(piece(run(1), run(3), readings=read(4, METAL_LEFT)))[0] == "to be cut again"
    assert states(piece(run(1), run(3), readings=read(4, GOOD)))[0] == "done"


def test_a_size_that_was_good_before_a_re_run_stands() -> None:
    assert states(piece(run(1), run(3), readings=read(2, GOOD)))[0] == "done"


def test_a_re_run_does_not_bring_back_what_is_past_the_limit() -> None:
    assert states(piece(run(1), run(3), readings=read(2, PAST)))[0] == "to be decided"


def test_a_correction_after_a_re_run_has_the_place_of_the_reading_it_corrects() -> None:
    assert states(piece(run(1), run(3), readings=read(4, METAL_LEFT, first=2)))[0] == "to be measured"


def test_a_reading_made_while_the_run_was_open_counts_once_it_is_finished() -> None:
    assert states(piece(run(1, outcome=None), readings=read(2, METAL_LEFT)))[0] == "in hand"
    assert states(piece(run(1), readings=read(2, METAL_LEFT)))[0] == "to be cut again"


def test_a_size_measured_before_the_operation_was_run_at_all_does_not_make_it_done() -> None:
    assert states(piece(readings=read(1, GOOD)))[0] == "ready"


def test_looks_and_references_are_not_asked_for_but_are_judged_when_measured() -> None:
    looks = DimensionFacts(1, "D1", "chamfer", 10, "cosmetic", LIMITS)
    reference = DimensionFacts(1, "D1", "length", 10, "fit", LimitFacts(LOW, None, None, "larger", "reference"))
    for dimension in (looks, reference):
        assert states(piece(run(1), dimensions=(dimension,)))[0] == "done"
    assert states(piece(run(1), readings=read(2, PAST), dimensions=(looks,)))[0] == "to be decided"
    assert states(piece(run(1), readings=read(2, PAST), dimensions=(reference,)))[0] == "done"


def test_the_worst_of_several_sizes_names_the_state_and_each_is_named() -> None:
    others = tuple(DimensionFacts(n, f"D{n}", f"bore {n}", 10, "fit", LIMITS) for n in (1, 2, 3, 4))
    readings = read(2, METAL_LEFT, others[0]) | read(3, PAST, others[1]) | read(4, PAST, others[2])
    at = standing(piece(run(1), readings=readings, dimensions=others)).operations[0]
    assert (at.state, at.why) == ("to be decided", "bore 2, bore 3")
    del readings[2], readings[3]
    at = standing(piece(run(1), readings=readings, dimensions=others)).operations[0]
    assert (at.state, at.why) == ("to be cut again", "bore 1")


def test_an_operation_waits_for_the_first_one_before_it_that_is_not_done() -> None:
    whys = [each.why for each in standing(piece()).operations]
    assert whys == ["", "waits for op 10", "waits for op 10"]


def test_a_run_of_an_operation_taken_out_is_finished_first() -> None:
    found = standing(piece(run(1, OperationFacts(99, 15, "gone"), None), run(2), readings=read(3, GOOD)))
    assert (found.state, found.open_run_id, found.operation_id) == ("in hand", 1, None)
    assert found.next_move


@pytest.mark.parametrize("state", ["scrap", "entered by mistake"])
def test_a_piece_that_is_no_more_has_no_next_move_whatever_its_operations(state: str) -> None:
    gone = {"scrapped": state == "scrap", "entered_by_mistake": state == "entered by mistake"}
    found = standing(piece(run(1, outcome=None), readings=read(2, PAST), **gone))
    assert (found.state, found.next_move, found.open_run_id) == (state, "", None)


def test_a_fitted_piece_that_lacks_nothing_is_fitted_and_one_that_lacks_something_says_so() -> None:
    assert standing(piece(operations=(), dimensions=(), fitted_to="near side")).state == "fitted"
    assert standing(piece(fitted_to="near side")).state == "ready"


def test_a_part_without_a_plan_says_what_it_needs() -> None:
    assert standing(piece(operations=(), dimensions=())).state == "no plan"


@pytest.mark.parametrize(
    ("value", "state"), [(None, "to be measured"), (METAL_LEFT, "to be cut again"), (PAST, "to be decided")]
)
def test_a_size_that_no_operation_makes_still_has_to_come_out_right(value: int | None, state: str) -> None:
    loose = DimensionFacts(1, "D1", "over all", None, "fit", LIMITS)
    readings = read(9, value) if value is not None else {}
    done = piece(run(1), operations=(FIRST,), dimensions=(loose,), readings=readings)
    assert (standing(done).state, standing(done).next_move) == (state, f"{state}: over all")
    assert standing(done).operation_id is None


def test_a_size_that_no_operation_makes_is_not_asked_for_before_the_operations_are_done() -> None:
    loose = DimensionFacts(1, "D1", "over all", 99, "fit", LIMITS)
    assert standing(piece(dimensions=(loose,))).state == "ready"
    assert standing(piece(dimensions=(loose,), readings=read(9, PAST))).state == "to be decided"


@given(
    st.lists(
        st.tuples(st.sampled_from([FIRST, SECOND, THIRD]), st.sampled_from(["finished", "broken off", None])),
        max_size=6,
    ),
    st.sampled_from([None, METAL_LEFT, GOOD, PAST]),
    st.integers(1, 8),
    st.booleans(),
)
def test_the_standing_is_the_most_pressing_of_the_operations(
    runs: list[tuple[OperationFacts, Any]], value: int | None, place: int, accepted: bool
) -> None:
    made = tuple(run(2 * number, *each) for number, each in enumerate(runs))
    readings = read(2 * place + 1, value) if value is not None else {}
    facts = piece(*made, readings=readings, accepted=frozenset({2 * place + 1}) if accepted else frozenset())
    found: Standing = standing(facts)
    at = {each.state for each in found.operations}
    pressing = [state for state in URGENCY if state in at]
    if pressing:
        assert found.state == pressing[0]
        assert found.next_move
    else:
        assert at == {"done"}
        assert found.state == "finished"
    assert [each.runs for each in found.operations] == [
        sum(1 for each in made if each.operation_id == operation.id) for operation in (FIRST, SECOND, THIRD)
    ]
    assert at & {
        "not ready",
        "ready",
        "in hand",
        "to be measured",
        "to be cut again",
        "to be decided",
        "done",
        "forgotten",
    }


def test_a_size_past_its_limit_comes_before_a_run_that_was_broken_off() -> None:
    """No run brings the metal back: the builder decides first, and is not sent to the machine."""
    facts = piece(run(1), run(3, outcome="broken off"), readings=read(4, PAST))
    assert standing(facts).state == "to be decided"
    only_broken_off = piece(run(1, outcome="broken off"), readings=read(2, PAST))
    assert standing(only_broken_off).state == "to be decided"
