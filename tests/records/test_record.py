"""The record of a piece and of a part: that all of the log is in it, and that what leaves the program can be read."""

from __future__ import annotations

import csv
import io
import json
import re
import shutil
from collections.abc import Callable, Iterator
from dataclasses import replace
from datetime import UTC, datetime, timedelta, timezone
from fractions import Fraction
from html.parser import HTMLParser
from itertools import count
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st
from jsonschema import Draft202012Validator, FormatChecker
from sqlalchemy import Connection, event

from server.log.events import (
    AcceptDeviation,
    FitPiece,
    LogEvent,
    MistakenPiece,
    ScrapPiece,
    TakeBackEvent,
)
from server.log.perform import perform
from server.log.pieces import StartPieces
from server.log.readings import CorrectReading, TakeBackReading, TakeReading
from server.log.runs import CutAgain, FinishRun, OnOffset, StartRun
from server.plan.builds import AddBuild
from server.plan.dimensions import AddDimension, EditDimension, RetireDimension
from server.plan.operations import AddOperation, RetireOperation
from server.plan.parts import AddPart
from server.records.record import Record, file_name, part_record, piece_record
from server.records.record_csv import BYTE_ORDER_MARK, HEADINGS, as_csv
from server.records.record_html import as_html, said
from server.records.record_json import SCHEMA, as_json
from server.records.record_values import BuildTold, PartTold
from server.settings import Settings
from server.store.action import Action, NotThere
from server.store.database import Database

HOSTILE = "</script><script>alert(1)</script>\"'<img src=x onerror=alert(1)> {{ 7*7 }} \u202eevil\u202c שלום & http://bad.example"


class Shop:
    """A small build: a part with two operations and two dimensions, one in millimetres, one in inches."""

    def __init__(self, database: Database) -> None:
        self.database = database
        self._keys = count()
        self.build = self.do(AddBuild(name="Proof press"))["build_id"]
        self.part = self.do(AddPart(build_id=self.build, number="CR", name="Rod", revision="B"))["part_id"]
        self.mill = self.operation(10, "Mill the sides")
        self.bore = self.operation(20, "Bore the eye")
        self.width = self.dimension("1", "Width", "25 ±0.02", cutting="smaller", operation_number=10)
        self.eye = self.dimension("2", "Eye", "1.250 ±.002", unit="in", cutting="larger", operation_number=20)

    def do(self, action: Action) -> dict[str, Any]:
        return perform(self.database, action, f"key-{next(self._keys)}")

    def operation(self, number: int, name: str, **more: Any) -> int:
        fields = {"part_id": self.part, "number": number, "name": name, "planned_minutes": 20, **more}
        return int(self.do(AddOperation(**fields))["operation_id"])

    def dimension(self, number: str, name: str, requirement: str, **more: Any) -> int:
        fields = {"part_id": self.part, "number": number, "name": name, "requirement": requirement, **more}
        return int(self.do(AddDimension(**fields))["dimension_id"])

    def pieces(self, number: int = 1) -> list[int]:
        return list(self.do(StartPieces(part_id=self.part, count=number, who="Wren"))["piece_ids"])

    def run(self, operation: int, *pieces: int, end: bool = True, **more: Any) -> int:
        seats = [OnOffset(piece_id=piece, work_offset=f"G5{4 + place}") for place, piece in enumerate(pieces)]
        began = {"occurred_at": "2026-05-01T18:00:00Z", "sure": True, **more}
        run_id = int(self.do(StartRun(operation_id=operation, pieces=seats, **began))["run_id"])
        if end:
            self.do(FinishRun(run_id=run_id, occurred_at="2026-05-01T18:42:00Z", who="Ida"))
        return run_id

    def read(self, piece: int, dimension: int, value: str, **more: Any) -> int:
        fields = {"piece_id": piece, "dimension_id": dimension, "value": value, "sure": True, **more}
        return int(self.do(TakeReading(**fields))["reading_id"])

    def record(self, piece: int | None = None) -> Record:
        with self.database.read() as connection:
            return part_record(connection, self.part) if piece is None else piece_record(connection, piece)


