"""Every page: it answers, it is one page with one heading, it fetches from nowhere else and runs nothing of its own."""

from __future__ import annotations

import re
from collections.abc import Iterator
from urllib.parse import urldefrag, urljoin

import pytest

from tests.web.web import OUTSIDE, Looked, Web, text_of

NUMBERS = ("0", "-1", "999", str(2**63 - 1), str(2**63), str(2**70), "x", "1e3", "%00")
PAGES = (
    "/builds/{}",
    "/builds/{}/edit",
    "/builds/{}/log",
    "/builds/{}/machine",
    "/builds/{}/parts/new",
    "/builds/{}/plan",
    "/builds/{}/sheet",
    "/dimensions/{}/edit",
    "/operations/{}/edit",
    "/operations/{}/start",
    "/parts/{}",
    "/parts/{}/dimensions/new",
    "/parts/{}/edit",
    "/parts/{}/operations/new",
    "/parts/{}/pieces/new",
    "/parts/{}/record",
    "/parts/{}/record.csv",
    "/parts/{}/record.html",
    "/parts/{}/record.json",
    "/parts/{}/sheet",
    "/pieces/{}",
    "/pieces/{}/record",
    "/pieces/{}/record.csv",
    "/pieces/{}/record.html",
    "/pieces/{}/record.json",
    "/readings/{}/correct",
    "/runs/{}",
)
ASKED_WRONGLY = (
    "/builds/1/log?before=abc",
    "/builds/1/log?before=-1",
    f"/builds/1/log?before={2**70}",
    f"/builds/1/log?before=-{2**70}",
    "/operations/1/start?piece=x",
    "/operations/1/start?piece=1&piece=",
    "/pieces/1/record.html?keep=maybe",
)


def pages_from(web: Web, skip_handbook: bool = True) -> Iterator[tuple[str, str]]:
    """Every page that can be reached by following links, with its text. A link that leads nowhere fails.

    The pages of the Handbook are the same for every build: once is enough.
    """
    seen, waiting = {"/"}, ["/"]
    while waiting:
        path = waiting.pop()
        answer = web.get(path)
        assert answer.status_code == 200, f"{path} answers {answer.status_code}"
        if not answer.headers["content-type"].startswith("text/html"):
            continue
        assert "Traceback" not in answer.text
        yield path, answer.text
        for link in Looked(answer.text).links:
            there, place = urldefrag(link)
            assert not place or there or place in Looked(answer.text).ids, f"{path} has no place #{place}"
            address = there and urljoin(path, there)
            if address and address not in seen and not (path == "/handbook" and skip_handbook):
                assert address.startswith("/"), f"{path} links to {address}"
                seen.add(address)
                waiting.append(address)


def whole(path: str, html: str) -> None:
    """That one page is what every page is."""
    looked = Looked(html)
    assert len(looked.headings) == 1, f"{path} has the headings {looked.headings}"
    assert looked.headings[0].strip(), f"{path} has an empty heading"
    assert not looked.inline_scripts, f"{path} carries a script"
    assert not looked.handlers, f"{path} carries {looked.handlers}"
    assert not [each for each in looked.fetched + looked.links if OUTSIDE.match(each)], f"{path} reaches outside"
    assert len(set(looked.ids)) == len(looked.ids), f"{path} has an id twice"
    assert not re.search(r"\bNone\b(?! yet|\.)|\bnan\b|Undefined", text_of(html)), f"{path} says what no one can read"


def test_every_page_of_an_empty_shop_is_whole(web: Web) -> None:
    pages = dict(pages_from(web, skip_handbook=False))
    assert {"/", "/builds/new", "/about", "/handbook"} <= set(pages)
    for path, html in pages.items():
        whole(path, html)


def test_every_page_of_a_small_build_is_whole(web: Web) -> None:
    ids = web.small()
    pages = dict(pages_from(web))
    assert {f"/pieces/{ids['worked_id']}", f"/runs/{ids['run_id']}", f"/readings/{ids['reading_id']}/correct"} <= set(
        pages
    )
    for path, html in pages.items():
        whole(path, html)


def test_every_page_of_the_demo_is_whole(demo_web: Web) -> None:
    pages = dict(pages_from(demo_web))
    assert len(pages) > 100
    for path, html in pages.items():
        whole(path, html)
        if "record.html" not in path:
            assert "This is the demo build, invented." in html, path


@pytest.mark.parametrize("unit", ["mm", "in", "furlong", ""])
def test_pages_are_whole_in_whatever_unit_the_viewer_reads(web: Web, unit: str) -> None:
    ids = web.small()
    web.client.cookies.set("unit", unit)
    web.client.cookies.set("who", "%3Cb%3EWren%E2%80%AE")
    for page in ("/", f"/pieces/{ids['worked_id']}", f"/runs/{ids['run_id']}", f"/parts/{ids['part_id']}"):
        html = web.get(page).text
        whole(page, html)
        assert "<b>Wren" not in html


@pytest.mark.parametrize("number", NUMBERS)
def test_what_is_not_there_is_a_page_that_says_so(web: Web, number: str) -> None:
    web.small()
    for page in PAGES:
        answer = web.get(page.format(number))
        assert answer.status_code == 404, f"{page.format(number)} answers {answer.status_code}"
        whole(page, answer.text)
        assert "That did not work" in answer.text


