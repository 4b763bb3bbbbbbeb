"""The files of photographs, beside the database: each named by the SHA-256 of its bytes, written once, never changed.

`photos/ab/abcdef….jpg` is the photograph. `thumbs/ab/abcdef…-480.jpg` is a smaller picture of it, which may be deleted
at any time: it is made again when it is asked for.
"""

from __future__ import annotations

import contextlib
import errno
import hashlib
import os
import re
import secrets
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING

from server.settings import Settings
from server.store.writer import NotSaved

if TYPE_CHECKING:
    from server.store.picture import Picture

ENDINGS = {"image/jpeg": "jpg", "image/png": "png"}
SMALL = 480  # the longer side of a thumbnail, in pixels
PRINTED = 1000  # and of a picture in a record

_NAME = re.compile(r"([0-9a-f]{2})/(\1[0-9a-f]{62})\.(jpg|png)")
_HALF_WRITTEN = ".new-"


class PhotoFileMissing(Exception):
    """The file of a photograph is not there, or is no picture any more."""


@dataclass(slots=True)
class Checked:
    """What is in the folder against what the log says is there. `missing` and `damaged` are losses; the others are not:
    a file no row names is left where the power went between writing a photograph and logging it."""

    missing: list[str] = field(default_factory=list)
    damaged: list[str] = field(default_factory=list)
    unnamed: list[str] = field(default_factory=list)
    half_written: list[str] = field(default_factory=list)
    strange: list[str] = field(default_factory=list)


def name_of(sha256: str, media_type: str) -> str:
    """Where a photograph stands in its folder: "ab/abcdef….jpg"."""
    return f"{sha256[:2]}/{sha256}.{ENDINGS[media_type]}"


def is_name(name: str) -> bool:
    return _NAME.fullmatch(name) is not None


def sha256_in(name: str) -> str:
    """The SHA-256 that a name of a photograph promises."""
    found = _NAME.fullmatch(name)
    assert found is not None, name
    return found[2]


class PhotoFiles:
    """The photographs of one data folder."""

    def __init__(self, settings: Settings) -> None:
        self.folder = settings.photos
        self._thumbs = settings.thumbs

    def put(self, picture: Picture) -> str:
        """Keep the picture and give its SHA-256. When this returns it is on the disk, under its name, whole.

        Raises NotSaved when the disk refuses.
        """
        sha256 = hashlib.sha256(picture.data).hexdigest()
        file = self.folder / name_of(sha256, picture.media_type)
        try:
            if not (file.exists() and file.read_bytes() == picture.data):
                _write(file, picture.data, safely=True)
        except OSError as error:
            said = "the disk is full" if error.errno == errno.ENOSPC else f"the disk did not take it ({error.strerror})"
            raise NotSaved(f"{said}: the photograph was not saved; send it again when that is mended") from error
        return sha256

    def file(self, sha256: str, media_type: str) -> Path:
        """The file of a photograph. Raises PhotoFileMissing."""
        file = self.folder / name_of(sha256, media_type)
        if not file.is_file():
            raise PhotoFileMissing(f"the file {file} is not there")
        return file

    def reduced(self, sha256: str, media_type: str, side: int) -> bytes:
        """The photograph upright as a JPEG, its longer side at most `side` pixels. Raises PhotoFileMissing."""
        kept = self._thumbs / sha256[:2] / f"{sha256}-{side}.jpg"
        with contextlib.suppress(OSError):
            return kept.read_bytes()
        file = self.file(sha256, media_type)
        from server.store.picture import UNSOUND  # and Pillow behind it: only where a picture is opened
        from server.store.thumbnail import reduced

        try:
            data = reduced(file, side)
        except UNSOUND as error:
            raise PhotoFileMissing(f"the file {file} cannot be read as a picture") from error
        with contextlib.suppress(OSError):  # a disk that is full takes no thumbnail: it can be seen all the same
            _write(kept, data, safely=False)
        return data

    def check(self, named: Iterable[str]) -> Checked:
        """Read every file and compare: each name of `named` must be there and its bytes give its SHA-256."""
        found = Checked()
        wanted = set(named)
        there = set(self._names())
        found.missing = sorted(wanted - there)
        for name in sorted(there):
            if Path(name).name.startswith(_HALF_WRITTEN):
                found.half_written.append(name)
            elif not is_name(name):
                found.strange.append(name)
            elif name not in wanted:
                found.unnamed.append(name)
            elif hashlib.sha256((self.folder / name).read_bytes()).hexdigest() != sha256_in(name):
                found.damaged.append(name)
        return found

    def _names(self) -> Iterator[str]:
        if self.folder.is_dir():
            yield from (each.relative_to(self.folder).as_posix() for each in self.folder.rglob("*") if each.is_file())


def _write(file: Path, data: bytes, safely: bool) -> None:
    """Under its name only when it is whole. safely: and on the disk, name and all, when this returns."""
    new_folders = [each for each in (file.parent, file.parent.parent) if not each.exists()]
    file.parent.mkdir(parents=True, exist_ok=True)
    half_written = file.parent / f"{_HALF_WRITTEN}{secrets.token_hex(8)}"
    try:
        with half_written.open("xb") as out:
            out.write(data)
            if safely:
                out.flush()
                os.fsync(out.fileno())
        os.replace(half_written, file)
    except BaseException:
        half_written.unlink(missing_ok=True)
        raise
    if safely:
        for folder in (file.parent, *(each.parent for each in new_folders)):
            _sync(folder)


def _sync(folder: Path) -> None:
    """A new name survives a power cut only when the folder that holds it was written too."""
    if os.name == "posix":
        opened = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(opened)
        finally:
            os.close(opened)
