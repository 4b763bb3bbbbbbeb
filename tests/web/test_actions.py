"""The actions over HTTP: what is taken, what is refused in what words, and that once is once."""

from __future__ import annotations

import json
import sqlite3
from typing import Any

import pytest

from server.settings import Settings
from server.web.api.actions import ACTIONS
from tests.web.web import Web, refusal

PATHS = [action.path for action in ACTIONS]
JSON = {"Content-Type": "application/json"}


def rows(settings: Settings, table: str) -> int:
    """How many rows a table has, as a connection sees that knows nothing of the program."""
    connection = sqlite3.connect(settings.database)
    try:
        return int(connection.execute(f"SELECT count(*) FROM {table}").fetchone()[0])
    finally:
        connection.close()


def sent(web: Web, body: str | bytes, **headers: str) -> dict[str, Any]:
    """The one problem of a body that cannot be an action."""
    answer = web.client.post("/api/add-build", content=body, headers={**JSON, "Idempotency-Key": "k", **headers})
    assert answer.status_code == 422
    [problem] = refusal(answer)["problems"]
    return dict(problem)


@pytest.mark.parametrize("path", PATHS)
def test_no_action_is_taken_without_a_key(web: Web, path: str) -> None:
    for headers in ({}, {"Idempotency-Key": ""}):
        answer = web.client.post(f"/api/{path}", json={}, headers=headers)
        assert answer.status_code == 422
        [problem] = refusal(answer)["problems"]
        assert problem["field"] == "Idempotency-Key"
        assert "once" in problem["why"]
        assert "header" in problem["accepts"]


def test_a_key_longer_than_is_kept_is_told(web: Web) -> None:
    body = web.refused("add-build", {"name": "press"}, key="k" * 201)
    assert body["problems"][0]["field"] == "idempotency-key"


@pytest.mark.parametrize("path", PATHS)
def test_a_field_no_action_has_is_told_by_its_name(web: Web, path: str) -> None:
    problems = web.refused(path, {"colour": "blue"})["problems"]
    told = {each["field"]: each for each in problems}
    assert told["colour"]["why"] == "there is no such field"
    assert told["colour"]["read"] == "blue"


def test_every_field_that_is_wrong_is_told_at_once(web: Web) -> None:
    problems = web.refused(
        "add-part", {"build_id": "first", "number": 7, "name": "", "needed": -1, "spares": 2.5, "hand": "north"}
    )["problems"]
    assert {each["field"] for each in problems} == {"build_id", "number", "name", "needed", "spares", "hand"}
    # What would be taken where nothing was entered is the field itself.
    assert all(each["accepts"] or each["why"] == "nothing was entered" for each in problems)


@pytest.mark.parametrize("value", [None, True, 1.5, "x", "1 x", [], {}, 2**70, -(2**70), "9" * 5000, [1], {"id": 1}])
def test_a_number_of_the_wrong_kind_is_refused_by_name(web: Web, value: Any) -> None:
    body = web.refused("edit-build", {"build_id": value, "name": "press"})
    assert [each["field"] for each in body["problems"]] == ["build_id"]


@pytest.mark.parametrize("body", ["{", "{'name': 'x'}", '{"name": "x"', "name=x", "NaN NaN", '{"a":1,}'])
def test_what_is_no_json_is_told_with_its_place(web: Web, body: str) -> None:
    problem = sent(web, body)
    assert problem["field"] == "the request"
    assert problem["why"].startswith("it is not JSON: ")
    assert "line 1" in problem["why"]
    assert problem["read"] == body


def test_a_body_that_is_not_said_to_be_json_is_not_read(web: Web) -> None:
    """A form of another site can send any of these without being asked first."""
    for kind in ("text/plain", "application/x-www-form-urlencoded", "multipart/form-data"):
        problem = sent(web, '{"name": "press"}', **{"Content-Type": kind})
        assert (problem["field"], problem["read"]) == ("Content-Type", kind)
    assert web.get("/api/builds").json() == []


@pytest.mark.parametrize("body", ["[]", "1", "null", '"text"', "true", "[[]]", '[{"name": "press"}]', "0.1"])
def test_json_that_is_no_object_is_refused(web: Web, body: str) -> None:
    assert sent(web, body)["why"] == "it is not an object"


