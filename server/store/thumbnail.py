"""A smaller picture of a photograph, upright and on white, as a screen or a record shows it."""

from __future__ import annotations

import io
from pathlib import Path

from PIL import Image, ImageOps

from server.store.picture import UNPACKING


def reduced(file: Path, side: int) -> bytes:
    """The picture in a file upright as a JPEG, its longer side at most `side` [pixels].

    Raises one of picture.UNSOUND where the file is no picture any more.
    """
    out = io.BytesIO()
    with UNPACKING, Image.open(file, formats=("JPEG", "PNG")) as image:
        image.draft(None, (side, side))
        upright: Image.Image = ImageOps.exif_transpose(_eight_bits(image))
        upright.thumbnail((side, side))
        profile = image.info.get("icc_profile") if image.mode in ("RGB", "RGBA") else None
        _on_white(upright).save(out, "JPEG", quality=82, icc_profile=profile)
    return out.getvalue()


def _eight_bits(image: Image.Image) -> Image.Image:
    """Greys of sixteen bits brought down to eight; Pillow's own conversion cuts them off at 255."""
    if image.mode.startswith("I"):
        return image.convert("I").point(lambda grey: grey * (1 / 256)).convert("L")
    return image


def _on_white(image: Image.Image) -> Image.Image:
    """In the colours of a JPEG; what is clear shows paper."""
    if image.has_transparency_data:
        clear = image.convert("RGBA")
        paper = Image.new("RGBA", clear.size, "white")
        return Image.alpha_composite(paper, clear).convert("RGB")
    return image if image.mode in ("RGB", "L") else image.convert("RGB")
