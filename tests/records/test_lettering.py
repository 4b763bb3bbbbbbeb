"""Letters are as large as the label lets them be, and no larger."""

from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st

from server.records.lettering import letters_nm, width_per_mille

ROOM_NM, TALLEST_NM, SMALLEST_NM = 30_000_000, 12_000_000, 2_000_000


def fitted(text: str) -> int:
    return letters_nm(text, ROOM_NM, TALLEST_NM, SMALLEST_NM)


def test_a_short_mark_is_as_tall_as_may_be_and_a_long_one_as_wide() -> None:
    assert fitted("A1") == TALLEST_NM
    assert SMALLEST_NM < fitted("CR-123456") < TALLEST_NM
    assert fitted("W" * 40) == SMALLEST_NM


def test_widths_are_no_narrower_than_a_wide_bold_face_has_them() -> None:
    # DejaVu Sans Bold, per mille of the em, as measured in chromium's own text layout.
    for letter, width in {
        "W": 1103,
        "M": 995,
        "m": 1042,
        "8": 696,
        "O": 850,
        "b": 716,
        "-": 415,
        "I": 372,
        "&": 872,
    }.items():
        assert width_per_mille(letter) >= width, letter
    assert width_per_mille("Щ") >= 1326


def test_signs_that_take_no_room_are_not_counted() -> None:
    assert width_per_mille("A\u0301\u202e") == width_per_mille("A")


@given(st.text(max_size=60))
def test_letters_fit_their_line_unless_they_are_the_smallest(text: str) -> None:
    size = fitted(text)
    assert SMALLEST_NM <= size <= TALLEST_NM
    assert size == SMALLEST_NM or size * width_per_mille(text) <= ROOM_NM * 1000