@pytest.mark.parametrize("body", ["[" * 200_000, '{"name":' * 200_000, '{"name": ' + "9" * 10_000 + "}"])
def test_json_past_what_can_be_read_is_refused(web: Web, body: str) -> None:
    problem = sent(web, body)
    assert problem["why"] == "a number in it is too long, or it is nested too deep"
    assert len(problem["read"]) < 100


def test_an_empty_body_and_one_that_is_no_text_are_told(web: Web) -> None:
    assert sent(web, b"")["why"] == "there is nothing in it"
    assert sent(web, b'{"name": "\xff\xfe"}')["why"] == "it is not text in UTF-8"
    assert sent(web, '{"name": "press"}'.encode("utf-16"))["why"] == "it is not text in UTF-8"


def test_a_byte_order_mark_before_the_json_does_no_harm(web: Web) -> None:
    answer = web.client.post(
        "/api/add-build", content='\ufeff{"name": "press"}'.encode(), headers={**JSON, "Idempotency-Key": "k"}
    )
    assert answer.status_code == 200


@pytest.mark.parametrize("number", ["NaN", "Infinity", "-Infinity", "1e999"])
def test_what_is_no_number_is_not_taken_for_one(web: Web, number: str) -> None:
    ids = web.small()
    body = '{"piece_id": %d, "dimension_id": %d, "value": "25", "temperature_c": %s}'
    answer = web.client.post(
        "/api/take-reading",
        content=body % (ids["piece_id"], ids["dimension_id"], number),
        headers={**JSON, "Idempotency-Key": "k"},
    )
    assert answer.status_code == 422
    assert [each["field"] for each in refusal(answer)["problems"]] == ["temperature_c"]


def test_half_a_character_is_told_and_can_be_told(web: Web) -> None:
    problem = sent(web, '{"name": "\\ud800"}')
    assert (problem["field"], problem["read"]) == ("name", "\\ud800")
    web.do("add-build", name="press \U0001f527")  # a whole one, though two halves in JSON
    assert "press \U0001f527" in web.get("/").text


def test_a_long_text_is_told_and_ten_megabytes_are_read_and_refused(web: Web) -> None:
    problem = sent(web, json.dumps({"name": "x" * 10_000_000}))
    assert problem["field"] == "name"
    assert problem["why"] == "it is too long"
    assert len(problem["read"]) <= 200


def test_the_same_request_twice_is_done_once_and_answered_alike(web: Web, settings: Settings) -> None:
    first = web.do("add-build", key="one", name="press")
    assert web.do("add-build", key="one", name="press") == first
    assert web.do("add-build", key="one", name=" press ", note="") == first  # what is read is the same
    assert rows(settings, "build") == 1
    assert web.do("add-build", key="two", name="lathe")["build_id"] != first["build_id"]


def test_a_key_used_before_for_another_request_is_refused(web: Web, settings: Settings) -> None:
    web.do("add-build", key="one", name="press")
    for path, body in (("add-build", {"name": "lathe"}), ("edit-build", {"build_id": 1, "name": "press"})):
        [problem] = web.refused(path, body, key="one")["problems"]
        assert problem["field"] == "Idempotency-Key"
        assert problem["accepts"] == "a new key"
    assert rows(settings, "build") == 1


def test_a_refused_request_keeps_nothing_and_leaves_its_key_free(web: Web, settings: Settings) -> None:
    web.refused("add-build", {"name": "press", "general_tolerance": "about"}, key="one")
    assert (rows(settings, "build"), rows(settings, "request_key")) == (0, 0)
    web.do("add-build", key="one", name="press")


def test_a_reading_sent_twice_stands_once_and_is_answered_with_its_verdict(web: Web, settings: Settings) -> None:
    ids = web.small()
    before = rows(settings, "reading")
    fields = {"piece_id": ids["piece_id"], "dimension_id": ids["dimension_id"], "value": "25.05"}
    first = web.do("take-reading", key="one", **fields)
    again = web.do("take-reading", key="one", **fields)
    assert rows(settings, "reading") == before + 1
    assert again == first
    assert first["value_nm"] == 25_050_000
    assert first["verdict"] == "metal left"
    assert first["beyond_nm"] == 30_000
    assert first["shown"] == "25.050"
    assert first["sentence"].startswith("0.030 left: run op 10 again")
    assert first["drawing"].startswith("<svg")
    assert first["page"] == f"/pieces/{ids['piece_id']}"
    assert set(first["piece"]) == {"state", "next_move"}


