"""The Handbook: a page for each of the trade's calculations; its address carries what was typed, to be shared."""

from __future__ import annotations

from typing import Any

from fastapi import APIRouter, Request
from fastapi.responses import HTMLResponse

from server.store.action import NotThere
from server.trade.errors import TradeError
from server.trade.handbook.book import calculation, calculations
from server.trade.handbook.calculation import Calculation
from server.web.api.handbook import answer_to, typed_in
from server.web.pages import page, viewer_unit

router = APIRouter()


@router.get("/handbook")
def handbook(request: Request) -> HTMLResponse:
    groups: dict[str, list[Calculation]] = {}
    for each in calculations():
        groups.setdefault(each.group, []).append(each)
    return page(request, "handbook.html", groups=groups)


@router.get("/handbook/{name}")
def one(request: Request, name: str) -> HTMLResponse:
    found = _found(name)
    unit = viewer_unit(request)
    typed = typed_in(request, found)
    asked: dict[str, Any] = {each.word: typed.get(each.word, each.default) for each in found.inputs}
    can_be_worked_out = typed or all(each.default or each.optional for each in found.inputs)
    answer = answer_to(found, typed, unit) if can_be_worked_out else {}
    return page(request, "handbook_page.html", calculation=found, asked=asked, answer=answer)


def _found(name: str) -> Calculation:
    try:
        return calculation(name)
    except TradeError as error:
        raise NotThere("calculation", name, "calculation") from error
