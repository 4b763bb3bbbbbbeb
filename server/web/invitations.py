"""One-time codes by which a device is let in. They live in memory only: a restart makes them void, and that is well.

A code is 8 of 24 letters and figures, none easily taken for another: about 10¹¹ codes, of which five may be tried.
Tries are counted against the codes that are open, not against an address: an address costs an attacker nothing.
Sources: OWASP cheat sheets on authentication and forgot-password (one use, short life, few tries, random from the
system), from memory.
"""

from __future__ import annotations

import hmac
import secrets
import threading
import time
from collections.abc import Callable
from dataclasses import dataclass

from server.store.devices import Role

ALPHABET = "34679ACDEFGHJKMNPQRTVWXY"  # without 0 O, 1 I L, 2 Z, 5 S, 8 B, U (a V by hand)
LENGTH = 8
TRIES = 5
LIFE_S: dict[Role, float] = {"editor": 120.0, "viewer": 900.0}


class NotInvited(Exception):
    """No open code is this one. Which of the reasons it was is not told: it would help only who is guessing."""


@dataclass(slots=True)
class Invitation:
    code: str
    role: Role
    ends_at: float
    tries_left: int = TRIES


def as_typed(text: str) -> str:
    """A code as it was made, from one as it was typed: small letters, blanks and dashes do not matter."""
    return "".join(text.split()).replace("-", "").replace("–", "").upper()


def could_be_a_code(text: str) -> bool:
    return len(text) == LENGTH and set(text) <= set(ALPHABET)


class Invitations:
    """The open codes, at most one a role: a new one makes the last one void. May be used from any thread."""

    def __init__(self, clock: Callable[[], float] = time.monotonic) -> None:
        self._clock = clock
        self._open: dict[Role, Invitation] = {}
        self._lock = threading.Lock()

    def make(self, role: Role) -> Invitation:
        code = "".join(secrets.choice(ALPHABET) for _ in range(LENGTH))
        made = Invitation(code, role, self._clock() + LIFE_S[role])
        with self._lock:
            self._open[role] = made
        return made

    def redeem(self, code: str) -> Role:
        """Use a code up, and say what it lets its holder do. Raises NotInvited; five of these void the open codes."""
        with self._lock:
            self._open = {role: each for role, each in self._open.items() if self._clock() < each.ends_at}
            # compare_digest takes the same time wherever the first difference stands; all are compared for that reason.
            same = [each for each in self._open.values() if hmac.compare_digest(each.code.encode(), code.encode())]
            if same:
                del self._open[same[0].role]
                return same[0].role
            for each in self._open.values():
                each.tries_left -= 1
            self._open = {role: each for role, each in self._open.items() if each.tries_left}
        raise NotInvited
