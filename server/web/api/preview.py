"""Reading a sheet without taking it: what would be loaded, and every cell that stands in the way."""

from __future__ import annotations

from typing import Annotated, Any

from fastapi import APIRouter, Depends, Request

from server.records.load_plan import Preview, SheetRequest, preview
from server.records.plan_fields import fields_of
from server.web.api.body import json_body

router = APIRouter(prefix="/api", tags=["reading"])

SHOWN_ROWS = 200


@router.post("/preview-sheet", summary=SheetRequest.title)
def preview_sheet(request: Request, data: Annotated[Any, Depends(json_body)]) -> dict[str, Any]:
    asked = SheetRequest.read(data)
    with request.app.state.database.read() as connection:
        return _as_json(preview(connection, asked))


def _as_json(found: Preview) -> dict[str, Any]:
    """Cells as they stand in the sheet, problems by line and column, and what the headings were taken for."""
    placement, rows = found.placement, found.rows
    problems = rows.problems if rows else ()
    # Every row with a problem is shown, however far down it stands; of the others the first ones are enough.
    wrong = {each.line for each in problems}
    shown = [row for place, row in enumerate(found.sheet.rows) if place < SHOWN_ROWS or row.line in wrong]
    return {
        "kind": found.kind,
        "can_be_taken": found.can_be_taken,
        "notes": [note.text for note in rows.notes] if rows else list(found.sheet.notes),
        "headings": [
            {"index": index, "heading": heading, "field": _field(placement, index)}
            for index, heading in enumerate(found.sheet.headings)
        ],
        "unplaced": [each.index for each in placement.unplaced] if placement else [],
        "duplicates": [
            {"field": each.field, "columns": [column.index for column in each.columns]}
            for each in (placement.duplicates if placement else ())
        ],
        "missing": list(placement.missing) if placement else [],
        "changes": [
            {"line": row.line, "what": f"{row.part_number} {row.number} {row.name}", "said": each.said}
            for each in found.changes
            if each.said
            for row in (each.row,)
        ],
        "counts": {word: sum(each.what == word for each in found.changes) for word in ("new", "changed", "unchanged")},
        "fields": [
            {"name": field.name, "label": field.label} for field in (fields_of(found.kind) if found.kind else ())
        ],
        "row_count": len(found.sheet.rows),
        "rows": [{"line": row.line, "cells": list(row.cells)} for row in shown],
        "problems": [
            {
                "line": each.line,
                "column": each.column_index,
                "heading": each.heading,
                "read": each.read,
                "why": each.why,
                "accepts": each.accepts,
            }
            for each in problems
        ],
    }


def _field(placement: Any, index: int) -> str:
    if placement is None:
        return ""
    return next((column.field for column in placement.columns if column.index == index), "")
