"""What is taken as a photograph: JPEG or PNG by its content, sound to its end, and without anything private in it.

A camera writes more into a file than a picture: where it was taken, with which device, when, a second smaller picture,
sometimes a short film behind the end. Only what draws the picture is kept. The segments of JPEG and chunks of PNG that
draw are copied byte for byte, so that the picture loses nothing of its quality; every other one is left out, known or
not. How the camera was held is no secret and is needed: a JPEG gets an Exif segment of our own that says the
orientation and nothing else, since turning the picture itself would mean compressing it a second time; a PNG is turned,
which costs it nothing.

Sources: ITU-T T.81 | ISO/IEC 10918-1 annex B (JPEG markers); JFIF 1.02; CIPA DC-008 (Exif, tag 0112 hex); W3C Portable
Network Graphics, third edition, clauses 5 and 11; ISO/IEC 14496-12 clause 4.3 (the file type box of HEIC and AVIF).
All from memory.
"""

from __future__ import annotations

import io
import re
import threading
import zlib
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Final

from PIL import Image

LARGEST_BYTES: Final = 25 * 1024 * 1024
# The finest camera in common use has 64 million (common knowledge, no source). As colours in memory they take four
# bytes each; a file of a few kilobytes that claims a thousand million is there to bring the computer down.
LARGEST_PIXELS: Final = 70_000_000
ACCEPTED: Final = "a photograph as JPEG or PNG, at most 25 MB and 70 million pixels"
_AS_JPEG: Final = (
    "JPEG or PNG. In the tablet's camera settings choose JPEG as the format (it may be called “most compatible”, or "
    "be what is used when “high efficiency” is off), or save the picture as JPEG first"
)

Image.MAX_IMAGE_PIXELS = LARGEST_PIXELS

# One picture is unpacked at a time: two tablets that send together must not need twice the memory.
UNPACKING = threading.Lock()

# What Pillow raises on a file that is not what it says.
UNSOUND: Final = (
    OSError,
    ValueError,
    SyntaxError,
    EOFError,
    OverflowError,
    TypeError,
    IndexError,
    KeyError,
    MemoryError,
    zlib.error,
    Image.DecompressionBombError,
    Image.DecompressionBombWarning,
)


class NoPicture(Exception):
    """Why a file is not taken as a photograph, and what would be."""

    def __init__(self, why: str, accepts: str = ACCEPTED) -> None:
        super().__init__(why)
        self.why, self.accepts = why, accepts


@dataclass(frozen=True, slots=True)
class Picture:
    """A photograph as it is kept. width, height: of the picture standing upright [pixels]."""

    data: bytes
    media_type: str
    width: int
    height: int


def read_picture(data: bytes) -> Picture:
    """The photograph in `data`, without its private parts. The name it came under and what it was said to be do not
    matter. The same file gives the same bytes each time.

    Raises NoPicture for anything else: other kinds, damaged or cut short, too large in bytes or in pixels.
    """
    if not data:
        raise NoPicture("the file is empty")
    if len(data) > LARGEST_BYTES:
        raise NoPicture("it is larger than 25 MB")
    if data.startswith(b"\xff\xd8\xff"):
        return _jpeg(data)
    if data.startswith(_PNG):
        return _png(data)
    raise _other(data)


def _other(data: bytes) -> NoPicture:
    """What it is instead, where that can be told from how it begins."""
    start = data[:512].lstrip(b"\xef\xbb\xbf \t\r\n").lower()
    if data[4:8] == b"ftyp":
        brands = data[8:64]
        if b"avif" in brands or b"avis" in brands:
            return NoPicture("it is an AVIF picture, which is not read here", _AS_JPEG)
        if re.search(rb"hei[cmsx]|hev[cmsx]|mif1|msf1", brands):
            return NoPicture("it is a HEIC picture, which is not read here", _AS_JPEG)
        return NoPicture("it is a film and no picture")
    if data[:4] == b"RIFF" and data[8:12] == b"WEBP":
        return NoPicture("it is a WebP picture, which is not taken", _AS_JPEG)
    if data[:6] in (b"GIF87a", b"GIF89a"):
        return NoPicture("it is a GIF, which is not taken")
    if data[:4] in (b"II*\0", b"MM\0*"):
        return NoPicture("it is a TIFF or a camera's raw file, which is not taken", _AS_JPEG)
    if start.startswith((b"<svg", b"<?xml", b"<!doctype", b"<html", b"<script")):
        return NoPicture("it is a drawing or page in text (SVG, HTML), which could carry a program")
    return NoPicture("it is not a picture")


