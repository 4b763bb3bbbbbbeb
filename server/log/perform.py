"""The one way a change is made: an action in, one transaction, what follows from it kept, its answer out.

The client's key goes into the same transaction: the same key again gets the same answer and does nothing more.
"""

from __future__ import annotations

import hashlib
import json
from typing import Any

from sqlalchemy import Connection, bindparam, insert, select

from server.log.kept import refresh
from server.store.action import Action
from server.store.base import now
from server.store.database import Database
from server.store.tables import RequestKey

_SEEN = select(RequestKey.request_hash, RequestKey.answer).where(RequestKey.key == bindparam("key"))
_KEEP = insert(RequestKey)


class KeyUsedOtherwise(Exception):
    """The key came before with another request; doing either would be a guess."""


def perform(database: Database, action: Action, key: str, device_id: int | None = None) -> dict[str, Any]:
    """Carry the action out once and return its answer, which is on the disk by then.

    `device_id` is the paired device it came from; None for this computer itself.
    Raises Refused with every reason (nothing is kept), KeyUsedOtherwise, or NotSaved when the disk refuses.
    """
    request_hash = _hash(action)

    def job(connection: Connection) -> dict[str, Any]:
        seen = connection.execute(_SEEN, {"key": key}).first()
        if seen is not None:
            if seen.request_hash != request_hash:
                raise KeyUsedOtherwise("it was saved before, as it stood then, and only the answer was lost")
            return dict(json.loads(seen.answer))
        moment = now()
        effect = action.carry_out(connection, moment)
        refresh(connection, effect.pieces, effect.parts)
        answer = json.dumps(effect.answer)
        request = {"key": key, "device_id": device_id, "request_hash": request_hash}
        connection.execute(_KEEP, {**request, "answer": answer, "created_at": moment})
        return effect.answer

    answer = dict(database.write(job))
    database.watchers.tell()
    return answer


def _hash(action: Action) -> str:
    # Without what was left at its default: a request that was under way while the program got a new field, and is sent
    # again with its key, is still the same request.
    said = type(action).path + action.model_dump_json(exclude_defaults=True)
    return hashlib.sha256(said.encode()).hexdigest()
