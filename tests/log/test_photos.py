"""Photographs in the log: of one thing each, told in its story, taken back with a reason, and the state of nothing."""

from __future__ import annotations

import sqlite3
from typing import Any

import pytest
from sqlalchemy import select

from server.log.events import LogEvent, TakeBackEvent
from server.log.photos import (
    AddPhoto,
    TakeBackPhoto,
    names_of_files,
    photos_of_operation,
    photos_of_piece,
    photos_of_run,
)
from server.log.story import Line, lines_of_build, lines_of_piece
from server.log.tables import Photo
from tests.shop import Shop

SHA = "ab" * 32
FILE = {"sha256": SHA, "media_type": "image/jpeg", "width": 640, "height": 480, "size_bytes": 123_456}


class Scene:
    """A part with an operation, two pieces in a run, a third piece, and an event of each kind of belonging."""

    def __init__(self, shop: Shop) -> None:
        self.shop = shop
        self.build = shop.build()
        part = shop.part(self.build)
        self.operation = shop.operation(part, 10, "Mill")
        self.first, self.second, self.other = shop.pieces(part, 3)
        self.run = shop.run(self.operation, self.first, self.second)
        self.of_piece = shop.do(LogEvent, kind="note", text="burr left", piece_id=self.first)["event_id"]
        self.of_run = shop.do(LogEvent, kind="chatter", text="rang", run_id=self.run)["event_id"]
        self.of_build = shop.do(LogEvent, kind="note", text="cold night", build_id=self.build)["event_id"]

    def add(self, **about: Any) -> dict[str, Any]:
        return self.shop.do(AddPhoto, **FILE, **about)

    def photos(self, of: Any, number: int) -> list[int]:
        with self.shop.database.read() as connection:
            return [each.id for each in of(connection, number)]

    def story(self, piece: int) -> list[Line]:
        with self.shop.database.read() as connection:
            return lines_of_piece(connection, piece)

    def log(self) -> list[Line]:
        with self.shop.database.read() as connection:
            return lines_of_build(connection, self.build, None, 100)


@pytest.fixture
def scene(shop: Shop) -> Scene:
    return Scene(shop)


def test_a_photograph_belongs_to_one_thing_and_is_seen_on_its_page(scene: Scene) -> None:
    for about, page in (
        ({"piece_id": scene.first}, f"/pieces/{scene.first}"),
        ({"run_id": scene.run}, f"/runs/{scene.run}"),
        ({"operation_id": scene.operation}, f"/operations/{scene.operation}/edit"),
        ({"event_id": scene.of_piece}, f"/pieces/{scene.first}"),
        ({"event_id": scene.of_run}, f"/runs/{scene.run}"),
        ({"event_id": scene.of_build}, f"/builds/{scene.build}/log"),
    ):
        answer = scene.add(caption="as it sat", **about)
        assert answer["page"] == page
        assert answer["full"] == f"/photos/{answer['photo_id']}/full?v={SHA[:16]}"
        with scene.shop.database.read() as connection:
            row = connection.execute(select(Photo.__table__).where(Photo.id == answer["photo_id"])).one()  # type: ignore
        assert {name: getattr(row, name) for name in FILE} == FILE
        assert row.caption == "as it sat"
        assert [name for name in ("piece_id", "run_id", "operation_id", "event_id") if getattr(row, name)] == list(
            about
        )


def test_a_photograph_of_nothing_or_of_two_things_is_refused(scene: Scene) -> None:
    assert "nothing says" in scene.shop.refused(AddPhoto, **FILE).why
    assert "more than one" in scene.shop.refused(AddPhoto, **FILE, piece_id=scene.first, run_id=scene.run).why


@pytest.mark.parametrize("about", ["piece_id", "run_id", "operation_id", "event_id"])
@pytest.mark.parametrize("number", [0, -1, 9999, 2**63])
def test_a_photograph_of_what_is_not_there_is_refused_by_its_name(scene: Scene, about: str, number: int) -> None:
    assert scene.shop.refused(AddPhoto, **FILE, **{about: number}).field == about


@pytest.mark.parametrize(
    "wrong",
    [
        {"sha256": "../../etc/passwd"},
        {"sha256": "AB" * 32},
        {"media_type": "image/svg+xml"},
        {"width": 0},
        {"caption": "x" * 501},
    ],
)
def test_no_row_names_a_file_that_cannot_be_one(scene: Scene, wrong: dict[str, Any]) -> None:
    assert scene.shop.refused(AddPhoto, **{**FILE, "piece_id": scene.first, **wrong}).field in wrong


