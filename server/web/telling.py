"""Tells what went wrong, kindly and exactly: JSON to a program or the page's own script, a page to a person."""

from __future__ import annotations

import logging
from dataclasses import asdict
from typing import Any

from fastapi import FastAPI, Request
from fastapi.exceptions import RequestValidationError
from fastapi.responses import JSONResponse, Response
from starlette.exceptions import HTTPException

from server.log.perform import KeyUsedOtherwise
from server.store.action import NotThere, Problem, Refused
from server.store.writer import NotSaved
from server.web.pages import page

_log = logging.getLogger("matchmark")


def told(problems: list[Problem], question: Any = None, message: str = "") -> dict[str, Any]:
    """The body of every refusal: problems a field each, or a question with the answers it takes."""
    return {
        "message": message or (question.text if question else "; ".join(f"{p.field}: {p.why}" for p in problems)),
        "problems": [asdict(each) for each in problems],
        "question": asdict(question) if question else None,
    }


def install(app: FastAPI) -> None:
    @app.exception_handler(Refused)
    def refused(request: Request, error: Refused) -> Response:
        status = 404 if isinstance(error, NotThere) and request.method == "GET" else 422
        return _answer(request, status, told(error.problems, error.question))

    @app.exception_handler(RequestValidationError)
    def unreadable(request: Request, error: RequestValidationError) -> Response:
        problems = [
            Problem(".".join(str(part) for part in each["loc"][1:]), str(each.get("input", ""))[:200], each["msg"])
            for each in error.errors()
        ]
        return _answer(request, 404 if request.method == "GET" else 422, told(problems))

    @app.exception_handler(KeyUsedOtherwise)
    def used(request: Request, error: KeyUsedOtherwise) -> Response:
        return _answer(request, 422, told([Problem("Idempotency-Key", "", str(error), "a new key")]))

    @app.exception_handler(NotSaved)
    def not_saved(request: Request, error: NotSaved) -> Response:
        return _answer(request, 503, told([], message=str(error)))

    @app.exception_handler(HTTPException)
    def http(request: Request, error: HTTPException) -> Response:
        message = "There is nothing at this address." if error.status_code == 404 else str(error.detail)
        return _answer(request, error.status_code, told([], message=message))

    @app.exception_handler(Exception)
    def unexpected(request: Request, error: Exception) -> Response:
        _log.exception("a fault of the program while answering %s", request.url.path, exc_info=error)
        return _answer(request, 500, told([], message="The program made a fault; nothing was saved. It is in its log."))


def _answer(request: Request, status: int, body: dict[str, Any]) -> Response:
    if request.url.path.startswith("/api/"):
        return JSONResponse(body, status)
    return page(request, "told.html", status=status, told=body)
