"""The record of a piece or a part: a page that says what it is, and the files to keep."""

from __future__ import annotations

from typing import Literal

from fastapi import APIRouter, Depends, Request
from fastapi.responses import HTMLResponse, Response

from server.log.entries import the_piece
from server.plan.named import the_build, the_part
from server.records.record import part_record, piece_record
from server.records.record_csv import as_csv
from server.records.record_html import as_html
from server.records.record_json import as_json
from server.records.record_pictures import pictures
from server.records.record_values import Record, file_name
from server.store.photo_files import PhotoFiles
from server.web.pages import page, viewer_unit
from server.web.session import may_write

router = APIRouter()

Ending = Literal["html", "csv", "json"]
_TYPES: dict[Ending, str] = {
    "html": "text/html; charset=utf-8",
    "csv": "text/csv; charset=utf-8",
    "json": "application/json",
}


@router.get("/pieces/{piece_id}/record")
def of_piece(request: Request, piece_id: int) -> HTMLResponse:
    with request.app.state.database.read() as connection:
        piece = the_piece(connection, piece_id)
        part = the_part(connection, piece.part_id)
        build = the_build(connection, piece.build_id)
    return page(request, "record_page.html", build=build, part=part, piece=piece, base=f"/pieces/{piece_id}")


@router.get("/parts/{part_id}/record")
def of_part(request: Request, part_id: int) -> HTMLResponse:
    with request.app.state.database.read() as connection:
        part = the_part(connection, part_id)
        build = the_build(connection, part.build_id)
    return page(request, "record_page.html", build=build, part=part, piece=None, base=f"/parts/{part_id}")


@router.get("/pieces/{piece_id}/record.{ending}", dependencies=[Depends(may_write)])
def piece_file(request: Request, piece_id: int, ending: Ending, keep: bool = False) -> Response:
    with request.app.state.database.read() as connection:
        unit = the_build(connection, the_piece(connection, piece_id).build_id).unit
        record = piece_record(connection, piece_id)
    return _file(request, record, ending, unit, keep)


@router.get("/parts/{part_id}/record.{ending}", dependencies=[Depends(may_write)])
def part_file(request: Request, part_id: int, ending: Ending, keep: bool = False) -> Response:
    with request.app.state.database.read() as connection:
        unit = the_build(connection, the_part(connection, part_id).build_id).unit
        record = part_record(connection, part_id)
    return _file(request, record, ending, unit, keep)


def _file(request: Request, record: Record, ending: Ending, unit: str, keep: bool) -> Response:
    """The file itself; with `keep` the browser puts it away instead of showing it."""
    if ending == "html":
        # Times as the shop's own clock told them, as on every page: the server stands there.
        shown = pictures(record, PhotoFiles(request.app.state.settings))
        body = as_html(record, viewer_unit(request, unit), zone=None, pictures=shown)
    else:
        body = as_csv(record) if ending == "csv" else as_json(record)
    headers = {}
    if ending == "html":
        # It carries its styles inside itself, to be whole without this program.
        headers["Content-Security-Policy"] = "default-src 'none'; style-src 'unsafe-inline'; img-src data:"
    if keep:
        headers["Content-Disposition"] = f'attachment; filename="{file_name(record, ending)}"'
    return Response(body, media_type=_TYPES[ending], headers=headers)
