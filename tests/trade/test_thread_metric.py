from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from server.trade.errors import Impossible, OutOfRange, TradeError, Unreadable
from server.trade.thread_form import ThreadLimits
from server.trade.thread_metric import (
    COARSE_NM,
    FINE_NM,
    TABLE_NM,
    default_class,
    deviation_nm,
    metric_limits,
    minor_diameter_tolerance_nm,
    pitch_diameter_tolerance_nm,
    pitch_series,
    read_class,
)

PAIRS = sorted(
    {(size, pitch) for size, pitch in COARSE_NM.items()}
    | {(size, pitch) for size, pitches in FINE_NM.items() for pitch in pitches}
)
# A thread of any size: from a tenth of a millimetre's worth of steps, as a builder might draw one.
any_pair = st.tuples(st.integers(100, 35500), st.integers(20, 800)).map(
    lambda pair: (pair[0] * 10_000, pair[1] * 10_000)
)


def limits_or_none(pair: tuple[int, int], thread_class: str) -> ThreadLimits | None:
    try:
        return metric_limits(*pair, thread_class)
    except TradeError:
        return None


@pytest.mark.parametrize("pair", PAIRS)
def test_every_series_pair_has_limits_in_order(pair: tuple[int, int]) -> None:
    outer = metric_limits(*pair, "6g" if pair[1] >= 300_000 else "4h")
    inner = metric_limits(*pair, "6H" if pair[1] >= 300_000 else "5H")
    assert outer.minor_low_nm < outer.minor_high_nm < outer.pitch_low_nm < outer.pitch_high_nm < outer.major_low_nm  # type: ignore[operator]
    assert outer.major_low_nm < outer.major_high_nm <= pair[0]  # type: ignore[operator]
    assert inner.minor_low_nm < inner.minor_high_nm < inner.pitch_low_nm < inner.pitch_high_nm  # type: ignore[operator]
    assert inner.major_low_nm == pair[0]
    assert outer.note == inner.note == ""


@given(
    any_pair, st.sampled_from(["6g", "6h", "4h6h", "6f", "6e", "8g"]), st.sampled_from(["4H", "5H", "6H", "7H", "6G"])
)
def test_the_largest_screw_goes_into_the_smallest_nut(
    pair: tuple[int, int], outer_class: str, inner_class: str
) -> None:
    outer, inner = limits_or_none(pair, outer_class), limits_or_none(pair, inner_class)
    if outer is None or inner is None:
        return
    assert outer.pitch_high_nm <= inner.pitch_low_nm
    assert outer.major_high_nm is not None
    assert inner.major_low_nm is not None
    assert outer.major_high_nm <= inner.major_low_nm
    assert outer.minor_high_nm is not None
    assert inner.minor_low_nm is not None
    assert outer.minor_high_nm <= inner.minor_low_nm


@given(st.integers(100, 35500), st.integers(20, 800), st.booleans())
def test_a_coarser_grade_is_never_tighter(size: int, pitch: int, internal: bool) -> None:
    grades = range(4, 9) if internal else range(3, 10)
    found = [pitch_diameter_tolerance_nm(size * 10_000, pitch * 10_000, grade, internal=internal) for grade in grades]
    assert found == sorted(found)
    assert found[0] < found[-1]


@given(st.integers(20, 800), st.integers(20, 800))
def test_a_coarser_pitch_is_never_held_tighter(one: int, other: int) -> None:
    fine, coarse = sorted((one * 10_000, other * 10_000))
    assert deviation_nm(fine, "g") <= deviation_nm(coarse, "g")
    assert minor_diameter_tolerance_nm(fine, 6) <= minor_diameter_tolerance_nm(coarse, 6)
    tolerances = [pitch_diameter_tolerance_nm(30_000_000, pitch, 6, internal=False) for pitch in (fine, coarse)]
    assert tolerances == sorted(tolerances)


