"""A sheet as it comes: bytes or pasted text in, headings and rows of cells out.

The quoting examples are RFC 4180 (October 2005), section 2: rule 1 found in the RFC's text, rules 6 and 7 from memory.
"""

from __future__ import annotations

import csv
import io
import zipfile
from pathlib import Path

import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from server.records.sheet import MAX_BYTES, MAX_LINES, MAX_ROWS, NotASheet, read_sheet

SHEETS = Path(__file__).parent / "sheets"


def refused(data: bytes | str) -> NotASheet:
    with pytest.raises(NotASheet) as told:
        read_sheet(data)
    return told.value


def cells(data: bytes | str) -> list[tuple[str, ...]]:
    sheet = read_sheet(data)
    return [sheet.headings, *(row.cells for row in sheet.rows)]


# Encodings


def test_a_file_with_a_byte_order_mark_and_crlf_is_read_as_utf_8() -> None:
    data = (SHEETS / "dimensions.csv").read_bytes()
    assert data.startswith(b"\xef\xbb\xbf")
    assert b"\r\n" in data
    sheet = read_sheet(data)
    assert (sheet.encoding, sheet.delimiter, sheet.heading_line) == ("utf-8", ",", 1)
    assert sheet.headings[0] == "Part"
    assert sheet.rows[0].cells[3] == "210 ±0.03"
    assert sheet.notes == ()


def test_a_file_in_a_windows_code_page_is_read_and_the_builder_is_told() -> None:
    data = (SHEETS / "operations.csv").read_bytes()
    with pytest.raises(UnicodeDecodeError):
        data.decode("utf-8")
    sheet = read_sheet(data)
    assert (sheet.encoding, sheet.delimiter) == ("cp1252", ";")
    assert sheet.rows[1].cells[6] == "Ø8 drill, boring head"
    assert len(sheet.notes) == 1
    assert "1252" in sheet.notes[0]


@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16", "cp1252"])
def test_the_same_sheet_reads_the_same_in_every_encoding(encoding: str) -> None:
    text = 'Part,Requirement\r\nCR,"31,95 ±0,01"\r\nBB,Ø18 ½\r\n'
    assert cells(text.encode(encoding)) == cells(text)


def test_utf_16_of_either_byte_order_is_read_by_its_mark() -> None:
    text = "\ufeffPart\tNo.\nCR\t1 ±\n"
    for encoding in ("utf-16-le", "utf-16-be"):
        sheet = read_sheet(text.encode(encoding))
        assert sheet.encoding == "utf-16"
        assert sheet.rows[0].cells == ("CR", "1 ±")


def test_bytes_that_are_no_letters_in_any_encoding_taken_are_told_with_their_place() -> None:
    told = refused(b"Part,No.\nCR,\x81\xff\n")
    assert "0x81" in told.read
    assert "13" in told.read


def test_a_mark_that_says_utf_8_before_bytes_that_are_not_is_refused_and_not_guessed_at() -> None:
    assert "UTF-8" in refused(b"\xef\xbb\xbfPart,No.\nCR,\xb1\n").why
    assert "UTF-16" in refused(b"\xff\xfeP").why


# Delimiters, quoting, lines


def test_a_paste_has_tabs() -> None:
    sheet = read_sheet("Part\tNo.\tWhat\nCR\t1\tBore, plain end; reamed\n")
    assert (sheet.encoding, sheet.delimiter) == ("text", "\t")
    assert sheet.rows[0].cells == ("CR", "1", "Bore, plain end; reamed")


def test_commas_inside_cells_do_not_outvote_semicolons_between_them() -> None:
    data = "Teil;Was, wo, wie;Bemerkung\nCR;Drill, bore, ream, face;a, b, c\nBB;Face, turn;d\n"
    assert read_sheet(data).delimiter == ";"


def test_headings_known_here_settle_the_delimiter() -> None:
    assert read_sheet("Part,No.,What; where\nCR,1,a,b,c; d\nBB,1; e\n").delimiter == ","


def test_rfc_4180_rule_1_records_on_separate_lines() -> None:
    assert cells(b"aaa,bbb,ccc\r\nzzz,yyy,xxx\r\n") == [("aaa", "bbb", "ccc"), ("zzz", "yyy", "xxx")]


