"""Photographs over HTTP: taken as a form or alone, refused in words, and shown as nothing but the picture they are."""

from __future__ import annotations

import io
from pathlib import Path
from typing import Any
from uuid import uuid4

import pytest
from httpx2 import Response
from PIL import Image

from server.settings import Settings
from server.store.photo_files import PhotoFiles
from server.store.writer import NotSaved
from server.web.api import photos as photos_api
from tests.pictures import PRIVATE, corners, heic, jpeg, png, png_bomb, scene
from tests.web.web import Looked, Web, refusal


def send(web: Web, data: bytes, key: str | None = None, name: str = "IMG_0001.jpg", **fields: Any) -> Response:
    """As the page sends it. httpx2 says of the file what its name says."""
    return web.client.post(
        "/api/photos", data=fields, files={"photo": (name, data)}, headers={"Idempotency-Key": key or uuid4().hex}
    )


def added(web: Web, data: bytes, **more: Any) -> dict[str, Any]:
    answer = send(web, data, **more)
    assert answer.status_code == 200, answer.text
    return dict(answer.json())


def problem(answer: Response) -> dict[str, str]:
    assert answer.status_code == 422, (answer.status_code, answer.text)
    [found] = refusal(answer)["problems"]
    return dict(found)


def files_in(settings: Settings) -> list[Path]:
    return [each for each in settings.photos.rglob("*") if each.is_file()]


def test_a_photograph_is_kept_clean_and_shown_again(web: Web, settings: Settings) -> None:
    ids = web.small()
    photo = added(web, jpeg(6), piece_id=ids["piece_id"], caption="the burr", who="Wren")
    assert (photo["width"], photo["height"], photo["media_type"]) == (40, 64, "image/jpeg")
    assert photo["page"] == f"/pieces/{ids['piece_id']}"
    [file] = files_in(settings)
    assert not [secret for secret in PRIVATE if secret in file.read_bytes()]
    full = web.get(photo["full"])
    assert full.content == file.read_bytes()
    assert len(full.content) == photo["size_bytes"]
    small = web.get(photo["small"])
    with Image.open(io.BytesIO(small.content)) as image:
        assert (image.format, image.size) == ("JPEG", (40, 64))


def test_a_photograph_can_come_alone_with_its_fields_in_the_address(web: Web) -> None:
    ids = web.small()
    for data, kind in ((jpeg(), "image/jpeg"), (png(), "image/png"), (jpeg(), "application/octet-stream")):
        answer = web.client.post(
            f"/api/photos?run_id={ids['run_id']}&caption=as+it+sat&occurred_at=2026-05-01T18:00:00Z",
            content=data,
            headers={"Idempotency-Key": uuid4().hex, "Content-Type": kind},
        )
        assert answer.status_code == 200, answer.text
        assert answer.json()["caption"] == "as it sat"
    newest = web.get(f"/api/builds/{ids['build_id']}/log").json()[0]
    assert newest["occurred_at"] == "2026-05-01T18:00:00Z"
    assert newest["photo"]["sha256"] == answer.json()["sha256"]


@pytest.mark.parametrize("name", ["photo.txt", "photo", "../../up.jpg", "a\x00b.png", "page.html", "x" * 500])
def test_content_decides_and_the_name_never_does(web: Web, settings: Settings, name: str) -> None:
    ids = web.small()
    photo = added(web, png(), name=name, piece_id=ids["piece_id"])
    assert web.get(photo["full"]).headers["content-type"] == "image/png"
    assert [each.relative_to(settings.photos).as_posix() for each in files_in(settings)] == [
        f"{photo['sha256'][:2]}/{photo['sha256']}.png"
    ]


def test_a_photograph_is_served_as_nothing_but_a_picture(web: Web) -> None:
    ids = web.small()
    photo = added(web, png(), piece_id=ids["piece_id"])
    for address, kind in ((photo["full"], "image/png"), (photo["small"], "image/jpeg")):
        answer = web.get(address)
        assert answer.headers["content-type"] == kind
        assert answer.headers["x-content-type-options"] == "nosniff"
        assert answer.headers["content-security-policy"] == "default-src 'none'"
        assert answer.headers["cache-control"] == "private, max-age=31536000, immutable"


