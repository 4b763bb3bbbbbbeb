"""The body of a request as JSON, or Refused in the words of every other refusal."""

from __future__ import annotations

import json
from typing import Any

from fastapi import Request

from server.store.action import Problem, Refused

_ACCEPTS = "an object of names and values, as JSON in UTF-8"


async def json_body(request: Request) -> Any:
    """What the body says. Raises Refused where it is not JSON, or is not said to be.

    That it must be said to be JSON is a guard as well: a form of another site cannot say so without being asked about
    first (WHATWG Fetch, "CORS-safelisted request-header": a form sends one of three other content types).
    """
    said = request.headers.get("content-type", "")
    kind = said.split(";")[0].strip().lower()
    if kind != "application/json" and not kind.endswith("+json"):
        why = "it is not said to be JSON" if said else "nothing says what it is"
        raise Refused(Problem("Content-Type", said[:200], why, "application/json"))
    body = await request.body()
    if not body:
        raise Refused(Problem("the request", "", "there is nothing in it", _ACCEPTS))
    try:
        return json.loads(body.decode("utf-8-sig"))
    except UnicodeDecodeError as error:
        raise Refused(Problem("the request", _start_of(body), "it is not text in UTF-8", _ACCEPTS)) from error
    except json.JSONDecodeError as error:
        why = f"it is not JSON: {error.msg} at line {error.lineno}, column {error.colno}"
        raise Refused(Problem("the request", _start_of(body), why, _ACCEPTS)) from error
    except (RecursionError, ValueError) as error:  # ValueError: a number of thousands of digits
        why = "a number in it is too long, or it is nested too deep"
        raise Refused(Problem("the request", _start_of(body), why, _ACCEPTS)) from error


def _start_of(body: bytes) -> str:
    return body[:60].decode("utf-8", "replace")
