"""Pictures for the tests, made here: with what a camera writes beside them, and wrong in every way that is told."""

from __future__ import annotations

import io
import struct
import zlib
from typing import Any

from PIL import Image
from PIL.PngImagePlugin import PngInfo

# Somewhere in the Baltic, as a camera would write it; the texts are what must not be found in a kept file.
PLACE = {1: "N", 2: (58.0, 12.0, 34.5), 3: "E", 4: (19.0, 45.0, 6.75)}
PRIVATE = (b"PRIVATE-MAKER", b"PRIVATE-NOTE", b"PRIVATE-XMP", b"PRIVATE-TAIL")


def scene(width: int = 64, height: int = 40) -> Image.Image:
    """A picture that can be told which way up it stands: red top left, green top right, blue below."""
    image = Image.new("RGB", (width, height), (20, 40, 220))
    image.paste((220, 20, 20), (0, 0, width // 2, height // 2))
    image.paste((20, 200, 40), (width // 2, 0, width, height // 2))
    return image


def exif(orientation: int = 1, place: bool = True) -> Image.Exif:
    found = Image.Exif()
    found[0x0112] = orientation
    found[0x010F] = "PRIVATE-MAKER"
    if place:
        found.get_ifd(0x8825).update(PLACE)
    return found


def jpeg(orientation: int = 1, image: Image.Image | None = None, private: bool = True, **more: Any) -> bytes:
    """As a camera writes it: with the place, the maker, a note, XMP, and something behind the end."""
    out = io.BytesIO()
    if private:
        more |= {"exif": exif(orientation).tobytes(), "comment": b"PRIVATE-NOTE", "xmp": b"<x>PRIVATE-XMP</x>"}
    (image or scene()).save(out, "JPEG", quality=90, **more)
    return out.getvalue() + (b"PRIVATE-TAIL" if private else b"")


def png(orientation: int = 1, image: Image.Image | None = None, private: bool = True) -> bytes:
    out, texts = io.BytesIO(), PngInfo()
    if private:
        texts.add_text("Author", "PRIVATE-NOTE")
        texts.add_itxt("XML:com.adobe.xmp", "<x>PRIVATE-XMP</x>", zip=False)
        (image or scene()).save(out, "PNG", exif=exif(orientation), pnginfo=texts)
    else:
        (image or scene()).save(out, "PNG")
    return out.getvalue() + (b"PRIVATE-TAIL" if private else b"")


def png_chunk(name: bytes, data: bytes) -> bytes:
    return struct.pack(">I", len(data)) + name + data + struct.pack(">I", zlib.crc32(name + data))


def png_bomb(side: int = 30_000) -> bytes:
    """A file of about a hundred kilobytes that unpacks to `side` × `side` pixels of one bit each."""
    packer = zlib.compressobj(9)
    row = bytes(1 + (side + 7) // 8)
    packed = b"".join(packer.compress(row) for _ in range(side)) + packer.flush()
    head = struct.pack(">IIBBBBB", side, side, 1, 0, 0, 0, 0)
    return b"\x89PNG\r\n\x1a\n" + png_chunk(b"IHDR", head) + png_chunk(b"IDAT", packed) + png_chunk(b"IEND", b"")


def heic(brand: bytes = b"heic") -> bytes:
    """How a HEIC file begins (ISO/IEC 14496-12: a box ftyp of 24 bytes, major brand, version, compatible brands)."""
    return struct.pack(">I", 24) + b"ftyp" + brand + b"\0\0\0\0" + b"mif1" + brand + bytes(200)


def corners(data: bytes) -> tuple[str, str, str, str]:
    """The colours at top left, top right, bottom left and bottom right as the pixels stand in the file."""
    with Image.open(io.BytesIO(data)) as image:
        colours = image.convert("RGB")
    width, height = colours.size
    places = ((0.2, 0.2), (0.8, 0.2), (0.2, 0.8), (0.8, 0.8))
    return tuple(_named(colours.getpixel((int(width * x), int(height * y)))) for x, y in places)  # type: ignore


def _named(pixel: Any) -> str:
    return ("red", "green", "blue")[max(range(3), key=lambda channel: pixel[channel])]
