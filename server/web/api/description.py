"""The API's description (OpenAPI), completed with the actions' own schemas."""

from __future__ import annotations

from typing import Any

from fastapi import FastAPI
from fastapi.openapi.utils import get_openapi
from pydantic import TypeAdapter
from pydantic.json_schema import models_json_schema

from server.records.load_plan import SheetRequest
from server.store.action import Action
from server.web.api.actions import ACTIONS
from server.web.telling import Refusal

ABOUT = """
Every change is a POST of an action with a header `Idempotency-Key` (any new random text): the same key again gets the
same answer and is done once. A refusal is 422 with `problems` (field, read, why, accepts) or a `question` whose
choices say which fields to set. Lengths in answers are whole nanometres (`_nm`); typed lengths are texts with a unit.
"""


_NAMED = "#/components/schemas/{}"
_KEY = {
    "name": "Idempotency-Key",
    "in": "header",
    "required": True,
    "description": "a new random text for each thing done",
    "schema": {"type": "string", "minLength": 1, "maxLength": 200},
}
_ANSWERS = {
    "404": "There is no such thing.",
    "422": "Refused, with every reason, or with a question; nothing was kept.",
    "503": "The disk or the database did not take it; nothing was kept, and the same may be sent again.",
}


def describe(app: FastAPI) -> None:
    """Give the application an OpenAPI that names every field of every action, and every answer there can be."""

    def openapi() -> dict[str, Any]:
        if app.openapi_schema is None:
            schema = get_openapi(
                title=app.title, version=app.version, summary=app.summary, description=ABOUT, routes=app.routes
            )
            actions = {f"/api/{action.path}": action for action in (*ACTIONS, SheetRequest)}
            for path, methods in schema["paths"].items():
                for operation in methods.values():
                    _complete(operation, actions.get(path), "{" in path)
            named = schema.setdefault("components", {}).setdefault("schemas", {})
            for not_ours in ("HTTPValidationError", "ValidationError"):
                named.pop(not_ours, None)
            _, definitions = models_json_schema(
                [(action, "validation") for action in actions.values()], ref_template=_NAMED.format("{model}")
            )
            named.update(definitions["$defs"])
            refusal = TypeAdapter(Refusal).json_schema(ref_template=_NAMED.format("{model}"))
            named.update(refusal.pop("$defs"), Refusal=refusal)
            app.openapi_schema = schema
        return app.openapi_schema

    app.openapi = openapi  # type: ignore[method-assign]


def _complete(operation: dict[str, Any], action: type[Action] | None, names_a_thing: bool) -> None:
    """Say of one address what the framework does not know: the action's fields, its key, and how a refusal looks."""
    answers = operation["responses"]
    wanted = ["422"] if action or answers.pop("422", None) else []
    if action is not None:
        operation["requestBody"] = {"required": True, "content": {"application/json": {"schema": _named(action)}}}
    if action is not None and action is not SheetRequest:
        operation["parameters"] = [_KEY]
        wanted.append("503")
    if names_a_thing:
        wanted.append("404")
    for status in wanted:
        answers[status] = {
            "description": _ANSWERS[status],
            "content": {"application/json": {"schema": _named(Refusal)}},
        }


def _named(model: type) -> dict[str, str]:
    return {"$ref": _NAMED.format(model.__name__)}
