"""Where things stand on a drawn scale. The widths of characters are the drawing's own affair: what is held here is that
no two figures touch, whatever the limits and readings."""

from __future__ import annotations

import itertools
import re
import xml.etree.ElementTree as ElementTree

import pytest
from hypothesis import given
from hypothesis import strategies as st
from jinja2 import Environment, FileSystemLoader, StrictUndefined

from server.rules.facts import LimitFacts
from server.rules.next_move import shown
from server.rules.progress import URGENCY
from server.rules.scale import Scale, scale_of
from server.settings import TEMPLATES

CHARACTER = 0.031


def _size(nominal: float | None, low: float, high: float, cutting: str = "smaller") -> LimitFacts:
    return LimitFacts(None if nominal is None else _mm(nominal), _mm(low), _mm(high), cutting)  # type: ignore[arg-type]


def _mm(size: float) -> int:
    return round(size * 1_000_000)


def _drawings() -> object:
    pages = Environment(loader=FileSystemLoader(TEMPLATES), autoescape=True, undefined=StrictUndefined)
    return pages.get_template("drawings.html").module


sizes = st.integers(min_value=-(10**12), max_value=10**12)


@st.composite
def any_limits(draw: st.DrawFn) -> LimitFacts:
    kind = draw(st.sampled_from(["size", "at most", "at least", "reference"]))
    first, second = sorted([draw(sizes), draw(sizes)])
    nominal = draw(st.none() | sizes)
    return LimitFacts(
        nominal,
        first if kind in ("size", "at least") else None,
        second if kind in ("size", "at most") else None,
        draw(st.sampled_from(["smaller", "larger", "neither"])),
        kind,  # type: ignore[arg-type]
    )


@given(any_limits(), st.lists(sizes, max_size=5), st.lists(sizes, max_size=3), st.sampled_from(["mm", "in"]))
def test_whatever_is_given_stays_on_the_scale_in_the_order_of_size(
    limits: LimitFacts, readings: list[int], replaced: list[int], unit: str
) -> None:
    scale = scale_of(limits, readings, unit=unit, replaced=replaced)  # type: ignore[arg-type]
    placed = [(mark.value_nm, mark.at) for mark in scale.punches]
    placed += [(nm, at) for nm, at in ((limits.low_nm, scale.low), (limits.high_nm, scale.high)) if nm is not None]
    placed.sort()
    places = [at for _, at in placed]
    assert all(0 <= at <= 1 for at in places)
    assert places == sorted(places)
    assert len(scale.punches) == len(readings) + len(replaced)


@given(any_limits(), st.lists(sizes, max_size=3), st.sampled_from(["mm", "in"]))
def test_no_two_figures_touch(limits: LimitFacts, readings: list[int], unit: str) -> None:
    figures = scale_of(limits, readings, unit=unit).figures  # type: ignore[arg-type]
    for left, right in itertools.pairwise(figures):
        assert right.at - left.at >= (len(left.text) + len(right.text)) * CHARACTER / 2


@given(any_limits(), sizes)
def test_figures_stay_between_the_ends(limits: LimitFacts, reading: int) -> None:
    scale = scale_of(limits, [reading])
    for each in (*scale.figures, scale.reading):
        assert each is not None
        half = len(each.text) * CHARACTER / 2
        assert each.at - half >= -1e-9
        assert each.at + half <= 1 + 1e-9


def test_both_limits_are_seen_with_room_beside_them() -> None:
    scale = scale_of(_size(25, 24.98, 25.02))
    assert scale.low is not None
    assert scale.high is not None
    assert 0.1 < scale.low < scale.high < 0.9
    assert scale.nominal == pytest.approx(0.5, abs=0.001)
    assert scale.zone == (scale.low, scale.high)
    assert scale.latest is None
    assert scale.word is None


def test_a_reading_three_widths_outside_is_drawn_true_and_one_further_stands_at_the_end() -> None:
    limits = _size(25, 24.98, 25.02)
    near = scale_of(limits, [_mm(25.14)])
    assert near.latest is not None
    assert near.high is not None
    assert near.low is not None
    assert near.latest.off == 0
    assert near.latest.at < 1
    assert (near.latest.at - near.high) / (near.high - near.low) == pytest.approx(3, rel=0.01)
    far = scale_of(limits, [_mm(25.5)])
    assert far.latest is not None
    assert (far.latest.at, far.latest.off) == (1, 1)
    assert far.low is not None
    assert far.high is not None
    assert far.high - far.low > 0.4  # the limits keep their room
    under = scale_of(limits, [_mm(20)]).latest
    assert under is not None
    assert (under.at, under.off) == (0, -1)


def test_an_open_side_is_good_to_its_end() -> None:
    at_most = scale_of(LimitFacts(None, None, _mm(0.8), "neither", "at most"), [_mm(0.4)])
    assert at_most.zone == (0.0, at_most.high)
    at_least = scale_of(LimitFacts(None, _mm(3), None, "larger", "at least"), [_mm(5)])
    assert at_least.zone == (at_least.low, 1.0)
    assert at_least.latest is not None
    assert at_least.latest.off == 0


def test_a_reference_has_no_zone_and_no_verdict() -> None:
    scale = scale_of(LimitFacts(_mm(30), None, None, "neither", "reference"), [_mm(30.4)])
    assert scale.zone is None
    assert scale.word is None
    assert scale.latest is not None
    assert scale.words == "30.000 mm for reference; measured 30.400"


