"""What goes when it is old: answers and reminders, and children who left long ago.

What lives here: which of them go. The last messages said to somebody stay, since what was offered there can still be
tapped, and so does what is on its way.
"""
from __future__ import annotations

from datetime import date, datetime

from bot.facts import Fact, Mark
from bot.step import Said, Want
from storage.shelf import SAID_KEPT, Shelf, Written
from storage.unit import Done

AT_ONCE = 500


def tidy(shelf: Shelf, club: str, said_before: datetime) -> Done[int]:
    """Take away some of what was said in a club before then; how many. Where it is none, nothing is left to do."""
    gone: list[Said] = []
    for person in shelf.spoken_to_before(club, said_before):
        if len(gone) < AT_ONCE:
            gone += _old(shelf, club, person, said_before)
    return Done(len(gone), Written(club, tidied=tuple(gone)) if gone else None)


def _old(shelf: Shelf, club: str, person: str, said_before: datetime) -> list[Said]:
    last = shelf.latest(club, person, 0, SAID_KEPT)
    found = shelf.said_before(club, person, said_before, AT_ONCE)
    return [one for one in found if one not in last and not _on_its_way(shelf, one)]


def _on_its_way(shelf: Shelf, said: Said) -> bool:
    way = shelf.posted(said.id) if said.in_reply_to is None else None
    return way is not None and not way.settled


def outlived(shelf: Shelf, club: str, left_before: date) -> tuple[str, ...]:
    """Who left before that day and was not heard of from then on; their ids, in order."""
    left = [
        child.id for class_id in shelf.class_ids(club) for child in shelf.book(club, class_id).children.values()
        if child.left_on is not None and child.left_on < left_before
    ]
    return tuple(sorted(one for one in left if not _heard_of(shelf, club, one, left_before)))


def _heard_of(shelf: Shelf, club: str, child: str, since: date) -> bool:
    """Was anything recorded of her from that day on?"""
    days = (_day(one.fact) for one in shelf.facts(club, Want(child=child)))
    return any(day is not None and day >= since for day in days)


def _day(fact: Fact) -> date | None:
    """The day of a fact, in UTC: a day here or there is nothing in years."""
    if isinstance(fact, Mark):
        return fact.judged_at.date()
    at: datetime | None = getattr(fact, "at", None)
    on: date | None = getattr(fact, "on", None)
    return on if at is None else at.date()
