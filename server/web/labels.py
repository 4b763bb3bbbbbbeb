"""Labels to print: choosing what they are for and on which sheet, and the sheets themselves, exact in millimetres."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import groupby
from typing import Annotated, Any

from fastapi import APIRouter, Query, Request
from fastapi.responses import HTMLResponse
from sqlalchemy import Connection, select

from server.log.kept_tables import PieceState
from server.plan.named import the_build
from server.plan.tables import Operation, Part
from server.records.label_sheets import SHEETS, LabelSheet, Spot
from server.records.lettering import letters_nm
from server.store.action import Problem, Refused
from server.trade.errors import TradeError
from server.trade.length import NM_PER_MM, parse_length
from server.web.marks import Code, code_of, hosts_to_print, only_here
from server.web.pages import page

router = APIRouter()

MOST_LABELS = 1000
FIRST_SHEET = next(iter(SHEETS))
EDGE_NM = 3 * NM_PER_MM // 2  # white all round, because no printer and no cutter is exact
Ids = Annotated[list[int] | None, Query()]


@dataclass(frozen=True, slots=True)
class Subject:
    """What one label is for: the letters that are read from afar, the lines under them, and the address it opens."""

    path: str
    letters: str
    lines: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Label:
    spot: Spot
    subject: Subject
    code: Code
    code_nm: int
    letters_nm: int
    lines_nm: int


@router.get("/builds/{build_id}/labels")
def choose_labels(request: Request, build_id: int, part: int | None = None, piece: Ids = None) -> HTMLResponse:
    """What can have a label; the pieces of one part, or those named in the address, are ticked beforehand."""
    with request.app.state.database.read() as connection:
        build = the_build(connection, build_id)
        parts = connection.execute(
            select(Part.id, Part.number, Part.name).where(Part.build_id == build_id).order_by(Part.id)  # type: ignore
        ).all()
        pieces = _by_part(_pieces(connection, build_id))
        operations = _by_part(_operations(connection, build_id))
    return page(
        request,
        "labels.html",
        build=build,
        parts=[each for each in parts if each.id in pieces or each.id in operations],
        pieces=pieces,
        operations=operations,
        part_id=part,
        ticked=set(piece or ()),
        sheets=SHEETS.values(),
        hosts=hosts_to_print(request),
        only_here=only_here,
    )


@router.get("/builds/{build_id}/labels/sheet")
def label_sheet(
    request: Request,
    build_id: int,
    sheet: str = FIRST_SHEET,
    piece: Ids = None,
    operation: Ids = None,
    start: int = 1,
    copies: Annotated[int, Query(ge=1, le=50)] = 1,
    right: str = "",
    down: str = "",
    host: str = "",
) -> HTMLResponse:
    found = _sheet(sheet)
    hosts = hosts_to_print(request)
    if host and host not in hosts:
        raise Refused(Problem("host", host[:200], "this server is not found there", " or ".join(hosts)))
    with request.app.state.database.read() as connection:
        build = the_build(connection, build_id)
        subjects = _piece_subjects(connection, build_id, piece or [])
        subjects += _operation_subjects(connection, build_id, operation or [])
    subjects = [each for each in subjects for _ in range(copies)]
    if len(subjects) > MOST_LABELS:
        read = f"{len(subjects)} labels"
        raise Refused(Problem("copies", read, "too many to print at once", f"at most {MOST_LABELS}"))
    base = f"{request.url.scheme}://{host or hosts[0]}"
    labels = _laid_out(found, subjects, base, start, right, down)
    sheets = [list(each) for _, each in groupby(labels, key=lambda label: label.spot.sheet)]
    return page(request, "label_sheet.html", build=build, sheet=found, sheets=sheets, edge_nm=EDGE_NM)


def _sheet(key: str) -> LabelSheet:
    found = SHEETS.get(key)
    if found is None:
        raise Refused(Problem("sheet", key[:80], "there is no such sheet here", ", ".join(SHEETS)))
    return found


def _laid_out(sheet: LabelSheet, subjects: list[Subject], base: str, start: int, right: str, down: str) -> list[Label]:
    try:
        shift = {name: parse_length(text or "0", "mm", field=name) for name, text in (("right", right), ("down", down))}
        spots = list(sheet.spots(len(subjects), start, shift["right"], shift["down"]))
    except TradeError as error:
        raise Refused(Problem.of(error)) from error
    high_nm, wide_nm = sheet.height_nm - 2 * EDGE_NM, sheet.width_nm - 2 * EDGE_NM
    code_nm = code_side_nm(sheet)
    room_nm = wide_nm - code_nm
    lines_nm = max(min(high_nm * 11 // 100, 4 * NM_PER_MM), 19 * NM_PER_MM // 10)
    return [
        Label(
            spot,
            subject,
            code_of(base + subject.path),
            code_nm,
            letters_nm(subject.letters, room_nm, high_nm * 40 // 100, 2 * NM_PER_MM),
            lines_nm,
        )
        for spot, subject in zip(spots, subjects, strict=True)
    ]


def code_side_nm(sheet: LabelSheet) -> int:
    """The side [nm] of the code on a label, its white edge with it: as high as the label, and room for the letters."""
    return min(sheet.height_nm - 2 * EDGE_NM, (sheet.width_nm - 2 * EDGE_NM) * 45 // 100)


def _pieces(connection: Connection, build_id: int) -> list[Any]:
    """Pieces that exist, scrap and all: a scrap one may want a label so that nobody takes it for a good one."""
    return list(
        connection.execute(
            select(
                PieceState.piece_id.label("id"),  # type: ignore[attr-defined]
                PieceState.part_id,
                PieceState.mark,
                PieceState.hand,
                PieceState.state,
                Part.number,
                Part.name,
            )
            .join(Part, Part.id == PieceState.part_id)
            .where(PieceState.build_id == build_id, PieceState.state != "entered by mistake")
            .order_by(PieceState.piece_id)
        )
    )


def _operations(connection: Connection, build_id: int) -> list[Any]:
    return list(
        connection.execute(
            select(
                Operation.id,
                Operation.part_id,
                Operation.number,
                Operation.name,
                Operation.machine,
                Operation.work_offset,
                Part.number.label("part_number"),  # type: ignore[attr-defined]
                Part.name.label("part_name"),  # type: ignore[attr-defined]
            )
            .join(Part, Part.id == Operation.part_id)
            .where(Part.build_id == build_id, Operation.retired_at.is_(None))  # type: ignore[union-attr]
            .order_by(Part.id, Operation.number)
        )
    )


def _by_part(rows: list[Any]) -> dict[int, list[Any]]:
    found: dict[int, list[Any]] = {}
    for row in rows:
        found.setdefault(row.part_id, []).append(row)
    return found


def _piece_subjects(connection: Connection, build_id: int, ids: list[int]) -> list[Subject]:
    rows = {row.id: row for row in _pieces(connection, build_id)}
    return [
        Subject(
            f"/m/p/{row.id}",
            row.mark,
            (f"{row.number} {row.name}", *([f"{row.hand}-handed"] if row.hand != "none" else [])),
        )
        for row in _chosen("piece", ids, rows)
    ]


def _operation_subjects(connection: Connection, build_id: int, ids: list[int]) -> list[Subject]:
    rows = {row.id: row for row in _operations(connection, build_id)}
    return [
        Subject(
            f"/m/o/{row.id}",
            f"{row.part_number} op {row.number}",
            (row.name, " · ".join(filter(None, (row.part_name, row.machine, row.work_offset)))),
        )
        for row in _chosen("operation", ids, rows)
    ]


def _chosen(field: str, ids: list[int], rows: dict[int, Any]) -> list[Any]:
    for each in ids:
        if each not in rows:
            raise Refused(Problem(field, str(each), f"this build has no such {field}", f"a {field} of this build"))
    return [rows[each] for each in ids]