def test_the_story_of_a_piece_tells_its_own_its_runs_and_its_events_photographs(scene: Scene) -> None:
    own, of_run, of_event, of_chatter = (
        scene.add(**about)["photo_id"]
        for about in (
            {"piece_id": scene.first, "caption": "the burr"},
            {"run_id": scene.run},
            {"event_id": scene.of_piece},
            {"event_id": scene.of_run},
        )
    )
    scene.add(operation_id=scene.operation)
    scene.add(event_id=scene.of_build)
    assert scene.photos(photos_of_piece, scene.first) == [own, of_run, of_event, of_chatter]
    assert scene.photos(photos_of_piece, scene.second) == [of_run, of_chatter]
    assert scene.photos(photos_of_piece, scene.other) == []
    assert scene.photos(photos_of_run, scene.run) == [of_run, of_chatter]
    lines = {line.id: line for line in scene.story(scene.first) if line.kind == "photo"}
    assert set(lines) == {own, of_run, of_event, of_chatter}
    assert lines[own].photo is not None
    assert lines[own].photo.caption == "the burr"
    assert [each.piece_id for each in lines[own].pieces] == [scene.first]
    assert [each.piece_id for each in lines[of_run].pieces] == [scene.first, scene.second]
    assert (lines[of_run].operation_number, lines[of_run].run_id) == (10, scene.run)
    assert lines[of_event].text == "note: burr left"
    assert lines[of_chatter].text == "chatter: rang"


def test_the_log_tells_every_photograph(scene: Scene) -> None:
    of_setup = scene.add(operation_id=scene.operation)["photo_id"]
    of_note = scene.add(event_id=scene.of_build)["photo_id"]
    newest, before = scene.log()[:2]
    assert (newest.id, newest.kind, newest.text) == (of_note, "photo", "note: cold night")
    assert (before.id, before.operation_number, before.operation_name) == (of_setup, 10, "Mill")
    assert scene.photos(photos_of_operation, scene.operation) == [of_setup]


def test_a_photograph_taken_back_is_struck_out_and_stays(scene: Scene) -> None:
    photo = scene.add(piece_id=scene.first)["photo_id"]
    answer = scene.shop.do(TakeBackPhoto, photo_id=photo, why="the wrong piece")
    assert answer["page"] == f"/pieces/{scene.first}"
    assert scene.photos(photos_of_piece, scene.first) == []
    *_, old, new = scene.story(scene.first)
    assert (old.id, old.replaced_by) == (photo, new.id)
    assert (new.kind, new.text, new.why) == ("taken back", "photo", "the wrong piece")
    with scene.shop.database.read() as connection:
        assert names_of_files(connection) == {f"ab/{SHA}.jpg"}
    assert "before" in scene.shop.refused(TakeBackPhoto, photo_id=photo, why="again").why
    assert scene.shop.refused(TakeBackEvent, event_id=answer["event_id"], why="no").field == "event_id"


@pytest.mark.parametrize("about", ["run", "operation", "of_piece", "of_run", "of_build"])
def test_a_photograph_of_anything_can_be_taken_back(scene: Scene, about: str) -> None:
    field = f"{about}_id" if about in ("run", "operation") else "event_id"
    added = scene.add(**{field: getattr(scene, about)})
    answer = scene.shop.do(TakeBackPhoto, photo_id=added["photo_id"], why="out of focus")
    assert answer["page"] == added["page"]
    assert scene.log()[0].text == "photo"
    assert scene.log()[1].replaced_by == answer["event_id"]


def test_a_reason_is_wanted(scene: Scene) -> None:
    photo = scene.add(piece_id=scene.first)["photo_id"]
    assert scene.shop.refused(TakeBackPhoto, photo_id=photo, why="").field == "why"
    assert scene.shop.refused(TakeBackPhoto, photo_id=photo + 1, why="x").field == "photo_id"


def test_the_same_picture_twice_is_two_rows(scene: Scene) -> None:
    first, second = scene.add(piece_id=scene.first), scene.add(piece_id=scene.second)
    assert first["photo_id"] != second["photo_id"]
    with scene.shop.database.read() as connection:
        assert len(names_of_files(connection)) == 1


def test_no_photograph_changes_the_state_of_anything(scene: Scene) -> None:
    before = scene.shop.kept_and_rebuilt()[0]
    photos = [
        scene.add(**about)["photo_id"]
        for about in (
            {"piece_id": scene.first},
            {"run_id": scene.run},
            {"operation_id": scene.operation},
            {"event_id": scene.of_piece},
        )
    ]
    scene.shop.do(TakeBackPhoto, photo_id=photos[0], why="blurred")
    kept, rebuilt = scene.shop.kept_and_rebuilt()
    assert before == kept == rebuilt


def test_the_key_again_adds_nothing_and_with_another_picture_is_told(scene: Scene) -> None:
    first = scene.shop.do(AddPhoto, key="k", **FILE, piece_id=scene.first)
    assert scene.shop.do(AddPhoto, key="k", **FILE, piece_id=scene.first) == first
    assert scene.photos(photos_of_piece, scene.first) == [first["photo_id"]]


def test_a_photograph_can_be_put_in_the_log_afterwards(scene: Scene) -> None:
    scene.add(piece_id=scene.first, who="Wren", occurred_at="2026-05-01T18:00:00Z")
    line = scene.log()[0]
    assert (line.who, line.occurred_at.isoformat()) == ("Wren", "2026-05-01T18:00:00+00:00")


def test_the_database_itself_keeps_photographs(scene: Scene, outside: sqlite3.Connection) -> None:
    scene.add(piece_id=scene.first)
    for statement in ("DELETE FROM photo", "UPDATE photo SET caption = 'x'"):
        with pytest.raises(sqlite3.DatabaseError):
            outside.execute(statement)
