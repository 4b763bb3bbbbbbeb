"""Label sheets: what is chosen stands on them, in its place, with a code that opens it."""

from __future__ import annotations

import re
from typing import Any

import pytest
import segno

from server.records.label_sheets import SHEETS
from server.trade.length import parse_length
from tests.web.test_pages import whole
from tests.web.web import ADDRESS, Web, text_of

HOSTILE = "</p><script>alert(1)</script>"
LONG = "W" * 40


def sheet_of(web: Web, build: int, asked: str) -> str:
    answer = web.get(f"/builds/{build}/labels/sheet?{asked}")
    assert answer.status_code == 200, text_of(answer.text)
    whole(asked, answer.text)
    return answer.text


def labels_in(html: str) -> list[dict[str, Any]]:
    """Each label: where it stands [nm], the address in its code, the dark modules of the code, its text."""
    found = []
    for label in html.split('<div class="label" ')[1:]:
        sides = re.match(r'style="left:([^;]+);top:([^;]+);width:([^;]+);height:([^;]+);', label)
        code = re.search(r'aria-label="[^"]*: (http[^"]+)" viewBox="0 0 (\d+) \2".*?<path d="([^"]+)"', label)
        assert sides
        assert code
        found.append(
            {
                "sides": tuple(parse_length(each) for each in sides.groups()),
                "address": code[1],
                "modules": modules(code[3], int(code[2])),
                "text": text_of(label.split("</svg>")[1].split("</div>")[0]).strip(),
            }
        )
    return found


def modules(path: str, side: int) -> list[list[bool]]:
    """The squares a path of dark strokes fills."""
    dark = [[False] * side for _ in range(side)]
    strokes = re.findall(r"M(\d+) (\d+)h(\d+)v1h-(\d+)z", path)
    assert "".join(f"M{x} {y}h{w}v1h-{back}z" for x, y, w, back in strokes) == path
    for x, y, width, back in strokes:
        assert width == back
        for column in range(int(x), int(x) + int(width)):
            dark[int(y)][column] = True
    return dark


def test_a_sheet_carries_what_was_chosen_in_order(web: Web) -> None:
    ids = web.small()
    asked = f"piece={ids['piece_id']}&piece={ids['worked_id']}&operation={ids['operation_id']}"
    labels = labels_in(sheet_of(web, ids["build_id"], asked))
    assert [label["text"] for label in labels] == [
        "CR-3 CR Rod",
        "CR-1 CR Rod",
        "CR op 10 Mill the sides Rod",
    ]
    assert [label["address"] for label in labels] == [
        f"{ADDRESS}/m/p/{ids['piece_id']}",
        f"{ADDRESS}/m/p/{ids['worked_id']}",
        f"{ADDRESS}/m/o/{ids['operation_id']}",
    ]


def test_a_code_is_the_standard_s_own_for_its_address(web: Web) -> None:
    """Against segno's matrix, with the four white modules on every side that ISO/IEC 18004 asks for (from memory)."""
    ids = web.small()
    [label] = labels_in(sheet_of(web, ids["build_id"], f"piece={ids['piece_id']}"))
    wanted = segno.make_qr(label["address"], error="m").matrix_iter(border=4)
    assert label["modules"] == [[bool(module) for module in row] for row in wanted]


def test_the_code_names_the_host_the_viewer_uses(web: Web) -> None:
    ids = web.small()
    web.client.headers["host"] = "localhost:8731"
    [label] = labels_in(sheet_of(web, ids["build_id"], f"piece={ids['piece_id']}"))
    assert label["address"] == f"http://localhost:8731/m/p/{ids['piece_id']}"


def test_whoever_prints_from_the_computer_itself_is_told_that_no_tablet_finds_it(web: Web) -> None:
    ids = web.small()
    html = web.get(f"/builds/{ids['build_id']}/labels").text
    assert "which means this computer to itself" in html


def test_scanning_opens_the_piece_or_the_start_of_the_operation(web: Web) -> None:
    ids = web.small()
    piece, operation = ids["piece_id"], ids["operation_id"]
    for path, page in ((f"/m/p/{piece}", f"/pieces/{piece}"), (f"/m/o/{operation}", f"/operations/{operation}/start")):
        answer = web.get(path, follow_redirects=False)
        assert answer.status_code == 303
        assert answer.headers["location"] == page
        assert web.get(path).status_code == 200


@pytest.mark.parametrize("path", ["/m/p/999", "/m/o/999", "/m/p/0", "/m/p/x", f"/m/o/{2**63}", "/m/x/1"])
def test_a_code_of_what_is_not_there_is_a_page_that_says_so(web: Web, path: str) -> None:
    web.small()
    answer = web.get(path)
    assert answer.status_code == 404
    whole(path, answer.text)


