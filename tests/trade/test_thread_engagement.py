from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from server.trade.errors import Impossible, OutOfRange, TradeError, Unreadable
from server.trade.fastening import unified_stress_area_mm2
from server.trade.thread_designation import parse_thread, thread_limits
from server.trade.thread_engagement import engagement, shear_area_external_mm2, shear_area_internal_mm2

threads = st.sampled_from(
    ["M3", "M5", "M6", "M8", "M8×1", "M10", "M12×1.25", "M20", "#10-32", "1/4-20", "3/8-16", "1-8"]
)
strengths = st.floats(50, 2000)


@given(threads, strengths, strengths)
def test_at_the_length_needed_the_bolt_just_breaks_first(thread: str, bolt: float, nut: float) -> None:
    needed_nm = engagement(thread, bolt, nut).needed_nm
    assert engagement(thread, bolt, nut, needed_nm + 1).fails_first == "the bolt breaks"
    assert engagement(thread, bolt, nut, needed_nm - 2).fails_first != "the bolt breaks"


@given(threads, strengths, strengths, st.floats(1.01, 3))
def test_a_softer_nut_needs_more_thread(thread: str, bolt: float, nut: float, times: float) -> None:
    assert engagement(thread, bolt, nut / times).needed_nm >= engagement(thread, bolt, nut).needed_nm
    assert engagement(thread, bolt, nut / times).needed_internal_nm > engagement(thread, bolt, nut).needed_internal_nm


@given(threads, strengths, strengths, st.integers(1_000_000, 50_000_000))
def test_twice_the_thread_carries_twice_the_load(thread: str, bolt: float, nut: float, length_nm: int) -> None:
    one, two = (engagement(thread, bolt, nut, times * length_nm) for times in (1, 2))
    assert one.strips_external_n is not None
    assert one.strips_internal_n is not None
    assert two.strips_external_n == pytest.approx(2 * one.strips_external_n)
    assert two.strips_internal_n == pytest.approx(2 * one.strips_internal_n)
    assert two.bolt_breaks_n == one.bolt_breaks_n


@given(strengths)
def test_equal_strengths_give_the_handbook_length(strength: float) -> None:
    # Machinery's Handbook 24th ed. (found): Le = 2 At / (π Kn (1/2 + 0.57735 n (Es - Kn))), here 1/2-13, 2A in 2B [in]
    nut_minor, bolt_pitch, turns = 0.434, 0.4435, 13
    area = unified_stress_area_mm2(12_700_000, turns) / 25.4**2
    length = 2 * area / (math.pi * nut_minor * (0.5 + 0.57735 * turns * (bolt_pitch - nut_minor)))
    assert engagement("1/2-13", strength, strength).needed_external_nm / 25.4e6 == pytest.approx(length, rel=1e-5)


@given(threads, strengths, strengths)
def test_the_nut_needs_the_bolts_length_times_the_ratio_of_their_strengths(
    thread: str, bolt: float, nut: float
) -> None:
    # the handbook's J = (shear area × strength of the bolt's thread) / (the same of the nut's)
    size = parse_thread(thread)
    assert size is not None
    outer, inner = thread_limits(size, internal=False), thread_limits(size, internal=True)
    external = shear_area_external_mm2(outer, inner, size.pitch_nm, 10_000_000)
    internal = shear_area_internal_mm2(outer, inner, size.pitch_nm, 10_000_000)
    found = engagement(thread, bolt, nut)
    ratio = external * bolt / (internal * nut)
    assert found.needed_internal_nm == pytest.approx(
        ratio * found.needed_external_nm,
        rel=1e-5,
        abs=ratio + 1,  # both are rounded to whole nm
    )


def test_closer_classes_and_a_higher_ratio_need_less() -> None:
    usual = engagement("M10", 800, 300).needed_nm
    assert engagement("M10", 800, 300, bolt_class="4h6h", nut_class="5H").needed_nm < usual
    assert engagement("M10", 800, 300, shear_ratio=0.577).needed_nm == pytest.approx(usual * 0.5 / 0.577, rel=1e-6)


def test_without_a_length_nothing_is_said_of_loads() -> None:
    found = engagement("M10", 800, 300)
    assert found.strips_external_n is None
    assert found.fails_first == ""


@pytest.mark.parametrize(
    ("typed", "error", "field", "says"),
    [
        ({"thread": "steel"}, Unreadable, "thread", "not a thread"),
        ({"thread": "M8-6g"}, Impossible, "thread", "without a class"),
        ({"bolt": 0}, OutOfRange, "bolt_strength_n_per_mm2", "more than 0"),
        ({"nut": -1}, OutOfRange, "nut_strength_n_per_mm2", "more than 0"),
        ({"length_nm": 0}, OutOfRange, "length_nm", "more than 0"),
        ({"shear_ratio": 0.3}, OutOfRange, "shear_ratio", "0.4 to 0.7"),
        ({"bolt_class": "6H"}, Impossible, "bolt_class", "internal class"),
        ({"nut_class": "7x"}, Unreadable, "nut_class", "6H"),
    ],
)
def test_what_cannot_be_is_told_at_its_field(
    typed: dict[str, object], error: type[TradeError], field: str, says: str
) -> None:
    values: dict[str, object] = {"thread": "M8", "bolt": 800.0, "nut": 300.0} | typed
    thread, bolt, nut = (values.pop(name) for name in ("thread", "bolt", "nut"))
    with pytest.raises(error, match=says) as caught:
        engagement(thread, bolt, nut, **values)  # type: ignore[arg-type]
    assert caught.value.field == field


def test_the_sides_must_be_the_right_way_round() -> None:
    outer, inner = thread_limits("M8-6g"), thread_limits("M8-6H")
    for area in (shear_area_external_mm2, shear_area_internal_mm2):
        with pytest.raises(Impossible, match="an external thread must go into an internal one"):
            area(inner, outer, 1_250_000, 10_000_000)
        with pytest.raises(OutOfRange, match="more than 0"):
            area(outer, inner, 1_250_000, 0)


def test_threads_that_hardly_meet_are_told() -> None:
    with pytest.raises(Impossible, match="hardly meet"):
        shear_area_external_mm2(thread_limits("M8-6g"), thread_limits("M10×1.25-6H"), 1_250_000, 10_000_000)
