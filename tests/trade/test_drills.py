from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from server.trade.drills import KINDS, DrillKind, drills, nearest_drill, nearest_drills, read_drill
from server.trade.errors import OutOfRange, TradeError, Unreadable
from server.trade.length import NM_PER_IN, parse_length

inside = st.integers(150_000, 26_000_000)


def test_the_gauges_are_whole() -> None:
    assert [drill.name for drill in drills(("number",))] == [f"#{number}" for number in range(97, 0, -1)]
    assert [drill.name for drill in drills(("letter",))] == list("ABCDEFGHIJKLMNOPQRSTUVWXYZ")
    fractions = drills(("fraction",))
    assert [drill.diameter_nm * 64 for drill in fractions] == [n * NM_PER_IN for n in range(1, 65)]
    assert len(drills()) == 97 + 26 + 64 + len(drills(("metric",)))


@pytest.mark.parametrize("kind", KINDS)
def test_no_gauge_has_two_drills_of_one_size(kind: DrillKind) -> None:
    sizes = [drill.diameter_nm for drill in drills((kind,))]
    assert sizes == sorted(set(sizes))


def test_every_named_drill_reads_as_its_own_size() -> None:
    for drill in drills():
        assert read_drill(drill.name) == drill.diameter_nm


def test_letter_e_and_a_quarter_inch_are_one_size() -> None:
    assert read_drill("E") == read_drill("1/4") == 6_350_000


@pytest.mark.parametrize(
    ("text", "length"),
    [
        ("#7", "0.201 in"), ("No. 7", "0.201 in"), ("number 7", "0.201 in"), ("# 7", "0.201 in"), ("f", "0.257 in"),
        ("13/64", "13/64 in"), ("1 1/8", "1.125 in"), ("6.8", "6.8"), ("6,8", "6.8"), ("5.0", "5"), ("7 mm", "7"),
        ('0.201"', "0.201 in"), (".201 in", "0.201 in"), ("6.83", "6.83"), ("98", "98"),
    ],
)  # fmt: skip
def test_drills_are_read_as_they_are_called(text: str, length: str) -> None:
    assert read_drill(text) == parse_length(length)


@pytest.mark.parametrize(
    ("text", "error", "says"),
    [
        ("7", Unreadable, "7 mm or #7"),
        ("1", Unreadable, "1 mm or #1"),
        (".201", Unreadable, '0.201" or 0.201 mm'),
        ("#98", OutOfRange, "#1 to #97"),
        ("#0", OutOfRange, "#1 to #97"),
        ("AA", Unreadable, "a drill such as #7"),
        ("", Unreadable, "a drill such as #7"),
        ("1/0", Unreadable, "a drill such as #7"),
        ("0.0", OutOfRange, "more than 0"),
        ("-3.5", OutOfRange, "more than 0"),
    ],
)
def test_what_is_no_drill_is_told(text: str, error: type[TradeError], says: str) -> None:
    with pytest.raises(error, match=says) as caught:
        read_drill(text, field="hole")
    assert caught.value.field == "hole"


@given(inside)
def test_the_nearest_drill_is_the_nearest(diameter_nm: int) -> None:
    found = nearest_drill(diameter_nm)
    away = abs(found.diameter_nm - diameter_nm)
    assert away == min(abs(drill.diameter_nm - diameter_nm) for drill in drills())


@given(inside, st.integers(1, 5), st.sampled_from(KINDS))
def test_neighbours_lie_on_their_sides_nearest_first(diameter_nm: int, each_side: int, kind: DrillKind) -> None:
    below, above = nearest_drills(diameter_nm, each_side=each_side, kinds=(kind,))
    assert all(drill.kind == kind for drill in below + above)
    assert all(drill.diameter_nm <= diameter_nm for drill in below)
    assert all(drill.diameter_nm > diameter_nm for drill in above)
    assert list(below) == sorted(below, key=lambda drill: -drill.diameter_nm)
    assert list(above) == sorted(above, key=lambda drill: drill.diameter_nm)
    under = sum(drill.diameter_nm <= diameter_nm for drill in drills((kind,)))
    assert len(below) == min(each_side, under)


@given(st.sampled_from(drills()))
def test_a_drill_is_its_own_nearest(drill: object) -> None:
    diameter_nm = drill.diameter_nm  # type: ignore[attr-defined]
    assert nearest_drill(diameter_nm).diameter_nm == diameter_nm


@pytest.mark.parametrize("diameter_nm", [1, 149_859, 26_000_001, 10**9])
def test_beyond_the_gauges_no_drill_is_near(diameter_nm: int) -> None:
    with pytest.raises(OutOfRange, match=r"#97 .* to 26 mm"):
        nearest_drill(diameter_nm)


def test_the_ends_of_the_gauges_are_still_drills() -> None:
    assert nearest_drill(26_000_000).name == "26 mm"
    assert nearest_drill(149_860).name == "#97"


def test_a_gauge_that_is_none_is_refused() -> None:
    with pytest.raises(Unreadable, match="number, letter, fraction, metric"):
        drills(("wood",))  # type: ignore[arg-type]
    with pytest.raises(Unreadable, match="number, letter"):
        drills(())
    with pytest.raises(OutOfRange, match="1 or more"):
        nearest_drills(5_000_000, each_side=0)
    with pytest.raises(OutOfRange, match="more than 0"):
        nearest_drills(0)
