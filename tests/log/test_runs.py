"""Runs: what may be run when, re-runs, runs broken off, and pieces that leave the machine half-way."""

from __future__ import annotations

from typing import NamedTuple

import pytest

from server.log.at_machine import can_be_run, in_hand
from server.log.events import FitPiece, MistakenPiece, ScrapPiece, TakeBackEvent
from server.log.runs import CutAgain, FinishRun, StartRun
from server.plan.operations import RetireOperation
from tests.shop import Shop


class Plan(NamedTuple):
    build: int
    part: int
    first: int  # op 10
    second: int  # op 20
    bore: int  # made by op 10


@pytest.fixture
def plan(shop: Shop) -> Plan:
    build = shop.build()
    part = shop.part(build)
    first, second = shop.operation(part, 10), shop.operation(part, 20)
    return Plan(build, part, first, second, shop.dimension(part, operation_number=10))


def on(*pieces: int, offset: str = "") -> list[dict[str, object]]:
    return [{"piece_id": piece, "work_offset": offset} for piece in pieces]


def test_a_piece_goes_through_its_operations_in_turn(shop: Shop, plan: Plan) -> None:
    piece = shop.piece(plan.part)
    assert (shop.state_at(piece, plan.first), shop.state_at(piece, plan.second)) == ("ready", "not ready")
    run = shop.run(plan.first, piece, finished=False)
    assert shop.state_at(piece, plan.first) == "in hand"
    assert shop.standing(piece).run_id == run
    shop.finish(run)
    assert (shop.state_at(piece, plan.first), shop.state_at(piece, plan.second)) == ("to be measured", "not ready")
    shop.read(piece, plan.bore, "25.01")
    assert (shop.state_at(piece, plan.first), shop.state_at(piece, plan.second)) == ("done", "ready")
    shop.run(plan.second, piece)
    assert shop.standing(piece).state == "finished"


def test_an_operation_out_of_its_turn_is_asked_about_and_the_one_before_is_then_forgotten(
    shop: Shop, plan: Plan
) -> None:
    piece = shop.piece(plan.part)
    question = shop.asked(StartRun, operation_id=plan.second, pieces=on(piece))
    assert question.text == "CR-1 waits for op 10. Run op 20 all the same?"
    assert [(choice.label, choice.sets) for choice in question.choices] == [("Yes, run op 20 now", {"sure": True})]
    shop.run(plan.second, piece, sure=True)
    assert shop.state_at(piece, plan.first) == "forgotten"


def test_running_a_fitted_piece_is_asked_about(shop: Shop, plan: Plan) -> None:
    piece = shop.piece(plan.part)
    shop.do(FitPiece, piece_id=piece, text="near side", sure=True)
    question = shop.asked(StartRun, operation_id=plan.first, pieces=on(piece))
    assert question.text == "CR-1 is fitted to near side. Run op 10 all the same?"


def test_a_piece_in_hand_cannot_be_started_again(shop: Shop, plan: Plan) -> None:
    piece, other = shop.pieces(plan.part, 2)
    run = shop.run(plan.first, piece, finished=False)
    problem = shop.refused(StartRun, operation_id=plan.first, pieces=on(other, piece), sure=True)
    assert problem.field == "pieces"
    assert f"CR-1 is in hand in run {run}" in problem.why


def test_a_piece_stands_in_a_run_once(shop: Shop, plan: Plan) -> None:
    piece = shop.piece(plan.part)
    assert shop.refused(StartRun, operation_id=plan.first, pieces=on(piece, piece)).why == "it stands here twice"


def test_a_piece_of_another_part_is_told(shop: Shop, plan: Plan) -> None:
    other = shop.piece(shop.part(plan.build, "BR"))
    problem = shop.refused(StartRun, operation_id=plan.first, pieces=on(other))
    assert (problem.read, problem.accepts) == ("BR-1", "pieces of CR")


@pytest.mark.parametrize("action", [ScrapPiece, MistakenPiece])
def test_a_piece_that_is_no_more_cannot_be_run(shop: Shop, plan: Plan, action: type[ScrapPiece]) -> None:
    piece = shop.piece(plan.part)
    shop.do(action, piece_id=piece, text="dropped")
    assert shop.refused(StartRun, operation_id=plan.first, pieces=on(piece)).field == "pieces"


