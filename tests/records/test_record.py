"""The record of a piece and of a part: that all of the log is in it."""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import replace
from datetime import UTC, datetime

import pytest
from hypothesis import given
from hypothesis import strategies as st
from sqlalchemy import Connection, event

from server.log.events import AcceptDeviation, FitPiece, LogEvent, MistakenPiece, ScrapPiece, TakeBackEvent
from server.log.readings import CorrectReading, TakeBackReading
from server.log.runs import CutAgain, FinishRun
from server.plan.dimensions import EditDimension, RetireDimension
from server.plan.operations import EditOperation, RetireOperation
from server.plan.parts import AddPart
from server.records.record import part_record, piece_record
from server.records.record_html import as_html
from server.records.record_values import BuildTold, PartTold, Record, file_name
from server.store.action import NotThere
from server.store.database import Database
from tests.records.rods import Page, Rods, csv_rows, valid_json


@pytest.fixture
def rods(database: Database) -> Rods:
    return Rods(database)


@pytest.mark.parametrize("number", [0, -1, 999, 2**70])
@pytest.mark.parametrize("asked", [piece_record, part_record])
def test_a_number_nothing_has_is_not_there(rods: Rods, asked: Callable[[Connection, int], Record], number: int) -> None:
    with rods.database.read() as connection, pytest.raises(NotThere):
        asked(connection, number)


def test_a_piece_with_nothing_yet_has_a_record(rods: Rods) -> None:
    [piece] = rods.pieces()
    record = rods.record(piece)
    assert (record.about, record.title, record.pieces[0].revision) == ("piece", "CR-1", "B")
    assert record.pieces[0].runs == record.pieces[0].readings == record.pieces[0].events == ()
    assert [worked.run for worked in record.what_worked] == [None, None]
    page = Page(as_html(record, "mm"))
    assert "no finished run on a good piece yet" in page.text
    assert page.text.count("None yet.") == 2
    assert csv_rows(record) == []
    assert valid_json(record)["pieces"][0]["state"] == "ready"


def test_a_part_without_plan_or_pieces_has_a_record(rods: Rods) -> None:
    bare = rods.do(AddPart(build_id=rods.build, number="X", name="Bare"))["part_id"]
    with rods.database.read() as connection:
        record = part_record(connection, bare)
    assert record.pieces == record.what_worked == ()
    text = Page(as_html(record, "in")).text
    assert "with its 0 pieces" in text
    assert "The plan has no operations." in text
    valid_json(record)


def test_runs_are_told_with_their_settings_and_who_was_with_them(rods: Rods) -> None:
    first, second = rods.pieces(2)
    rods.run(rods.mill, first, second, rpm=1200, feed="10 in", who="Wren")
    rods.run(rods.bore, first, finished=True, end=False)
    rods.run(rods.bore, second, end=False)
    milled, bored = rods.record(first).pieces[0].runs
    assert (milled.work_offset, milled.rpm, milled.feed_typed, milled.feed_nm) == ("G54", 1200, "10 in", 254_000_000)
    assert (milled.minutes, milled.outcome, milled.who, milled.ended_by) == (42, "finished", "Wren", "Ida")
    assert milled.together == ("CR-2",)
    assert (bored.outcome, bored.minutes) == ("finished", None)  # logged when it was over: not nought minutes
    assert rods.record(second).pieces[0].runs[1].outcome is None
    assert "254 mm/min (typed 10 in )" in Page(as_html(rods.record(first), "mm")).text


def test_a_run_is_told_with_what_it_used_though_the_plan_changed_since(rods: Rods) -> None:
    [piece] = rods.pieces()
    plan = {"operation_id": rods.mill, "number": 10, "name": "Mill the sides"}
    rods.do(EditOperation(**plan, machine="knee mill", setup="vice on parallels", cutters="12 mm end mill"))
    rods.run(rods.mill, piece, feed="250", feed_unit="mm")
    rods.good(piece)
    rods.do(EditOperation(**plan, machine="jig mill", setup="clamped to the table", cutters=""))
    record = rods.record(piece)
    [run] = record.pieces[0].runs
    assert (run.machine, run.setup, run.cutters) == ("knee mill", "vice on parallels", "12 mm end mill")
    assert (run.feed_typed, run.feed_unit) == ("250", "mm")
    worked = record.what_worked[0]
    assert (worked.machine, worked.setup, worked.cutters) == ("knee mill", "vice on parallels", "12 mm end mill")
    text = Page(as_html(record, "mm")).text
    assert "clamped to the table" not in text.split("What is to be held")[0]
    told_before = text.split("Changes of the plan")[0]
    assert told_before.count("vice on parallels") == 2  # in what worked, and at the run itself
    assert "250 mm/min (typed 250 mm )" in text  # a bare figure has the unit it was meant in beside it
    [told] = valid_json(record)["pieces"][0]["runs"]
    assert (told["machine"], told["cutters"], told["feed_unit"]) == ("knee mill", "12 mm end mill", "mm")


