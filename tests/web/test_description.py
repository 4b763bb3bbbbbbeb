"""The API's description: a program can go by it, and every action is in it."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import pytest
from jsonschema import Draft202012Validator

from server.web.api.actions import ACTIONS
from tests.web.web import Web, text_of


@pytest.fixture
def described(web: Web) -> dict[str, Any]:
    answer = web.get("/api/openapi.json")
    assert answer.headers["content-type"] == "application/json"
    return dict(answer.json())


def within(value: Any) -> Iterator[Any]:
    yield value
    for each in value.values() if isinstance(value, dict) else value if isinstance(value, list) else ():
        yield from within(each)


def test_it_says_which_edition_of_openapi_it_is_written_to(described: dict[str, Any]) -> None:
    assert described["openapi"].startswith("3.1")
    assert {"title", "version"} <= set(described["info"])


def test_every_reference_leads_to_something(described: dict[str, Any]) -> None:
    references = {each["$ref"] for each in within(described) if isinstance(each, dict) and "$ref" in each}
    assert references
    for reference in references:
        place: Any = described
        for step in reference.removeprefix("#/").split("/"):
            place = place[step]


def test_every_schema_is_one(described: dict[str, Any]) -> None:
    """OpenAPI 3.1.0, 4.8.24: a Schema Object is JSON Schema, draft 2020-12 (from memory)."""
    for schema in described["components"]["schemas"].values():
        Draft202012Validator.check_schema(schema)


@pytest.mark.parametrize("action", ACTIONS, ids=lambda action: action.path)
def test_every_action_is_described_with_its_fields_its_key_and_its_refusals(web: Web, action: Any) -> None:
    described = web.get("/api/openapi.json").json()
    operation = described["paths"][f"/api/{action.path}"]["post"]
    assert operation["summary"] == action.title
    [key] = operation["parameters"]
    assert (key["name"], key["in"], key["required"]) == ("Idempotency-Key", "header", True)
    name = operation["requestBody"]["content"]["application/json"]["schema"]["$ref"].rsplit("/", 1)[1]
    assert set(described["components"]["schemas"][name]["properties"]) == set(action.model_fields)
    assert described["components"]["schemas"][name]["additionalProperties"] is False
    for status in ("422", "503"):
        assert operation["responses"][status]["content"]["application/json"]["schema"]["$ref"].endswith("/Refusal")


def test_a_refusal_is_what_its_schema_says(web: Web, described: dict[str, Any]) -> None:
    validator = Draft202012Validator(
        {
            "$ref": "#/components/schemas/Refusal",
            "components": described["components"],
            "$schema": Draft202012Validator.META_SCHEMA["$id"],
        }
    )
    ids = web.small()
    reading = {"piece_id": ids["piece_id"], "dimension_id": ids["dimension_id"], "value": "0.98"}
    for path, body in (("add-build", {}), ("add-build", []), ("take-reading", reading)):
        validator.validate(web.refused(path, body))
    assert web.refused("take-reading", reading)["question"]
    validator.validate(web.get("/api/builds/999").json())


def test_every_address_is_told_apart_and_has_a_summary(described: dict[str, Any]) -> None:
    operations = [operation for methods in described["paths"].values() for operation in methods.values()]
    assert all(operation["summary"] for operation in operations)
    assert len({operation["operationId"] for operation in operations}) == len(operations)
    assert all("HTTPValidationError" not in str(operation) for operation in operations)


def test_nothing_in_it_points_outside(web: Web) -> None:
    assert "http" not in web.get("/api/openapi.json").text.replace("HTTP", "")


def test_the_sheets_fields_are_described(described: dict[str, Any]) -> None:
    schema = described["components"]["schemas"]["SheetRequest"]
    assert set(schema["properties"]) == {"build_id", "part_id", "kind", "text", "file", "columns"}
    assert "parameters" not in described["paths"]["/api/preview-sheet"]["post"]


def test_the_page_about_the_program_lists_every_address(web: Web, described: dict[str, Any]) -> None:
    text = text_of(web.get("/about").text)
    for path, methods in described["paths"].items():
        for method, operation in methods.items():
            assert f"{method.upper()} {path} {operation['summary']}" in text


def test_the_records_schema_is_served(web: Web) -> None:
    answer = web.get("/api/record.schema.json")
    assert answer.headers["content-type"] == "application/schema+json"
    Draft202012Validator.check_schema(answer.json())
