"""The photographs of a record, made small enough to stand inside its file.

Each is turned upright and reduced to 1000 pixels, which prints sharp on a third of a page. Where all of them together
would make the file larger than mail and tablets like, each is reduced to the size of a thumbnail, and where even those
are too many, the last are listed without their picture. The full photographs are in the data folder and in a backup.
"""

from __future__ import annotations

import base64
from collections.abc import Iterable

from server.records.record_values import PhotoTold, Record
from server.store.photo_files import PRINTED, SMALL, PhotoFileMissing, PhotoFiles

LARGEST_TOGETHER = 20_000_000  # characters of the file, for all pictures in it


def pictures(record: Record, files: PhotoFiles, largest: int = LARGEST_TOGETHER) -> dict[int, str]:
    """The picture of each photograph that stands, by its number, as a data: address for an HTML file.

    Together they have at most `largest` characters. One whose file is missing or damaged is left out.
    """
    photos = {photo.id: photo for photo in _all(record) if photo.taken_back is None}
    found: dict[int, str] = {}
    for side in (PRINTED, SMALL):
        found = {}
        room = largest
        for photo in photos.values():
            try:
                data = base64.b64encode(files.reduced(photo.sha256, photo.media_type, side)).decode()
            except PhotoFileMissing:
                continue
            room -= len(data) + len(_START)
            if room < 0:
                break
            found[photo.id] = _START + data
        if room >= 0:
            break
    return found


_START = "data:image/jpeg;base64,"


def _all(record: Record) -> Iterable[PhotoTold]:
    yield from record.setup_photos
    for piece in record.pieces:
        yield from piece.photos
