"""What is taken as a photograph: what is kept of it, what is left out, and how everything else is told."""

from __future__ import annotations

import io
import random

import pytest
from hypothesis import given
from hypothesis import strategies as st
from PIL import Image, ImageOps

from server.store.picture import LARGEST_BYTES, NoPicture, exif_of, orientation_in, read_picture
from tests.pictures import PRIVATE, corners, heic, jpeg, png, png_bomb, png_chunk, scene

UPRIGHT = ("red", "green", "blue", "blue")


def why_not(data: bytes) -> str:
    with pytest.raises(NoPicture) as caught:
        read_picture(data)
    assert caught.value.accepts
    return caught.value.why


def upright(data: bytes) -> Image.Image:
    with Image.open(io.BytesIO(data)) as image:
        return ImageOps.exif_transpose(image)


def lying(orientation: int) -> Image.Image:
    """The scene as the pixels of a camera held so: the inverse of what Pillow does to show it upright."""
    inverse = {6: 8, 8: 6}.get(orientation, orientation)
    tagged = scene()
    tagged.getexif()[0x0112] = inverse
    return ImageOps.exif_transpose(tagged)


@pytest.mark.parametrize("make", [jpeg, png])
def test_nothing_private_is_kept_and_no_place(make: type) -> None:
    data = make()
    with Image.open(io.BytesIO(data)) as image:
        assert image.getexif().get_ifd(0x8825)  # the camera did write where it was
    assert sum(secret in data for secret in PRIVATE) >= 3
    kept = read_picture(data).data
    assert not [secret for secret in PRIVATE if secret in kept]
    with Image.open(io.BytesIO(kept)) as image:
        assert not image.getexif().get_ifd(0x8825)
        assert not set(image.info) & {"exif", "xmp", "comment", "Author", "XML:com.adobe.xmp"}


@pytest.mark.parametrize("orientation", range(2, 9))
def test_how_a_jpeg_was_held_is_all_that_is_kept_beside_it(orientation: int) -> None:
    kept = read_picture(jpeg(orientation)).data
    with Image.open(io.BytesIO(kept)) as image:
        assert dict(image.getexif()) == {0x0112: orientation}


@pytest.mark.parametrize("more", [{}, {"progressive": True}, {"subsampling": 0}, {"restart_marker_rows": 1}])
def test_a_jpeg_loses_none_of_its_quality(more: dict[str, int]) -> None:
    noise = Image.frombytes("RGB", (160, 120), random.Random(1).randbytes(160 * 120 * 3))
    data = jpeg(6, noise, **more)
    kept = read_picture(data)
    with Image.open(io.BytesIO(data)) as before, Image.open(io.BytesIO(kept.data)) as after:
        assert before.tobytes() == after.tobytes()
    assert (kept.width, kept.height) == (120, 160)


def test_colour_profiles_are_kept_since_the_colours_are_wrong_without() -> None:
    profile = b"\0" * 128 + b"profile" * 20
    for kind in ("JPEG", "PNG"):
        out = io.BytesIO()
        scene().save(out, kind, icc_profile=profile)
        with Image.open(io.BytesIO(read_picture(out.getvalue()).data)) as image:
            assert image.info["icc_profile"] == profile


@pytest.mark.parametrize("orientation", range(1, 9))
@pytest.mark.parametrize("make", [jpeg, png])
def test_a_picture_held_any_way_stands_upright(make: type, orientation: int) -> None:
    kept = read_picture(make(orientation, lying(orientation)))
    image = upright(kept.data)
    out = io.BytesIO()
    image.save(out, "PNG")
    assert corners(out.getvalue()) == UPRIGHT
    assert image.size == (kept.width, kept.height) == (64, 40)


def test_a_png_is_kept_byte_for_byte_but_for_what_is_private() -> None:
    bare = png(private=False)
    assert read_picture(bare).data == bare
    assert read_picture(png()).data == bare


def test_a_png_that_moves_keeps_its_first_picture() -> None:
    out = io.BytesIO()
    scene().save(out, "PNG", save_all=True, append_images=[Image.new("RGB", (64, 40), "black")])
    with Image.open(io.BytesIO(read_picture(out.getvalue()).data)) as image:
        assert getattr(image, "n_frames", 1) == 1
        assert image.convert("RGB").tobytes() == scene().tobytes()


def test_the_same_file_gives_the_same_bytes() -> None:
    for data in (jpeg(6), png(6)):
        assert read_picture(data).data == read_picture(data).data


def test_a_photograph_made_clean_is_taken_again_as_it_is() -> None:
    for data in (jpeg(6), jpeg(1), png(6)):
        kept = read_picture(data)
        assert read_picture(kept.data) == kept


@pytest.mark.parametrize("mode", ["1", "L", "P", "RGBA", "LA", "I;16"])
def test_every_kind_of_png_is_taken(mode: str) -> None:
    out = io.BytesIO()
    (Image.new("I;16", (64, 40)) if mode == "I;16" else scene().convert(mode)).save(out, "PNG")
    assert read_picture(out.getvalue()).width == 64


