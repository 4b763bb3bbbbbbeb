"""The API's description (OpenAPI), completed with the actions' own schemas."""

from __future__ import annotations

from typing import Any

from fastapi import FastAPI
from fastapi.openapi.utils import get_openapi
from pydantic.json_schema import models_json_schema

from server.web.api.actions import ACTIONS

ABOUT = """
Every change is a POST of an action with a header `Idempotency-Key` (any new random text): the same key again gets the
same answer and is done once. A refusal is 422 with `problems` (field, read, why, accepts) or a `question` whose
choices say which fields to set. Lengths in answers are whole nanometres (`_nm`); typed lengths are texts with a unit.
"""


def describe(app: FastAPI) -> None:
    """Give the application an OpenAPI that names every field of every action."""

    def openapi() -> dict[str, Any]:
        if app.openapi_schema is None:
            schema = get_openapi(
                title=app.title, version=app.version, summary=app.summary, description=ABOUT, routes=app.routes
            )
            _, definitions = models_json_schema(
                [(action, "validation") for action in ACTIONS], ref_template="#/components/schemas/{model}"
            )
            components = schema.setdefault("components", {}).setdefault("schemas", {})
            components.update(definitions.get("$defs", {}))
            app.openapi_schema = schema
        return app.openapi_schema

    app.openapi = openapi  # type: ignore[method-assign]
