"""Once is once: the client's key goes into the same transaction as what it asks for."""

from __future__ import annotations

import sqlite3
from concurrent.futures import ThreadPoolExecutor
from datetime import datetime
from typing import ClassVar

import pytest
from sqlalchemy import Connection

from server.log.entries import LogAction
from server.log.events import LogEvent, ScrapPiece
from server.log.perform import KeyUsedOtherwise, perform
from server.log.pieces import StartPieces
from server.log.readings import TakeReading
from server.log.runs import StartRun
from server.store.action import Action, Effect, Refused
from server.store.database import Database
from server.store.writer import NotSaved
from tests.shop import Shop


@pytest.fixture
def note(shop: Shop) -> dict[str, object]:
    return {"build_id": shop.build(), "kind": "note", "text": "oil on the way"}


def events(outside: sqlite3.Connection) -> int:
    return int(outside.execute("SELECT count(*) FROM event").fetchone()[0])


def test_the_same_key_with_the_same_request_gets_the_same_answer_and_one_row(
    shop: Shop, note: dict[str, object], outside: sqlite3.Connection
) -> None:
    first = shop.do(LogEvent, key="k", **note)
    assert shop.do(LogEvent, key="k", **note) == first
    assert events(outside) == 1
    assert shop.do(LogEvent, key="another", **note) != first
    assert events(outside) == 2


def test_an_answer_with_lists_comes_again_as_it_was(shop: Shop) -> None:
    part = shop.part(shop.build())
    first = shop.do(StartPieces, key="k", part_id=part, count=3)
    assert shop.do(StartPieces, key="k", part_id=part, count=3) == first


def test_the_same_key_with_another_request_is_refused(
    shop: Shop, note: dict[str, object], outside: sqlite3.Connection
) -> None:
    shop.do(LogEvent, key="k", **note)
    with pytest.raises(KeyUsedOtherwise):
        shop.do(LogEvent, key="k", **{**note, "text": "something else"})
    with pytest.raises(KeyUsedOtherwise):  # another action whose fields could be the same
        shop.do(StartPieces, key="k", part_id=shop.part(1))
    assert events(outside) == 1


def test_the_key_of_a_refused_request_can_be_used_again(
    shop: Shop, note: dict[str, object], outside: sqlite3.Connection
) -> None:
    with pytest.raises(Refused):
        shop.do(LogEvent, key="k", **{**note, "build_id": 999})
    shop.do(LogEvent, key="k", **note)
    assert events(outside) == 1


def test_the_key_of_a_question_is_used_again_with_its_answer(shop: Shop) -> None:
    part = shop.part(shop.build())
    shop.operation(part, 10)
    second = shop.operation(part, 20)
    fields = {"operation_id": second, "pieces": [{"piece_id": shop.piece(part)}]}
    with pytest.raises(Refused) as caught:
        shop.do(StartRun, key="k", **fields)
    assert caught.value.question is not None
    shop.do(StartRun, key="k", **fields, **caught.value.question.choices[0].sets)


def test_a_new_field_with_a_default_does_not_make_it_another_request(shop: Shop) -> None:
    """A tablet may send again, after an update of the program, what it first sent before."""

    class Old(Action):
        path: ClassVar[str] = "x"
        title: ClassVar[str] = ""

        number: int

        def carry_out(self, connection: Connection, moment: datetime) -> Effect:
            return Effect({"number": self.number})

    class New(Old):
        colour: str = ""

    assert shop.do(Old, key="k", number=1) == shop.do(New, key="k", number=1)
    with pytest.raises(KeyUsedOtherwise):
        shop.do(New, key="k", number=1, colour="red")


def test_hundreds_of_threads_with_one_key_make_one_row(
    shop: Shop, note: dict[str, object], outside: sqlite3.Connection
) -> None:
    with ThreadPoolExecutor(200) as pool:
        answers = list(pool.map(lambda _: shop.do(LogEvent, key="k", **note), range(400)))
    assert all(answer == answers[0] for answer in answers)
    assert events(outside) == 1


def test_hundreds_of_threads_with_keys_of_their_own_make_a_row_each(
    shop: Shop, note: dict[str, object], outside: sqlite3.Connection
) -> None:
    with ThreadPoolExecutor(50) as pool:
        answers = list(pool.map(lambda key: shop.do(LogEvent, key=f"k{key}", **note), range(300)))
    assert len({answer["event_id"] for answer in answers}) == 300
    assert events(outside) == 300


def test_of_two_pieces_with_one_mark_at_the_same_moment_one_is_refused(shop: Shop) -> None:
    part = shop.part(shop.build())

    def start(_: int) -> bool:
        try:
            shop.do(StartPieces, part_id=part, marks="A")
        except Refused:
            return False
        return True

    with ThreadPoolExecutor(20) as pool:
        assert sum(pool.map(start, range(40))) == 1


