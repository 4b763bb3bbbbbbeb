"""Photographs in the log: of a piece, a run, an operation's set-up or an event. The state of nothing follows from them.

The file is on the disk before its row is written (server.store.photo_files), so that no row names a file that is not
there. The same picture may be logged twice: two rows, one file.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime
from typing import Annotated, Any, ClassVar, Literal

from pydantic import Field
from sqlalchemy import Connection, Select, insert, or_, select

from server.log.entries import LogAction, is_replaced, the_piece
from server.log.events import Reason
from server.log.runs import the_run
from server.log.tables import Entry, Event, Photo, RunPiece
from server.plan.named import the_operation, the_part, the_row
from server.store.action import Effect, Problem, Refused
from server.store.photo_files import name_of

ABOUT = ("piece_id", "run_id", "operation_id", "event_id")


class PhotoSaid(LogAction):
    """What is said of a photograph: exactly one thing it shows, and a caption."""

    path: ClassVar[str] = "photos"
    title: ClassVar[str] = "Add a photograph to a piece, a run, an operation's set-up or an event"

    piece_id: int | None = None
    run_id: int | None = None
    operation_id: int | None = None
    event_id: int | None = None
    caption: Annotated[str, Field(max_length=500)] = ""

    def belongs(self, connection: Connection) -> tuple[int, str]:
        """The build it belongs to and the page it is seen on. Raises Refused where it is not about one thing."""
        said = {name: getattr(self, name) for name in ABOUT if getattr(self, name) is not None}
        if len(said) != 1:
            why = "it says more than one thing it is about" if said else "nothing says what it is about"
            accepts = "one of a piece, a run, an operation or an event"
            raise Refused(Problem(next(iter(said), "piece_id"), ", ".join(said), why, accepts))
        return _where(connection, **said)


class AddPhoto(PhotoSaid):
    """The picture itself was read and put on the disk before."""

    sha256: Annotated[str, Field(pattern="^[0-9a-f]{64}$")]
    media_type: Literal["image/jpeg", "image/png"]
    width: Annotated[int, Field(gt=0)]
    height: Annotated[int, Field(gt=0)]
    size_bytes: Annotated[int, Field(gt=0)]

    def carry_out(self, connection: Connection, moment: datetime) -> Effect:
        build_id, page = self.belongs(connection)
        photo_id = self.add_entry(connection, moment, build_id, "photo")
        row = self.model_dump(exclude={"who", "occurred_at"})
        connection.execute(insert(Photo).values(id=photo_id, **row))
        seen = PhotoSeen(id=photo_id, **row)
        return Effect({"photo_id": photo_id, **row, "full": seen.full, "small": seen.small, "page": page})


class TakeBackPhoto(LogAction):
    """The row and the file stay; the photograph is struck out."""

    path: ClassVar[str] = "take-back-photo"
    title: ClassVar[str] = "Take a photograph back, and say why"

    photo_id: int
    why: Reason

    def carry_out(self, connection: Connection, moment: datetime) -> Effect:
        photo = the_photo(connection, self.photo_id)
        if is_replaced(connection, self.photo_id):
            why = "it was taken back before"
            raise Refused(Problem("photo_id", str(self.photo_id), why, "a photograph that still stands"))
        build_id, page = _where(connection, **{name: getattr(photo, name) for name in ABOUT})
        new = self.add_entry(connection, moment, build_id, "event", self.photo_id, self.why)
        shown = photo if photo.event_id is None else the_row(connection, Event, photo.event_id, "event")
        connection.execute(
            insert(Event).values(id=new, kind="taken back", text="photo", piece_id=shown.piece_id, run_id=shown.run_id)
        )
        return Effect({"event_id": new, "photo_id": self.photo_id, "page": page})


@dataclass(frozen=True, slots=True)
class PhotoSeen:
    """A photograph as it is shown: what is known of its file, and what it is about."""

    id: int
    sha256: str
    media_type: str
    width: int
    height: int
    size_bytes: int
    caption: str
    piece_id: int | None
    run_id: int | None
    operation_id: int | None
    event_id: int | None

    @property
    def full(self) -> str:
        """Its address. The hash is in it, so that a browser may keep it: another data folder served under the same
        address has other photographs under the same numbers."""
        return f"/photos/{self.id}/full?v={self.sha256[:16]}"

    @property
    def small(self) -> str:
        return f"/photos/{self.id}/small?v={self.sha256[:16]}"


_PHOTO = Photo.__table__  # type: ignore[attr-defined]
_standing = ~select(Entry.id).where(Entry.replaces_id == Photo.id).correlate(Photo).exists()


def the_photo(connection: Connection, photo_id: int) -> Any:
    return the_row(connection, Photo, photo_id, "photo")


def photos_by_id(connection: Connection, ids: Iterable[int]) -> dict[int, PhotoSeen]:
    return {each.id: each for each in _seen(connection, select(_PHOTO).where(_PHOTO.c.id.in_(list(ids))))}


def photos_of_piece(connection: Connection, piece_id: int) -> list[PhotoSeen]:
    """The photographs that stand of a piece, of the runs it was in and of what happened to it, oldest first."""
    asked = select(_PHOTO).where(Photo.id.in_(photo_ids_of_piece(piece_id)), _standing)  # type: ignore[attr-defined]
    return _seen(connection, asked)


def photos_of_run(connection: Connection, run_id: int) -> list[PhotoSeen]:
    """The photographs that stand of a run and of what happened in it, oldest first."""
    events = select(Event.id).where(Event.run_id == run_id)
    about = or_(Photo.run_id == run_id, Photo.event_id.in_(events))  # type: ignore[union-attr]
    return _seen(connection, select(_PHOTO).where(about, _standing))


def photos_of_operation(connection: Connection, operation_id: int) -> list[PhotoSeen]:
    """The photographs that stand of an operation's set-up, oldest first."""
    return _seen(connection, select(_PHOTO).where(Photo.operation_id == operation_id, _standing))


