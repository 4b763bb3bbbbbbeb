"""The files of photographs: whole under their name or not there, once however often, and proved against their name."""

from __future__ import annotations

import errno
import hashlib
import io
import os
from pathlib import Path
from typing import Any, NoReturn

import pytest
from PIL import Image

from server.settings import Settings
from server.store import photo_files
from server.store.photo_files import SMALL, PhotoFileMissing, PhotoFiles
from server.store.picture import read_picture
from server.store.writer import NotSaved
from tests.pictures import corners, jpeg, png, scene


@pytest.fixture
def files(tmp_path: Path) -> PhotoFiles:
    return PhotoFiles(Settings(tmp_path / "data"))


def all_files(files: PhotoFiles) -> list[Path]:
    return sorted(each for each in files.folder.rglob("*") if each.is_file())


@pytest.mark.parametrize(("make", "ending"), [(jpeg, "jpg"), (png, "png")])
def test_a_photograph_is_named_by_its_bytes(files: PhotoFiles, make: Any, ending: str) -> None:
    picture = read_picture(make(6))
    sha256 = files.put(picture)
    [file] = all_files(files)
    assert file == files.folder / sha256[:2] / f"{sha256}.{ending}"
    assert hashlib.sha256(file.read_bytes()).hexdigest() == sha256
    assert files.file(sha256, picture.media_type) == file


def test_the_same_photograph_is_one_file(files: PhotoFiles) -> None:
    assert files.put(read_picture(jpeg())) == files.put(read_picture(jpeg()))
    assert len(all_files(files)) == 1


def test_a_damaged_file_is_made_good_by_the_photograph_itself(files: PhotoFiles) -> None:
    picture = read_picture(jpeg())
    sha256 = files.put(picture)
    file = files.file(sha256, picture.media_type)
    file.write_bytes(file.read_bytes()[:-10])
    files.put(picture)
    assert file.read_bytes() == picture.data


def test_the_file_is_synced_before_it_has_its_name_and_its_folders_after(
    files: PhotoFiles, monkeypatch: pytest.MonkeyPatch
) -> None:
    done: list[str] = []
    fsync, replace = os.fsync, os.replace

    def synced(opened: int) -> None:
        done.append("folder" if os.path.isdir(f"/proc/self/fd/{opened}") else "file")
        fsync(opened)

    def renamed(old: Path, new: Path) -> None:
        done.append("rename")
        replace(old, new)

    monkeypatch.setattr(os, "fsync", synced)
    monkeypatch.setattr(os, "replace", renamed)
    files.folder.parent.mkdir()
    files.put(read_picture(jpeg()))
    assert done == ["file", "rename", "folder", "folder", "folder"]  # photos/ab, photos, data


def test_a_full_disk_is_told_and_leaves_nothing(files: PhotoFiles, monkeypatch: pytest.MonkeyPatch) -> None:
    def full(*_: object) -> NoReturn:
        raise OSError(errno.ENOSPC, "No space left on device")

    monkeypatch.setattr(photo_files.os, "fsync", full)
    with pytest.raises(NotSaved, match="the disk is full"):
        files.put(read_picture(jpeg()))
    assert all_files(files) == []


@pytest.mark.parametrize("make", [jpeg, png])
@pytest.mark.parametrize("orientation", [1, 6])
def test_a_thumbnail_stands_upright_and_is_small(files: PhotoFiles, make: Any, orientation: int) -> None:
    big = scene(1600, 1000)
    stored = (
        big if orientation == 1 else big.transpose(Image.Transpose.ROTATE_90)
    )  # 6: turned to the right to be upright
    picture = read_picture(make(orientation, stored))
    data = files.reduced(files.put(picture), picture.media_type, SMALL)
    with Image.open(io.BytesIO(data)) as image:
        assert (image.format, image.size) == ("JPEG", (480, 300))
        assert not image.getexif()
    assert corners(data) == ("red", "green", "blue", "blue")
    assert len(data) < 40_000


