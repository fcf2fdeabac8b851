"""Links by which calendar programs take somebody's lessons, and what is found behind one.

What lives here: the same as in `phones.py`, for what a calendar looks at. Reads and plans only.
"""
from __future__ import annotations

from datetime import datetime

from bot.port import Feed
from bot.step import Desk, Refused
from storage import unit
from storage.shelf import Home, Shelf, Written
from storage.unit import Done


def keep(shelf: Shelf, feed: Feed) -> Done[None]:
    """Keep somebody's feed in place of the one before. Raises Refused where there is no such person."""
    _home(shelf, feed.club, feed.person)
    return Done(None, Written(feed.club, feed=feed))


def end(shelf: Shelf, club: str, person: str) -> Done[bool]:
    """End somebody's feed; False: there was none."""
    if shelf.feed_of(club, person) is None:
        return Done(False)
    return Done(True, Written(club, feed_ended=person))


def desk(shelf: Shelf, club: str, person: str, now: datetime) -> Done[Desk]:
    """What somebody may look at. Raises Refused where there is no such person."""
    home = _home(shelf, club, person)
    return Done(unit.shown_to(shelf, home, home.people[person], now))


def _home(shelf: Shelf, club: str, person: str) -> Home:
    home = shelf.home(club)
    if home is None or person not in home.people:
        raise Refused("There is nobody of that name in this club.")
    return home