def test_a_browser_keeps_only_what_is_asked_for_by_its_hash(web: Web) -> None:
    """Two data folders served one after the other under one address have other photographs under the same numbers."""
    ids = web.small()
    photo = added(web, png(), piece_id=ids["piece_id"])
    for version in ("", "?v=", "?v=0000000000000000", f"?v={photo['sha256'][:3]}"):
        for which in ("full", "small"):
            answer = web.get(f"/photos/{photo['photo_id']}/{which}{version}")
            assert answer.status_code == 200
            assert answer.headers["cache-control"] == "private, no-cache"


def test_the_same_photograph_twice_is_one_file_and_two_rows(web: Web, settings: Settings) -> None:
    ids = web.small()
    first = added(web, jpeg(), piece_id=ids["piece_id"])
    second = added(web, jpeg(), piece_id=ids["worked_id"])
    assert first["sha256"] == second["sha256"]
    assert first["photo_id"] != second["photo_id"]
    assert len(files_in(settings)) == 1


def test_the_same_key_again_gets_the_same_answer(web: Web) -> None:
    ids = web.small()
    first = added(web, jpeg(), key="k", piece_id=ids["piece_id"])
    assert added(web, jpeg(), key="k", piece_id=ids["piece_id"]) == first
    assert len([line for line in web.get(f"/api/pieces/{ids['piece_id']}/log").json() if line["photo"]]) == 1
    assert problem(send(web, png(), key="k", piece_id=ids["piece_id"]))["field"] == "Idempotency-Key"


@pytest.mark.parametrize(
    ("data", "told", "accepts"),
    [
        (b"a text file named photo.jpg", "not a picture", "JPEG or PNG"),
        (b"", "empty", "JPEG or PNG"),
        (jpeg(private=False)[:-40], "cut short", "JPEG or PNG"),
        (heic(), "HEIC", "camera settings"),
        (png_bomb(), "30000 × 30000 pixels", "70 million"),
        (jpeg(private=False) + bytes(26 * 1024 * 1024), "larger than 25 MB", "25 MB"),
        (b"<svg xmlns='http://www.w3.org/2000/svg'><script>alert(1)</script></svg>", "SVG", "JPEG or PNG"),
        (b"<!doctype html><script>alert(1)</script>", "HTML", "JPEG or PNG"),
    ],
    ids=["text", "empty", "cut short", "HEIC", "bomb", "26 MB", "SVG", "HTML"],
)
def test_what_is_no_photograph_is_refused_whatever_it_is_called(
    web: Web, settings: Settings, data: bytes, told: str, accepts: str
) -> None:
    ids = web.small()
    as_form = problem(send(web, data, piece_id=ids["piece_id"]))
    assert as_form["field"] == "photo"
    assert told in as_form["why"]
    assert accepts in as_form["accepts"]
    if data:
        alone = web.client.post(
            f"/api/photos?piece_id={ids['piece_id']}",
            content=data,
            headers={"Idempotency-Key": "k", "Content-Type": "image/jpeg"},
        )
        assert problem(alone) == as_form
    assert files_in(settings) == []
    assert not [line for line in web.get(f"/api/pieces/{ids['piece_id']}/log").json() if line["photo"]]


def test_a_body_past_every_limit_is_not_read_to_its_end(web: Web) -> None:
    ids = web.small()
    answer = send(web, bytes(33 * 1024 * 1024), piece_id=ids["piece_id"])
    assert answer.status_code == 413
    assert "larger than 32 MB" in answer.text
    elsewhere = web.post("add-build", {"name": "x", "note": "y" * (13 * 1024 * 1024)})
    assert elsewhere.status_code == 413
    assert "larger than 12 MB" in elsewhere.text


@pytest.mark.parametrize(
    ("fields", "named"),
    [
        ({}, "piece_id"),
        ({"piece_id": "1", "run_id": "1"}, "piece_id"),
        ({"piece_id": "9999"}, "piece_id"),
        ({"piece_id": str(2**70)}, "piece_id"),
        ({"run_id": "x"}, "run_id"),
        ({"operation_id": "-1"}, "operation_id"),
        ({"event_id": "0"}, "event_id"),
        ({"caption": "y" * 501, "piece_id": "GOOD"}, "caption"),
        ({"occurred_at": "yesterday", "piece_id": "GOOD"}, "occurred_at"),
        ({"sha256": "ab" * 32, "piece_id": "GOOD"}, "sha256"),
        ({"media_type": "text/html", "piece_id": "GOOD"}, "media_type"),
    ],
)
def test_what_is_said_wrongly_is_told_by_its_field_and_leaves_no_file(
    web: Web, settings: Settings, fields: dict[str, str], named: str
) -> None:
    ids = web.small()
    given = {name: str(ids["piece_id"]) if value == "GOOD" else value for name, value in fields.items()}
    assert problem(send(web, jpeg(), **given))["field"] == named
    assert files_in(settings) == []


