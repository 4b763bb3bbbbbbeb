"""What the tests of records share: a part with something on it, and eyes for each kind of file."""

from __future__ import annotations

import csv
import io
import json
import re
from collections.abc import Iterator
from html.parser import HTMLParser
from itertools import count
from typing import Any

from jsonschema import Draft202012Validator, FormatChecker

from server.log.events import LogEvent
from server.log.perform import perform
from server.log.pieces import StartPieces
from server.log.readings import CorrectReading, TakeReading
from server.log.runs import FinishRun, OnOffset, StartRun
from server.plan.builds import AddBuild
from server.plan.dimensions import AddDimension
from server.plan.operations import AddOperation
from server.plan.parts import AddPart
from server.records.record import part_record, piece_record
from server.records.record_csv import BYTE_ORDER_MARK, as_csv
from server.records.record_json import SCHEMA, as_json
from server.records.record_values import Record
from server.store.action import Action
from server.store.database import Database

HOSTILE = "</script><script>alert(1)</script>\"'<img src=x onerror=alert(1)> {{ 7*7 }} \u202eevil\u202c שלום & http://bad.example"


class Rods:
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

    def good(self, piece: int) -> None:
        self.read(piece, self.width, "25")

    def hostile_record(self) -> Record:
        """Of a piece in whose every text something stands that means something elsewhere."""
        build = self.do(AddBuild(name=HOSTILE[:120], note=HOSTILE))["build_id"]
        part = self.do(
            AddPart(build_id=build, number="=cmd|'/C calc'!A0", name=HOSTILE[:120], material="+1+1", note=HOSTILE)
        )["part_id"]
        self.part = part
        operation = self.operation(10, HOSTILE[:200], setup="@SUM(A1)", cutters=HOSTILE[:200], check_before=HOSTILE)
        dimension = self.dimension("-1", "W" * 199 + "\u202e", "25 ±0.02", cutting="smaller", gauge='="micrometer"')
        [piece] = self.do(StartPieces(part_id=part, marks="<b>שלום\u202e&'\""))["piece_ids"]
        run = self.run(operation, piece, who="-Wren")
        reading = self.read(piece, dimension, "25.1", gauge="=1+1", who="\u202eWren", run_id=run)
        self.do(CorrectReading(reading_id=reading, value="25.00", why=HOSTILE + "\n=second line"))
        self.do(LogEvent(kind="note", text=HOSTILE, piece_id=piece))
        return self.record(piece)


def csv_rows(record: Record) -> list[dict[str, str]]:
    return list(csv.DictReader(io.StringIO(as_csv(record).removeprefix(BYTE_ORDER_MARK), newline="")))


class Page(HTMLParser):
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


def valid_json(record: Record) -> dict[str, Any]:
    schema = json.loads(SCHEMA.read_text(encoding="utf-8"))
    Draft202012Validator.check_schema(schema)
    read = json.loads(as_json(record))
    Draft202012Validator(schema, format_checker=FormatChecker()).validate(read)
    return dict(read)


def objects_in(value: Any) -> Iterator[dict[str, Any]]:
    if isinstance(value, dict):
        yield value
    for each in value.values() if isinstance(value, dict) else value if isinstance(value, list) else ():
        yield from objects_in(each)
