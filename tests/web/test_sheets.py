"""Sheets over HTTP: what a preview tells of each kind, what is no sheet, and that a load takes all of it or nothing."""

from __future__ import annotations

import base64
import csv
import io
import sqlite3
from pathlib import Path
from typing import Any

import pytest

from server.settings import Settings
from tests.web.web import Web, refusal

SHEETS = Path(__file__).parents[1] / "records" / "sheets"
HEAD = "Part,No.,What,Requirement,Cutting makes it\n"
ROW = "CR,1,Width,25 ±0.02,smaller\n"


def in_base64(data: bytes) -> str:
    return base64.b64encode(data).decode("ascii")


@pytest.fixture
def build(web: Web) -> int:
    return int(web.do("add-build", name="proof press")["build_id"])


def looked_at(web: Web, **fields: Any) -> dict[str, Any]:
    answer = web.client.post("/api/preview-sheet", json=fields)
    assert answer.status_code == 200, answer.text
    return dict(answer.json())


def not_a_sheet(web: Web, **fields: Any) -> dict[str, Any]:
    """The one problem of what cannot be read as a sheet at all."""
    answer = web.client.post("/api/preview-sheet", json=fields)
    assert answer.status_code == 422, answer.text
    [problem] = refusal(answer)["problems"]
    return dict(problem)


def counts(settings: Settings) -> dict[str, int]:
    """Rows of the plan, seen by a connection that knows nothing of the program."""
    connection = sqlite3.connect(settings.database)
    try:
        tables = ("part", "dimension", "limits", "operation", "plan_change", "request_key")
        return {each: connection.execute(f"SELECT count(*) FROM {each}").fetchone()[0] for each in tables}
    finally:
        connection.close()


@pytest.mark.parametrize(("name", "kind"), [("dimensions.csv", "dimensions"), ("operations.csv", "operations")])
def test_a_builders_own_sheet_is_read_as_what_it_is(web: Web, build: int, name: str, kind: str) -> None:
    data = (SHEETS / name).read_bytes()
    found = looked_at(web, build_id=build, file=in_base64(data))
    assert found["kind"] == kind
    assert found["can_be_taken"], found["problems"]
    assert found["problems"] == found["unplaced"] == found["duplicates"] == found["missing"] == []
    text = data.decode("utf-8-sig" if kind == "dimensions" else "cp1252")
    rows = list(csv.reader(io.StringIO(text), delimiter="," if kind == "dimensions" else ";"))
    filled = [row for row in rows[1:] if any(cell.strip() for cell in row)]
    assert found["row_count"] == len(found["rows"]) == len(filled)
    assert [each["heading"] for each in found["headings"]] == rows[0]
    assert all(each["field"] for each in found["headings"])
    assert found["rows"][0]["cells"][:3] == filled[0][:3]


def test_each_cell_in_the_way_is_told_with_its_place(web: Web, build: int) -> None:
    data = (SHEETS / "errors-in-most-rows.csv").read_bytes()
    found = looked_at(web, build_id=build, file=in_base64(data))
    assert not found["can_be_taken"]
    rows = list(csv.reader(io.StringIO(data.decode("utf-8-sig"))))
    assert len(found["problems"]) >= 4
    for problem in found["problems"]:
        assert problem["why"]
        cell = rows[problem["line"] - 1][problem["column"]]
        assert problem["read"] in (cell, cell.strip()), problem
        assert problem["heading"] == rows[0][problem["column"]]


@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16", "cp1252"])
def test_the_encodings_that_spreadsheets_write_are_read(web: Web, build: int, encoding: str) -> None:
    found = looked_at(web, build_id=build, file=in_base64((HEAD + ROW).encode(encoding)))
    assert found["can_be_taken"], found
    assert found["rows"][0]["cells"][3] == "25 ±0.02"


