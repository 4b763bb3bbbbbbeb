"""Route cards: everything a bench without a tablet needs, in the order of the work; and the form to enter one."""

from __future__ import annotations

import re
from html.parser import HTMLParser

import pytest

from server.plan.reading import DimensionPlan, OperationPlan, PartPlan
from server.records.route_card import steps_of
from tests.web.test_pages import whole
from tests.web.web import ADDRESS, Web, text_of


class Rows(HTMLParser):
    """The rows of a page's tables, each as its class and the text of its cells."""

    def __init__(self, html: str) -> None:
        super().__init__()
        self.rows: list[tuple[str, list[str]]] = []
        self._in_cell = False
        self.feed(html)
        self.close()

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        if tag == "tr":
            self.rows.append((dict(attrs).get("class") or "", []))
        if tag in ("td", "th"):
            self.rows[-1][1].append("")
            self._in_cell = True

    def handle_endtag(self, tag: str) -> None:
        if tag in ("td", "th"):
            self._in_cell = False

    def handle_data(self, data: str) -> None:
        if self._in_cell:
            self.rows[-1][1][-1] = re.sub(r"\s+", " ", self.rows[-1][1][-1] + data).strip()


def card_rows(html: str, kind: str) -> list[list[str]]:
    return [cells for name, cells in Rows(html).rows if name == kind]


def test_a_card_has_the_sequence_with_what_is_measured_after_each_operation(web: Web) -> None:
    ids = web.small()
    html = web.get(f"/pieces/{ids['piece_id']}/card").text
    whole("card", html)
    order = [(kind, cells[0]) for kind, cells in Rows(html).rows if kind in ("card-step", "card-dimension")]
    assert [(kind, text.split()[0]) for kind, text in order] == [
        ("card-step", "10"),
        ("card-dimension", "1"),
        ("card-step", "20"),
        ("card-dimension", "2"),
        ("card-step", "No"),  # operation of the plan makes these
        ("card-dimension", "3"),
    ]
    first, second, _ = card_rows(html, "card-step")
    assert "Mill the sides" in first[0]
    assert "clamps" in first[0]
    assert html.count('class="tick-box"') == 1
    assert "Offset G54/G55" in second[0]
    for word in ("done on", "time", "by", "rev/min", "offset", "remarks"):
        assert word in first[0]


def test_a_dimension_has_requirement_limits_and_empty_boxes(web: Web) -> None:
    ids = web.small()
    width, eye, length = card_rows(web.get(f"/pieces/{ids['piece_id']}/card").text, "card-dimension")
    assert width == ["1", "Width", "25 ±0.02", "24.980", "25.020", "", "", ""]
    # 12 H7 is 0 to +18 µm: ISO 286-2 (from memory).
    assert eye == ["2", "Eye", "12 H7", "12.000", "12.018", "", "", ""]
    assert length == ["3", "Length", "(160)", "reference", "", "", ""]


def test_limits_are_in_the_unit_the_viewer_reads(web: Web) -> None:
    ids = web.small()
    web.client.cookies.set("unit", "in")
    html = web.get(f"/pieces/{ids['piece_id']}/card").text
    assert card_rows(html, "card-dimension")[0][2:5] == ["25 ±0.02 mm", "0.98346", "0.98504"]
    assert "sizes in inches" in text_of(html)


def test_a_thread_has_what_to_read_over_wires(web: Web) -> None:
    ids = web.small()
    web.do(
        "add-dimension",
        part_id=ids["part_id"],
        number="4",
        name="Screw",
        requirement="M10 6g",
        unit="mm",
        cutting="smaller",
        operation_number=10,
    )
    rows = card_rows(web.get(f"/pieces/{ids['piece_id']}/card").text, "card-dimension")
    assert "over three" in rows[1][2]


def test_the_head_names_the_piece_and_carries_its_code(web: Web) -> None:
    ids = web.small()
    html = web.get(f"/pieces/{ids['piece_id']}/card").text
    head = text_of(html.split("<thead>")[1].split("</thead>")[0])
    assert "CR-3" in head
    assert "CR Rod" in head
    assert "Proof press" in head
    assert f'aria-label="Code of CR-3: {ADDRESS}/m/p/{ids["piece_id"]}"' in html


def test_a_part_has_a_card_for_each_piece_that_can_be_worked_on(web: Web) -> None:
    ids = web.small()
    html = web.get(f"/parts/{ids['part_id']}/cards").text
    whole("cards", html)
    assert re.findall(r'aria-label="Route card of ([^"]+)"', html) == ["CR-1", "CR-3"]  # CR-2 is scrap


@pytest.mark.parametrize("paper", ["A4", "Letter"])
def test_a_card_is_for_the_paper_asked_for(web: Web, paper: str) -> None:
    ids = web.small()
    html = web.get(f"/pieces/{ids['piece_id']}/card?paper={paper}").text
    assert f"/static/css/card_{paper.lower()}.css" in html
    assert web.get(f"/static/css/card_{paper.lower()}.css").status_code == 200


