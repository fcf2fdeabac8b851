"""Who was shown what of whom, and who changed what.

What lives here: the same as in `unit.py`, for what is seen. Reads and plans only. Of one person, one day and one thing
there is one row, however often it was looked at: who saw it is what matters, and a lesson would else be all rows.
"""
from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import replace
from datetime import date, datetime

from bot.facts import Filed
from bot.lesson.timetable import day_in_zone
from bot.people.consent import months_before
from bot.people.model import Club
from bot.port import FORGOTTEN, Change, Sight, Trail
from bot.step import Refused, Shown
from storage.codec import instant
from storage.shelf import Shelf, Written
from storage.unit import Done, sights

OF_ITS_OWN = re.compile(r"(?:hall|wake:.*):(\d+):\d+", re.DOTALL)     # an id that the store made: the time is in it


def saw(shelf: Shelf, club: str, person: str, shown: Iterable[Shown], now: datetime) -> Done[None]:
    """Keep it, and let go of what is too old. Raises Refused where there is no such club."""
    home = shelf.home(club)
    if home is None:
        raise Refused(f"There is no club called {club} here.")
    return Done(None, Written(
        club, sights=sights(home.club, person, shown, now), sights_since=kept_since(home.club, now),
    ))


def kept_since(club: Club, now: datetime) -> date:
    """The first day of which it is still kept who saw what: so many calendar months ago."""
    return months_before(day_in_zone(club, now), club.audit_months)


def prune(shelf: Shelf, club: str, now: datetime) -> Done[None]:
    """Let go of what is too old, where there is anything."""
    home, first = shelf.home(club), shelf.first_sight(club)
    since = None if home is None else kept_since(home.club, now)
    if first is None or since is None or first >= since:
        return Done(None)
    return Done(None, Written(club, sights_since=since))


def trail(shelf: Shelf, club: str) -> Trail:
    """Who saw what, and who changed what."""
    seen = sorted(shelf.sights(club), key=lambda one: (one.at, one.person, one.shown.what, one.shown.child))
    return Trail(tuple(seen), shelf.changes(club))


def change(filed: Filed, heard_at: datetime | None) -> Change:
    """A fact, and when it came."""
    own = OF_ITS_OWN.fullmatch(filed.recorded.message) if heard_at is None else None
    return Change(filed.recorded, filed.by, heard_at if own is None else instant(int(own[1])))


def without_her(sight: Sight) -> Sight:
    """What stays of it once the child is forgotten: that somebody saw something of somebody."""
    return replace(sight, shown=replace(sight.shown, child=FORGOTTEN))