@pytest.mark.parametrize("address", ASKED_WRONGLY)
def test_what_is_asked_for_wrongly_is_told_on_a_page(web: Web, address: str) -> None:
    web.small()
    answer = web.get(address)
    assert answer.status_code == 422
    whole(address, answer.text)
    assert address.split("?")[1].split("=")[0] in text_of(answer.text)  # by the name of what was asked


@pytest.mark.parametrize("address", ["/nothing", "/builds/1/nothing", "/pieces/1/record.xml", "/static/nothing.css"])
def test_an_address_nothing_has_is_a_page(web: Web, address: str) -> None:
    answer = web.get(address)
    assert answer.status_code == 404
    whole(address, answer.text)
    assert "There is nothing at this address." in answer.text


@pytest.mark.parametrize("method", ["POST", "PUT", "PATCH", "DELETE"])
def test_a_page_takes_no_writing(web: Web, method: str) -> None:
    answer = web.client.request(method, "/builds/new")
    assert answer.status_code == 405
    assert answer.headers["allow"] == "GET"
    assert f"does not take {method}" in answer.text


def test_what_was_typed_stays_text_on_every_page(web: Web) -> None:
    typed = "</script><script>alert(1)</script><img src=x onerror=alert(1)>\"'{{ 7*7 }}"
    build = web.do("add-build", name=typed, note=typed)["build_id"]
    part = web.do("add-part", build_id=build, number=typed[:40], name=typed, material=typed, note=typed)["part_id"]
    operation = web.do(
        "add-operation",
        part_id=part,
        number=10,
        name=typed,
        machine=typed,
        setup=typed,
        cutters=typed,
        check_before=typed,
    )["operation_id"]
    dimension = web.do(
        "add-dimension", part_id=part, number=typed[:40], name=typed, requirement="25 ±0.02", gauge=typed, unit="mm"
    )["dimension_id"]
    [piece] = web.do("start-pieces", part_id=part, marks="<script>alert(1)</script>", who=typed[:80])["piece_ids"]
    run = web.do("start-run", operation_id=operation, pieces=[{"piece_id": piece}])["run_id"]
    web.do("take-reading", piece_id=piece, dimension_id=dimension, value="25.1", gauge=typed, run_id=run)
    web.do("log-event", kind="note", piece_id=piece, text=typed)
    pages = dict(pages_from(web))
    for path, html in pages.items():
        whole(path, html)
        looked = Looked(html)
        assert "x" not in looked.fetched, path
        assert "<img src=x" not in html, path
    assert "{{ 7*7 }}" in pages[f"/builds/{build}"]


def test_a_reading_for_reference_has_no_verdict_on_any_page(web: Web) -> None:
    ids = web.small()
    for path in (f"/pieces/{ids['piece_id']}", f"/builds/{ids['build_id']}/log"):
        assert web.get(path).status_code == 200
    answer = web.do("take-reading", piece_id=ids["piece_id"], dimension_id=ids["reference_id"], value="160.4")
    assert answer["verdict"] == "reference"
    assert answer["sentence"] == "Length is for reference: nothing judges it."
    assert "good" not in answer["drawing"]
    html = web.get(f"/pieces/{ids['piece_id']}").text
    card = html.split('<article class="dimension-card"')[3].split("</article>")[0]
    assert "Length" in card
    assert "good" not in card
    assert "drawn-mark" not in card
    assert "Accept deviation" not in card
    log = text_of(web.get(f"/builds/{ids['build_id']}/log").text)
    assert "Length 160.400 reference" in log


def test_the_record_tells_times_as_pages_do(web: Web) -> None:
    ids = web.small()
    record = text_of(web.get(f"/pieces/{ids['worked_id']}/record.html").text)
    assert "Times: the shop's own clock, each with its offset from UTC" in record


@pytest.mark.parametrize(("ending", "kind"), [("html", "text/html"), ("csv", "text/csv"), ("json", "application/json")])
def test_a_record_is_kept_as_a_file_of_its_own_name(web: Web, ending: str, kind: str) -> None:
    ids = web.small()
    answer = web.get(f"/pieces/{ids['worked_id']}/record.{ending}?keep=true")
    assert answer.headers["content-type"].startswith(kind)
    assert answer.headers["content-disposition"] == (
        f'attachment; filename="record-piece-CR-1-{ids["worked_id"]}.{ending}"'
    )
    shown = web.get(f"/pieces/{ids['worked_id']}/record.{ending}")
    assert "content-disposition" not in shown.headers


def test_the_log_goes_on_page_after_page_and_misses_no_line(demo_web: Web) -> None:
    build = demo_web.get("/api/builds").json()[0]["id"]
    every = {line["id"] for line in demo_web.get(f"/api/builds/{build}/log?limit=500").json()}
    address, pages, seen = f"/builds/{build}/log", 0, 0
    while address:
        html = demo_web.get(address).text
        seen += html.count("<time ")
        pages += 1
        older = [link for link in Looked(html).links if "?before=" in link]
        address = older[0] if older else ""
    assert pages == -(-len(every) // 100)
    assert seen == len(every)