def test_a_request_that_is_no_upload_is_told_what_one_is(web: Web) -> None:
    ids = web.small()
    key = {"Idempotency-Key": "k"}
    post = web.client.post
    address = f"/api/photos?piece_id={ids['piece_id']}"
    for headers, body in (
        ({}, b"x"),
        ({"Content-Type": "application/json"}, b"{}"),
        ({"Content-Type": "text/plain"}, jpeg()),
        ({"Content-Type": "application/x-www-form-urlencoded"}, b"photo=x"),
    ):
        assert problem(post(address, content=body, headers=key | headers))["field"] == "Content-Type"
    broken = {"Content-Type": "multipart/form-data"}, {"Content-Type": "multipart/form-data; boundary=b"}
    for headers in broken:
        assert problem(post(address, content=b"--b\r\nnonsense", headers=key | headers))["field"] in (
            "the request",
            "photo",
        )
    assert problem(post(address, files={"picture": ("a.jpg", jpeg())}, headers=key))["field"] == "picture"
    assert problem(post(address, data={"photo": "text"}, files={"photo": ("a", b"")}, headers=key))["field"] in (
        "photo",
        "the request",
    )
    two = [("photo", ("a.jpg", jpeg())), ("photo", ("b.jpg", jpeg()))]
    assert problem(post(address, files=two, headers=key))["field"] == "the request"
    assert problem(post(address, files={"photo": ("a.jpg", jpeg())}))["field"] == "Idempotency-Key"


def test_a_page_of_another_site_adds_no_photograph(web: Web, settings: Settings) -> None:
    ids = web.small()
    answer = web.client.post(
        "/api/photos",
        data={"piece_id": ids["piece_id"]},
        files={"photo": ("a.jpg", jpeg())},
        headers={"Idempotency-Key": "k", "Origin": "http://bad.example"},
    )
    assert answer.status_code == 403
    assert files_in(settings) == []


def test_a_full_disk_is_told_and_the_same_key_may_come_again(
    web: Web, settings: Settings, monkeypatch: pytest.MonkeyPatch
) -> None:
    ids = web.small()
    with monkeypatch.context() as full:

        def put(*_: object) -> None:
            raise NotSaved("the disk is full: the photograph was not saved; send it again when that is mended")

        full.setattr(PhotoFiles, "put", put)
        answer = send(web, jpeg(), key="k", piece_id=ids["piece_id"])
        assert answer.status_code == 503
        assert "the disk is full" in answer.json()["message"]
    assert added(web, jpeg(), key="k", piece_id=ids["piece_id"])["photo_id"]


def test_a_crash_between_file_and_row_leaves_a_file_and_no_row_and_it_may_come_again(
    web: Web, settings: Settings, monkeypatch: pytest.MonkeyPatch
) -> None:
    ids = web.small()

    class Crash(Exception):
        pass

    def crash(*_: object) -> None:
        assert len(files_in(settings)) == 1  # on the disk before anything is logged
        raise Crash

    with monkeypatch.context() as crashing:
        crashing.setattr(photos_api, "perform", crash)
        with pytest.raises(Crash):
            send(web, jpeg(), key="k", piece_id=ids["piece_id"])
    assert not [line for line in web.get(f"/api/pieces/{ids['piece_id']}/log").json() if line["photo"]]
    assert added(web, jpeg(), key="k", piece_id=ids["piece_id"])["photo_id"]
    assert len(files_in(settings)) == 1


@pytest.mark.parametrize("which", ["full", "small"])
@pytest.mark.parametrize("number", ["0", "-1", "999", str(2**63), "x", "1"])
def test_a_photograph_that_is_not_there_is_a_page_that_says_so(web: Web, which: str, number: str) -> None:
    web.small()
    assert web.get(f"/photos/{number}/{which}").status_code == 404


