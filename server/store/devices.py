"""Paired devices: who is let in by which secret, when each was last seen, and letting one in no more.

Only a SHA-256 of the secret is kept. A plain hash is enough because the secret is 256 random bits: there is nothing to
guess, unlike with a password (from memory: OWASP, "Password Storage" is about chosen secrets; NIST SP 800-63B 5.1.2.2
asks a salt only of look-up secrets under 112 bits).
"""

from __future__ import annotations

import hashlib
import secrets
from contextlib import suppress
from datetime import datetime, timedelta
from typing import Annotated, Any, ClassVar, Literal

from pydantic import Field
from sqlalchemy import Connection, bindparam, insert, select, update

from server.store.action import Action, Effect, NotThere
from server.store.database import Database
from server.store.tables import Device
from server.store.writer import NotSaved

Role = Literal["editor", "viewer"]
DeviceName = Annotated[str, Field(min_length=1, max_length=60)]

LIFE = timedelta(days=400)  # as long as a browser keeps a cookie at most (from memory: RFC 6265bis, 5.5)
SEEN_AT_MOST_EVERY = timedelta(minutes=1)

_BY_SECRET = select(Device.id, Device.name, Device.role, Device.created_at, Device.last_seen_at).where(
    Device.secret_hash == bindparam("secret_hash"),
    Device.revoked_at.is_(None),  # type: ignore[union-attr]
)


def new_secret() -> str:
    """256 random bits, as text that fits into a cookie."""
    return secrets.token_urlsafe(32)


def hash_of(secret: str) -> str:
    return hashlib.sha256(secret.encode()).hexdigest()


def let_in(connection: Connection, name: str, role: Role, secret: str, moment: datetime, instead_of: int | None) -> int:
    """A new device; the one it was before, if any, is let in no more. Returns the new device's number."""
    if instead_of is not None:
        connection.execute(update(Device).where(Device.id == instead_of).values(revoked_at=moment))
    values = {"name": name, "role": role, "secret_hash": hash_of(secret), "created_at": moment, "last_seen_at": moment}
    return int(connection.execute(insert(Device).values(**values)).inserted_primary_key[0])


def device_of(database: Database, secret: str, moment: datetime) -> Any:
    """The device that holds this secret, or None: unknown, revoked, or paired too long ago. Keeps when it was seen."""
    with database.read() as connection:
        device = connection.execute(_BY_SECRET, {"secret_hash": hash_of(secret)}).first()
    if device is None or moment - device.created_at > LIFE:
        return None
    if device.last_seen_at is None or moment - device.last_seen_at >= SEEN_AT_MOST_EVERY:
        seen = update(Device).where(Device.id == device.id).values(last_seen_at=moment)
        with suppress(NotSaved):  # a full disk must not keep anyone from reading
            database.write(lambda connection: connection.execute(seen))
    return device


def all_devices(connection: Connection) -> list[Any]:
    """Every device there ever was, those still let in first, the newest first."""
    columns = Device.__table__  # type: ignore[attr-defined]
    return list(connection.execute(select(columns).order_by(columns.c.revoked_at.is_not(None), columns.c.id.desc())))


class _OfDevice(Action):
    device_id: int
    who: Annotated[str, Field(max_length=80)] = ""

    def _change(self, connection: Connection, **values: Any) -> Effect:
        found = 0
        if 0 < self.device_id < 2**63:
            found = connection.execute(update(Device).where(Device.id == self.device_id).values(**values)).rowcount
        if not found:
            raise NotThere("device_id", self.device_id, "device")
        return Effect({"device_id": self.device_id, "page": "/devices"})


class RenameDevice(_OfDevice):
    path: ClassVar[str] = "rename-device"
    title: ClassVar[str] = "Give a paired device another name"

    name: DeviceName

    def carry_out(self, connection: Connection, moment: datetime) -> Effect:
        return self._change(connection, name=self.name)


class RevokeDevice(_OfDevice):
    path: ClassVar[str] = "revoke-device"
    title: ClassVar[str] = "Let a paired device in no more, from this moment on"

    def carry_out(self, connection: Connection, moment: datetime) -> Effect:
        return self._change(connection, revoked_at=moment)