@pytest.fixture(scope="module")
def empty(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """An empty database file: making its tables once is much of the time these tests take."""
    settings = Settings(tmp_path_factory.mktemp("empty"))
    Database(settings).close()
    return settings.database


@pytest.fixture
def shop(tmp_path: Path, empty: Path) -> Iterator[Shop]:
    shutil.copy(empty, Settings(tmp_path).database)
    database = Database(Settings(tmp_path))
    yield Shop(database)
    database.close()


def _rows(record: Record) -> list[dict[str, str]]:
    return list(csv.DictReader(io.StringIO(as_csv(record).removeprefix(BYTE_ORDER_MARK), newline="")))


class _Page(HTMLParser):
    """What a browser would take from the page: elements, attributes, text; and that each element is closed."""

    EMPTY = frozenset({"meta", "br", "col", "link", "img", "input", "hr"})

    def __init__(self, html: str) -> None:
        super().__init__()
        self.tags: list[str] = []
        self.attributes: list[tuple[str, str]] = []
        self.said: list[str] = []
        self.open: list[str] = []
        self.feed(html)
        self.close()

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append(tag)
        self.attributes += [(name, value or "") for name, value in attrs]
        if tag not in self.EMPTY:
            self.open.append(tag)

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append(tag)
        self.attributes += [(name, value or "") for name, value in attrs]

    def handle_endtag(self, tag: str) -> None:
        assert self.open.pop() == tag

    def handle_data(self, data: str) -> None:
        self.said.append(data)

    @property
    def text(self) -> str:
        return re.sub(r"\s+", " ", " ".join(self.said))


@pytest.mark.parametrize("number", [0, -1, 999, 2**70])
@pytest.mark.parametrize("asked", [piece_record, part_record])
def test_a_number_nothing_has_is_not_there(shop: Shop, asked: Callable[[Connection, int], Record], number: int) -> None:
    with shop.database.read() as connection, pytest.raises(NotThere):
        asked(connection, number)


def test_a_piece_with_nothing_yet_has_a_record(shop: Shop) -> None:
    [piece] = shop.pieces()
    record = shop.record(piece)
    assert (record.about, record.title, record.pieces[0].revision) == ("piece", "CR-1", "B")
    assert record.pieces[0].runs == record.pieces[0].readings == record.pieces[0].events == ()
    assert [worked.run for worked in record.what_worked] == [None, None]
    page = _Page(as_html(record, "mm"))
    assert "no finished run on a good piece yet" in page.text
    assert page.text.count("None yet.") == 2
    assert _rows(record) == []
    assert _valid(record)["pieces"][0]["state"] == "ready"


def test_a_part_without_plan_or_pieces_has_a_record(shop: Shop) -> None:
    bare = shop.do(AddPart(build_id=shop.build, number="X", name="Bare"))["part_id"]
    with shop.database.read() as connection:
        record = part_record(connection, bare)
    assert record.pieces == record.what_worked == ()
    text = _Page(as_html(record, "in")).text
    assert "with its 0 pieces" in text
    assert "The plan has no operations." in text
    _valid(record)


def test_runs_are_told_with_their_settings_and_who_was_with_them(shop: Shop) -> None:
    first, second = shop.pieces(2)
    shop.run(shop.mill, first, second, rpm=1200, feed="10 in", who="Wren")
    shop.run(shop.bore, first, finished=True, end=False)
    shop.run(shop.bore, second, end=False)
    milled, bored = shop.record(first).pieces[0].runs
    assert (milled.work_offset, milled.rpm, milled.feed_typed, milled.feed_nm) == ("G54", 1200, "10 in", 254_000_000)
    assert (milled.minutes, milled.outcome, milled.who, milled.ended_by) == (42, "finished", "Wren", "Ida")
    assert milled.together == ("CR-2",)
    assert (bored.outcome, bored.minutes) == ("finished", None)  # logged when it was over: not nought minutes
    assert shop.record(second).pieces[0].runs[1].outcome is None
    assert "254 mm/min (typed 10 in )" in _Page(as_html(shop.record(first), "mm")).text


def test_a_corrected_reading_stands_beside_the_one_that_took_its_place(shop: Shop) -> None:
    [piece] = shop.pieces()
    run = shop.run(shop.mill, piece)
    wrong = shop.read(piece, shop.width, "25.51", run_id=run, gauge="micrometer", temperature_c=20.5)
    shop.do(CorrectReading(reading_id=wrong, value="25.01", why="misread by half a turn", who="Ida"))
    record = shop.record(piece)
    old, new = record.pieces[0].readings
    assert (old.standing, new.standing) == ("corrected", "latest")
    assert old.replaced is not None
    assert (old.replaced.entry_id, old.replaced.why, old.replaced.who) == (new.id, "misread by half a turn", "Ida")
    assert (new.replaces_id, new.first_id, new.replaced) == (old.id, old.id, None)
    assert (old.gauge, old.temperature_c, old.operation_number) == ("micrometer", 20.5, 10)
    html = as_html(record, "mm")
    assert '<span class="struck">25.510</span> corrected' in html
    assert "misread by half a turn" in html
    assert [row["standing"] for row in _rows(record)] == ["corrected", "latest"]


def test_a_reading_taken_back_and_one_measured_again_are_told_apart(shop: Shop) -> None:
    [piece] = shop.pieces()
    shop.read(piece, shop.width, "25.2")
    shop.read(piece, shop.width, "25.01")
    slip = shop.read(piece, shop.width, "24.5")
    shop.do(TakeBackReading(reading_id=slip, why="read on another piece"))
    told = shop.record(piece).pieces[0].readings
    assert [each.standing for each in told] == ["earlier", "latest", "taken back"]
    assert shop.record(piece).pieces[0].latest(shop.width) == told[1]
    assert "read on another piece" in as_html(shop.record(piece), "mm")


def test_correcting_an_older_reading_does_not_make_it_the_latest(shop: Shop) -> None:
    [piece] = shop.pieces()
    first = shop.read(piece, shop.width, "25.2")
    shop.read(piece, shop.width, "25.01")
    shop.do(CorrectReading(reading_id=first, value="25.3", why="digits turned about"))
    latest = shop.record(piece).pieces[0].latest(shop.width)
    assert latest is not None
    assert latest.value_nm == 25_010_000


def test_a_reading_keeps_the_limits_it_was_made_under_and_is_judged_by_both(shop: Shop) -> None:
    [piece] = shop.pieces()
    shop.read(piece, shop.width, "25.015")
    shop.do(
        EditDimension(
            dimension_id=shop.width, number="1", name="Width", requirement="24.9 ±0.01", cutting="neither",
            operation_number=10,
        )
    )  # fmt: skip
    record = shop.record(piece)
    [reading] = record.pieces[0].readings
    assert reading.limits.requirement == "25 ±0.02"
    assert (reading.verdict, reading.verdict_now) == ("good", "past the limit")
    assert [each.requirement for each in record.part.dimensions[0].limits] == ["25 ±0.02", "24.9 ±0.01"]
    text = _Page(as_html(record, "mm")).text
    assert "24.980 to 25.020" in text
    assert "limits now: 24.890 to 24.910" in text
    assert "past the limit by the limits now" in text
    assert "“25 ±0.02” to “24.9 ±0.01”" in text  # the change of the plan
    shop.do(RetireDimension(dimension_id=shop.width))
    assert shop.record(piece).pieces[0].readings[0].verdict_now is None


def test_inches_and_millimetres_meet_without_loss(shop: Shop) -> None:
    [piece] = shop.pieces()
    shop.read(piece, shop.eye, "1.2505", unit="in")
    shop.read(piece, shop.width, "25.0001")
    shop.read(piece, shop.width, "+.001", unit="in", entered_as="deviation")
    rows = _rows(shop.record(piece))
    assert [row["value mm"] for row in rows] == ["31.7627", "25.0001", "25.0254"]
    assert rows[0]["value in"] == "1.2505"
    for row in rows:
        assert round(Fraction(row["value in"]) * 25_400_000) == Fraction(row["value mm"]) * 1_000_000
    assert [row["typed"] for row in rows] == ["1.2505", "25.0001", "+.001"]
    in_mm, in_inch = (_Page(as_html(shop.record(piece), unit)).text for unit in ("mm", "in"))  # type: ignore[arg-type]
    assert "31.7627" in in_mm
    assert "typed 1.2505 in" in in_mm
    assert "typed 25.0001 mm" in in_inch
    assert "typed +.001 in from nominal" in in_inch


def test_events_are_told_on_every_piece_they_concern_and_struck_when_taken_back(shop: Shop) -> None:
    first, second = shop.pieces(2)
    run = shop.run(shop.mill, first, second)
    shop.do(LogEvent(kind="chatter", text="rang; 900 rpm cured it", run_id=run))
    scrap = shop.do(ScrapPiece(piece_id=second, text="too thin"))
    assert scrap["piece_id"] == second
    [chatter, scrapped] = shop.record(second).pieces[0].events
    assert (chatter.kind, chatter.operation_number) == ("chatter", 10)
    assert [each.kind for each in shop.record(first).pieces[0].events] == ["chatter"]
    shop.do(TakeBackEvent(event_id=scrapped.id, why="measured the wrong end"))
    [_, again] = shop.record(second).pieces[0].events
    assert again.taken_back is not None
    assert again.taken_back.why == "measured the wrong end"
    assert "measured the wrong end" in as_html(shop.record(second), "mm")
    assert [each.text for each in shop.record().what_worked[0].remarks] == ["rang; 900 rpm cured it"]


def test_an_accepted_deviation_and_a_place_are_told(shop: Shop) -> None:
    [piece] = shop.pieces()
    reading = shop.read(piece, shop.width, "24.97")
    shop.do(AcceptDeviation(reading_id=reading, text="its mate is cut to it"))
    shop.do(FitPiece(piece_id=piece, text="near side", sure=True))
    told = shop.record(piece).pieces[0]
    assert told.readings[0].accepted == "its mate is cut to it"
    assert told.fitted_to == "near side"
    assert told.fitted_at is not None
    assert _rows(shop.record(piece))[0]["deviation accepted"] == "its mate is cut to it"
    assert "deviation accepted: its mate is cut to it" in _Page(as_html(shop.record(piece), "mm")).text


def _good(shop: Shop, piece: int) -> None:
    shop.read(piece, shop.width, "25")


def test_what_worked_is_the_last_finished_run_on_a_good_piece(shop: Shop) -> None:
    first, second, third, fourth = shop.pieces(4)
    for piece, rpm in ((first, 1000), (second, 1100), (third, 1200)):
        shop.run(shop.mill, piece, rpm=rpm)
        _good(shop, piece)
    shop.run(shop.mill, fourth, rpm=1300)  # never measured: nobody knows whether it worked
    shop.do(ScrapPiece(piece_id=third, text="dropped"))
    milled, bored = shop.record().what_worked
    assert milled.run is not None
    assert (milled.mark, milled.run.rpm, milled.on) == ("CR-2", 1100, 1)
    assert bored.run is None
    own = shop.record(first).what_worked[0]
    assert (own.mark, own.run and own.run.rpm) == ("CR-1", 1000)
    others = shop.record(third).what_worked[0]  # nothing worked on the scrap piece: another's is told, with its mark
    assert others.mark == "CR-2"


def test_what_worked_prefers_a_run_with_its_settings_written_down_and_counts_re_runs(shop: Shop) -> None:
    first, second = shop.pieces(2)
    run = shop.run(shop.mill, first, end=False, rpm=900)
    shop.do(FinishRun(run_id=int(shop.do(CutAgain(run_id=run))["run_id"])))
    _good(shop, first)
    shop.run(shop.mill, second)
    _good(shop, second)
    milled = shop.record().what_worked[0]
    assert (milled.mark, milled.on) == ("CR-1", 2)
    shop.do(MistakenPiece(piece_id=first, text="never was"))
    assert shop.record().what_worked[0].mark == "CR-2"
    shop.do(RetireOperation(operation_id=shop.mill))
    assert [each.operation.number for each in shop.record().what_worked] == [20]
    assert shop.record().pieces[1].runs[0].operation_name == "Mill the sides"


def test_a_part_record_holds_what_each_piece_record_holds(shop: Shop) -> None:
    pieces = shop.pieces(3)
    shop.run(shop.mill, *pieces[:2])
    for piece in pieces:
        _good(shop, piece)
    assert tuple(shop.record(piece).pieces[0] for piece in pieces) == shop.record().pieces


def test_the_record_takes_as_many_statements_for_many_pieces_as_for_one(shop: Shop) -> None:
    def statements() -> int:
        seen: list[str] = []
        with shop.database.read() as connection:
            event.listen(connection, "before_cursor_execute", lambda *about: seen.append(about[2]))
            part_record(connection, shop.part)
        return len(seen)

    _good(shop, shop.pieces()[0])
    for_one = statements()
    for piece in shop.pieces(12):
        _good(shop, piece)
    assert statements() == for_one


def _hostile(shop: Shop) -> Record:
    build = shop.do(AddBuild(name=HOSTILE[:120], note=HOSTILE))["build_id"]
    part = shop.do(
        AddPart(build_id=build, number="=cmd|'/C calc'!A0", name=HOSTILE[:120], material="+1+1", note=HOSTILE)
    )["part_id"]
    shop.part = part
    operation = shop.operation(10, HOSTILE[:200], setup="@SUM(A1)", cutters=HOSTILE[:200], check_before=HOSTILE)
    dimension = shop.dimension("-1", "W" * 199 + "\u202e", "25 ±0.02", cutting="smaller", gauge='="micrometer"')
    [piece] = shop.do(StartPieces(part_id=part, marks="<b>שלום\u202e&'\""))["piece_ids"]
    run = shop.run(operation, piece, who="-Wren")
    reading = shop.read(piece, dimension, "25.1", gauge="=1+1", who="\u202eWren", run_id=run)
    shop.do(CorrectReading(reading_id=reading, value="25.00", why=HOSTILE + "\n=second line"))
    shop.do(LogEvent(kind="note", text=HOSTILE, piece_id=piece))
    return shop.record(piece)


def test_the_page_fetches_nothing_and_runs_nothing_whatever_was_typed(shop: Shop) -> None:
    page = _Page(html := as_html(_hostile(shop), "mm"))
    assert page.open == []
    assert not {"script", "link", "img", "iframe", "object", "embed", "form", "base"} & set(page.tags)
    for name, value in page.attributes:
        assert name not in ("src", "href", "xlink:href", "srcset", "data", "action")
        assert not name.startswith("on")
        assert not re.search(r"https?:|url\(|javascript:", value.replace("bad.example", ""))
    style = html[html.index("<style>") : html.index("</style>")]
    assert not re.search(r"http|url\(|@import|expression", style)
    assert "alert(1)</script>" in page.text  # it is there, as text
    assert "49" not in re.findall(r"onerror=alert\(1\)> (\S+)", page.text)
    assert "\u202e" not in html


@pytest.mark.parametrize("character", ["\x00", "\x07", "\x85", "\u202e", "\u2066", "\uffff"])
def test_a_character_that_cannot_be_written_or_turns_the_line_is_marked(character: str) -> None:
    assert said(f"a{character}<b") == '<bdi class="said">a\ufffd&lt;b</bdi>'


def test_what_was_typed_is_set_apart_in_its_direction(shop: Shop) -> None:
    html = as_html(_hostile(shop), "mm")
    for found in re.finditer("שלום", html.split("<body>")[1]):
        before = html.split("<body>")[1][: found.start()]
        assert before.count("<bdi") > before.count("</bdi>")


def test_no_cell_is_a_formula_and_numbers_stay_numbers(shop: Shop) -> None:
    record = _hostile(shop)
    [old, new] = _rows(record)
    for row in (old, new):
        for value in row.values():
            assert value[:1] not in "=@" or value == ""
            assert value[:1] not in "+-" or value == "" or re.fullmatch(r"[+-][0-9.]+", value)
    assert old["part"] == "'=cmd|'/C calc'!A0"
    assert old["dimension"] == "-1"
    assert old["gauge"].startswith("'=1+1")
    assert old["why replaced"].endswith("\n=second line")  # a line within a cell begins no formula
    shop.read(record.pieces[0].id, record.part.dimensions[0].id, "-0.03", entered_as="deviation")
    shop.read(record.pieces[0].id, record.part.dimensions[0].id, "+2 thou", entered_as="deviation")
    assert [row["typed"] for row in _rows(shop.record(record.pieces[0].id))[2:]] == ["-0.03", "'+2 thou"]


def test_the_csv_has_one_row_of_headings_and_a_byte_order_mark(shop: Shop) -> None:
    [piece] = shop.pieces()
    _good(shop, piece)
    text = as_csv(shop.record())
    assert text.startswith(BYTE_ORDER_MARK + "reading,")
    lines = text.removesuffix("\r\n").split("\r\n")
    assert len(lines) == 2
    assert len(set(HEADINGS)) == len(HEADINGS)
    row = _rows(shop.record())[0]
    assert datetime.fromisoformat(row["measured at"]).utcoffset() == timedelta(0)
    assert row["requirement"] == "25 ±0.02"


def _valid(record: Record) -> dict[str, Any]:
    schema = json.loads(SCHEMA.read_text(encoding="utf-8"))
    Draft202012Validator.check_schema(schema)
    read = json.loads(as_json(record))
    Draft202012Validator(schema, format_checker=FormatChecker()).validate(read)
    return dict(read)


def _objects(value: Any) -> Iterator[dict[str, Any]]:
    if isinstance(value, dict):
        yield value
    for each in value.values() if isinstance(value, dict) else value if isinstance(value, list) else ():
        yield from _objects(each)


def test_the_json_is_as_its_schema_says_and_its_lengths_agree(shop: Shop) -> None:
    first, second = shop.pieces(2)
    run = shop.run(shop.mill, first, second, rpm=900.5, feed="250")
    shop.run(shop.bore, first, end=False)
    wrong = shop.read(first, shop.width, "24.900001", run_id=run)
    shop.do(CorrectReading(reading_id=wrong, value="24.97", why="slip"))
    shop.read(first, shop.eye, "1.25", unit="in", temperature_c=19.5)
    shop.do(AcceptDeviation(reading_id=shop.record(first).pieces[0].readings[1].id, text="will do"))
    shop.do(ScrapPiece(piece_id=second, text="dropped"))
    read = _valid(shop.record())
    lengths = 0
    for each in _objects(read):
        for name in [name for name in each if name.endswith("_nm")]:
            millimetres = each[name.removesuffix("_nm") + "_mm"]
            assert (None if millimetres is None else Fraction(millimetres) * 1_000_000) == each[name]
            lengths += each[name] is not None
    assert lengths > 20
    assert read["pieces"][0]["readings"][0]["value_mm"] == "24.900001"
    assert _valid(_hostile(shop))["build"]["note"] == HOSTILE


def test_every_field_of_the_json_is_described(shop: Shop) -> None:
    schema = json.loads(SCHEMA.read_text(encoding="utf-8"))
    fields = [
        (name, about)
        for each in _objects(schema)
        if each.get("type") == "object"
        for name, about in each["properties"].items()
    ]
    assert len(fields) > 100
    assert [name for name, about in fields if len(about.get("description", "")) < 3] == []


def test_a_record_says_which_times_it_tells(shop: Shop) -> None:
    [piece] = shop.pieces()
    shop.run(shop.mill, piece)
    in_utc = _Page(as_html(shop.record(piece), "mm")).text
    assert "Times: UTC." in in_utc
    assert "2026-05-01 18:00" in in_utc
    local = _Page(as_html(shop.record(piece), "mm", timezone(timedelta(hours=2), "CEST"))).text
    assert "local time (CEST)" in local
    assert "2026-05-01 20:00 +0200" in local


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
    pieces=(),
    changes=(),
)