def test_a_retired_operation_cannot_be_run(shop: Shop, plan: Plan) -> None:
    piece = shop.piece(plan.part)
    shop.do(RetireOperation, operation_id=plan.first)
    problem = shop.refused(StartRun, operation_id=plan.first, pieces=on(piece))
    assert (problem.field, problem.why) == ("operation_id", "op 10 was taken out of the sequence")


@pytest.mark.parametrize(("offset", "kept"), [("g54", "G54"), ("G59.3", "G59.3"), ("", ""), ("G54+G55", "G54/G55")])
def test_work_offsets_of_rs274_are_kept_in_one_spelling(
    shop: Shop, plan: Plan, offset: str, kept: str, outside
) -> None:  # type: ignore[no-untyped-def]
    shop.do(StartRun, operation_id=plan.first, pieces=on(shop.piece(plan.part), offset=offset))
    assert outside.execute("SELECT work_offset FROM run_piece").fetchall() == [(kept,)]


@pytest.mark.parametrize("offset", ["G60", "G53", "G59.4", "54", "vice"])
def test_an_unknown_work_offset_is_told(shop: Shop, plan: Plan, offset: str) -> None:
    problem = shop.refused(StartRun, operation_id=plan.first, pieces=on(shop.piece(plan.part), offset=offset))
    assert problem.read == offset
    assert "G54, G55" in problem.accepts


@pytest.mark.parametrize(
    ("feed", "unit", "nm"), [("250", "mm", 250_000_000), ("10 in/min", "mm", 254_000_000), ("10", "in", 254_000_000)]
)
def test_the_feed_is_kept_as_typed_and_as_a_length_a_minute(
    shop: Shop, plan: Plan, feed: str, unit: str, nm: int, outside
) -> None:  # type: ignore[no-untyped-def]
    shop.run(plan.first, shop.piece(plan.part), feed=feed, feed_unit=unit, rpm="800")
    assert outside.execute("SELECT rpm, feed_typed, feed_nm FROM run").fetchall() == [(800.0, feed, nm)]


@pytest.mark.parametrize(
    ("fields", "field"),
    [
        ({"feed": "fast"}, "feed"),
        ({"feed": "0"}, "feed"),
        ({"feed": "-5 mm"}, "feed"),
        ({"feed_unit": "m"}, "feed_unit"),
        ({"rpm": 0}, "rpm"),
        ({"rpm": -1}, "rpm"),
        ({"rpm": "nan"}, "rpm"),
        ({"rpm": float("inf")}, "rpm"),
        ({"rpm": 1e9}, "rpm"),
        ({"finished": "maybe"}, "finished"),
    ],
)
def test_a_speed_or_feed_that_cannot_be_is_told(shop: Shop, plan: Plan, fields: dict[str, object], field: str) -> None:
    piece = shop.piece(plan.part)
    assert shop.refused(StartRun, operation_id=plan.first, pieces=on(piece), **fields).field == field


@pytest.mark.parametrize("pieces", [[], None, "CR-1", [{}], [{"piece_id": 10**30}], [{"piece_id": 1, "colour": "red"}]])
def test_pieces_that_name_nothing_are_told(shop: Shop, plan: Plan, pieces: object) -> None:
    shop.piece(plan.part)
    assert "piece" in shop.refused(StartRun, operation_id=plan.first, pieces=pieces).field


def test_a_run_broken_off_is_to_be_cut_again(shop: Shop, plan: Plan) -> None:
    piece = shop.piece(plan.part)
    shop.finish(shop.run(plan.first, piece, finished=False), "broken off")
    assert shop.state_at(piece, plan.first) == "to be cut again"


def test_a_run_ends_once(shop: Shop, plan: Plan) -> None:
    run = shop.run(plan.first, shop.piece(plan.part), finished=False)
    shop.finish(run, "broken off")
    for action in (FinishRun, CutAgain):
        problem = shop.refused(action, run_id=run)
        assert (problem.field, problem.why) == ("run_id", "this run is over: broken off")