def test_another_paper_is_told(web: Web) -> None:
    ids = web.small()
    answer = web.get(f"/pieces/{ids['piece_id']}/card?paper=foolscap")
    assert answer.status_code == 422
    whole("card", answer.text)
    assert "'A4' or 'Letter'" in text_of(answer.text)


@pytest.mark.parametrize("page", ["/pieces/{}/card", "/pieces/{}/card-entry", "/parts/{}/cards"])
@pytest.mark.parametrize("number", ["0", "-1", "999", str(2**63), "x"])
def test_what_is_not_there_is_a_page_that_says_so(web: Web, page: str, number: str) -> None:
    web.small()
    answer = web.get(page.format(number))
    assert answer.status_code == 404
    whole(page, answer.text)


def test_a_part_without_pieces_or_plan_says_what_is_lacking(web: Web) -> None:
    build = web.do("add-build", name="Proof press")["build_id"]
    part = web.do("add-part", build_id=build, number="ST", name="strap")["part_id"]
    html = web.get(f"/parts/{part}/cards").text
    whole("cards", html)
    assert "no piece that can be worked on" in html
    [piece] = web.do("start-pieces", part_id=part)["piece_ids"]
    for page in (f"/pieces/{piece}/card", f"/pieces/{piece}/card-entry"):
        html = web.get(page).text
        whole(page, html)
        assert "no operations and no dimensions" in html


def test_the_form_asks_in_the_order_of_the_card(web: Web) -> None:
    ids = web.small()
    html = web.get(f"/pieces/{ids['worked_id']}/card-entry").text
    whole("card-entry", html)
    asked = re.findall(r'data-line="(run|reading)"(?: data-dimension="(\d+)")?', html)
    assert asked == [
        ("run", ""),
        ("reading", str(ids["dimension_id"])),
        ("run", ""),
        ("reading", str(ids["eye_id"])),
        ("reading", str(ids["reference_id"])),
    ]
    assert "In the log: 24.900" in html
    assert "In the log: done" in html


def test_nothing_is_entered_on_a_scrap_piece(web: Web) -> None:
    ids = web.small()
    web.do("scrap-piece", piece_id=ids["piece_id"], text="dropped")
    html = web.get(f"/pieces/{ids['piece_id']}/card-entry").text
    whole("card-entry", html)
    assert "Nothing is logged on a piece that is scrap." in html
    assert 'id="card-entry"' not in html


def test_the_pages_lead_to_cards_and_labels(web: Web) -> None:
    ids = web.small()
    piece, part, build = ids["piece_id"], ids["part_id"], ids["build_id"]
    piece_page = web.get(f"/pieces/{piece}").text
    for address in (f"/pieces/{piece}/card", f"/pieces/{piece}/card-entry", f"/builds/{build}/labels?piece={piece}"):
        assert f'href="{address}"' in piece_page
    part_page = web.get(f"/parts/{part}").text
    for address in (f"/parts/{part}/cards", f"/builds/{build}/labels?part={part}"):
        assert f'href="{address}"' in part_page
    assert f'href="/builds/{build}/labels"' in web.get(f"/builds/{build}").text


def test_what_was_typed_stays_text_on_a_card(web: Web) -> None:
    typed = "</td><script>alert(1)</script>"
    build = web.do("add-build", name=typed)["build_id"]
    part = web.do("add-part", build_id=build, number="CR", name=typed, material=typed)["part_id"]
    web.do("add-operation", part_id=part, number=10, name=typed, setup=typed, cutters=typed, check_before=typed)
    web.do("add-dimension", part_id=part, number="1", name=typed, requirement="25 ±0.02", gauge=typed, unit="mm")
    [piece] = web.do("start-pieces", part_id=part, marks="<b>x</b>")["piece_ids"]
    for page in (f"/pieces/{piece}/card", f"/pieces/{piece}/card-entry"):
        html = web.get(page).text
        whole(page, html)
        assert "<script>alert" not in html
        assert "<b>x" not in html


def operation(number: int) -> OperationPlan:
    return OperationPlan(number, number, f"op {number}", "", "", "", "", None, "")


def dimension(number: int, operation_number: int | None) -> DimensionPlan:
    return DimensionPlan(
        number, str(number), "size", operation_number, "fit", "", "(1)", "mm", "reference", 1, None, None, "", "neither"
    )


def test_every_dimension_stands_once_on_a_card_whatever_makes_it() -> None:
    dimensions = [dimension(at, op) for at, op in enumerate([20, None, 10, 99, 20, 10])]
    operations = [operation(10), operation(20), operation(30)]
    part = PartPlan(1, 1, "CR", "rod", "", "", "none", 1, 0, "", "", operations, dimensions)
    steps = steps_of(part)
    assert [step.operation.number if step.operation else None for step in steps] == [10, 20, 30, None]
    assert [[each.plan.id for each in step.dimensions] for step in steps] == [[2, 5], [0, 4], [], [1, 3]]
