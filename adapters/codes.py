"""One-time codes: ten characters that can be read aloud and typed with a thumb."""
from __future__ import annotations

import secrets
from datetime import datetime, timedelta

from bot.people.model import Person
from bot.step import Invitation

ALPHABET = "0123456789ABCDEFGHJKMNPQRSTVWXYZ"      # Crockford's base 32: no I, L, O or U
LENGTH = 10
VALID = timedelta(days=14)


def new_code() -> str:
    """A code that nobody can guess: fifty bits."""
    return "".join(secrets.choice(ALPHABET) for _ in range(LENGTH))


def invitation(club: str, now: datetime, *, person: Person | None = None, child: str | None = None) -> Invitation:
    """An invitation for one of the club's people, or for a parent of a child."""
    return Invitation(club, person, child, now + VALID, used=False)