def _check_size(width: int, height: int) -> None:
    if width < 1 or height < 1:
        raise NoPicture("it has no width or no height")
    if width * height > LARGEST_PIXELS:
        raise NoPicture(f"it has {width} × {height} pixels, more than 70 million")


# JPEG

_KEPT_APP14: Final = b"Adobe"  # how the colours are coded
_KEPT_APP2: Final = b"ICC_PROFILE\0"  # what the colours mean
_DRAWING: Final = frozenset({0xC4, 0xDB, 0xDD})  # Huffman tables, quantisation tables, restart interval
_FRAMES: Final = frozenset({0xC0, 0xC1, 0xC2})  # baseline, extended, progressive
_AFTER_DATA: Final = re.compile(rb"\xff+[^\x00\xd0-\xd7\xff]")
_UNKNOWN_JPEG: Final = "it is a JPEG of a kind that is not in common use"
_CUT_SHORT: Final = "the picture is damaged or cut short"


def _jpeg(data: bytes) -> Picture:
    kept = [b"\xff\xd8"]
    size = None
    orientation = 0
    for marker, segment in _segments(data):
        body = segment[4:]
        if marker == 0xE0 and body.startswith(b"JFIF\0") and len(body) >= 14:
            # Written anew: a small uncompressed copy of the picture may follow its fixed part.
            kept.insert(1, b"\xff\xe0\x00\x10" + body[:12] + b"\0\0")
        elif marker == 0xE1 and body.startswith(b"Exif\0\0") and not orientation:
            orientation = orientation_in(body[6:])
        elif marker in _FRAMES:
            if size is not None or len(body) < 6:
                raise NoPicture(_UNKNOWN_JPEG)
            size = int.from_bytes(body[3:5], "big"), int.from_bytes(body[1:3], "big")
            _check_size(*size)
            kept.append(segment)
        elif 0xC0 <= marker <= 0xCF and marker != 0xC4:
            raise NoPicture(_UNKNOWN_JPEG)
        elif (
            marker in _DRAWING
            or marker in (0xD9, 0xDA)
            or (marker == 0xE2 and body.startswith(_KEPT_APP2))
            or (marker == 0xEE and body.startswith(_KEPT_APP14))
        ):
            kept.append(segment)
    if size is None:
        raise NoPicture(_CUT_SHORT)
    if orientation > 1:
        kept.insert(2 if kept[1].startswith(b"\xff\xe0") else 1, exif_of(orientation))
    clean = b"".join(kept)
    _prove(clean, "JPEG", size)
    width, height = size if orientation < 5 else size[::-1]
    return Picture(clean, "image/jpeg", width, height)


def _segments(data: bytes) -> Iterator[tuple[int, bytes]]:
    """Each marker after the first with its whole segment, to the end of the picture. What follows that is not its own.

    The start of a scan (DA) comes with the coded data that follows it.
    """
    place = 2
    while True:
        while data[place : place + 2] == b"\xff\xff":
            place += 1
        if len(data) < place + 2 or data[place] != 0xFF:
            raise NoPicture(_CUT_SHORT)
        marker = data[place + 1]
        if marker == 0xD9:
            yield marker, b"\xff\xd9"
            return
        length = int.from_bytes(data[place + 2 : place + 4], "big")
        end = place + 2 + length
        if length < 2 or end > len(data):
            raise NoPicture(_CUT_SHORT)
        if marker == 0xDA:
            after = _AFTER_DATA.search(data, end)
            if after is None:
                raise NoPicture(_CUT_SHORT)
            end = after.start()
        yield marker, data[place:end]
        place = end


def orientation_in(tiff: bytes) -> int:
    """The orientation an Exif block gives, 1 to 8; 0 where it gives none that can be read."""
    order = {b"II*\0": "little", b"MM\0*": "big"}.get(tiff[:4])
    if order is None:
        return 0

    def number(place: int, length: int) -> int:
        return int.from_bytes(tiff[place : place + length], order)  # type: ignore[arg-type]

    directory = number(4, 4)
    for entry in range(min(number(directory, 2), 1000)):
        place = directory + 2 + 12 * entry
        if number(place, 2) == 0x0112:
            value = number(place + 8, 2)
            return value if 1 <= value <= 8 else 0
    return 0


