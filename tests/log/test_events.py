"""Events: scrap, deviations accepted, fitting, what went wrong; and each of them taken back."""

from __future__ import annotations

import sqlite3
from typing import NamedTuple

import pytest

from server.log.events import (
    AcceptDeviation,
    FitPiece,
    LogEvent,
    MistakenPiece,
    ScrapPiece,
    TakeBackEvent,
    TakeOffPiece,
)
from server.store.action import Action
from tests.shop import Shop


class Job(NamedTuple):
    build: int
    part: int
    operation: int
    bore: int
    piece: int


@pytest.fixture
def job(shop: Shop) -> Job:
    build = shop.build()
    part = shop.part(build)
    operation = shop.operation(part)
    return Job(build, part, operation, shop.dimension(part, operation_number=10), shop.piece(part))


def last_event(outside: sqlite3.Connection) -> int:
    return int(outside.execute("SELECT max(id) FROM event").fetchone()[0])


@pytest.mark.parametrize(("action", "state"), [(ScrapPiece, "scrap"), (MistakenPiece, "entered by mistake")])
def test_a_piece_that_is_no_more_comes_back_when_that_is_taken_back(
    shop: Shop, job: Job, outside: sqlite3.Connection, action: type[Action], state: str
) -> None:
    shop.do(action, piece_id=job.piece, text="dropped")
    assert shop.standing(job.piece).state == state
    for again in (ScrapPiece, MistakenPiece):
        assert shop.refused(again, piece_id=job.piece, text="dropped").field == "piece_id"
    event = last_event(outside)
    shop.do(TakeBackEvent, event_id=event, why="it was another")
    assert shop.standing(job.piece).state == "ready"
    assert shop.refused(TakeBackEvent, event_id=event, why="twice").why == "it was taken back before"
    assert shop.refused(TakeBackEvent, event_id=last_event(outside), why="back and forth").field == "event_id"


def test_a_mistaken_piece_does_not_come_back_to_a_mark_that_is_taken(
    shop: Shop, job: Job, outside: sqlite3.Connection
) -> None:
    shop.do(MistakenPiece, piece_id=job.piece, text="no such blank")
    event = last_event(outside)
    assert shop.standing(shop.piece(job.part)).mark == "CR-1"
    problem = shop.refused(TakeBackEvent, event_id=event, why="there was one")
    assert problem.why == "another piece carries the mark CR-1 by now"


@pytest.mark.parametrize("action", [ScrapPiece, MistakenPiece, FitPiece, TakeOffPiece])
@pytest.mark.parametrize(
    ("fields", "field"),
    [
        ({"text": ""}, "text"),
        ({"text": "   "}, "text"),
        ({"text": "x" * 5000}, "text"),
        ({"text": "\ud800"}, "text"),
        ({"piece_id": 999}, "piece_id"),
        ({"piece_id": 2**63}, "piece_id"),
        ({"piece_id": None}, "piece_id"),
        ({"colour": "red"}, "colour"),
    ],
)
def test_what_cannot_be_said_of_a_piece_is_told(
    shop: Shop, job: Job, action: type[Action], fields: dict[str, object], field: str
) -> None:
    assert shop.refused(action, **{"piece_id": job.piece, "text": "x", **fields}).field == field


def test_a_deviation_is_accepted_with_its_reason_until_that_is_taken_back(
    shop: Shop, job: Job, outside: sqlite3.Connection
) -> None:
    shop.run(job.operation, job.piece)
    reading = shop.read(job.piece, job.bore, "25.1")
    assert shop.standing(job.piece).next_move == "op 10: bore past the limit; accept or scrap"
    assert shop.refused(AcceptDeviation, reading_id=reading, text="").field == "text"
    shop.do(AcceptDeviation, reading_id=reading, text="the pin will be made to it")
    assert shop.standing(job.piece).state == "finished"
    assert shop.refused(AcceptDeviation, reading_id=reading, text="again").why == "its deviation was accepted before"
    shop.do(TakeBackEvent, event_id=last_event(outside), why="the pin is made already")
    assert shop.standing(job.piece).state == "to be decided"
    shop.do(AcceptDeviation, reading_id=reading, text="after all")
    assert shop.standing(job.piece).state == "finished"


def test_only_a_standing_reading_outside_its_limits_can_be_accepted(shop: Shop, job: Job) -> None:
    old = shop.read(job.piece, job.bore, "25.1")
    good = shop.read(job.piece, job.bore, "25.01")
    assert shop.refused(AcceptDeviation, reading_id=good, text="x").why == "it is good: nothing to accept"
    assert "not the reading that stands" in shop.refused(AcceptDeviation, reading_id=old, text="x").why
    length = shop.dimension(job.part, "length", "(30)", "smaller")
    reference = shop.read(job.piece, length, "31")
    assert shop.refused(AcceptDeviation, reading_id=reference, text="x").why == "it is for reference: nothing to accept"
    for number in (999, 2**63, 10**30, -1):
        assert shop.refused(AcceptDeviation, reading_id=number, text="x").field == "reading_id"
    bad = shop.read(job.piece, job.bore, "25.1")
    shop.do(ScrapPiece, piece_id=job.piece, text="too large")
    assert "it is scrap" in shop.refused(AcceptDeviation, reading_id=bad, text="x").why