def test_cutting_again_ends_the_run_and_starts_another_on_the_same_offsets(shop: Shop, plan: Plan, outside) -> None:  # type: ignore[no-untyped-def]
    piece = shop.piece(plan.part)
    asked = {"operation_id": plan.first, "pieces": on(piece, offset="G55"), "rpm": 500, "feed": "60"}
    run = shop.do(StartRun, **asked)["run_id"]
    again = shop.do(CutAgain, run_id=run)["run_id"]
    assert shop.standing(piece).run_id == again
    assert outside.execute("SELECT outcome FROM run_end WHERE run_id = ?", (run,)).fetchall() == [("finished",)]
    assert outside.execute(
        "SELECT rpm, feed_nm, work_offset FROM run JOIN run_piece ON run_id = id WHERE id = ?", (again,)
    ).fetchall() == [(500.0, 60_000_000, "G55")]


def test_cutting_again_leaves_scrapped_pieces_out_and_they_are_no_longer_in_hand(shop: Shop, plan: Plan) -> None:
    good, bad = shop.pieces(plan.part, 2)
    run = shop.run(plan.first, good, bad, finished=False)
    shop.do(ScrapPiece, piece_id=bad, text="chatter", run_id=run)
    shop.do(CutAgain, run_id=run)
    assert (shop.state_at(good, plan.first), shop.state_at(bad, plan.first)) == ("in hand", "to be measured")
    kept, rebuilt = shop.kept_and_rebuilt()
    assert kept == rebuilt


def test_a_run_whose_pieces_are_all_scrap_cannot_be_cut_again_and_can_be_finished(shop: Shop, plan: Plan) -> None:
    piece = shop.piece(plan.part)
    run = shop.run(plan.first, piece, finished=False)
    shop.do(ScrapPiece, piece_id=piece, text="chatter")
    assert shop.refused(CutAgain, run_id=run).why == "every piece of this run is scrap"
    shop.finish(run)


def test_a_piece_whose_scrap_is_taken_back_is_in_its_open_run_again(shop: Shop, plan: Plan, outside) -> None:  # type: ignore[no-untyped-def]
    piece = shop.piece(plan.part)
    run = shop.run(plan.first, piece, finished=False)
    shop.do(ScrapPiece, piece_id=piece, text="chatter")
    assert shop.standing(piece).run_id is None
    event = outside.execute("SELECT id FROM event").fetchone()[0]
    shop.do(TakeBackEvent, event_id=event, why="it cleaned up")
    assert shop.standing(piece).run_id == run


def test_an_open_run_of_an_operation_taken_out_is_still_in_hand_until_it_is_finished(shop: Shop, plan: Plan) -> None:
    piece = shop.piece(plan.part)
    run = shop.run(plan.first, piece, finished=False)
    shop.do(RetireOperation, operation_id=plan.first)
    standing = shop.standing(piece)
    assert (standing.state, standing.run_id) == ("in hand", run)
    assert "in hand in run" in shop.refused(StartRun, operation_id=plan.second, pieces=on(piece)).why
    with shop.database.read() as connection:
        assert [(each.run_id, each.operation_number, each.marks) for each in in_hand(connection, plan.build)] == [
            (run, 10, ("CR-1",))
        ]
        assert can_be_run(connection, plan.build) == []
    assert "taken out of the sequence" in shop.refused(CutAgain, run_id=run).why
    shop.finish(run)
    assert shop.state_at(piece, plan.second) == "ready"


def test_what_can_be_run_is_told_by_operation_with_what_was_missed_first(shop: Shop, plan: Plan) -> None:
    waiting, missed, gone = shop.pieces(plan.part, 3)
    shop.run(plan.second, missed, sure=True)
    shop.do(ScrapPiece, piece_id=gone, text="dropped")
    with shop.database.read() as connection:
        found = can_be_run(connection, plan.build)
    assert [(each.number, each.state, each.pieces) for each in found] == [
        (10, "forgotten", ((missed, "CR-2"),)),
        (10, "ready", ((waiting, "CR-1"),)),
    ]
