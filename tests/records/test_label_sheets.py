"""Labels stand inside their paper, beside one another and never on one another."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from server.records.label_sheets import FURTHEST_SHIFT_NM, PAPERS_NM, SHEETS, LabelSheet
from server.trade.errors import OutOfRange
from server.trade.length import NM_PER_IN, NM_PER_MM

any_sheet = st.sampled_from(list(SHEETS.values()))


def corners(sheet: LabelSheet, count: int, start: int = 1) -> list[tuple[int, int, int, int, int]]:
    """Sheet, left, top, right, bottom [nm] of each label."""
    return [
        (spot.sheet, spot.left_nm, spot.top_nm, spot.left_nm + sheet.width_nm, spot.top_nm + sheet.height_nm)
        for spot in sheet.spots(count, start)
    ]


@pytest.mark.parametrize("sheet", SHEETS.values(), ids=SHEETS)
def test_every_label_lies_on_the_paper(sheet: LabelSheet) -> None:
    width_nm, height_nm = PAPERS_NM[sheet.paper]
    for _, left, top, right, bottom in corners(sheet, sheet.each):
        assert 0 <= left < right <= width_nm
        assert 0 <= top < bottom <= height_nm


@pytest.mark.parametrize("sheet", SHEETS.values(), ids=SHEETS)
def test_no_label_overlaps_another(sheet: LabelSheet) -> None:
    placed = corners(sheet, sheet.each)
    for at, (_, left, top, right, bottom) in enumerate(placed):
        for _, other_left, other_top, other_right, other_bottom in placed[at + 1 :]:
            beside = right <= other_left or other_right <= left
            above = bottom <= other_top or other_bottom <= top
            assert beside or above


@pytest.mark.parametrize("sheet", SHEETS.values(), ids=SHEETS)
def test_a_sheet_stands_centred(sheet: LabelSheet) -> None:
    width_nm, height_nm = PAPERS_NM[sheet.paper]
    placed = corners(sheet, sheet.each)
    left, right = min(each[1] for each in placed), max(each[3] for each in placed)
    top, bottom = min(each[2] for each in placed), max(each[4] for each in placed)
    assert abs(left - (width_nm - right)) <= 1
    assert abs(top - (height_nm - bottom)) <= 1


def test_paper_has_its_published_size() -> None:
    # ISO 216: A4 is 210 mm × 297 mm. ANSI/ASME Y14.1: size A is 8.5 in × 11 in. Both from memory.
    assert PAPERS_NM == {
        "A4": (210 * NM_PER_MM, 297 * NM_PER_MM),
        "Letter": (85 * NM_PER_IN // 10, 11 * NM_PER_IN),
    }


@pytest.mark.parametrize(
    ("key", "left_mm", "top_mm"),
    [
        # Margins and pitches of such sheets as sold (from memory); they follow here from the sheet standing centred.
        ("A4-63.5x38.1-3x7", 7.25, 15.15),
        ("A4-99.1x67.7-2x4", 4.65, 13.1),
        ("A4-38.1x21.2-5x13", 4.75, 10.7),
        ("Letter-66.7x25.4-3x10", 3 / 16 * 25.4, 12.7),
        ("Letter-101.6x50.8-2x5", 5 / 32 * 25.4, 12.7),
    ],
)
def test_the_first_label_stands_where_such_sheets_have_it(key: str, left_mm: float, top_mm: float) -> None:
    [first] = SHEETS[key].spots(1)
    assert first.left_nm / NM_PER_MM == pytest.approx(left_mm, abs=1e-6)
    assert first.top_nm / NM_PER_MM == pytest.approx(top_mm, abs=1e-6)


@given(sheet=any_sheet, count=st.integers(0, 300), data=st.data())
def test_a_part_used_sheet_goes_on_where_it_was_left(sheet: LabelSheet, count: int, data: st.DataObject) -> None:
    start = data.draw(st.integers(1, sheet.each))
    rest = list(sheet.spots(count, start))
    whole = list(sheet.spots(count + start - 1))
    assert rest == whole[start - 1 :]
    assert len(set(rest)) == count  # each has a place of its own
    assert {spot.sheet for spot in rest} == set(range(-(-(count + start - 1) // sheet.each) if count else 0))


@given(
    sheet=any_sheet,
    right_nm=st.integers(-FURTHEST_SHIFT_NM, FURTHEST_SHIFT_NM),
    down_nm=st.integers(-FURTHEST_SHIFT_NM, FURTHEST_SHIFT_NM),
)
def test_a_shift_moves_every_label_alike(sheet: LabelSheet, right_nm: int, down_nm: int) -> None:
    moved = sheet.spots(sheet.each + 1, 1, right_nm, down_nm)
    for still, shifted in zip(sheet.spots(sheet.each + 1), moved, strict=True):
        assert (shifted.left_nm - still.left_nm, shifted.top_nm - still.top_nm) == (right_nm, down_nm)
        assert shifted.sheet == still.sheet


@given(sheet=any_sheet, beyond=st.integers(1, 10**6))
def test_a_start_beyond_the_sheet_is_told(sheet: LabelSheet, beyond: int) -> None:
    for start in (sheet.each + beyond, 1 - beyond):
        with pytest.raises(OutOfRange) as caught:
            list(sheet.spots(1, start))
        assert caught.value.field == "start"
        assert str(sheet.each) in caught.value.accepts


@pytest.mark.parametrize("field", ["right_nm", "down_nm"])
@pytest.mark.parametrize("shift_nm", [FURTHEST_SHIFT_NM + 1, -FURTHEST_SHIFT_NM - 1])
def test_a_shift_too_far_is_told(field: str, shift_nm: int) -> None:
    with pytest.raises(OutOfRange) as caught:
        list(next(iter(SHEETS.values())).spots(1, **{field: shift_nm}))
    assert caught.value.field == field.removesuffix("_nm")


def test_each_sheet_has_a_key_and_a_name_of_its_own() -> None:
    assert len({sheet.name for sheet in SHEETS.values()}) == len(SHEETS)
    assert all(sheet.key == key for key, sheet in SHEETS.items())