def test_bytes_in_the_wrong_encoding_are_told_at_their_cell(web: Web, build: int) -> None:
    """Code page 437 has ± at 0xF1, which is ñ in 1252: nothing can know, so the cell is told and not guessed."""
    found = looked_at(web, build_id=build, file=in_base64((HEAD + ROW).encode("cp437")))
    assert not found["can_be_taken"]
    assert [each["heading"] for each in found["problems"]] == ["Requirement"]
    bare = not_a_sheet(web, build_id=build, file=in_base64((HEAD + ROW).encode("utf-16-le")))
    assert bare["field"] == "sheet"


@pytest.mark.parametrize(
    "data",
    [
        b"PK\x03\x04" + b"\0" * 40,
        b"%PDF-1.7\n",
        b"\x89PNG\r\n\x1a\n",
        b"\0" * 100,
        b"\n\n \n",
        b"\xef\xbb\xbf",
        b"just a sentence about a press\n",
        b"one heading\n",
    ],
)
def test_a_file_that_is_no_sheet_is_refused_with_what_would_do(web: Web, build: int, data: bytes) -> None:
    problem = not_a_sheet(web, build_id=build, file=in_base64(data))
    assert problem["field"] == "sheet"
    assert problem["accepts"]


def test_nothing_pasted_is_told(web: Web, build: int) -> None:
    assert not_a_sheet(web, build_id=build)["why"] == "there is nothing in it"


@pytest.mark.parametrize("file", ["not base64!", "abc", "QQ", "QQ==QQ==", "ä"])
def test_what_is_no_base64_is_told(web: Web, build: int, file: str) -> None:
    problem = not_a_sheet(web, build_id=build, file=file)
    assert (problem["field"], problem["why"]) == ("file", "it is not base64")


def test_a_sheet_past_the_largest_is_refused_and_the_largest_is_read(web: Web, build: int) -> None:
    rows = "".join(f"CR,{number},Width,25 ±0.02,smaller\n" for number in range(1, 50_001))
    problem = not_a_sheet(web, build_id=build, text=HEAD + rows)
    assert "50,000" in problem["why"] or "50,000" in problem["read"]
    assert "5,000 rows" in problem["accepts"] or "several sheets" in problem["accepts"]
    found = looked_at(web, build_id=build, text=HEAD + "".join(rows.splitlines(keepends=True)[:5_000]))
    assert found["can_be_taken"]
    assert found["row_count"] == 5_000
    assert len(found["rows"]) == 200  # the first are enough to look at


def test_a_wrong_row_far_down_is_shown_all_the_same(web: Web, build: int) -> None:
    rows = [f"CR,{number},Width,25 ±0.02,smaller\n" for number in range(1, 1_001)]
    rows[899] = "CR,900,Width,thirty,smaller\n"
    found = looked_at(web, build_id=build, text=HEAD + "".join(rows))
    assert len(found["rows"]) == 201
    assert found["rows"][-1]["line"] == found["problems"][0]["line"] == 901


def test_on_a_parts_own_page_no_part_column_is_needed(web: Web, build: int) -> None:
    part = web.do("add-part", build_id=build, number="CR", name="rod")["part_id"]
    text = "No.,What,Requirement,Cutting makes it\n1,Width,25 ±0.02,smaller\n"
    assert looked_at(web, build_id=build, text=text)["missing"] == ["part"]
    assert looked_at(web, build_id=build, part_id=part, text=text)["can_be_taken"]
    loaded = web.do("load-plan", build_id=build, part_id=part, text=text)
    assert loaded["rows"] == {"new": 1, "changed": 0, "unchanged": 0}
    assert loaded["page"] == f"/parts/{part}"
    assert web.get(f"/api/parts/{part}").json()["dimensions"][0]["name"] == "Width"