def photo_ids_of_piece(piece_id: int) -> Select[Any]:
    """Statement: the photographs that belong to the story of a piece, standing or not."""
    runs = select(RunPiece.run_id).where(RunPiece.piece_id == piece_id)
    events = select(Event.id).where(
        or_(Event.piece_id == piece_id, Event.piece_id.is_(None) & Event.run_id.in_(runs))  # type: ignore[union-attr]
    )
    return select(Photo.id).where(
        or_(Photo.piece_id == piece_id, Photo.run_id.in_(runs), Photo.event_id.in_(events))  # type: ignore[union-attr]
    )


def names_of_files(connection: Connection) -> set[str]:
    """The name of every file that a row of the log names, in the folder of the photographs."""
    rows = connection.execute(select(Photo.sha256, Photo.media_type).distinct())
    return {name_of(row.sha256, row.media_type) for row in rows}


def _seen(connection: Connection, asked: Select[Any]) -> list[PhotoSeen]:
    return [PhotoSeen(**row._mapping) for row in connection.execute(asked.order_by(_PHOTO.c.id))]


def _where(
    connection: Connection,
    piece_id: int | None = None,
    run_id: int | None = None,
    operation_id: int | None = None,
    event_id: int | None = None,
) -> tuple[int, str]:
    """The build of what a photograph is about, and the page it is seen on."""
    if piece_id is not None:
        return the_piece(connection, piece_id).build_id, f"/pieces/{piece_id}"
    if run_id is not None:
        return the_run(connection, run_id).build_id, f"/runs/{run_id}"
    if operation_id is not None:
        operation = the_operation(connection, operation_id)
        return the_part(connection, operation.part_id).build_id, f"/operations/{operation_id}/edit"
    assert event_id is not None  # the four are all there are
    event = the_row(connection, Event, event_id, "event")
    build_id = int(connection.execute(select(Entry.build_id).where(Entry.id == event_id)).scalar_one())
    if event.piece_id is not None:
        return build_id, f"/pieces/{event.piece_id}"
    return build_id, f"/runs/{event.run_id}" if event.run_id is not None else f"/builds/{build_id}/log"