def test_a_small_photograph_is_not_made_larger(files: PhotoFiles) -> None:
    picture = read_picture(jpeg())
    with Image.open(io.BytesIO(files.reduced(files.put(picture), picture.media_type, SMALL))) as image:
        assert image.size == (64, 40)


@pytest.mark.parametrize("mode", ["1", "L", "P", "RGBA", "LA", "I;16", "CMYK"])
def test_every_kind_of_picture_has_a_thumbnail(files: PhotoFiles, mode: str) -> None:
    image = Image.new("I;16", (64, 40), 0x8000) if mode == "I;16" else scene().convert(mode)
    picture = read_picture(jpeg(image=image) if mode == "CMYK" else png(image=image))
    data = files.reduced(files.put(picture), picture.media_type, SMALL)
    with Image.open(io.BytesIO(data)) as small:
        grey = small.convert("L").getpixel((5, 5))
    assert isinstance(grey, int)
    if mode == "I;16":
        assert abs(grey - 0x80) <= 1  # half way up the scale, as before


def test_what_is_clear_shows_paper(files: PhotoFiles) -> None:
    picture = read_picture(png(image=Image.new("RGBA", (10, 10), (0, 0, 0, 0))))
    with Image.open(io.BytesIO(files.reduced(files.put(picture), picture.media_type, SMALL))) as image:
        assert image.convert("L").getpixel((5, 5)) == 255


def test_a_thumbnail_is_made_once_and_again_when_it_was_thrown_away(files: PhotoFiles, tmp_path: Path) -> None:
    picture = read_picture(jpeg())
    sha256 = files.put(picture)
    first = files.reduced(sha256, picture.media_type, SMALL)
    [kept] = [each for each in (tmp_path / "data" / "thumbs").rglob("*") if each.is_file()]
    assert kept.read_bytes() == first
    kept.write_bytes(b"kept")
    assert files.reduced(sha256, picture.media_type, SMALL) == b"kept"
    kept.unlink()
    assert files.reduced(sha256, picture.media_type, SMALL) == first


def test_a_disk_that_takes_no_thumbnail_shows_it_all_the_same(files: PhotoFiles, tmp_path: Path) -> None:
    picture = read_picture(jpeg())
    sha256 = files.put(picture)
    (tmp_path / "data" / "thumbs").write_text("in the way")
    assert files.reduced(sha256, picture.media_type, SMALL).startswith(b"\xff\xd8")


def test_a_file_that_is_gone_or_no_picture_is_told(files: PhotoFiles) -> None:
    picture = read_picture(jpeg())
    sha256 = files.put(picture)
    file = files.file(sha256, picture.media_type)
    file.write_bytes(b"not a picture")
    with pytest.raises(PhotoFileMissing, match="cannot be read"):
        files.reduced(sha256, picture.media_type, SMALL)
    file.unlink()
    with pytest.raises(PhotoFileMissing, match="not there"):
        files.file(sha256, picture.media_type)


def test_the_check_tells_what_is_lost_from_what_is_only_left_over(files: PhotoFiles) -> None:
    pictures = [read_picture(jpeg(image=Image.new("RGB", (8, 8), colour))) for colour in ("red", "green", "blue")]
    good, damaged, unnamed = (files.put(each) for each in pictures)
    names = [photo_files.name_of(each, "image/jpeg") for each in (good, damaged, "0" * 64)]
    (files.folder / names[1]).write_bytes(b"other bytes")
    half = files.folder / good[:2] / ".new-00"
    half.write_bytes(b"")
    (files.folder / "notes.txt").write_text("put here by hand")
    found = files.check(names)
    assert found.missing == [names[2]]
    assert found.damaged == [names[1]]
    assert found.unnamed == [photo_files.name_of(unnamed, "image/jpeg")]
    assert found.half_written == [f"{good[:2]}/.new-00"]
    assert found.strange == ["notes.txt"]


def test_a_folder_that_was_never_made_is_sound(files: PhotoFiles) -> None:
    found = files.check([])
    assert not any((found.missing, found.damaged, found.unnamed, found.half_written, found.strange))