def test_where_no_run_says_what_was_used_the_plan_does(rods: Rods) -> None:
    [piece] = rods.pieces()
    rods.run(rods.mill, piece)
    rods.good(piece)
    plan = {"operation_id": rods.mill, "number": 10, "name": "Mill the sides"}
    rods.do(EditOperation(**plan, machine="jig mill", setup="clamped to the table", cutters="8 mm end mill"))
    worked = rods.record(piece).what_worked[0]
    assert (worked.run is not None and worked.run.machine) == ""
    assert (worked.machine, worked.setup, worked.cutters) == ("jig mill", "clamped to the table", "8 mm end mill")


def test_a_reading_for_reference_is_told_without_a_verdict(rods: Rods) -> None:
    [piece] = rods.pieces()
    length = rods.dimension("3", "Length", "(40)")
    rods.read(piece, length, "41.2")
    record = rods.record(piece)
    [reading] = record.pieces[0].readings
    assert (reading.verdict, reading.beyond_nm) == ("reference", 0)
    assert csv_rows(record)[0]["verdict"] == "reference"
    html = as_html(record, "mm").split("<h3>Readings</h3>")[1]
    assert "41.200" in html
    assert "good" not in html
    assert "drawn-mark" not in html
    valid_json(record)


def test_a_corrected_reading_stands_beside_the_one_that_took_its_place(rods: Rods) -> None:
    [piece] = rods.pieces()
    run = rods.run(rods.mill, piece)
    wrong = rods.read(piece, rods.width, "25.51", run_id=run, gauge="micrometer", temperature_c=20.5)
    rods.do(CorrectReading(reading_id=wrong, value="25.01", why="misread by half a turn", who="Ida"))
    record = rods.record(piece)
    old, new = record.pieces[0].readings
    assert (old.standing, new.standing) == ("corrected", "latest")
    assert old.replaced is not None
    assert (old.replaced.entry_id, old.replaced.why, old.replaced.who) == (new.id, "misread by half a turn", "Ida")
    assert (new.replaces_id, new.first_id, new.replaced) == (old.id, old.id, None)
    assert (old.gauge, old.temperature_c, old.operation_number) == ("micrometer", 20.5, 10)
    html = as_html(record, "mm")
    assert '<span class="struck">25.510</span> corrected' in html
    assert "misread by half a turn" in html
    assert [row["standing"] for row in csv_rows(record)] == ["corrected", "latest"]


def test_a_reading_taken_back_and_one_measured_again_are_told_apart(rods: Rods) -> None:
    [piece] = rods.pieces()
    rods.read(piece, rods.width, "25.2")
    rods.read(piece, rods.width, "25.01")
    slip = rods.read(piece, rods.width, "24.5")
    rods.do(TakeBackReading(reading_id=slip, why="read on another piece"))
    told = rods.record(piece).pieces[0].readings
    assert [each.standing for each in told] == ["earlier", "latest", "taken back"]
    assert rods.record(piece).pieces[0].latest(rods.width) == told[1]
    assert "read on another piece" in as_html(rods.record(piece), "mm")


def test_correcting_an_older_reading_does_not_make_it_the_latest(rods: Rods) -> None:
    [piece] = rods.pieces()
    first = rods.read(piece, rods.width, "25.2")
    rods.read(piece, rods.width, "25.01")
    rods.do(CorrectReading(reading_id=first, value="25.3", why="digits turned about"))
    latest = rods.record(piece).pieces[0].latest(rods.width)
    assert latest is not None
    assert latest.value_nm == 25_010_000


def test_a_reading_keeps_the_limits_it_was_made_under_and_is_judged_by_both(rods: Rods) -> None:
    [piece] = rods.pieces()
    rods.read(piece, rods.width, "25.015")
    rods.do(
        EditDimension(
            dimension_id=rods.width, number="1", name="Width", requirement="24.9 ±0.01", cutting="neither",
            operation_number=10,
        )
    )  # fmt: skip
    record = rods.record(piece)
    [reading] = record.pieces[0].readings
    assert reading.limits.requirement == "25 ±0.02"
    assert (reading.verdict, reading.verdict_now) == ("good", "past the limit")
    assert [each.requirement for each in record.part.dimensions[0].limits] == ["25 ±0.02", "24.9 ±0.01"]
    text = Page(as_html(record, "mm")).text
    assert "24.980 to 25.020" in text
    assert "limits now: 24.890 to 24.910" in text
    assert "past the limit by the limits now" in text
    assert "“25 ±0.02” to “24.9 ±0.01”" in text  # the change of the plan
    rods.do(RetireDimension(dimension_id=rods.width))
    assert rods.record(piece).pieces[0].readings[0].verdict_now is None