@given(any_pair)
def test_limits_are_whole_micrometres_where_size_and_pitch_are(pair: tuple[int, int]) -> None:
    found = limits_or_none(pair, "6g")
    if found is not None:
        sizes = (found.pitch_low_nm, found.pitch_high_nm, found.major_low_nm, found.minor_low_nm, found.allowance_nm)
        assert all(size is not None and size % 1000 == 0 for size in sizes)


def test_an_unlisted_pitch_lies_between_its_neighbours() -> None:
    # M9×0.9: in no series and in no table, so by the formulas
    found = metric_limits(9_000_000, 900_000, "6g")
    assert "not a pair of ISO 261" in found.note
    assert TABLE_NM[800_000][0] * 1000 <= found.allowance_nm <= TABLE_NM[1_000_000][0] * 1000
    assert found.pitch_high_nm - found.pitch_low_nm == 106_000  # 90 · 0.9^0.4 · 7.92^0.1 = 106.1
    inner = metric_limits(9_000_000, 900_000, "6H")
    assert inner.minor_high_nm - inner.minor_low_nm == 212_000  # type: ignore[operator]  # 230 · 0.9^0.7 = 213.6


def test_series_tell_coarse_from_fine() -> None:
    assert pitch_series(8_000_000, 1_250_000) == "coarse"
    assert pitch_series(8_000_000, 1_000_000) == "fine"
    assert pitch_series(8_000_000, 900_000) == ""


def test_small_threads_take_the_closer_classes_by_default() -> None:
    assert default_class(1_400_000, internal=True) == "5H"
    assert default_class(1_400_000, internal=False) == "6h"
    assert default_class(1_600_000, internal=True) == "6H"
    assert default_class(1_600_000, internal=False) == "6g"


@pytest.mark.parametrize(("text", "read"), [("6g", (6, 6, "g")), ("5g6g", (5, 6, "g")), ("6H", (6, 6, "H"))])
def test_classes_are_read_pitch_diameter_first(text: str, read: tuple[int, int, str]) -> None:
    assert read_class(text) == read


@pytest.mark.parametrize(
    "text", ["", "g", "6", "6x", "6gg", "66g", "2g", "6g5", "4h6h6h", "6E", "6F", "g6", "4g6h", "0H"]
)
def test_a_class_that_is_none_is_refused_with_the_list(text: str) -> None:
    with pytest.raises(Unreadable, match=r"4h6h.*4H5H"):
        read_class(text)


@pytest.mark.parametrize(
    ("size", "pitch", "thread_class", "error", "says"),
    [
        (990_000, 200_000, "6h", OutOfRange, "M1 to M355"),
        (356_000_000, 6_000_000, "6g", OutOfRange, "M1 to M355"),
        (8_000_000, 0, "6g", OutOfRange, "above 0"),
        (8_000_000, -1_000_000, "6g", OutOfRange, "above 0"),
        (0, 1_000_000, "6g", OutOfRange, "M1 to M355"),
        (8_000_000, 4_000_000, "6g", Impossible, "3.695 mm"),
        (8_000_000, 100_000, "6g", OutOfRange, "0.2 mm to 8 mm"),
        (300_000_000, 9_000_000, "6g", OutOfRange, "0.2 mm to 8 mm"),
        (8_000_000, 1_000_000, "5h", OutOfRange, "5h6h"),
        (8_000_000, 1_000_000, "9g", OutOfRange, "4, 6 or 8"),
        (8_000_000, 1_000_000, "3H", OutOfRange, "grade 4, 5, 6, 7, 8"),
        (8_000_000, 1_000_000, "9H", OutOfRange, "grade 4, 5, 6, 7, 8"),
        (3_000_000, 350_000, "6e", OutOfRange, "0.5 mm or more"),
        (2_000_000, 250_000, "6f", OutOfRange, "0.35 mm or more"),
        (300_000_000, 300_000, "9g8g", Impossible, "coarser pitch"),
    ],
)
def test_what_cannot_be_is_told_with_its_range(
    size: int, pitch: int, thread_class: str, error: type[TradeError], says: str
) -> None:
    with pytest.raises(error, match=says):
        metric_limits(size, pitch, thread_class)