def test_a_question_is_asked_and_its_choice_taken(web: Web, settings: Settings) -> None:
    ids = web.small()
    before = rows(settings, "reading")
    fields = {"piece_id": ids["piece_id"], "dimension_id": ids["dimension_id"], "value": ".9845", "unit": "mm"}
    body = web.refused("take-reading", fields, key="one")
    assert body["problems"] == []
    question = body["question"]
    assert body["message"] == question["text"]
    assert [choice["label"] for choice in question["choices"]] == [".9845 in", ".9845 mm is right"]
    assert rows(settings, "reading") == before
    taken = web.do("take-reading", key="one", **fields | question["choices"][0]["sets"])
    assert taken["value_nm"] == 25_006_300
    sure = web.do("take-reading", **fields | question["choices"][1]["sets"])
    assert sure["value_nm"] == 984_500


def test_an_operation_out_of_its_turn_is_asked_about_and_then_run(web: Web) -> None:
    ids = web.small()
    fields = {"operation_id": ids["operation_id"] + 1, "pieces": [{"piece_id": ids["piece_id"]}]}
    question = web.refused("start-run", fields)["question"]
    assert "waits for op 10" in question["text"]
    run = web.do("start-run", **fields | question["choices"][0]["sets"])
    assert web.get(run["page"]).status_code == 200


def test_the_page_an_answer_names_is_there(web: Web) -> None:
    ids = web.small()
    for path, fields in (
        ("add-part", {"build_id": ids["build_id"], "number": "BB", "name": "block"}),
        ("start-pieces", {"part_id": ids["part_id"]}),
        ("fit-piece", {"piece_id": ids["piece_id"], "text": "near side", "sure": True}),
        ("take-off-piece", {"piece_id": ids["piece_id"], "text": "it binds"}),
        ("log-event", {"kind": "note", "build_id": ids["build_id"], "text": "oil"}),
        ("take-back-event", {"event_id": ids["event_id"], "why": "a slip"}),
        ("retire-dimension", {"dimension_id": ids["eye_id"]}),
    ):
        assert web.get(web.do(path, **fields)["page"]).status_code == 200, path


@pytest.mark.parametrize("number", [0, -1, 999, 2**63 - 1, 2**63, 2**70])
def test_a_number_nothing_has_is_refused_with_what_is_missing(web: Web, number: int) -> None:
    for path, fields in (
        ("edit-build", {"build_id": number, "name": "x"}),
        ("start-pieces", {"part_id": number}),
        ("retire-operation", {"operation_id": number}),
        ("retire-dimension", {"dimension_id": number}),
        ("scrap-piece", {"piece_id": number, "text": "x"}),
        ("finish-run", {"run_id": number}),
        ("accept-deviation", {"reading_id": number, "text": "x"}),
        ("take-back-event", {"event_id": number, "why": "x"}),
    ):
        [problem] = web.refused(path, fields)["problems"]
        assert problem["why"].startswith("there is no "), path
        assert problem["read"] == str(number)


@pytest.mark.parametrize("method", ["GET", "PUT", "PATCH", "DELETE"])
def test_an_action_is_only_posted(web: Web, method: str) -> None:
    answer = web.client.request(method, "/api/add-build")
    assert answer.status_code == 405
    assert answer.headers["allow"] == "POST"
    assert refusal(answer)["message"] == f"This address does not take {method}."


def test_an_address_the_api_has_not_is_told_as_json(web: Web) -> None:
    for path in ("/api/nothing", "/api/builds/999", "/api/parts/x", "/api/pieces/0/log"):
        answer = web.get(path)
        assert answer.status_code == 404
        refusal(answer)


@pytest.mark.parametrize(
    "asked", [f"before={2**70}", f"before=-{2**70}", "before=x", "limit=0", "limit=501", "limit=x"]
)
def test_a_log_asked_for_wrongly_is_refused_by_name(web: Web, asked: str) -> None:
    ids = web.small()
    answer = web.get(f"/api/builds/{ids['build_id']}/log?{asked}")
    assert answer.status_code == 422
    assert refusal(answer)["problems"][0]["field"] == asked.split("=")[0]
