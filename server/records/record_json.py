"""A record as JSON, whole: every field of server.records.record_values under its own name.

A length is there twice: `value_nm` is the integer of nanometres, `value_mm` beside it the same as an exact decimal text
of millimetres. Times are ISO 8601 in UTC. record.schema.json beside this file says what each field means.
"""

from __future__ import annotations

import dataclasses
import json
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from server.records.record_values import Record
from server.trade.length import format_length

SCHEMA = Path(__file__).with_name("record.schema.json")
FORMAT = "matchmark record"
VERSION = 1


def as_json(record: Record) -> str:
    """The record as a JSON text that record.schema.json describes."""
    return json.dumps({"format": FORMAT, "version": VERSION, **_plain(record)}, ensure_ascii=False, indent=1)


def _plain(value: Any) -> Any:
    if dataclasses.is_dataclass(value):
        fields: dict[str, Any] = {}
        for field in dataclasses.fields(value):
            held = getattr(value, field.name)
            fields[field.name] = _plain(held)
            if field.name.endswith("_nm"):
                millimetres = field.name.removesuffix("_nm") + "_mm"
                fields[millimetres] = None if held is None else format_length(held, "mm")
        return fields
    if isinstance(value, tuple):
        return [_plain(each) for each in value]
    if isinstance(value, datetime):
        return value.astimezone(UTC).isoformat().replace("+00:00", "Z")
    return value
