"""The photographs of a record: all of them listed, their pictures inside the file, and the file of a bounded size."""

from __future__ import annotations

import base64
import io
import random
import re
from pathlib import Path
from typing import Any

import pytest
from PIL import Image

from server.log.events import LogEvent
from server.log.photos import AddPhoto, TakeBackPhoto
from server.records.record_html import as_html
from server.records.record_pictures import LARGEST_TOGETHER, pictures
from server.records.record_values import Record
from server.settings import Settings
from server.store.database import Database
from server.store.photo_files import PhotoFiles
from server.store.picture import read_picture
from tests.pictures import corners, jpeg, png, scene
from tests.records.rods import HOSTILE, Page, Rods, valid_json


class Photographed(Rods):
    """Rods with photographs: `photo(b"…", piece_id=3)` gives the number of a new one."""

    def __init__(self, database: Database, settings: Settings) -> None:
        super().__init__(database)
        self.files = PhotoFiles(settings)

    def photo(self, data: bytes, **about: Any) -> int:
        picture = read_picture(data)
        fields = {name: getattr(picture, name) for name in ("media_type", "width", "height")}
        action = AddPhoto(sha256=self.files.put(picture), size_bytes=len(picture.data), **fields, **about)
        return int(self.do(action)["photo_id"])

    def html(self, record: Record) -> str:
        return as_html(record, "mm", pictures=pictures(record, self.files))


@pytest.fixture
def rods(database: Database, settings: Settings) -> Photographed:
    return Photographed(database, settings)


def coloured(colour: str) -> bytes:
    return jpeg(image=Image.new("RGB", (32, 24), colour))


def noise(seed: int, width: int = 1200, height: int = 900) -> bytes:
    """What packs worst."""
    pixels = random.Random(seed).randbytes(width * height * 3)
    return jpeg(image=Image.frombytes("RGB", (width, height), pixels), private=False)


def embedded(html: str) -> list[bytes]:
    """Every picture in the file, as it is."""
    return [base64.b64decode(each) for each in re.findall(r'src="data:image/jpeg;base64,([^"]+)"', html)]


def test_every_photograph_of_a_piece_its_runs_and_its_events_is_told_of_it(rods: Photographed) -> None:
    first, second = rods.pieces(2)
    run = rods.run(rods.mill, first, second)
    note = rods.do(LogEvent(kind="note", text="burr", piece_id=second))["event_id"]
    rang = rods.do(LogEvent(kind="chatter", text="rang", run_id=run))["event_id"]
    own = rods.photo(coloured("red"), piece_id=first, caption="its face")
    of_run = rods.photo(coloured("green"), run_id=run)
    of_note = rods.photo(coloured("blue"), event_id=note)
    of_rang = rods.photo(coloured("white"), event_id=rang)
    of_setup = rods.photo(coloured("black"), operation_id=rods.bore, who="Ida")
    record = rods.record()
    told = [[photo.id for photo in piece.photos] for piece in record.pieces]
    assert told == [[own, of_run, of_rang], [of_run, of_note, of_rang]]
    assert [(each.id, each.of, each.operation_number, each.who) for each in record.setup_photos] == [
        (of_setup, "operation", 20, "Ida")
    ]
    assert [each.of for each in record.pieces[0].photos] == ["piece", "run", "event"]
    assert [each.operation_number for each in record.pieces[0].photos] == [None, 10, None]
    alone = rods.record(first)
    assert [each.id for each in alone.pieces[0].photos] == told[0]
    assert [each.id for each in alone.setup_photos] == [of_setup]


def test_photographs_of_other_parts_are_not_in_it(rods: Photographed) -> None:
    [piece] = rods.pieces()
    own = rods.photo(coloured("red"), piece_id=piece)
    mine = rods.part
    rods.hostile_record()  # another build; what follows is added to its part
    operation = rods.operation(30, "Deburr")
    [other] = rods.pieces()
    rods.photo(coloured("green"), piece_id=other)
    rods.photo(coloured("green"), operation_id=operation)
    event = rods.do(LogEvent(kind="note", text="x", piece_id=other))["event_id"]
    rods.photo(coloured("green"), event_id=event)
    rods.part = mine
    record = rods.record()
    assert [photo.id for each in record.pieces for photo in each.photos] == [own]
    assert record.setup_photos == ()