def test_an_answer_is_given_once_it_is_on_the_disk(
    shop: Shop, note: dict[str, object], outside: sqlite3.Connection
) -> None:
    event_id = shop.do(LogEvent, **note)["event_id"]
    assert outside.execute("SELECT text FROM event WHERE id = ?", (event_id,)).fetchone() == ("oil on the way",)


def test_a_fault_of_the_program_keeps_nothing(database: Database, outside: sqlite3.Connection) -> None:
    build = Shop(database).build()

    class Faulty(LogAction):
        path: ClassVar[str] = "faulty"
        title: ClassVar[str] = ""

        def carry_out(self, connection: Connection, moment: datetime) -> Effect:
            self.add_entry(connection, moment, build, "event")
            raise ZeroDivisionError

    with pytest.raises(ZeroDivisionError):
        perform(database, Faulty(), "k")
    assert outside.execute("SELECT count(*) FROM entry").fetchone() == (0,)
    assert outside.execute("SELECT count(*) FROM request_key WHERE key = 'k'").fetchone() == (0,)


@pytest.mark.parametrize(
    ("given", "why"),
    [
        ("2999-01-01T00:00:00Z", "it lies in the future"),
        ("9999-12-31T23:59:59-14:00", "it lies in the future"),
        ("0001-01-01T00:00:00+14:00", "it lies too far back"),
        ("1899-12-31T23:59:59Z", "it lies too far back"),
        ("2026-05-01T20:15:00", "it has no time zone"),
        ("2026", "it is not a time such as 2026-05-01T20:15:00Z"),
        ("1e9", "it is not a time such as 2026-05-01T20:15:00Z"),
        (1_777_777_777, "it is not a time such as 2026-05-01T20:15:00Z"),
        ("-5", "it is not a time such as 2026-05-01T20:15:00Z"),
        ("2026-13-01T00:00:00Z", "it is not a time"),
        ("last-night", "it is not a time"),
    ],
)
def test_a_time_that_cannot_be_is_told(shop: Shop, note: dict[str, object], given: object, why: str) -> None:
    problem = shop.refused(LogEvent, **note, occurred_at=given)
    assert (problem.field, problem.why) == ("occurred_at", why)


def test_the_time_something_happened_is_kept_beside_the_time_it_arrived(
    shop: Shop, note: dict[str, object], outside: sqlite3.Connection
) -> None:
    shop.do(LogEvent, **note, occurred_at="2026-05-01T22:15:00+02:00", who="the builder")
    row = outside.execute("SELECT occurred_at, received_at > '2026-05-02', who FROM entry").fetchone()
    assert row == ("2026-05-01 20:15:00.000000", 1, "the builder")


@pytest.mark.parametrize("number", [0, -1, 999, 2**63 - 1, 2**63, 10**30, "9" * 400])
@pytest.mark.parametrize(
    ("action", "fields", "named"),
    [
        (ScrapPiece, {"text": "x"}, "piece_id"),
        (LogEvent, {"kind": "note", "text": "x"}, "run_id"),
        (LogEvent, {"kind": "note", "text": "x"}, "build_id"),
        (TakeReading, {"piece_id": 1, "value": "25"}, "dimension_id"),
        (StartPieces, {}, "part_id"),
        (StartRun, {"pieces": [{"piece_id": 1}]}, "operation_id"),
    ],
)
def test_a_number_that_names_nothing_is_told(
    shop: Shop, action: type[Action], fields: dict[str, object], named: str, number: object
) -> None:
    shop.piece(shop.part(shop.build()))
    problem = shop.refused(action, **fields, **{named: number})
    assert problem.field == named
    assert problem.why in (f"there is no {named.removesuffix('_id')} with this number", "it is out of range")


def test_a_full_disk_is_told_keeps_nothing_and_the_key_can_be_sent_again(
    shop: Shop, note: dict[str, object], outside: sqlite3.Connection
) -> None:
    def pages_at_most(count: int) -> None:
        shop.database.write(lambda connection: connection.exec_driver_sql(f"PRAGMA max_page_count={count}").scalar())

    def until_full() -> int:
        for number in range(1000):
            try:
                shop.do(LogEvent, key=f"k{number}", **long)
            except NotSaved as told:
                assert "disk is full" in str(told)  # noqa: PT017
                return number
        raise AssertionError("it never got full")

    long = {**note, "text": "x" * 2000}
    pages_at_most(1)  # as many as there are: SQLite takes no less
    saved = until_full()
    assert events(outside) == saved
    assert outside.execute("SELECT count(*) FROM request_key WHERE key = ?", (f"k{saved}",)).fetchone() == (0,)
    pages_at_most(1_000_000)
    shop.do(LogEvent, key=f"k{saved}", **long)
    assert events(outside) == saved + 1