def exif_of(orientation: int) -> bytes:
    """A JPEG segment of Exif that says the orientation and nothing else."""
    entry = b"\x01\x12\x00\x03\x00\x00\x00\x01" + orientation.to_bytes(2, "big") + b"\0\0"
    body = b"Exif\0\0MM\0*\x00\x00\x00\x08\x00\x01" + entry + b"\0\0\0\0"
    return b"\xff\xe1" + (len(body) + 2).to_bytes(2, "big") + body


# PNG

_PNG: Final = b"\x89PNG\r\n\x1a\n"
# What draws: the picture itself, its palette, transparency, and what its colours mean. Texts, times, Exif, and the
# further pictures of an animation are left out.
_KEPT_CHUNKS: Final = frozenset(b"IHDR PLTE tRNS cHRM gAMA iCCP sBIT sRGB cICP bKGD pHYs IDAT IEND".split())
_TURNS: Final = {
    2: Image.Transpose.FLIP_LEFT_RIGHT,
    3: Image.Transpose.ROTATE_180,
    4: Image.Transpose.FLIP_TOP_BOTTOM,
    5: Image.Transpose.TRANSPOSE,
    6: Image.Transpose.ROTATE_270,
    7: Image.Transpose.TRANSVERSE,
    8: Image.Transpose.ROTATE_90,
}


def _png(data: bytes) -> Picture:
    kept = [_PNG]
    size = None
    orientation = 0
    for name, chunk in _chunks(data):
        if (name == b"IHDR") != (size is None):
            raise NoPicture(_CUT_SHORT)
        if name == b"IHDR":
            size = int.from_bytes(chunk[8:12], "big"), int.from_bytes(chunk[12:16], "big")
            _check_size(*size)
        elif name == b"eXIf":
            orientation = orientation_in(chunk[8:-4])
        if name in _KEPT_CHUNKS:
            kept.append(chunk)
    assert size is not None  # the first chunk was IHDR
    clean = b"".join(kept)
    _prove(clean, "PNG", size)
    if orientation in _TURNS:
        clean, size = _turned(clean, orientation)
    if len(clean) > LARGEST_BYTES:
        raise NoPicture("upright it is larger than 25 MB")
    return Picture(clean, "image/png", *size)


def _chunks(data: bytes) -> Iterator[tuple[bytes, bytes]]:
    """Each chunk of a PNG, whole, with its name, to the last. Raises NoPicture where one is damaged."""
    place = len(_PNG)
    while True:
        length = int.from_bytes(data[place : place + 4], "big")
        name = data[place + 4 : place + 8]
        chunk = data[place : place + 12 + length]
        if len(chunk) < 12 + length or zlib.crc32(chunk[4:-4]) != int.from_bytes(chunk[-4:], "big"):
            raise NoPicture(_CUT_SHORT)
        if name == b"IHDR" and length != 13:
            raise NoPicture(_CUT_SHORT)
        yield name, chunk
        if name == b"IEND":
            return
        place += len(chunk)


def _turned(data: bytes, orientation: int) -> tuple[bytes, tuple[int, int]]:
    out = io.BytesIO()
    with UNPACKING, Image.open(io.BytesIO(data), formats=("PNG",)) as image:
        turned = image.transpose(_TURNS[orientation])
        turned.save(out, "PNG", icc_profile=image.info.get("icc_profile"))
    return out.getvalue(), turned.size


def _prove(data: bytes, kind: str, size: tuple[int, int]) -> None:
    """Unpack the picture to its end: one that is cut short or damaged is told now, and not years later.

    Damage inside the coded data of a JPEG that still ends properly is not found: decoders pass over it, and show grey.
    """
    try:
        with UNPACKING, Image.open(io.BytesIO(data), formats=(kind,)) as image:
            if image.size != size:
                raise NoPicture(_CUT_SHORT)
            image.draft(None, (size[0] // 8, size[1] // 8))  # JPEG: all of it is read, an eighth of it is kept
            image.load()
    except UNSOUND as error:
        raise NoPicture(_CUT_SHORT) from error