def test_metal_left_stands_between_the_limit_and_the_reading() -> None:
    shaft = scale_of(_size(25, 24.98, 25.02, "smaller"), [_mm(25.05)])
    assert shaft.latest is not None
    assert shaft.standing_metal == (shaft.high, shaft.latest.at)
    bore = scale_of(_size(25, 25, 25.02, "larger"), [_mm(24.95)])
    assert bore.latest is not None
    assert bore.standing_metal == (bore.latest.at, bore.low)
    past = scale_of(_size(25, 24.98, 25.02, "smaller"), [_mm(24.9)])
    assert past.word == "past the limit"
    assert past.standing_metal is None


def test_the_last_reading_is_the_latest_and_a_replaced_one_never_moves_the_ends() -> None:
    limits = _size(25, 24.98, 25.02)
    scale = scale_of(limits, [_mm(25.06), _mm(25.01)], replaced=[_mm(25.11)])
    assert [mark.standing for mark in scale.punches] == ["replaced", "earlier", "latest"]
    assert scale.low == scale_of(limits, [_mm(25.06), _mm(25.01)]).low
    assert scale.words == ("24.980 to 25.020 mm; measured 25.010, good; before that 25.060; replaced 25.110")


def test_the_verdict_of_a_better_judge_is_drawn_instead_of_the_plain_one() -> None:
    scale = scale_of(_size(25, 24.98, 25.02), [_mm(25.019)], word="too close to call")
    assert scale.word == "too close to call"
    assert "too close to call" in scale.words


def test_limits_of_no_width_have_one_figure() -> None:
    scale = scale_of(_size(25, 25, 25), [_mm(25)])
    assert [each.text for each in scale.figures] == ["25.000"]
    assert scale.word == "good"


def test_a_limit_of_the_other_unit_is_not_rounded_onto_another_size() -> None:
    assert shown(25_374_600, "mm") == "25.3746"  # 0.999 in
    assert shown(25_000_000, "mm") == "25.000"
    assert shown(25_400_000, "in") == "1.0000"
    assert shown(25_000_000, "in") == "0.98425"


def _drawn(scale: Scale, label: str = "") -> ElementTree.Element:
    return ElementTree.fromstring(str(_drawings().dimension_scale(scale, label)))  # type: ignore[attr-defined]


@pytest.mark.parametrize(
    ("reading", "word"),
    [(25.0, "good"), (25.05, "metal left"), (24.9, "past the limit"), (25.02, "too close to call")],
)
def test_each_verdict_is_drawn_in_another_shape(reading: float, word: str) -> None:
    """Compared with the drawings of all the others with colour, place and text left out."""
    shapes = []
    for value, said in ((25.0, "good"), (25.05, "metal left"), (24.9, "past the limit"), (25.02, "too close to call")):
        if said != word:
            shapes.append(_shape(scale_of(_size(25, 24.98, 25.02), [_mm(value)], word=said)))  # type: ignore[arg-type]
    mine = scale_of(_size(25, 24.98, 25.02), [_mm(reading)], word=word)  # type: ignore[arg-type]
    assert _shape(mine) not in shapes


def _shape(scale: Scale) -> list[tuple[str, str]]:
    """Each stroke by its kind of element and the letters of its path, figures taken out."""
    return [
        (each.tag, re.sub(r"[\d.\s-]+", "", each.get("d", "")) + each.get("r", "") + (each.get("fill") or ""))
        for each in _drawn(scale).iter()
        if each.tag in ("path", "circle") and "dasharray" not in str(each.attrib)
    ]


def test_the_drawing_says_itself_in_words_and_takes_a_hostile_name() -> None:
    drawn = _drawn(scale_of(_size(25, 24.98, 25.02), [_mm(25)]), '</title><script>"&')
    assert drawn.get("role") == "img"
    assert drawn[0].text == '</title><script>"&: 24.980 to 25.020 mm; measured 25.000, good'
    assert "{http" not in ElementTree.tostring(drawn, encoding="unicode")


WORDS = ("good", "metal left", "past the limit", "too close to call")
STATES = (*URGENCY, "not ready", "done", "no plan", "finished", "fitted", "scrap", "entered by mistake")


def test_every_verdict_and_state_has_a_mark_of_its_own_that_says_its_word() -> None:
    module = _drawings()
    drawn = [(word, str(module.verdict_mark(word))) for word in WORDS]  # type: ignore[attr-defined]
    drawn += [(state, str(module.state_mark(state))) for state in STATES]  # type: ignore[attr-defined]
    bodies = set()
    for word, svg in drawn:
        mark = ElementTree.fromstring(svg)
        assert mark.get("aria-label") == word
        assert mark.get("stroke") == "currentColor"
        assert mark.get("viewBox") == "0 0 24 24"
        bodies.add("".join(ElementTree.tostring(each, encoding="unicode") for each in mark))
    assert len(bodies) == len(drawn) == 17


def test_a_state_nobody_knows_has_no_mark() -> None:
    assert str(_drawings().state_mark("polished")).strip() == ""  # type: ignore[attr-defined]
    assert str(_drawings().verdict_mark("polished")).strip() == ""  # type: ignore[attr-defined]
