from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from server.trade.errors import Impossible, OutOfRange, TradeError, Unreadable
from server.trade.length import NM_PER_IN, parse_length
from server.trade.thread_designation import (
    Cutting,
    ThreadDesignation,
    parse_thread,
    parse_thread_requirement,
    thread_limits,
)
from server.trade.thread_metric import COARSE_NM, FINE_NM


@pytest.mark.parametrize(
    ("text", "read"),
    [
        ("M8", "M8×1.25"), ("m8", "M8×1.25"), ("M8x1", "M8×1"), ("M8×1-6g", "M8×1-6g"), ("M8X1 6g", "M8×1-6g"),
        ("M8-6H", "M8×1.25-6H"), ("M8-1.25", "M8×1.25"), ("M8-1.25-6g", "M8×1.25-6g"), ("M1,6", "M1.6×0.35"),
        ("M9×0.9", "M9×0.9"), ("M10×1-5g6g", "M10×1-5g6g"), ("M8×1-6g-LH", "M8×1-6g-LH"),
        ("M8 × 1 - 6g LH", "M8×1-6g-LH"), ("1/4-20 UNC-2A", "1/4-20 UNC-2A"), ("1/4-20UNC-2A", "1/4-20 UNC-2A"),
        ("1/4-20-2B", "1/4-20 UNC-2B"), ("1/4-20 UNC 2B", "1/4-20 UNC-2B"), ("1/4-20 unc-2b", "1/4-20 UNC-2B"),
        ('1/4"-20', "1/4-20 UNC"), ("¼-20", "1/4-20 UNC"), ("#10-32 UNF-2A", "#10-32 UNF-2A"),
        ("No. 10-32", "#10-32 UNF"), ("10-32", "#10-32 UNF"), ("8-32", "#8-32 UNC"), ("0-80", "#0-80 UNF"),
        ("1-72", "#1-72 UNF"), ("1-8", "1-8 UNC"), ("1 - 12", "1-12 UNF"), ("4-40", "#4-40 UNC"),
        ("4-20 UN", "4-20 UN"), ("3-4 UNC", "3-4 UNC"), (".250-20 UNC-3A", "1/4-20 UNC-3A"),
        ("0.4-32 UNS", "0.4-32 UNS"), ("0.4-32", "0.4-32 UNS"), ("1 1/4-7 UNC", "1 1/4-7 UNC"),
        ("1-1/4-7", "1 1/4-7 UNC"), ("2-4.5 UNC", "2-4.5 UNC"), ("2-4 1/2 UNC", "2-4.5 UNC"),
        ("2 1/2-12 UN", "2 1/2-12 UN"), ("1 1/16-8 8UN-2A", "1 1/16-8 UN-2A"), ("1 1/16-8 8-UN", "1 1/16-8 UN"),
        ("1/4-20 UNRC-2A", "1/4-20 UNC-2A"), ("1/4-20 UNS-2A", "1/4-20 UNS-2A"), ("#10-12", "#10-12 UNS"),
        ("1-14 UNS", "1-14 UNS"), ("10-36 UNS-2A", "#10-36 UNS-2A"), ("4.0-36 UNS", "4.0-36 UNS"),
        ("#4-36", "#4-36 UNS"),
        ("1/4–20 UNC−2A", "1/4-20 UNC-2A"),
    ],
)  # fmt: skip
def test_threads_are_read_as_drawings_write_them(text: str, read: str) -> None:
    found = parse_thread(text)
    assert found is not None
    assert found.text == read


@pytest.mark.parametrize(
    "text",
    [
        "", "mild steel", "25 g6", "25 ±0.02", "10-12", "3-4", "5-6", "4-4", "1.5-6", "2.5-4", "6.3-6.4", "0.5-2",
        "0.5-6", "1/4-3/8", "24.98 to 25", "max 0.8", "25-26", "(30)", "Ø8 H7", "0-0", "12.7-13", "mm", "10", "5/8",
        "H7", "7-20", "1/0-20",
        "1/3-20", "0.33333333333-20", "0/00-0.5",
        "M8 1 off, in the bracket that carries the drum, threaded right through",
    ],
)  # fmt: skip
def test_what_has_no_thread_shape_is_no_thread(text: str) -> None:
    assert parse_thread(text) is None


