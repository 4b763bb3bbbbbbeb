"""The application with a client before it, and what the tests of pages and API ask of it."""

from __future__ import annotations

import re
from html import unescape
from html.parser import HTMLParser
from typing import Any
from uuid import uuid4

from httpx2 import Response
from starlette.testclient import TestClient

ADDRESS = "http://127.0.0.1:8731"
HERE = ("127.0.0.1", 5555)  # from where the shop's own computer asks; others have to be paired


class Web:
    """A client of the running application. `small()` fills it with a build that has something of everything."""

    def __init__(self, client: TestClient) -> None:
        self.client = client

    def get(self, path: str, **more: Any) -> Response:
        return self.client.get(path, **more)

    def post(self, path: str, data: Any, key: str | None = None, **more: Any) -> Response:
        """The raw answer to an action; a key of its own where none is given."""
        return self.client.post(f"/api/{path}", json=data, headers={"Idempotency-Key": key or uuid4().hex}, **more)

    def post_with(self, headers: dict[str, str]) -> Response:
        """The answer to a write that is right in itself, with these headers."""
        return self.client.post(
            "/api/add-build", json={"name": uuid4().hex}, headers={"Idempotency-Key": uuid4().hex, **headers}
        )

    def do(self, path: str, key: str | None = None, **fields: Any) -> dict[str, Any]:
        """The answer of an action that is taken."""
        answer = self.post(path, fields, key)
        assert answer.status_code == 200, answer.text
        return dict(answer.json())

    def refused(self, path: str, data: Any, **more: Any) -> dict[str, Any]:
        """The body of a refusal, in the shape that every refusal has."""
        answer = self.post(path, data, **more)
        assert answer.status_code == 422, (answer.status_code, answer.text)
        return refusal(answer)

    def small(self) -> dict[str, int]:
        """A build with two operations, three dimensions and three pieces; the numbers of all that is in it."""
        build = self.do("add-build", name="Proof press", note="its motion work")["build_id"]
        part = self.do("add-part", build_id=build, number="CR", name="Rod", needed=4)["part_id"]
        mill = self.do("add-operation", part_id=part, number=10, name="Mill the sides", check_before="clamps")
        bore = self.do("add-operation", part_id=part, number=20, name="Bore the eye", work_offset="G54/G55")
        asked = {"part_id": part, "unit": "mm"}
        width = self.do(
            "add-dimension",
            **asked,
            number="1",
            name="Width",
            requirement="25 ±0.02",
            cutting="smaller",
            operation_number=10,
        )
        eye = self.do(
            "add-dimension", **asked, number="2", name="Eye", requirement="12 H7", cutting="larger", operation_number=20
        )
        length = self.do("add-dimension", **asked, number="3", name="Length", requirement="(160)")
        first, second, third = self.do("start-pieces", part_id=part, count=3)["piece_ids"]
        run = self.do("start-run", operation_id=mill["operation_id"], pieces=[{"piece_id": first}], rpm=900, feed="250")
        past = self.do(
            "take-reading", piece_id=first, dimension_id=width["dimension_id"], value="24.9", run_id=run["run_id"]
        )
        self.do("accept-deviation", reading_id=past["reading_id"], text="its mate can be made to it")
        wrong = self.do("take-reading", piece_id=first, dimension_id=length["dimension_id"], value="161")
        self.do("correct-reading", reading_id=wrong["reading_id"], value="160.2", why="misread")
        note = self.do("log-event", kind="chatter", text="rang at the finish pass", run_id=run["run_id"])
        self.do("finish-run", run_id=run["run_id"])
        self.do("start-run", operation_id=bore["operation_id"], pieces=[{"piece_id": first, "work_offset": "G54"}])
        self.do("scrap-piece", piece_id=second, text="too small on one side")
        return {
            "build_id": build,
            "part_id": part,
            "operation_id": mill["operation_id"],
            "dimension_id": width["dimension_id"],
            "reference_id": length["dimension_id"],
            "eye_id": eye["dimension_id"],
            "piece_id": third,
            "worked_id": first,
            "run_id": run["run_id"],
            "reading_id": past["reading_id"],
            "event_id": note["event_id"],
        }


def refusal(answer: Response) -> dict[str, Any]:
    """The body of a refusal; its shape is always the same, and it always says something."""
    body = answer.json()
    assert set(body) == {"message", "problems", "question"}
    assert body["message"]
    for problem in body["problems"]:
        assert set(problem) == {"field", "read", "why", "accepts"}
        assert problem["why"]
    assert "Traceback" not in answer.text
    return dict(body)


class Looked(HTMLParser):
    """What a page is made of: its headings, its links, its scripts, and every attribute that could fetch something."""

    def __init__(self, html: str) -> None:
        super().__init__()
        self.headings: list[str] = []
        self.links: list[str] = []
        self.fetched: list[str] = []
        self.inline_scripts: list[str] = []
        self.handlers: list[str] = []
        self.ids: list[str] = []
        self._script: str | None = None
        self._in_h1 = False
        self.feed(html)
        self.close()

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        given = {name: value or "" for name, value in attrs}
        if tag == "h1":
            self.headings.append("")
            self._in_h1 = True
        if tag == "a" and "href" in given:
            self.links.append(given["href"])
        elif "href" in given:
            self.fetched.append(given["href"])
        self.fetched += [given[name] for name in ("src", "action", "srcset", "data", "poster") if name in given]
        self.handlers += [name for name in given if name.startswith("on")]
        self.ids += [given["id"]] if "id" in given else []
        # A block of data is no script: a browser runs nothing whose type it does not know (HTML, "data block").
        if tag == "script" and "src" not in given and given.get("type") != "application/json":
            self._script = ""

    def handle_endtag(self, tag: str) -> None:
        if tag == "h1":
            self._in_h1 = False
        if tag == "script" and self._script is not None:
            self.inline_scripts.append(self._script)
            self._script = None

    def handle_data(self, data: str) -> None:
        if self._in_h1:
            self.headings[-1] += data
        if self._script is not None:
            self._script += data


OUTSIDE = re.compile(r"^\s*([a-z][a-z0-9+.-]*:|//)", re.IGNORECASE)


def text_of(html: str) -> str:
    """What is read on a page, its blanks drawn together."""
    without = re.sub(r"<(script|style|template)\b.*?</\1>", " ", html, flags=re.DOTALL)
    return re.sub(r"\s+", " ", unescape(re.sub(r"<[^>]+>", " ", without)))