def test_a_heading_nobody_knows_can_be_placed_or_left_out(web: Web, build: int) -> None:
    text = "Part,Ziffer,What,Requirement,Colour\nCR,1,Width,25 ±0.02,blue\n"
    found = looked_at(web, build_id=build, text=text)
    assert not found["can_be_taken"]
    assert found["unplaced"] == [1, 4]
    assert "number" in {each["name"] for each in found["fields"]}
    placed = {"1": "number", "4": "leave out"}
    assert looked_at(web, build_id=build, text=text, columns=placed)["can_be_taken"]
    web.do("load-plan", build_id=build, text=text, columns=placed)


@pytest.mark.parametrize("columns", [{"1": "colour"}, {"99": "part"}, {"-1": "part"}, {"x": "part"}, {"1": None}, []])
def test_a_column_placed_wrongly_is_told(web: Web, build: int, columns: Any) -> None:
    problem = not_a_sheet(web, build_id=build, text=HEAD + ROW, columns=columns)
    assert problem["field"].startswith("columns")


def test_a_sheet_of_neither_kind_is_asked_about_and_not_loaded(web: Web, build: int, settings: Settings) -> None:
    text = "Colour,Weight\nblue,3\n"
    found = looked_at(web, build_id=build, text=text)
    assert (found["kind"], found["can_be_taken"]) == (None, False)
    [problem] = web.refused("load-plan", {"build_id": build, "text": text})["problems"]
    assert (problem["field"], problem["accepts"]) == ("kind", "dimensions or operations")
    assert counts(settings)["part"] == 0


@pytest.mark.parametrize("number", [0, 999, 2**70])
def test_a_build_or_part_that_is_not_there_is_told(web: Web, build: int, number: int) -> None:
    assert not_a_sheet(web, build_id=number, text=HEAD + ROW)["field"] == "build_id"
    assert not_a_sheet(web, build_id=build, part_id=number, text=HEAD + ROW)["field"] == "part_id"


def test_looking_takes_nothing(web: Web, build: int, settings: Settings) -> None:
    before = counts(settings)
    looked_at(web, build_id=build, file=in_base64((SHEETS / "dimensions.csv").read_bytes()))
    assert counts(settings) == before


def test_a_good_sheet_is_taken_whole_and_once(web: Web, build: int, settings: Settings) -> None:
    file = in_base64((SHEETS / "dimensions.csv").read_bytes())
    found = looked_at(web, build_id=build, file=file)
    answer = web.do("load-plan", key="one", build_id=build, file=file)
    assert answer["rows"] == {"new": found["row_count"], "changed": 0, "unchanged": 0}
    stored = counts(settings)
    assert stored["dimension"] == stored["limits"] == found["row_count"]
    assert web.do("load-plan", key="one", build_id=build, file=file) == answer
    assert counts(settings) == stored
    again = web.do("load-plan", key="two", build_id=build, file=file)
    assert again["rows"] == {"new": 0, "changed": 0, "unchanged": found["row_count"]}


@pytest.mark.parametrize("place", [0, 5, 9])
def test_one_bad_cell_anywhere_and_nothing_of_the_sheet_is_taken(
    web: Web, build: int, settings: Settings, place: int
) -> None:
    rows = [f"P{number},1,Width,25 ±0.02,smaller\n" for number in range(10)]
    rows[place] = f"P{place},1,Width,thirty,smaller\n"
    before = counts(settings)
    body = web.refused("load-plan", {"build_id": build, "text": HEAD + "".join(rows)})
    assert [each["field"] for each in body["problems"]] == [f"line {place + 2}, Requirement"]
    assert counts(settings) == before


def test_every_bad_cell_is_told_at_once(web: Web, build: int, settings: Settings) -> None:
    file = in_base64((SHEETS / "errors-in-most-rows.csv").read_bytes())
    before = counts(settings)
    told = web.refused("load-plan", {"build_id": build, "file": file})["problems"]
    assert len(told) == len(looked_at(web, build_id=build, file=file)["problems"])
    assert counts(settings) == before
