"""From the secret of a message to one of its files.

What lives here: that a file is there for a while only, for its person only, and only as long as that person may see it.
"""
from __future__ import annotations

import asyncio
from dataclasses import dataclass
from datetime import datetime, timedelta

from adapters.files.kinds import KINDS
from bot.port import Store

KEPT = timedelta(days=2)        # a message itself is given up after one
GONE = "That file is not there, or not any more; ask for it again in the talk."


@dataclass(frozen=True, slots=True)
class File:
    """A file as it was made."""

    name: str
    media_type: str
    body: bytes


async def fetch(
    store: Store, now: datetime, secret: str, place: int, name: str, whose: tuple[str, str] | None = None,
) -> File | None:
    """The file of that name, of the attachment at that place (from 0); None where there is none, or not for them.

    `whose`: the club and the person who ask, where that is known; else whoever holds the secret is taken for them.
    Raises Unmade where it can't be made any more.
    """
    found = await store.attached(secret, now)
    if found is None:
        return None
    desk, said = found
    if (whose is not None and whose != (said.club, said.person)) or now - said.at > KEPT:
        return None
    if not 0 <= place < len(said.attached):
        return None
    recipe = said.attached[place].recipe
    kind = KINDS[recipe.kind]
    form = kind.form(name)
    if form is None or not form.ready or not kind.allowed(recipe, desk):
        return None
    return File(form.name, form.media_type, await asyncio.to_thread(form.make, recipe, desk, now))