def test_a_finished_piece_is_fitted_and_taken_off_again(shop: Shop, job: Job) -> None:
    shop.run(job.operation, job.piece)
    shop.read(job.piece, job.bore, "25.01")
    shop.do(FitPiece, piece_id=job.piece, text="near side, crank end")
    assert (shop.standing(job.piece).state, shop.standing(job.piece).fitted_to) == ("fitted", "near side, crank end")
    assert "take it off first" in shop.refused(FitPiece, piece_id=job.piece, text="far side").why
    shop.do(TakeOffPiece, piece_id=job.piece, text="it binds")
    assert (shop.standing(job.piece).state, shop.standing(job.piece).fitted_to) == ("finished", "")
    assert shop.refused(TakeOffPiece, piece_id=job.piece, text="again").why == "it is not fitted to any place"


def test_taking_the_fitting_back_undoes_it_and_taking_off_back_restores_it(
    shop: Shop, job: Job, outside: sqlite3.Connection
) -> None:
    shop.do(FitPiece, piece_id=job.piece, text="near side", sure=True)
    fitting = last_event(outside)
    shop.do(TakeOffPiece, piece_id=job.piece, text="it binds")
    shop.do(TakeBackEvent, event_id=last_event(outside), why="it was only stiff")
    assert shop.standing(job.piece).fitted_to == "near side"
    shop.do(TakeBackEvent, event_id=fitting, why="wrong piece")
    assert shop.standing(job.piece).fitted_to == ""


def test_fitting_an_unfinished_piece_is_asked_about(shop: Shop, job: Job) -> None:
    question = shop.asked(FitPiece, piece_id=job.piece, text="near side")
    assert question.text == "CR-1 is not finished (run op 10 step 10). Fit it all the same?"
    shop.do(FitPiece, piece_id=job.piece, text="near side", **question.choices[0].sets)
    assert shop.standing(job.piece).state == "ready"  # what is not done stays to be done
    assert shop.standing(job.piece).fitted_to == "near side"


@pytest.mark.parametrize("kind", ["cutter broken", "chatter", "note"])
def test_what_went_wrong_is_logged_of_a_piece_a_run_or_the_build(
    shop: Shop, job: Job, outside: sqlite3.Connection, kind: str
) -> None:
    run = shop.run(job.operation, job.piece, finished=False)
    for about in (
        {"piece_id": job.piece},
        {"run_id": run},
        {"build_id": job.build},
        {"piece_id": job.piece, "run_id": run},
    ):
        event = shop.do(LogEvent, kind=kind, text="slowed to 400", **about)["event_id"]
        row = outside.execute("SELECT kind, piece_id, run_id, text FROM event WHERE id = ?", (event,)).fetchone()
        assert row == (kind, about.get("piece_id"), about.get("run_id"), "slowed to 400")
        shop.do(TakeBackEvent, event_id=event, why="slip")


def test_an_event_about_nothing_or_about_things_that_do_not_belong_together_is_told(shop: Shop, job: Job) -> None:
    other = shop.piece(job.part)
    run = shop.run(job.operation, job.piece, finished=False)
    elsewhere = shop.build("another")
    note = {"kind": "note", "text": "x"}
    assert shop.refused(LogEvent, **note).why == "nothing says what it is about"
    assert shop.refused(LogEvent, **note, piece_id=other, run_id=run).why == "it is not in this run"
    assert shop.refused(LogEvent, **note, piece_id=job.piece, run_id=999).field == "run_id"
    assert shop.refused(LogEvent, **note, piece_id=job.piece, build_id=elsewhere).field == "build_id"
    assert shop.refused(LogEvent, **note, run_id=run, build_id=elsewhere).field == "build_id"
    assert shop.refused(ScrapPiece, piece_id=other, run_id=run, text="x").why == "it is not in this run"
    assert shop.refused(ScrapPiece, piece_id=other, run_id=999, text="x").field == "run_id"


@pytest.mark.parametrize("kind", ["scrap", "taken back", "deviation accepted", "", "Note"])
def test_only_what_went_wrong_and_notes_are_logged_as_such(shop: Shop, job: Job, kind: str) -> None:
    assert shop.refused(LogEvent, kind=kind, text="x", piece_id=job.piece).field == "kind"


@pytest.mark.parametrize("number", [0, 1, 999, 2**63, "9" * 50])
def test_an_event_that_is_not_there_cannot_be_taken_back(shop: Shop, job: Job, number: object) -> None:
    assert shop.refused(TakeBackEvent, event_id=number, why="x").field == "event_id"
