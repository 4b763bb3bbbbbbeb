"""A builder's sheet as it comes: bytes of a file or pasted text in, headings and rows of cells out.

Nothing here knows what the cells mean. Quoting follows RFC 4180 (section 2, rules 5 to 7); the delimiter, which the
RFC fixes as a comma, is taken from the evidence, because a spreadsheet set to decimal commas writes semicolons and a
paste has tabs.
"""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Iterator
from dataclasses import dataclass

from server.records.plan_columns import is_known
from server.trade.errors import Unreadable

MAX_ROWS = 5_000
MAX_BYTES = 5_000_000
MAX_COLUMNS = 200
MAX_LINES = 100_000  # empty ones counted: past it rows are no longer even counted

ACCEPTED = (
    f"a CSV file (commas, semicolons or tabs) or cells copied from a spreadsheet, headings in the first row, "
    f"up to {MAX_ROWS:,} rows and {MAX_BYTES // 1_000_000} MB"
)

_DELIMITERS = {"\t": "tabs", ";": "semicolons", ",": "commas"}  # in the order that settles a draw
_SAVE_AS_CSV = "save it as CSV, or copy the cells and paste them"
_FEWER_ROWS = "the plan's rows alone, in several sheets if need be"
_FIRST_BYTES = (
    (b"PK\x03\x04", "a workbook file or other zip archive", _SAVE_AS_CSV),
    (b"PK\x05\x06", "an empty zip archive", _SAVE_AS_CSV),
    (b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1", "a workbook file of the older kind", _SAVE_AS_CSV),
    (b"%PDF", "a PDF document", "open the sheet it was made from and save that as CSV"),
    (b"{\\rtf", "a word processor's document", "copy the table into a spreadsheet and save it as CSV"),
    (b"\x89PNG", "a picture", "type the table into a spreadsheet and save it as CSV"),
    (b"\xff\xd8\xff", "a picture", "type the table into a spreadsheet and save it as CSV"),
    (b"GIF8", "a picture", "type the table into a spreadsheet and save it as CSV"),
    (b"\x1f\x8b", "a compressed file", "unpack it and load the CSV file inside"),
)
_SOMETHING = re.compile(r'[^\s,;"\ufeff\u200b-\u200d\u2060]')
_INVISIBLE = str.maketrans(dict.fromkeys("\ufeff\u200b\u200c\u200d\u2060", ""))
_ODD_SPACES = str.maketrans(dict.fromkeys("\u00a0\u2007\u2009\u202f", " "))


class NotASheet(Unreadable):
    """What was given cannot be read as a sheet of headings and rows; nothing of it was taken."""

    def __init__(self, read: object, why: str, accepts: str = ACCEPTED) -> None:
        super().__init__("sheet", read, why, accepts)


@dataclass(frozen=True, slots=True)
class SheetRow:
    """One row that has something in it.

    line   line of the file its first cell stands on, counted from 1
    cells  as many as there are headings; what the row lacks is ""
    extra  cells beyond the last heading, when any of them holds something
    """

    line: int
    cells: tuple[str, ...]
    extra: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Sheet:
    """Headings and rows, with how they were read.

    encoding      "utf-8", "utf-16", "cp1252" or "text" (pasted)
    delimiter     tab, ";" or ","; "" for a sheet of one column
    heading_line  line of the file the headings stand on, counted from 1
    notes         what the builder should know of the reading, sentences without a full stop
    """

    encoding: str
    delimiter: str
    headings: tuple[str, ...]
    heading_line: int
    rows: tuple[SheetRow, ...]
    notes: tuple[str, ...]


def read_sheet(data: bytes | str) -> Sheet:
    """Read a file's bytes, or pasted text, as a sheet.

    Bytes are decoded as UTF-16 or UTF-8 by their byte-order mark, else as UTF-8, else as Windows code page 1252.
    Cells lose the spaces around them (no-break spaces too); rows with nothing in them are skipped.

    Raises NotASheet, and nothing else, for anything that is not a sheet or is larger than MAX_ROWS, MAX_COLUMNS or
    MAX_BYTES [bytes].
    """
    text, encoding = (_checked_text(data), "text") if isinstance(data, str) else _decoded(data)
    if not _SOMETHING.search(text):
        raise NotASheet("nothing", "there is nothing in it")
    if "\0" in text:
        raise NotASheet("a zero byte", "it is not text", f"{ACCEPTED}. If it is a workbook, {_SAVE_AS_CSV}")
    delimiter = _delimiter_of(text)
    try:
        headings, heading_line, rows = _gathered(text, delimiter, quoted=True)
    except _BadQuotesError as bad:
        if delimiter != "\t":
            raise NotASheet(
                f"line {bad.line}",
                "a cell in this row begins with a quotation mark and has no closing one where the cell ends",
                'quotation marks in a cell written twice and the cell put in quotation marks ("1 1/4"" ±.005")',
            ) from None
        # A paste carries inch marks as they are: a cell that is one inch mark opens no quotation.
        headings, heading_line, rows = _gathered(text, delimiter, quoted=False)
    if not rows:
        raise NotASheet(", ".join(headings)[:80], "there are headings and no row under them")
    if len(headings) == 1 and not is_known(headings[0]) and not any(row.extra for row in rows):
        raise NotASheet(
            headings[0][:80],
            "it is a single column, with no tabs, semicolons or commas, and its first line is no heading known here",
        )
    return Sheet(
        encoding=encoding,
        delimiter=delimiter if len(headings) > 1 else "",
        headings=headings,
        heading_line=heading_line,
        rows=rows,
        notes=_notes(encoding, rows),
    )


def _checked_text(text: str) -> str:
    if len(text) > MAX_BYTES or len(text.encode("utf-8", "replace")) > MAX_BYTES:
        raise _too_large(len(text.encode("utf-8", "replace")))
    try:
        text.encode("utf-8")
    except UnicodeEncodeError as error:
        raise NotASheet(ascii(text[error.start]), "it holds half of a character") from None
    return text.removeprefix("\ufeff")


def _too_large(size: int) -> NotASheet:
    return NotASheet(
        f"{size / 1_000_000:.1f} MB",
        f"it is larger than a sheet may be: {size:,} bytes were found and the limit is {MAX_BYTES:,}",
        _FEWER_ROWS,
    )


def _decoded(data: bytes) -> tuple[str, str]:
    """The text of a file and the encoding it was read by."""
    for first, what, instead in _FIRST_BYTES:
        if data.startswith(first):
            raise NotASheet(f"a file that begins with {ascii(first)[2:-1]}", f"this is {what}", instead)
    if len(data) > MAX_BYTES:
        raise _too_large(len(data))
    by_mark = "utf-16" if data.startswith((b"\xff\xfe", b"\xfe\xff")) else "utf-8"
    try:
        return data.decode("utf-8-sig" if by_mark == "utf-8" else by_mark), by_mark
    except UnicodeDecodeError as error:
        if by_mark == "utf-16" or data.startswith(b"\xef\xbb\xbf"):
            raise NotASheet(
                f"a byte that does not belong, at byte {error.start + 1:,}",
                f"its first bytes say {by_mark.upper()} and the rest is not",
                "the sheet saved again as CSV, UTF-8",
            ) from None
    try:
        return data.decode("cp1252"), "cp1252"
    except UnicodeDecodeError as error:
        raise NotASheet(
            f"byte {data[error.start]:#04x} at byte {error.start + 1:,}",
            "its letters are neither UTF-8 nor Windows code page 1252",
            "the sheet saved again as CSV, UTF-8",
        ) from None


def _clean(cell: str) -> str:
    """The cell without the spaces around it; no-break and thin spaces inside become plain ones."""
    cell = cell.strip() if cell.isascii() else cell.translate(_INVISIBLE).translate(_ODD_SPACES).strip()
    return cell.replace("\r\n", "\n").replace("\r", "\n") if "\r" in cell else cell


def _delimiter_of(text: str) -> str:
    """Tab, semicolon or comma: by the most headings known here, then the most rows as long as the first."""
    sample = text[:65_536]
    if len(text) > len(sample):
        sample = sample[: max(sample.rfind("\n"), sample.rfind("\r")) + 1] or sample
    best, best_score = ",", (-1, -1, -1)
    for delimiter in _DELIMITERS:
        lengths: list[int] = []
        known = 0
        try:
            for row in csv.reader(
                io.StringIO(sample, newline=""), delimiter=delimiter, skipinitialspace=delimiter != "\t"
            ):
                if not any(cell.strip() for cell in row):
                    continue
                if not lengths:
                    known = sum(is_known(_clean(cell)) for cell in row[:MAX_COLUMNS])
                lengths.append(len(row))
                if len(lengths) == 30:
                    break
        except csv.Error:
            pass  # what was counted so far is evidence enough; the full reading will tell what is wrong
        columns = lengths[0] if lengths else 0
        score = (known, sum(length == columns for length in lengths) if columns > 1 else 0, columns)
        if score > best_score:
            best, best_score = delimiter, score
    return best


class _BadQuotesError(Exception):
    """Quotation marks that do not quote; `line` is where the row begins."""

    def __init__(self, line: int) -> None:
        self.line = line
        super().__init__(line)


def _numbered(text: str, delimiter: str, quoted: bool) -> Iterator[tuple[int, list[str]]]:
    """Each row with the line its first cell stands on."""
    reader = csv.reader(
        io.StringIO(text, newline=""),
        delimiter=delimiter,
        skipinitialspace=delimiter != "\t",
        quoting=csv.QUOTE_MINIMAL if quoted else csv.QUOTE_NONE,
        strict=quoted,
    )
    line = 1
    while True:
        try:
            row = next(reader, None)
        except csv.Error as error:
            if quoted and (delimiter == "\t" or "field larger" not in str(error)):
                raise _BadQuotesError(line) from None
            raise NotASheet(
                f"line {line}",
                f"a cell in this row has more than {csv.field_size_limit():,} characters; "
                "a closing quotation mark may be missing",
            ) from None
        if row is None:
            return
        if quoted and delimiter == "\t" and any("\t" in cell for cell in row):
            raise _BadQuotesError(line)  # two inch marks far apart have been taken for one quotation
        if line > MAX_LINES:
            raise NotASheet(
                f"more than {MAX_LINES:,} lines",
                f"it has more rows than a sheet may have: the limit is {MAX_ROWS:,}",
                _FEWER_ROWS,
            )
        yield line, row
        line = reader.line_num + 1


def _gathered(text: str, delimiter: str, quoted: bool) -> tuple[tuple[str, ...], int, tuple[SheetRow, ...]]:
    """The headings, the line they stand on, and the rows."""
    headings: tuple[str, ...] | None = None
    heading_line = 0
    rows: list[SheetRow] = []
    found = 0
    for line, raw in _numbered(text, delimiter, quoted):
        if found >= MAX_ROWS:
            # Past the limit rows are only counted, so that a file far too long is refused at once.
            found += any(cell and not cell.isspace() for cell in raw)
            continue
        cells = [_clean(cell) for cell in raw]
        while cells and not cells[-1]:
            cells.pop()
        if not cells:
            continue
        if len(cells) > MAX_COLUMNS:
            raise NotASheet(f"{len(cells):,} cells on line {line}", f"a row has more than {MAX_COLUMNS} cells")
        if headings is None:
            headings, heading_line = tuple(" ".join(cell.split()) for cell in cells), line
            continue
        found += 1
        width = len(headings)
        padded = (*cells[:width], *("",) * (width - len(cells)))
        rows.append(SheetRow(line, padded, tuple(cells[width:])))
    if found > MAX_ROWS:
        raise NotASheet(
            f"{found:,} rows",
            f"it has more rows than a sheet may have: {found:,} were found and the limit is {MAX_ROWS:,}",
            _FEWER_ROWS,
        )
    if headings is None:
        raise NotASheet("nothing", "there is nothing in it")
    return headings, heading_line, tuple(rows)


def _notes(encoding: str, rows: tuple[SheetRow, ...]) -> tuple[str, ...]:
    notes = []
    if encoding == "cp1252":
        notes.append(
            "The file is not UTF-8 and was read as Windows code page 1252: see whether signs such as ± and Ø are right"
        )
    longer = [row.line for row in rows if row.extra]
    if longer:
        lines = ", ".join(str(line) for line in longer[:10]) + (" and more" if len(longer) > 10 else "")
        notes.append(f"Rows with more cells than there are headings, by line: {lines}")
    return tuple(notes)