def test_the_json_says_all_of_a_photograph_but_its_picture(rods: Photographed) -> None:
    [piece] = rods.pieces()
    photo = rods.photo(png(6), piece_id=piece, caption=HOSTILE)
    rods.photo(jpeg(), operation_id=rods.mill)
    rods.do(TakeBackPhoto(photo_id=photo, why="blurred", who="Wren"))
    read = valid_json(rods.record())
    [told] = read["pieces"][0]["photos"]
    assert (told["width"], told["height"], told["media_type"], told["caption"]) == (40, 64, "image/png", HOSTILE)
    assert (rods.files.folder / told["sha256"][:2] / f"{told['sha256']}.png").exists()
    assert (told["taken_back"]["why"], told["taken_back"]["who"]) == ("blurred", "Wren")
    assert len(read["setup_photos"]) == 1


def test_the_page_holds_its_pictures_and_still_fetches_nothing(rods: Photographed) -> None:
    [piece] = rods.pieces()
    rods.photo(jpeg(), piece_id=piece, caption=HOSTILE)
    rods.photo(png(), operation_id=rods.mill, caption="as it was clamped")
    page = Page(html := rods.html(rods.record(piece)))
    assert page.open == []
    sources = [value for name, value in page.attributes if name == "src"]
    assert len(sources) == 2
    assert all(value.startswith("data:image/jpeg;base64,") for value in sources)
    assert not {name for name, _ in page.attributes} & {"href", "srcset", "onerror"}
    assert page.tags.count("script") == 0
    assert "as it was clamped" in page.text
    assert "img-src data:" in html


def test_a_picture_in_a_record_stands_upright_and_is_reduced(rods: Photographed) -> None:
    [piece] = rods.pieces()
    lying = scene(3200, 2000).transpose(Image.Transpose.ROTATE_90)
    rods.photo(jpeg(6, lying), piece_id=piece)
    [data] = embedded(rods.html(rods.record(piece)))
    with Image.open(io.BytesIO(data)) as image:
        assert image.size == (1000, 625)
    assert corners(data) == ("red", "green", "blue", "blue")


def test_a_photograph_of_a_run_of_two_pieces_is_in_the_file_once(rods: Photographed) -> None:
    run = rods.run(rods.mill, *rods.pieces(2))
    rods.photo(coloured("red"), run_id=run, caption="both in the vice")
    html = rods.html(rods.record())
    assert len(embedded(html)) == 1
    assert Page(html).text.count("both in the vice") == 2
    assert Page(html).text.count("shown above") == 1


def test_a_photograph_taken_back_is_listed_with_its_reason_and_not_shown(rods: Photographed) -> None:
    [piece] = rods.pieces()
    photo = rods.photo(coloured("red"), piece_id=piece, caption="the wrong one")
    rods.do(TakeBackPhoto(photo_id=photo, why="it was CR-9"))
    html = rods.html(rods.record(piece))
    assert embedded(html) == []
    assert "the wrong one" in Page(html).text
    assert "it was CR-9" in Page(html).text


def test_a_photograph_whose_file_is_lost_is_listed_and_said_not_to_be_there(
    rods: Photographed, settings: Settings
) -> None:
    [piece] = rods.pieces()
    rods.photo(coloured("red"), piece_id=piece, caption="lost one")
    rods.photo(coloured("blue"), piece_id=piece, caption="kept one")
    lost: Path = rods.files.file(rods.record(piece).pieces[0].photos[0].sha256, "image/jpeg")
    lost.unlink()
    html = rods.html(rods.record(piece))
    assert len(embedded(html)) == 1
    assert "lost one" in Page(html).text
    assert Page(html).text.count("the picture is not in this record") == 1


def test_many_photographs_are_reduced_further_and_past_that_only_listed(rods: Photographed) -> None:
    [piece] = rods.pieces()
    for seed in range(4):
        rods.photo(noise(seed), piece_id=piece, caption=f"number {seed}")
    record = rods.record(piece)

    def sizes(largest: int) -> list[tuple[int, int]]:
        found = pictures(record, rods.files, largest)
        assert sum(len(each) for each in found.values()) <= largest
        return [Image.open(io.BytesIO(base64.b64decode(each.split(",")[1]))).size for each in found.values()]

    assert sizes(LARGEST_TOGETHER) == [(1000, 750)] * 4
    in_full = sum(len(each) for each in pictures(record, rods.files).values())
    assert sizes(in_full) == [(1000, 750)] * 4
    assert sizes(in_full - 1) == [(480, 360)] * 4
    small = sum(len(each) for each in pictures(record, rods.files, in_full - 1).values())
    assert sizes(small - 1) == [(480, 360)] * 3
    assert sizes(0) == []
    listed = as_html(record, "mm", pictures=pictures(record, rods.files, small - 1))
    assert all(f"number {seed}" in listed for seed in range(4))
    assert listed.count("the picture is not in this record") == 1
