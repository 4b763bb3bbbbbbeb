"""The Handbook as JSON: what there is to work out, and the answers, in the words and units of the page."""

from __future__ import annotations

from dataclasses import asdict
from typing import Any

from fastapi import APIRouter, Request
from fastapi.responses import JSONResponse

from server.rules.next_move import shown
from server.store.action import Problem, Refused
from server.trade.cutter_words import read_cutters, start_from, work_material
from server.trade.errors import TradeError
from server.trade.handbook.book import calculation, calculations
from server.trade.handbook.calculation import Calculation, CannotAnswer, Output
from server.trade.length import Unit, format_length
from server.trade.limits import Cutting, parse_requirement
from server.trade.thread_over_wires import over_wires
from server.web.pages import viewer_unit

router = APIRouter(prefix="/api/handbook", tags=["handbook"])


@router.get("", summary="Every calculation: what it asks for, its formula and its source")
def everything() -> list[dict[str, Any]]:
    return [described(each) for each in calculations()]


@router.get("/requirement", summary="What a requirement means: its limits, and the standard they come from")
def requirement(request: Request, text: str, unit: Unit = "mm", cutting: Cutting = "neither", general: str = "") -> Any:
    shown_in = viewer_unit(request, unit)
    try:
        found = parse_requirement(text, unit, cutting, general=general or None)
    except TradeError as error:
        raise Refused(Problem.of(error)) from error
    wires = over_wires(text, cutting)
    return {
        **{name: getattr(found, name) for name in ("kind", "nominal_nm", "low_nm", "high_nm", "standard")},
        "unit": shown_in,
        "low": shown(found.low_nm, shown_in) if found.low_nm is not None else "",
        "high": shown(found.high_nm, shown_in) if found.high_nm is not None else "",
        "over_wires": {
            **asdict(wires),
            "wire": shown(wires.wire_nm, shown_in),
            "low": shown(wires.low_nm, shown_in),
            "high": shown(wires.high_nm, shown_in),
        }
        if wires
        else None,
    }


@router.get("/cutters", summary="Speed and feed to start from, for cutters and a material as a plan has them in words")
def cutters(words: str, material: str, unit: Unit = "mm") -> list[dict[str, Any]]:
    known = work_material(material)
    if known is None:
        return []
    return [asdict(each) for cutter in read_cutters(words, unit) for each in start_from(cutter, known)]


@router.get("/{name}", summary="The answer of one calculation; its inputs are the query, as text")
def answer(request: Request, name: str) -> Any:
    try:
        found = calculation(name)
    except TradeError as error:
        return JSONResponse({"problems": [_problem(error)], "message": str(error), "question": None}, 404)
    given = answer_to(found, typed_in(request, found), viewer_unit(request))
    return JSONResponse(given, 422 if given["problems"] else 200)


def typed_in(request: Request, found: Calculation) -> dict[str, str]:
    """What the address says was typed; `unit` is the viewer's, and unknown names are told by the calculation."""
    return {name: text for name, text in request.query_params.items() if name != "unit"}


def answer_to(found: Calculation, typed: dict[str, str], unit: Unit) -> dict[str, Any]:
    """The outputs as they are shown, or every problem with its field."""
    try:
        outputs = found.answer(typed, unit)
    except CannotAnswer as refused:
        words = {each.name: each.word for each in found.inputs}
        problems = [_problem(each) | {"field": words.get(each.field, each.field)} for each in refused.problems]
        return {"outputs": [], "problems": problems, "message": str(refused), "question": None}
    return {"outputs": [told(each, unit) for each in outputs], "problems": [], "unit": unit}


def told(output: Output, unit: Unit) -> dict[str, Any]:
    """One output with its value as it is read."""
    if output.kind == "length":
        text = (
            format_length(round(output.value), unit, output.decimals)
            if output.decimals is not None
            else (
                format_length(
                    round(output.value), unit, 4 if unit == "mm" else 5
                )  # one figure finer than the machine's
            )
        )
        said = f"{text} {unit}"
    elif output.kind == "number" and not isinstance(output.value, str):
        digits = f"{output.value:.{output.decimals}f}" if output.decimals is not None else f"{output.value:.6g}"
        said = f"{digits} {output.unit}".strip()
    else:
        said = f"{output.value} {output.unit}".strip()
    return {"label": output.label, "value": output.value, "kind": output.kind, "said": said, "note": output.note}


def described(found: Calculation) -> dict[str, Any]:
    return {
        **{name: getattr(found, name) for name in ("id", "group", "title", "asks", "formula", "source", "caution")},
        "inputs": [asdict(each) | {"name": each.word} for each in found.inputs],
    }


def _problem(error: TradeError) -> dict[str, str]:
    return {"field": error.field, "read": error.read, "why": error.why, "accepts": error.accepts}
