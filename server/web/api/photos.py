"""Adding a photograph: the file comes as it is, is made clean and put on the disk, and is then logged like all else."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Annotated, Any

from fastapi import APIRouter, Depends, Header, Request
from starlette.datastructures import UploadFile
from starlette.exceptions import HTTPException
from starlette.requests import ClientDisconnect

from server.log.perform import perform
from server.log.photos import AddPhoto, PhotoSaid
from server.store.action import Problem, Refused
from server.store.photo_files import PhotoFiles
from server.web.session import Visitor, may_write

router = APIRouter(prefix="/api", tags=["actions"])

FIELD = "photo"
_HOW = "a form (multipart/form-data) with the file in its field photo, or the file alone as image/jpeg or image/png"

_SCHEMA = PhotoSaid.model_json_schema()["properties"]
_FILE = {"type": "string", "format": "binary", "description": "the photograph, JPEG or PNG, at most 25 MB"}
_KEY = "needed: a new random text for each photograph"
_NOT_SAVED = {
    "description": "The disk or the database did not take it; nothing was logged, and the same may be sent again.",
    "content": {"application/json": {"schema": {"$ref": "#/components/schemas/Refusal"}}},
}
_DESCRIBED = {
    "parameters": [
        {"name": name, "in": "query", "required": False, "schema": schema, "description": "where the file comes alone"}
        for name, schema in _SCHEMA.items()
    ],
    "requestBody": {
        "required": True,
        "content": {
            "multipart/form-data": {
                "schema": {"type": "object", "properties": {FIELD: _FILE, **_SCHEMA}, "required": [FIELD]}
            },
            "image/jpeg": {"schema": _FILE},
            "image/png": {"schema": _FILE},
        },
    },
}


@dataclass(frozen=True, slots=True)
class Sent:
    """What came: the fields as text, and the bytes of the file. Its name and what it is said to be are not kept."""

    fields: dict[str, str]
    data: bytes


async def sent(request: Request) -> Sent:
    """The body of the request, either way. Raises Refused where it is neither."""
    said = request.headers.get("content-type", "")
    kind = said.split(";")[0].strip().lower()
    fields = dict(request.query_params)
    try:
        if kind == "multipart/form-data":
            return await _from_form(request, fields)
        if kind.startswith("image/") or kind == "application/octet-stream":
            return Sent(fields, await request.body())
    except ClientDisconnect as error:  # nobody is there to hear it, and it is no fault of the program
        raise Refused(Problem("the request", "", "it was cut off", _HOW)) from error
    why = "it is not said to be a photograph" if said else "nothing says what it is"
    raise Refused(Problem("Content-Type", said[:200], why, _HOW))


async def _from_form(request: Request, fields: dict[str, str]) -> Sent:
    try:
        async with request.form(max_files=1, max_fields=20, max_part_size=64 * 1024) as form:
            data = None
            for name, value in form.multi_items():
                if isinstance(value, UploadFile):
                    if name != FIELD:
                        raise Refused(Problem(name[:80], "", "there is no such field for a file", f"the field {FIELD}"))
                    data = await value.read()
                elif name in fields:
                    raise Refused(Problem(name[:80], value[:200], "it stands here twice", "each field once"))
                else:
                    fields[name] = value
    except HTTPException as error:  # a form that cannot be taken apart
        raise Refused(Problem("the request", "", f"it is no whole form: {error.detail}", _HOW)) from error
    if data is None:
        raise Refused(Problem(FIELD, "", "there is no photograph in it", _HOW))
    return Sent(fields, data)


@router.post("/photos", summary=PhotoSaid.title, responses={503: _NOT_SAVED}, openapi_extra=_DESCRIBED)
def add_photo(
    request: Request,
    came: Annotated[Sent, Depends(sent)],
    visitor: Annotated[Visitor, Depends(may_write)],
    idempotency_key: Annotated[str, Header(alias="Idempotency-Key", max_length=200, description=_KEY)] = "",
) -> dict[str, Any]:
    """Of a piece, a run, an operation's set-up or an event: one of them. Kept in full and in its own quality, without
    what a camera writes beside the picture (place, time, device). `full` and `small` in the answer are addresses."""
    if not idempotency_key:
        why = "every write carries a key of its own, so that it is done once however often it arrives"
        raise Refused(Problem("Idempotency-Key", "", why, "a header with a new random text for each thing done"))
    said = PhotoSaid.read(came.fields)
    database = request.app.state.database
    with database.read() as connection:
        said.belongs(connection)  # before anything is written: what is refused leaves no file
    from server.store.picture import NoPicture, read_picture  # and Pillow behind it: only where a photograph comes

    try:
        picture = read_picture(came.data)
    except NoPicture as error:
        read = f"{len(came.data) / 1024 / 1024:.1f} MB" if "MB" in error.why else ""
        raise Refused(Problem(FIELD, read, error.why, error.accepts)) from error
    sha256 = PhotoFiles(request.app.state.settings).put(picture)
    action = AddPhoto.read(
        said.model_dump()
        | {
            "sha256": sha256,
            "media_type": picture.media_type,
            "width": picture.width,
            "height": picture.height,
            "size_bytes": len(picture.data),
        }
    )
    return perform(database, action, idempotency_key, visitor.device_id)