def test_rfc_4180_rule_6_line_breaks_inside_quotation_marks() -> None:
    assert cells(b'"aaa","b\r\nbb","ccc"\r\nzzz,"y\r\nyy",xxx') == [("aaa", "b bb", "ccc"), ("zzz", "y\nyy", "xxx")]


def test_rfc_4180_rule_7_doubled_quotation_marks() -> None:
    assert cells(b'x,y,z\r\n"aaa","b""bb","ccc"') == [("x", "y", "z"), ("aaa", 'b"bb', "ccc")]


def test_an_inch_mark_that_does_not_begin_a_cell_is_kept() -> None:
    assert cells('Part;Requirement\nCR;1 1/4" ±.005\n')[1] == ("CR", '1 1/4" ±.005')


def test_a_row_keeps_the_line_its_first_cell_stands_on() -> None:
    sheet = read_sheet('Part,What\nCR,"Bore\nand ream"\n\n,\nBB,Face\n')
    assert [row.line for row in sheet.rows] == [2, 6]
    assert sheet.rows[0].cells[1] == "Bore\nand ream"


def test_rows_with_nothing_in_them_are_skipped_even_before_the_headings() -> None:
    sheet = read_sheet("\n,,\n \u00a0,\nPart,No.\n,\nCR,1\n")
    assert sheet.heading_line == 4
    assert [(row.line, row.cells) for row in sheet.rows] == [(6, ("CR", "1"))]


def test_cells_lose_the_spaces_around_them_and_no_break_spaces_become_plain() -> None:
    assert cells("Part , No.\n\u00a0CR\u00a0Coupling rod \u202f,\ufeff 1\u200b\n")[1] == ("CR Coupling rod", "1")


def test_a_short_row_is_filled_up_and_a_long_one_is_told() -> None:
    sheet = read_sheet("Part,No.,What\nCR\nBB,1,Bore,,left over\nBU,1,Bore,,\n")
    assert sheet.rows[0].cells == ("CR", "", "")
    assert sheet.rows[1].cells == ("BB", "1", "Bore")
    assert sheet.rows[1].extra == ("", "left over")
    assert sheet.rows[2].extra == ()
    assert sheet.notes == ("Rows with more cells than there are headings, by line: 3",)


def test_a_cell_that_is_one_inch_mark_in_a_paste_does_not_swallow_the_rows_after_it() -> None:
    rows = ["Part\tRequirement\tUnit\tOp", 'CR\t1.25 ±.005\t"\t10', 'CR\t.5 ±.005\t"\t20']
    expected = [tuple(row.split("\t")) for row in rows]
    assert cells("\n".join(rows)) == expected
    assert cells("\n".join([*rows, 'CR\t.75 ±.005\t"\t30']))[1:3] == expected[1:]


def test_a_quoted_cell_of_a_paste_keeps_its_line_break() -> None:
    assert cells('Part\tWhat\nCR\t"Bore\n1 1/4"" deep"\n')[1] == ("CR", 'Bore\n1 1/4" deep')


def test_a_quotation_never_closed_in_a_csv_is_told_at_the_row_it_opens_in() -> None:
    told = refused('Part,What\nCR,Bore\nBB,"Face\nBU,Turn\n')
    assert told.read == "line 3"
    assert "quotation mark" in told.why


# What is not a sheet


@pytest.mark.parametrize("nothing", [b"", "", b"\xef\xbb\xbf", b"\xff\xfe", " \n\t\r\n", b",,,\n,,\n", "\u00a0"])
def test_nothing_is_refused(nothing: bytes | str) -> None:
    assert "nothing in it" in refused(nothing).why


def test_headings_alone_are_refused() -> None:
    assert "no row under them" in refused("Part,No.,What\n\n").why


def test_a_workbook_file_is_refused_with_what_to_do_instead() -> None:
    buffer = io.BytesIO()
    with zipfile.ZipFile(buffer, "w") as archive:
        archive.writestr("content.xml", "<table/>")
    told = refused(buffer.getvalue())
    assert "workbook" in told.why
    assert told.accepts == "save it as CSV, or copy the cells and paste them"


