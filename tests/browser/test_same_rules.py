"""The tablet's own rules against the server's: one table of cases through Python and through the page's scripts."""

from __future__ import annotations

import random
from collections.abc import Iterator
from dataclasses import asdict
from itertools import product
from typing import Any

import pytest
from playwright.sync_api import Browser, Page

from server.rules.facts import LimitFacts
from server.rules.next_move import next_move, shown
from server.rules.plausible import doubt
from server.rules.verdict import judge
from server.trade.errors import TradeError
from server.trade.length import Unit, format_length, read_length
from tests.browser.conftest import RunningServer

pytestmark = pytest.mark.browser

MM = 1_000_000
UNITS: tuple[Unit, ...] = ("mm", "in")


@pytest.fixture(scope="module")
def page(browser: Browser, demo_server: RunningServer) -> Iterator[Page]:
    context = browser.new_context()
    page = context.new_page()
    page.goto(demo_server.address + "/about")
    yield page
    context.close()


def limits() -> list[LimitFacts]:
    sizes: list[tuple[int | None, int | None, int | None, Any]] = [
        (22 * MM, 22 * MM, 22_021_000, "size"),
        (15_975_000, 15_966_000, 15_984_000, "size"),
        (1 * MM, 950_001, 1_050_000, "size"),
        (0, -50_000, 50_000, "size"),
        (25_400_000, 25_387_300, 25_412_700, "size"),
        (500, 0, 1000, "size"),
        (None, 12 * MM, 12 * MM, "size"),
        (None, None, 20_000, "at most"),
        (None, 0, 20_000, "at most"),
        (None, 10 * MM, None, "at least"),
        (30 * MM, None, None, "reference"),
        (None, None, None, "reference"),
    ]
    return [
        LimitFacts(nominal, low, high, cutting, kind)
        for nominal, low, high, kind in sizes
        for cutting in ("smaller", "larger", "neither")
    ]


def values(of: LimitFacts) -> list[int]:
    """On, beside and far from every size the limits have, and the same figures in the other unit."""
    known = {each for each in (of.nominal_nm, of.low_nm, of.high_nm, 0) if each is not None}
    beside = {each + step for each in known for step in (-6 * MM, -50_000, -501, -1, 0, 1, 499, 1270, 9 * MM)}
    scaled = {each * 127 // 5 for each in known} | {each * 5 // 127 for each in known} | {-each for each in known}
    return sorted(known | beside | scaled | {7 * each for each in known})


def test_verdict_next_move_and_doubt_are_the_same(page: Page) -> None:
    cases = [(of, value, unit) for of in limits() for value in values(of) for unit in UNITS]
    asked = [[asdict(of), value, unit] for of, value, unit in cases]
    got = page.evaluate(
        """async (cases) => {
          const { judge, nextMove, doubt } = await import("/static/js/pad_verdict.js");
          return cases.map(([limits, value, unit], place) => {
            const verdict = judge(value, limits);
            const operation = place % 3 ? 20 : null;
            const move = nextMove("Bore", value, limits, verdict, operation, unit);
            return [verdict, move, doubt(value, unit, limits)?.kind ?? null];
          });
        }""",
        asked,
    )
    words, doubts = set(), set()
    for place, (of, value, unit) in enumerate(cases):
        verdict = judge(value, of)
        move = next_move("Bore", value, of, verdict, 20 if place % 3 else None, unit)
        found = doubt(value, unit, of)
        want = [asdict(verdict), move.sentence, found.kind if found else None]
        assert got[place] == want, (of, value, unit)
        words.add(verdict.word)
        doubts.add(found.kind if found else None)
    assert words == {"good", "metal left", "past the limit", "reference"}
    assert doubts == {None, "not a size", "other unit", "far off"}
    assert len(cases) > 2000


TYPED = [
    "31.782",
    "31,782",
    ".250",
    ",5",
    "5.",
    "0",
    "-0",
    "+2",
    "−0.03",
    "-",
    "+",
    "++1",
    "--1",
    "1.2.3",
    "1,234.5",
    "1e3",
    "12.7mm",
    "12.7µm",
    "15um",
    "3μm",
    "abc",
    "1/2",
    "1/0",
    "1.5/2",
    "3/64",
    "1½",
    "½",
    "⅜",
    "1-3/16",
    "0.5in",
    '0.5"',
    "0.5''",
    "5thou",
    "+2thou",
    "3tenths",
    "2tenth",
    "1cm",
    "2m",
    "1ft",
    "1'",
    "5mil",
    "12..3",
    "1/2/3",
    "999999999",
    "1000000.0000001",
    "39370.0787401574803",
    "0.00000049",
    "0.00000050",
    "0.00000051",
    "0.0000015",
    "0.1234567",
    "0.12345678",
    "0.123456785",
    "0.1234567849999",
    "22.000..",
    "12\xa0mm",
    "１２",
    "12/",
    "/2",
    ".",
    "",
    ",",
    "1/2mm",
    "1/3",
    "2/3in",
    "25.4000000000000000001",
    "0.000000000000000000001",
]
SPACED = [
    "1 3/16",
    "1 3/16 in",
    "+2 thou",
    "- 0.03",
    " 12.5 ",
    "12 5",
    "1 / 2",
    "",
    "   ",
    "12.7 mm",
    "1 000",
    "12 mm 3",
]


def test_what_is_typed_is_read_the_same(page: Page) -> None:
    draw = random.Random(7)
    made = [f"{draw.uniform(-200, 200):.{draw.randint(0, 9)}f}" for _ in range(300)]
    made += ["".join(draw.choice('0123456789.,/-+ inmtou"½') for _ in range(draw.randint(1, 8))) for _ in range(700)]
    cases = list(product([*TYPED, *SPACED, *made], UNITS))
    got = page.evaluate(
        """async (cases) => {
          const { readLength } = await import("/static/js/pad_length.js");
          return cases.map(([text, unit]) => readLength(text, unit));
        }""",
        [list(each) for each in cases],
    )
    unsure = []
    for (text, unit), answer in zip(cases, got, strict=True):
        if "unsure" in answer:
            unsure.append(text)
            continue
        try:
            value, mark = read_length(text, unit)
        except TradeError:
            assert "why" in answer, (text, unit, answer)
        else:
            assert (answer.get("nm"), answer.get("mark")) == (value, mark), (text, unit)
    # Left to the server are only figures finer than any gauge reads.
    assert all(len(text) > 12 for text in unsure), unsure


def test_lengths_are_written_the_same(page: Page) -> None:
    draw = random.Random(8)
    sizes = [draw.randint(-(10**11), 10**11) for _ in range(500)] + list(range(-3000, 3000, 250)) + [1270, 3810, -1270]
    got = page.evaluate(
        """async (sizes) => {
          const { shown, written } = await import("/static/js/pad_length.js");
          return sizes.map((nm) => [shown(nm, "mm"), shown(nm, "in"), written(nm, "mm", 4), written(nm, "in", 5)]);
        }""",
        sizes,
    )
    assert got == [
        [shown(nm, "mm"), shown(nm, "in"), format_length(nm, "mm", 4), format_length(nm, "in", 5)] for nm in sizes
    ]