@pytest.mark.parametrize("mode", ["L", "CMYK"])
def test_greys_and_printers_colours_are_taken_as_jpeg(mode: str) -> None:
    assert read_picture(jpeg(image=scene().convert(mode))).height == 40


def saved_as(kind: str) -> bytes:
    out = io.BytesIO()
    scene().save(out, kind)
    return out.getvalue()


@pytest.mark.parametrize(
    ("data", "told"),
    [
        (b"", "empty"),
        (b"a text file named photo.jpg\n" * 20, "not a picture"),
        (b"\xff\xd8", "not a picture"),
        (b"\xff\xd8\xff", "cut short"),
        (b"\x89PNG\r\n\x1a\n", "cut short"),
        (heic(), "HEIC"),
        (heic(b"heix"), "HEIC"),
        (heic(b"mif1"), "HEIC"),
        (heic(b"isom").replace(b"mif1", b"mp42"), "film"),
        (b"<svg xmlns='http://www.w3.org/2000/svg'><script>alert(1)</script></svg>", "SVG, HTML"),
        (b"\xef\xbb\xbf  <!DOCTYPE html><script>alert(1)</script>", "SVG, HTML"),
        (b"%PDF-1.7", "not a picture"),
        (saved_as("GIF"), "GIF"),
        (saved_as("BMP"), "not a picture"),
        (saved_as("TIFF"), "TIFF"),
        (saved_as("WEBP"), "WebP"),
        (saved_as("AVIF"), "AVIF"),
    ],
)
def test_what_is_no_photograph_is_told_as_what_it_is(data: bytes, told: str) -> None:
    assert told in why_not(data)


def test_of_heic_it_is_said_what_would_be_taken_and_how_to_get_it() -> None:
    with pytest.raises(NoPicture) as caught:
        read_picture(heic())
    assert "JPEG" in caught.value.accepts
    assert "camera settings" in caught.value.accepts


@pytest.mark.parametrize("make", [jpeg, png])
def test_a_picture_cut_short_anywhere_is_told(make: type) -> None:
    data = make(private=False)
    for length in range(4, len(data) - 1, 7):
        assert why_not(data[:length]) in ("the picture is damaged or cut short", "it is not a picture")


def test_a_byte_changed_in_a_png_is_told() -> None:
    data = bytearray(png(private=False))
    data[len(data) // 2] ^= 1
    assert "damaged" in why_not(bytes(data))


def test_a_file_over_the_limit_is_told() -> None:
    assert "25 MB" in why_not(jpeg(private=False) + bytes(LARGEST_BYTES))


def test_a_png_that_would_unpack_to_more_than_the_computer_has_is_not_unpacked() -> None:
    bomb = png_bomb()
    assert len(bomb) < 200_000
    assert why_not(bomb) == "it has 30000 × 30000 pixels, more than 70 million"


def test_a_jpeg_that_claims_too_many_pixels_is_not_unpacked() -> None:
    data = jpeg(private=False)
    frame = data.index(b"\xff\xc0")
    claims = data[: frame + 5] + b"\xff\xff\xff\xff" + data[frame + 9 :]
    assert why_not(claims) == "it has 65535 × 65535 pixels, more than 70 million"


def test_a_png_with_two_heads_is_told() -> None:
    data = png(private=False)
    head = data[8:33]
    assert "damaged" in why_not(data[:33] + head + data[33:])
    assert "damaged" in why_not(data[:8] + png_chunk(b"tEXt", b"a\0b") + data[8:])


@given(st.binary(max_size=200))
def test_no_bytes_whatever_do_more_than_be_refused(tail: bytes) -> None:
    for start in (b"\xff\xd8\xff", b"\x89PNG\r\n\x1a\n", b""):
        why_not(start + tail)


@given(st.integers(0, 10**6), st.integers(0, 255))
def test_a_jpeg_with_any_byte_changed_is_taken_or_refused_and_keeps_nothing_private(place: int, value: int) -> None:
    data = bytearray(jpeg(6))
    data[place % len(data)] = value
    try:
        kept = read_picture(bytes(data)).data
    except NoPicture:
        return
    assert b"PRIVATE-MAKER" not in kept
    assert b"PRIVATE-XMP" not in kept


@given(st.binary(max_size=80))
def test_the_orientation_of_whatever_bytes_is_a_number_or_none(tiff: bytes) -> None:
    for start in (b"II*\0", b"MM\0*", b""):
        assert 0 <= orientation_in(start + tiff) <= 8


@pytest.mark.parametrize("orientation", range(1, 9))
def test_an_orientation_written_is_read_again_here_and_elsewhere(orientation: int) -> None:
    segment = exif_of(orientation)
    assert orientation_in(segment[10:]) == orientation
    read = Image.Exif()
    read.load(segment[4:])
    assert dict(read) == {0x0112: orientation}