@pytest.mark.parametrize("key", SHEETS)
def test_labels_stand_where_the_sheet_has_them(web: Web, key: str) -> None:
    ids = web.small()
    sheet = SHEETS[key]
    copies = min(50, sheet.each)
    html = sheet_of(web, ids["build_id"], f"piece={ids['piece_id']}&copies={copies}&sheet={key}&start=2")
    placed = [(spot.left_nm, spot.top_nm, sheet.width_nm, sheet.height_nm) for spot in sheet.spots(copies, 2)]
    assert [label["sides"] for label in labels_in(html)] == placed
    pages = html.split('<div class="label-page')[1:]
    assert [each.count('<div class="label" ') for each in pages] == (
        [copies - 1, 1] if copies == sheet.each else [copies]
    )


def test_the_print_is_shifted_as_asked(web: Web) -> None:
    ids = web.small()
    [still] = labels_in(sheet_of(web, ids["build_id"], f"piece={ids['piece_id']}"))
    [moved] = labels_in(sheet_of(web, ids["build_id"], f"piece={ids['piece_id']}&right=-1.5&down=0,04 in"))
    assert moved["sides"][0] - still["sides"][0] == -1_500_000
    assert moved["sides"][1] - still["sides"][1] == 1_016_000


@pytest.mark.parametrize(
    ("asked", "why"),
    [
        ("start=0", "this sheet has 21 labels"),
        ("start=22", "this sheet has 21 labels"),
        ("start=x", "valid integer"),
        ("copies=0", "greater than or equal to 1"),
        ("copies=51", "less than or equal to 50"),
        ("right=6", "it moves the print too far"),
        ("down=much", "is not a number"),
        ("sheet=none", "there is no such sheet here"),
        ("host=elsewhere", "this server is not found there"),
        ("piece=999", "this build has no such piece"),
        ("operation=999", "this build has no such operation"),
        (f"piece={2**70}", "this build has no such piece"),
        ("copies=50" + "&piece={piece_id}" * 21, "too many to print at once"),
    ],
)
def test_what_cannot_be_printed_is_told(web: Web, asked: str, why: str) -> None:
    ids = web.small()
    given = "&".join([f"piece={ids['piece_id']}", asked.format(**ids)])
    answer = web.get(f"/builds/{ids['build_id']}/labels/sheet?{given}")
    assert answer.status_code == 422
    whole(asked, answer.text)
    assert why.lower() in text_of(answer.text).lower()


def test_pieces_of_another_build_are_not_printed(web: Web) -> None:
    ids = web.small()
    other = web.do("add-build", name="Lathe")["build_id"]
    assert web.get(f"/builds/{other}/labels/sheet?piece={ids['piece_id']}").status_code == 422


def test_an_empty_choice_says_so(web: Web) -> None:
    ids = web.small()
    html = sheet_of(web, ids["build_id"], "start=3")
    assert "No label is chosen." in html
    assert not labels_in(html)


def test_a_build_without_anything_says_so(web: Web) -> None:
    build = web.do("add-build", name="Empty")["build_id"]
    html = web.get(f"/builds/{build}/labels").text
    whole("labels", html)
    assert "nothing to label yet" in html


def test_the_choice_comes_ticked_for_the_part_or_piece_it_was_opened_from(web: Web) -> None:
    ids = web.small()
    base = f"/builds/{ids['build_id']}/labels"
    ticked = r'name="piece" value="(\d+)" checked'
    assert re.findall(ticked, web.get(base).text) == []
    assert re.findall(ticked, web.get(f"{base}?piece={ids['piece_id']}").text) == [str(ids["piece_id"])]
    of_part = re.findall(ticked, web.get(f"{base}?part={ids['part_id']}").text)
    assert of_part == [str(ids["worked_id"]), str(ids["piece_id"])]  # the scrap one is offered, not ticked


@pytest.mark.parametrize("mark", [HOSTILE[:40], LONG, "\u202e1-RC", "漢字" * 20, "a\u0301" * 20, "\"'>&<"])
def test_no_mark_breaks_a_label(web: Web, mark: str) -> None:
    build = web.do("add-build", name="Proof press")["build_id"]
    part = web.do("add-part", build_id=build, number="CR", name=HOSTILE * 3)["part_id"]
    [piece] = web.do("start-pieces", part_id=part, marks=mark)["piece_ids"]
    for key in ("A4-99.1x67.7-2x4", "A4-38.1x21.2-5x13", "Letter-66.7x25.4-3x10"):
        html = sheet_of(web, build, f"piece={piece}&sheet={key}")
        [label] = labels_in(html)
        assert label["address"] == f"{ADDRESS}/m/p/{piece}"
        assert "<script>alert" not in html
        sizes = [parse_length(each) for each in re.findall(r"font-size:([^\"]+)", html)]
        assert all(1_900_000 <= size <= SHEETS[key].height_nm // 2 for size in sizes)