@pytest.mark.parametrize(
    ("first", "what"),
    [
        (b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1", "workbook"),
        (b"%PDF-1.7\n", "PDF"),
        (b"\x89PNG\r\n\x1a\n", "picture"),
        (b"\xff\xd8\xff\xe0", "picture"),
        (b"\x1f\x8b\x08", "compressed"),
        (b"{\\rtf1 Part,No.\nCR,1", "document"),
    ],
)
def test_other_files_are_named_for_what_they_are(first: bytes, what: str) -> None:
    assert what in refused(first + b"rest").why


def test_zero_bytes_are_not_text() -> None:
    assert "not text" in refused(b"Part,No.\nCR,\x00\n").why
    assert "not text" in refused("Part,No.\nCR,1".encode("utf-16-le")).why  # no byte-order mark


def test_half_a_character_in_a_paste_is_refused() -> None:
    assert "half of a character" in refused("Part,No.\nCR,\ud800\n").why


def test_a_single_column_is_a_sheet_only_under_a_heading_known_here() -> None:
    assert "single column" in refused("Dear builder\nthe rods are ready\n").why
    sheet = read_sheet("Part\nCR\nBB\n")
    assert sheet.delimiter == ""
    assert [row.cells for row in sheet.rows] == [("CR",), ("BB",)]


def test_the_last_row_allowed_is_read_and_one_more_is_refused_with_the_count() -> None:
    row = "CR,1,Bore,18 ±0.01\n"
    assert len(read_sheet("Part,No.,What,Requirement\n" + row * MAX_ROWS).rows) == MAX_ROWS
    told = refused("Part,No.,What,Requirement\n" + row * (MAX_ROWS + 1))
    assert told.read == "5,001 rows"
    assert "5,000" in told.why
    assert refused("Part,No.,What,Requirement\n" + row * 50_000).read == "50,000 rows"
    assert refused("Part,No.\n" + ",\n" * MAX_LINES).read == "more than 100,000 lines"


def test_empty_rows_do_not_count_towards_the_limit() -> None:
    assert len(read_sheet("Part,No.\n" + ",\n" * (MAX_ROWS + 1) + "CR,1\n").rows) == 1


def test_size_is_counted_in_bytes_for_files_and_pastes_alike() -> None:
    assert "5,000,001" in refused(b"x" * (MAX_BYTES + 1)).why
    assert "6,000,000" in refused("é" * 3_000_000).why


def test_more_columns_than_a_plan_can_have_are_refused() -> None:
    assert refused("a," * 300 + "a\n1,2\n").read == "301 cells on line 1"


@given(st.binary(max_size=300))
@example(b"\xff\xfe\x00\xd8")
@example(b'Part,No.\n"')
@example(b"Part\r\r\nCR")
def test_any_bytes_are_a_sheet_or_kindly_refused(data: bytes) -> None:
    told: NotASheet | None = None
    try:
        sheet = read_sheet(data)
    except NotASheet as error:
        told = error
    if told is None:
        assert all(len(row.cells) == len(sheet.headings) for row in sheet.rows)
    else:
        assert all((told.read, told.why, told.accepts))


@given(st.text(alphabet=st.sampled_from('Part No.\t;,"\r\n\u00a0±\ufeff\ud800\x00\x1a12'), max_size=120))
def test_any_paste_is_a_sheet_or_kindly_refused(text: str) -> None:
    try:
        sheet = read_sheet(text)
    except NotASheet:
        return
    lines = [row.line for row in sheet.rows]
    assert lines == sorted(set(lines))
    assert lines[0] > sheet.heading_line
    assert all(any(row.cells) or row.extra for row in sheet.rows)


_words = st.text(alphabet=st.sampled_from('abcØ±12,;"\n '), max_size=12).map(
    lambda text: "\n".join(" ".join(line.split()) for line in text.strip().split("\n")).strip()
)


@given(
    st.lists(st.tuples(_words, _words, _words).filter(any), min_size=1, max_size=8),
    st.sampled_from([",", ";", "\t"]),
    st.sampled_from(["\n", "\r\n"]),
)
def test_what_the_standard_library_writes_is_read_back_whatever_is_in_the_cells(
    rows: list[tuple[str, str, str]], delimiter: str, end: str
) -> None:
    buffer = io.StringIO()
    writer = csv.writer(buffer, delimiter=delimiter, lineterminator=end)
    writer.writerows([("Part", "No.", "What"), *rows])
    assert cells(buffer.getvalue().encode("utf-8")) == [("Part", "No.", "What"), *rows]
