"""Photographs as they are looked at: whole as they were kept, and small for the lines of a page."""

from __future__ import annotations

from fastapi import APIRouter, Request
from fastapi.responses import FileResponse, Response

from server.log.photos import the_photo
from server.store.action import NotThere
from server.store.photo_files import ENDINGS, SMALL, PhotoFileMissing, PhotoFiles

router = APIRouter()

_YEAR_S = 365 * 24 * 3600


@router.get("/photos/{photo_id}/full")
def full(request: Request, photo_id: int, v: str = "") -> Response:
    """The file as it was kept, as the kind of picture that it was found to be and nothing else."""
    photo = _the_photo(request, photo_id)
    try:
        file = PhotoFiles(request.app.state.settings).file(photo.sha256, photo.media_type)
    except PhotoFileMissing as error:
        raise _missing(photo_id) from error
    name = f"photograph-{photo_id}.{ENDINGS[photo.media_type]}"
    return FileResponse(
        file,
        media_type=photo.media_type,
        filename=name,
        content_disposition_type="inline",
        headers=_headers(photo.sha256, v),
    )


@router.get("/photos/{photo_id}/small")
def small(request: Request, photo_id: int, v: str = "") -> Response:
    """Upright, its longer side at most 480 pixels, as a JPEG."""
    photo = _the_photo(request, photo_id)
    try:
        data = PhotoFiles(request.app.state.settings).reduced(photo.sha256, photo.media_type, SMALL)
    except PhotoFileMissing as error:
        raise _missing(photo_id) from error
    return Response(data, media_type="image/jpeg", headers=_headers(photo.sha256, v))


def _the_photo(request: Request, photo_id: int) -> object:
    with request.app.state.database.read() as connection:
        return the_photo(connection, photo_id)


def _missing(photo_id: int) -> NotThere:
    return NotThere("photo_id", photo_id, "file of a photograph any more")


def _headers(sha256: str, version: str) -> dict[str, str]:
    """The same bytes for ever under an address with the right hash; without it, the next may be another folder's."""
    same_for_ever = len(version) >= 16 and sha256.startswith(version)
    return {
        "Content-Security-Policy": "default-src 'none'",
        "X-Content-Type-Options": "nosniff",
        "Cache-Control": f"private, max-age={_YEAR_S}, immutable" if same_for_ever else "private, no-cache",
    }