@pytest.mark.parametrize("which", ["full", "small"])
def test_a_photograph_whose_file_is_lost_is_told(web: Web, settings: Settings, which: str) -> None:
    ids = web.small()
    photo = added(web, jpeg(), piece_id=ids["piece_id"])
    [file] = files_in(settings)
    file.unlink()
    answer = web.get(photo[which])
    assert answer.status_code == 404
    assert "no file of a photograph any more" in answer.text
    assert web.get(photo["page"]).status_code == 200


def images(web: Web, page: str) -> list[str]:
    answer = web.get(page)
    assert answer.status_code == 200
    return [each for each in Looked(answer.text).fetched if each.startswith("/photos/")]


def test_photographs_are_shown_where_they_belong(web: Web) -> None:
    ids = web.small()
    typed = '"><script>alert(1)</script>'
    of_piece = added(web, jpeg(), piece_id=ids["worked_id"], caption=typed)["small"]
    of_setup = added(web, png(), operation_id=ids["operation_id"], caption=typed)["small"]
    of_event = added(web, jpeg(3), event_id=ids["event_id"], caption=typed)["small"]
    piece, log = f"/pieces/{ids['worked_id']}", f"/builds/{ids['build_id']}/log"
    assert images(web, piece) == [of_piece, of_event] * 2  # the strip, and the story
    assert images(web, log) == [of_event, of_setup, of_piece]
    assert images(web, f"/operations/{ids['operation_id']}/edit") == [of_setup]
    assert images(web, f"/operations/{ids['operation_id']}/start") == [of_setup]
    for page in (piece, log, f"/operations/{ids['operation_id']}/edit"):
        assert "<script>alert" not in web.get(page).text


def test_a_photograph_taken_back_is_struck_out_in_the_story_and_gone_from_the_strip(web: Web) -> None:
    ids = web.small()
    photo = added(web, jpeg(), piece_id=ids["piece_id"], caption="the wrong one")
    setup = added(web, png(), operation_id=ids["operation_id"])
    for each in (photo, setup):
        web.do("take-back-photo", photo_id=each["photo_id"], why="blurred")
    assert images(web, f"/operations/{ids['operation_id']}/edit") == []
    assert images(web, f"/pieces/{ids['piece_id']}") == [photo["small"]]
    html = web.get(f"/pieces/{ids['piece_id']}").text
    assert f'<li id="e-{photo["photo_id"]}" class="replaced">' in html
    assert "“photo” taken back: blurred" in html


def test_the_story_as_json_holds_all_that_is_known_of_a_photograph(web: Web) -> None:
    ids = web.small()
    photo = added(web, jpeg(image=scene(100, 50)), piece_id=ids["piece_id"], caption="as it came off")
    line = web.get(f"/api/pieces/{ids['piece_id']}/log").json()[-1]
    assert line["kind"] == "photo"
    told = {name: value for name, value in line["photo"].items() if value is not None}
    names = ("sha256", "media_type", "width", "height", "size_bytes", "caption", "piece_id")
    assert told == {"id": photo["photo_id"], **{name: photo[name] for name in names}}
    assert (told["width"], told["height"]) == (100, 50)


def test_a_photograph_held_sideways_has_an_upright_thumbnail(web: Web) -> None:
    ids = web.small()
    lying = scene(640, 400).transpose(Image.Transpose.ROTATE_90)
    photo = added(web, jpeg(6, lying), piece_id=ids["piece_id"])
    assert corners(web.get(photo["small"]).content) == ("red", "green", "blue", "blue")


def test_the_description_tells_how_a_photograph_is_sent(web: Web) -> None:
    operation = web.get("/api/openapi.json").json()["paths"]["/api/photos"]["post"]
    content = operation["requestBody"]["content"]
    assert set(content) == {"multipart/form-data", "image/jpeg", "image/png"}
    assert {"photo", "piece_id", "run_id", "operation_id", "event_id", "caption", "who", "occurred_at"} == set(
        content["multipart/form-data"]["schema"]["properties"]
    )
    assert {"piece_id", "caption", "Idempotency-Key"} <= {each["name"] for each in operation["parameters"]}
    assert {"200", "422", "503"} <= set(operation["responses"])
