from __future__ import annotations

import math
from fractions import Fraction
from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from server.trade.errors import OutOfRange
from server.trade.thread_form import basic_minor_diameter_nm
from server.trade.thread_infeed import FORMS, Form, infeed, pass_depths

pitches = st.integers(200_000, 8_000_000)


@given(pitches, st.sampled_from(FORMS), st.floats(0, 30))
def test_the_slide_goes_the_long_side_of_the_triangle(pitch_nm: int, form: Form, angle: float) -> None:
    found = infeed(pitch_nm, form, angle)
    assert found.compound_nm == pytest.approx(math.hypot(found.radial_nm, found.sideways_nm), abs=2)
    assert found.radial_nm <= found.compound_nm
    assert abs(found.diameter_nm - 2 * found.radial_nm) <= 1


@given(pitches, st.sampled_from(FORMS), st.floats(0, 29), st.floats(0.1, 1))
def test_a_steeper_slide_goes_further(pitch_nm: int, form: Form, angle: float, more: float) -> None:
    assert infeed(pitch_nm, form, angle).compound_nm <= infeed(pitch_nm, form, angle + more).compound_nm
    assert infeed(pitch_nm, form, angle).sideways_nm < infeed(pitch_nm, form, angle + more).sideways_nm


@given(pitches)
def test_straight_in_the_slide_goes_the_depth(pitch_nm: int) -> None:
    found = infeed(pitch_nm, compound_deg=0)
    assert (found.compound_nm, found.sideways_nm) == (found.radial_nm, 0)


@given(pitches)
def test_an_internal_thread_is_as_deep_as_its_basic_height(pitch_nm: int) -> None:
    nominal_nm = 10 * pitch_nm
    assert infeed(pitch_nm, "internal").diameter_nm == nominal_nm - basic_minor_diameter_nm(nominal_nm, pitch_nm)


def test_a_sharper_root_is_deeper() -> None:
    external = [form for form in FORMS if form.startswith("external")]
    depths = {form: infeed(1_000_000, form).radial_nm for form in external}
    assert sorted(depths, key=lambda form: depths[form]) == [
        "external, flat root P/4", "external, rounded root", "external, flat root P/8", "external, sharp",
    ]  # fmt: skip


def test_inch_pitches_are_taken_exactly() -> None:
    assert infeed(Fraction(25_400_000, 8), "external, flat root P/8", 0).radial_nm == round(
        Fraction(25_400_000, 8) * Fraction(3, 8) * Fraction("1.7320508075688772")
    )


@given(st.integers(1_000_000, 9_000_000), st.integers(1, 60))
def test_every_pass_takes_the_same_area(depth_nm: int, passes: int) -> None:
    depths = (0, *pass_depths(depth_nm, passes))
    assert depths[-1] == depth_nm
    areas = [deep * deep - shallow * shallow for shallow, deep in pairwise(depths)]
    assert len(areas) == passes
    assert areas == pytest.approx([depth_nm**2 / passes] * passes, rel=1e-3)


@given(st.integers(1_000_000, 9_000_000), st.integers(2, 60))
def test_no_pass_is_deeper_than_the_one_before(depth_nm: int, passes: int) -> None:
    depths = (0, *pass_depths(depth_nm, passes))
    steps = [deep - shallow for shallow, deep in pairwise(depths)]
    assert all(later <= earlier + 1 for earlier, later in pairwise(steps))


@pytest.mark.parametrize(
    ("pitch", "form", "angle", "says"),
    [
        (0, "internal", 29.5, "more than 0"),
        (-1, "internal", 29.5, "more than 0"),
        (1_000_000, "square", 29.5, "external, rounded root"),
        (1_000_000, "internal", 30.1, "0 to 30°"),
        (1_000_000, "internal", -1, "0 to 30°"),
        (1_000_000, "internal", float("nan"), "0 to 30°"),
    ],
)
def test_what_cannot_be_cut_is_told(pitch: int, form: Form, angle: float, says: str) -> None:
    with pytest.raises(OutOfRange, match=says):
        infeed(pitch, form, angle)


def test_passes_are_counted() -> None:
    for passes in (0, -1, 201):
        with pytest.raises(OutOfRange, match="1 to 200"):
            pass_depths(1_000_000, passes)
    with pytest.raises(OutOfRange, match="more than 0"):
        pass_depths(0, 5)