@pytest.mark.parametrize(
    ("text", "error", "says"),
    [
        ("M15", Unreadable, "no coarse pitch for 15 mm"),
        ("M0", OutOfRange, "more than nothing"),
        ("M8x0", OutOfRange, "more than nothing"),
        ("M8x25", Impossible, r"up to 3\.695 mm"),
        ("M8x1x25", Unreadable, "cannot be read"),
        ("M6 screw", Unreadable, "cannot be read"),
        ("M8.0000001x1", Unreadable, "millionth"),
        ("M8-9z", Unreadable, "9z: it is not a tolerance class.*4h6h"),
        ("M8-6E", Unreadable, "not a tolerance class"),
        ("1/4-20-4A", Unreadable, "4A is not a class.*1A, 2A, 3A"),
        ("1/4-20 UNF", Impossible, "1/4-20 is UNC, not UNF"),
        ("1-8 8UN", Impossible, "1-8 is UNC, not UN"),
        ("1 1/16-8 6UN", Unreadable, "6UN is not a series"),
        ("1/4-20 UNX", Unreadable, "UNX is not a series.*UNEF"),
        ("1/4-20 UNJ", Unreadable, "UNJ is not a series"),
        ("#11-32", Unreadable, "#10, #12"),
        ("#1/4-20", Unreadable, "#1/4 is not a numbered size"),
        ("#10-0", Unreadable, "no threads per inch"),
        ("#10-32 UNF and more", Unreadable, "cannot be read"),
        ("4-36 UNS", Unreadable, r"#4-36 or 4\.0-36"),
        ("1/0-20 UNC", Unreadable, "no fraction of an inch"),
        ("1/3-20 UNS", Unreadable, "halves to 64ths"),
        ("1/4-4 UNS", Impossible, "threads per inch or finer"),
        ("0.33333333333-20 UNS", Unreadable, "no whole number of nanometres"),
    ],
)
def test_a_thread_that_is_not_right_is_told_why(text: str, error: type[TradeError], says: str) -> None:
    with pytest.raises(error, match=says) as caught:
        parse_thread(text, field="dimension")
    assert caught.value.field == "dimension"


@given(st.text(max_size=30))
def test_any_text_is_a_thread_or_none_or_told(text: str) -> None:
    try:
        found = parse_thread(text)
    except TradeError:
        return
    assert found is None or found.nominal_nm > 0


@given(
    st.from_regex(r"(M[0-9]{1,2}|#?[0-9]{1,2}|[0-9]/[0-9])[-x][0-9]{1,2}( UN[CFSEJR]?)?(-[0-9][ABgH])?", fullmatch=True)
)
def test_what_was_read_is_read_the_same_again(text: str) -> None:
    try:
        found = parse_thread(text)
    except TradeError:
        return
    assert found is None or parse_thread(found.text) == found


@given(st.sampled_from(sorted(COARSE_NM)))
def test_a_coarse_pitch_may_be_left_out(size: int) -> None:
    bare = parse_thread(f"M{size / 1e6:g}")
    assert bare is not None
    assert bare == parse_thread(f"M{size / 1e6:g}×{COARSE_NM[size] / 1e6:g}")
    assert bare.series == "coarse"


def test_a_fine_pitch_is_known_as_such() -> None:
    for size, pitches in FINE_NM.items():
        for pitch in pitches:
            found = parse_thread(f"M{size / 1e6:g}×{pitch / 1e6:g}")
            assert found is not None
            assert found.series == "fine"


def test_inch_pitches_are_kept_exactly() -> None:
    found = parse_thread("1/4-28")
    assert found is not None
    assert found.pitch_nm * 28 == NM_PER_IN


@pytest.mark.parametrize(
    ("text", "internal"), [("M8-6g", False), ("M8-6G", True), ("M8", None), ("1/4-20-2A", False), ("1/4-20-2B", True)]
)
def test_the_class_tells_screw_from_nut(text: str, internal: bool | None) -> None:
    found = parse_thread(text)
    assert found is not None
    assert found.internal is internal


