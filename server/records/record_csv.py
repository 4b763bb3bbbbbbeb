"""The readings of a record as CSV, one row a reading, for a spreadsheet or a program.

RFC 4180: commas, CRLF, quotes doubled, one row of headings. The text begins with a byte order mark (U+FEFF): without it
spreadsheets on some systems read ± and µ as two letters each; read it with the encoding "utf-8-sig". Times are ISO 8601
in UTC. Sizes stand twice: in millimetres, exact to the nanometre, and in inches to 9 decimals, which is finer than the
nanometre they stand for and reads back to it. A text that a spreadsheet would take for a formula gets an apostrophe
before it; a plain number, signed or not, is left a number.
"""

from __future__ import annotations

import csv
import io
import re
from datetime import UTC, datetime

from server.records.record_values import PieceTold, ReadingTold, Record
from server.trade.length import format_length

BYTE_ORDER_MARK = "\ufeff"

HEADINGS = (
    "reading",
    "build",
    "part",
    "part name",
    "piece",
    "hand",
    "revision",
    "dimension",
    "dimension name",
    "value mm",
    "value in",
    "typed",
    "typed unit",
    "entered as",
    "verdict",
    "beyond mm",
    "beyond in",
    "verdict now",
    "standing",
    "replaces reading",
    "why replaced",
    "deviation accepted",
    "requirement",
    "requirement unit",
    "kind",
    "cutting",
    "nominal mm",
    "low mm",
    "high mm",
    "nominal in",
    "low in",
    "high in",
    "limits since",
    "gauge",
    "temperature C",
    "operation",
    "run",
    "measured at",
    "received at",
    "who",
)

# What a spreadsheet begins a formula with, in plain and full width; a tab or a return before it is skipped by some.
_FORMULA = re.compile(r"[\s\x00-\x1f]*[=+\-@＝＋－＠]")
_NUMBER = re.compile(r"[+-]?(?:[0-9]+[.,]?[0-9]*|[.,][0-9]+)\Z")


def as_csv(record: Record) -> str:
    """Every reading of the record in the order it was received, piece after piece."""
    out = io.StringIO()
    out.write(BYTE_ORDER_MARK)
    writer = csv.writer(out, lineterminator="\r\n")
    writer.writerow(HEADINGS)
    for piece in record.pieces:
        for reading in piece.readings:
            writer.writerow([_cell(value) for value in _row(record, piece, reading)])
    return out.getvalue()


def _row(record: Record, piece: PieceTold, reading: ReadingTold) -> tuple[object, ...]:
    limits = reading.limits
    return (
        reading.id,
        record.build.name,
        record.part.number,
        record.part.name,
        piece.mark,
        piece.hand,
        piece.revision,
        reading.number,
        reading.name,
        _mm(reading.value_nm),
        _inch(reading.value_nm),
        reading.typed,
        reading.unit,
        reading.entered_as,
        reading.verdict,
        _mm(reading.beyond_nm),
        _inch(reading.beyond_nm),
        reading.verdict_now,
        reading.standing,
        reading.replaces_id,
        reading.replaced.why if reading.replaced else None,
        reading.accepted,
        limits.requirement,
        limits.unit,
        limits.kind,
        limits.cutting,
        _mm(limits.nominal_nm),
        _mm(limits.low_nm),
        _mm(limits.high_nm),
        _inch(limits.nominal_nm),
        _inch(limits.low_nm),
        _inch(limits.high_nm),
        limits.since,
        reading.gauge,
        reading.temperature_c,
        reading.operation_number,
        reading.run_id,
        reading.at,
        reading.received_at,
        reading.who,
    )


def _mm(nm: int | None) -> str | None:
    return None if nm is None else format_length(nm, "mm")


def _inch(nm: int | None) -> str | None:
    if nm is None:
        return None
    text = format_length(nm, "in", 9)
    return text.rstrip("0").rstrip(".")


def _cell(value: object) -> object:
    if isinstance(value, datetime):
        return value.astimezone(UTC).isoformat(timespec="seconds").replace("+00:00", "Z")
    if isinstance(value, str) and _FORMULA.match(value) and not _NUMBER.match(value):
        return "'" + value
    return value
