"""A record as a page: that it stands on its own, and that nothing typed does anything in it."""

from __future__ import annotations

import re
import time
from collections.abc import Iterator
from datetime import timedelta, timezone

import pytest

from server.records.record_html import as_html, said
from server.store.database import Database
from tests.records.rods import Page, Rods


@pytest.fixture
def rods(database: Database) -> Rods:
    return Rods(database)


def test_the_page_fetches_nothing_and_runs_nothing_whatever_was_typed(rods: Rods) -> None:
    page = Page(html := as_html(rods.hostile_record(), "mm"))
    assert page.open == []
    assert not {"script", "link", "img", "iframe", "object", "embed", "form", "base"} & set(page.tags)
    for name, value in page.attributes:
        assert name not in ("src", "href", "xlink:href", "srcset", "data", "action")
        assert not name.startswith("on")
        assert not re.search(r"https?:|url\(|javascript:", value)
    style = html[html.index("<style>") : html.index("</style>")]
    assert not re.search(r"http|url\(|@import|expression", style)
    assert "alert(1)</script>" in page.text  # it is there, as text
    assert "{{ 7*7 }}" in page.text
    assert "\u202e" not in html


@pytest.mark.parametrize("character", ["\x00", "\x07", "\x85", "\u202e", "\u2066", "\uffff"])
def test_a_character_that_cannot_be_written_or_turns_the_line_is_marked(character: str) -> None:
    assert said(f"a{character}<b") == '<bdi class="said">a\ufffd&lt;b</bdi>'


def test_what_was_typed_is_set_apart_in_its_direction(rods: Rods) -> None:
    body = as_html(rods.hostile_record(), "mm").split("<body>")[1]
    places = [found.start() for found in re.finditer("שלום", body)]
    assert len(places) > 5
    for place in places:
        assert body[:place].count("<bdi") > body[:place].count("</bdi>")


def test_a_record_says_which_times_it_tells(rods: Rods) -> None:
    [piece] = rods.pieces()
    rods.run(rods.mill, piece)
    in_utc = Page(as_html(rods.record(piece), "mm")).text
    assert "Times: UTC." in in_utc
    assert "2026-05-01 18:00" in in_utc
    local = Page(as_html(rods.record(piece), "mm", timezone(timedelta(hours=2), "CEST"))).text
    assert "the shop's own clock" in local
    assert "2026-05-01 20:00 +0200" in local


@pytest.fixture
def middle_european_clock(monkeypatch: pytest.MonkeyPatch) -> Iterator[None]:
    """This process's clock as if it stood where summer time is kept; the rule is written out (POSIX.1, TZ)."""
    monkeypatch.setenv("TZ", "CET-1CEST,M3.5.0,M10.5.0/3")
    time.tzset()
    yield
    monkeypatch.undo()
    time.tzset()


def test_the_shops_own_clock_tells_each_time_as_it_did_then(rods: Rods, middle_european_clock: None) -> None:
    winter, summer = rods.pieces(2)
    rods.run(rods.mill, winter, end=False, occurred_at="2026-01-15T18:00:00Z")
    rods.run(rods.mill, summer, end=False)
    assert "2026-01-15 19:00 +0100" in Page(as_html(rods.record(winter), "mm", None)).text
    text = Page(as_html(rods.record(summer), "mm", None)).text
    assert "2026-05-01 20:00 +0200" in text
    assert "the shop's own clock" in text
