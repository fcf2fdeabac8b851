"""Answers and reminders go when they are old: they name children, and nobody needs them any more.

What lives here: which of them go. The last ones said to somebody stay, since what was offered there can still be
tapped, and so does what is on its way.
"""
from __future__ import annotations

from datetime import datetime

from bot.step import Said
from storage.shelf import SAID_KEPT, Shelf, Written
from storage.unit import Done

AT_ONCE = 500


def tidy(shelf: Shelf, club: str, said_before: datetime) -> Done[int]:
    """Take away some of what was said in a club before then; how many. Where it is none, nothing is left to do."""
    home = shelf.home(club)
    gone: list[Said] = []
    for person in () if home is None else sorted(home.people):
        if len(gone) < AT_ONCE:
            gone += _old(shelf, club, person, said_before)
    return Done(len(gone), Written(club, outlived=tuple(gone)))


def _old(shelf: Shelf, club: str, person: str, said_before: datetime) -> list[Said]:
    last = shelf.latest(club, person, 0, SAID_KEPT)
    found = shelf.said_before(club, person, said_before, AT_ONCE)
    return [one for one in found if one not in last and not _on_its_way(shelf, one)]


def _on_its_way(shelf: Shelf, said: Said) -> bool:
    way = shelf.posted(said.id) if said.in_reply_to is None else None
    return way is not None and not way.settled