def test_events_are_told_on_every_piece_they_concern_and_struck_when_taken_back(rods: Rods) -> None:
    first, second = rods.pieces(2)
    run = rods.run(rods.mill, first, second)
    rods.do(LogEvent(kind="chatter", text="rang; 900 rpm cured it", run_id=run))
    scrap = rods.do(ScrapPiece(piece_id=second, text="too thin"))
    assert scrap["piece_id"] == second
    [chatter, scrapped] = rods.record(second).pieces[0].events
    assert (chatter.kind, chatter.operation_number) == ("chatter", 10)
    assert [each.kind for each in rods.record(first).pieces[0].events] == ["chatter"]
    rods.do(TakeBackEvent(event_id=scrapped.id, why="measured the wrong end"))
    [_, again] = rods.record(second).pieces[0].events
    assert again.taken_back is not None
    assert again.taken_back.why == "measured the wrong end"
    assert "measured the wrong end" in as_html(rods.record(second), "mm")
    assert [each.text for each in rods.record().what_worked[0].remarks] == ["rang; 900 rpm cured it"]


def test_an_accepted_deviation_and_a_place_are_told(rods: Rods) -> None:
    [piece] = rods.pieces()
    reading = rods.read(piece, rods.width, "24.97")
    rods.do(AcceptDeviation(reading_id=reading, text="its mate is cut to it"))
    rods.do(FitPiece(piece_id=piece, text="near side", sure=True))
    told = rods.record(piece).pieces[0]
    assert told.readings[0].accepted == "its mate is cut to it"
    assert told.fitted_to == "near side"
    assert told.fitted_at is not None
    assert csv_rows(rods.record(piece))[0]["deviation accepted"] == "its mate is cut to it"
    assert "deviation accepted: its mate is cut to it" in Page(as_html(rods.record(piece), "mm")).text


def test_what_worked_is_the_last_finished_run_on_a_good_piece(rods: Rods) -> None:
    first, second, third, fourth = rods.pieces(4)
    for piece, rpm in ((first, 1000), (second, 1100), (third, 1200)):
        rods.run(rods.mill, piece, rpm=rpm)
        rods.good(piece)
    rods.run(rods.mill, fourth, rpm=1300)  # never measured: nobody knows whether it worked
    rods.do(ScrapPiece(piece_id=third, text="dropped"))
    milled, bored = rods.record().what_worked
    assert milled.run is not None
    assert (milled.mark, milled.run.rpm, milled.on) == ("CR-2", 1100, 1)
    assert bored.run is None
    own = rods.record(first).what_worked[0]
    assert (own.mark, own.run and own.run.rpm) == ("CR-1", 1000)
    others = rods.record(third).what_worked[0]  # nothing worked on the scrap piece: another's is told, with its mark
    assert others.mark == "CR-2"


def test_what_worked_prefers_a_run_with_its_settings_written_down_and_counts_re_runs(rods: Rods) -> None:
    first, second = rods.pieces(2)
    run = rods.run(rods.mill, first, end=False, rpm=900)
    rods.do(FinishRun(run_id=int(rods.do(CutAgain(run_id=run))["run_id"])))
    rods.good(first)
    rods.run(rods.mill, second)
    rods.good(second)
    milled = rods.record().what_worked[0]
    assert (milled.mark, milled.on) == ("CR-1", 2)
    rods.do(MistakenPiece(piece_id=first, text="never was"))
    assert rods.record().what_worked[0].mark == "CR-2"
    rods.do(RetireOperation(operation_id=rods.mill))
    assert [each.operation.number for each in rods.record().what_worked] == [20]
    assert rods.record().pieces[1].runs[0].operation_name == "Mill the sides"


def test_a_part_record_holds_what_each_piece_record_holds(rods: Rods) -> None:
    pieces = rods.pieces(3)
    rods.run(rods.mill, *pieces[:2])
    for piece in pieces:
        rods.good(piece)
    assert tuple(rods.record(piece).pieces[0] for piece in pieces) == rods.record().pieces


def test_the_record_takes_as_many_statements_for_many_pieces_as_for_one(rods: Rods) -> None:
    def statements() -> int:
        seen: list[str] = []
        with rods.database.read() as connection:
            event.listen(connection, "before_cursor_execute", lambda *about: seen.append(about[2]))
            part_record(connection, rods.part)
        return len(seen)

    rods.good(rods.pieces()[0])
    for_one = statements()
    for piece in rods.pieces(12):
        rods.good(piece)
    assert statements() == for_one


@given(st.text(max_size=300), st.sampled_from(["html", "csv", ".json", "../x"]))
def test_a_file_name_is_safe_on_every_common_system(mark: str, ending: str) -> None:
    name = file_name(replace(_A_RECORD, part=replace(_A_RECORD.part, number=mark)), ending)
    assert re.fullmatch(r"record-part-(?:[A-Za-z0-9-]+-)?7\.[a-z]+", name)
    assert len(name) < 100


_A_RECORD = Record(
    about="part",
    made_at=datetime(2026, 5, 1, tzinfo=UTC),
    build=BuildTold(1, "Proof press", "mm", "", ""),
    part=PartTold(7, "CR", "Rod", "", "", "none", 1, 0, "", "", (), ()),
    what_worked=(),
    setup_photos=(),
    pieces=(),
    changes=(),
)
