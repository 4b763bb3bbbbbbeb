"""Tells what went wrong, kindly and exactly: JSON to a program or the page's own script, a page to a person."""

from __future__ import annotations

import logging
from dataclasses import asdict, dataclass
from typing import Any

from fastapi import FastAPI, Request
from fastapi.exceptions import RequestValidationError
from fastapi.responses import JSONResponse, Response
from starlette.exceptions import HTTPException

from server.log.perform import KeyUsedOtherwise
from server.store.action import NotThere, Problem, Question, Refused
from server.store.writer import NotSaved
from server.web.guard import HEADERS
from server.web.pages import page

_log = logging.getLogger("matchmark")

_NOTHING_HERE = "There is nothing at this address."


@dataclass(frozen=True, slots=True)
class Refusal:
    """The body of every answer that is not the thing asked for: problems a field each, or a question with the answers
    it takes; `message` says the same in one line."""

    message: str
    problems: list[Problem]
    question: Question | None


def told(problems: list[Problem], question: Question | None = None, message: str = "") -> dict[str, Any]:
    """A Refusal, ready to be sent."""
    said = message or (question.text if question else "; ".join(f"{each.field}: {each.why}" for each in problems))
    return asdict(Refusal(said, problems, question))


def install(app: FastAPI) -> None:
    @app.exception_handler(Refused)
    def refused(request: Request, error: Refused) -> Response:
        status = 404 if isinstance(error, NotThere) and request.method == "GET" else 422
        return answer(request, status, told(error.problems, error.question))

    @app.exception_handler(RequestValidationError)
    def unreadable(request: Request, error: RequestValidationError) -> Response:
        """A number in the address that is none names nothing; what was asked beside the address is told by its name."""
        if any(each["loc"][0] == "path" for each in error.errors()):
            return answer(request, 404, told([], message=_NOTHING_HERE))
        problems = [
            Problem(".".join(str(part) for part in each["loc"][1:]), str(each.get("input", ""))[:200], each["msg"])
            for each in error.errors()
        ]
        return answer(request, 422, told(problems))

    @app.exception_handler(KeyUsedOtherwise)
    def used(request: Request, error: KeyUsedOtherwise) -> Response:
        return answer(request, 422, told([Problem("Idempotency-Key", "", str(error), "a new key")]))

    @app.exception_handler(NotSaved)
    def not_saved(request: Request, error: NotSaved) -> Response:
        return answer(request, 503, told([], message=str(error)))

    @app.exception_handler(HTTPException)
    def http(request: Request, error: HTTPException) -> Response:
        message = {404: _NOTHING_HERE, 405: f"This address does not take {request.method}."}
        body = told([], message=message.get(error.status_code, str(error.detail)))
        told_so = answer(request, error.status_code, body)
        told_so.headers.update(error.headers or {})  # Allow, where the method is the trouble
        return told_so

    @app.exception_handler(Exception)
    def unexpected(request: Request, error: Exception) -> Response:
        _log.exception("a fault of the program while answering %s", request.url.path, exc_info=error)
        body = told([], message="The program made a fault; nothing was saved. It is in its log.")
        told_so = answer(request, 500, body)
        told_so.headers.update(HEADERS)  # what is at fault is answered outside the guard
        told_so.headers["Cache-Control"] = "no-store"
        return told_so


def answer(request: Request, status: int, body: dict[str, Any]) -> Response:
    """A refusal as whoever asked can read it."""
    if request.url.path.startswith("/api/"):
        return JSONResponse(body, status)
    return page(request, "told.html", status=status, told=body)