def test_limits_are_asked_for_by_text_or_by_designation() -> None:
    found = parse_thread("M8×1-6g")
    assert isinstance(found, ThreadDesignation)
    assert thread_limits(found) == thread_limits("M8×1-6g")
    assert thread_limits("M8×1-6g").designation == "M8×1-6g"
    assert thread_limits("M8×1-6g").standard == "ISO 965-1:1998"
    assert thread_limits("#10-32 UNF-2A").standard == "ASME B1.1-2003"


def test_left_hand_threads_have_the_same_limits() -> None:
    assert thread_limits("M8×1-6g-LH").pitch_low_nm == thread_limits("M8×1-6g").pitch_low_nm


@pytest.mark.parametrize(
    ("text", "internal", "taken"),
    [("M8", True, "6H"), ("M8", False, "6g"), ("M1", True, "5H"), ("1/4-20", True, "2B"), ("1/4-20", False, "2A")],
)
def test_the_class_taken_where_none_is_written_is_told(text: str, internal: bool, taken: str) -> None:
    found = thread_limits(text, internal=internal)
    assert found.note == f"no class was given; {taken} taken"
    assert found.designation.endswith(taken)
    assert found.internal is internal


@pytest.mark.parametrize(
    ("text", "internal", "error", "says"),
    [
        ("M8", None, Unreadable, "no class is given.*6g.*6H"),
        ("1/4-20", None, Unreadable, "no class is given.*2A.*2B"),
        ("M8-6g", True, Impossible, "6g is an external class"),
        ("1/4-20-2B", False, Impossible, "2B is an internal class"),
        ("steel", None, Unreadable, "it is not a thread"),
        ("M500×6", False, OutOfRange, "M1 to M355"),
        ("7.0-8 UN-2A", None, Impossible, "UNS"),
        ("7.0-8 UNS-2A", None, OutOfRange, "6 in"),
    ],
)
def test_limits_that_cannot_be_had_are_told(
    text: str, internal: bool | None, error: type[TradeError], says: str
) -> None:
    with pytest.raises(error, match=says) as caught:
        thread_limits(text, internal=internal)
    assert caught.value.field == "thread"


def test_a_requirement_is_for_the_pitch_diameter() -> None:
    assert parse_thread_requirement("M8×1-6g", "mm", "smaller") == (
        parse_length("7.350"),
        parse_length("7.212"),
        parse_length("7.324"),
        "ISO 965-1:1998, pitch diameter of M8×1-6g",
    )
    nominal, low, high, standard = parse_thread_requirement("1/2-13", "mm", "smaller") or (0, 0, 0, "")
    assert (low, high) == (parse_length("0.4435 in"), parse_length("0.4485 in"))
    assert nominal == parse_length("0.4500 in")
    assert standard == "ASME B1.1-2003, pitch diameter of 1/2-13 UNC-2A (no class was given; 2A taken)"


def test_the_unit_of_the_sheet_changes_no_thread() -> None:
    for text in ("M8-6H", "1/4-20-2B", ".250-20 UNC-2B"):
        assert parse_thread_requirement(text, "mm", "larger") == parse_thread_requirement(text, "in", "larger")


def test_what_is_no_thread_is_no_requirement_of_one() -> None:
    assert parse_thread_requirement("25 ±0.02", "mm", "smaller") is None


@pytest.mark.parametrize(
    ("text", "cutting", "error", "says"),
    [
        ("M8-6g", "larger", Impossible, "an internal thread is wanted"),
        ("1/4-20-2B", "smaller", Impossible, "an external thread is wanted"),
        ("M8", "neither", Unreadable, "no class is given"),
        ("M8-5h", "smaller", OutOfRange, "5h6h"),
    ],
)
def test_a_requirement_that_cannot_be_is_told_at_its_text(
    text: str, cutting: Cutting, error: type[TradeError], says: str
) -> None:
    with pytest.raises(error, match=says) as caught:
        parse_thread_requirement(text, "mm", cutting)
    assert caught.value.field == "text"
