"""One waking: what is due to one person at one instant, and all that is due.

What lives here: the same as in `unit.py`, where time has come instead of a message.
"""
from __future__ import annotations

import asyncio
import logging
from collections.abc import Awaitable, Callable, Iterable, Mapping
from collections.abc import Set as AbstractSet
from dataclasses import dataclass, replace
from datetime import datetime
from functools import partial
from hashlib import blake2s
from typing import Any, Protocol

from bot.lesson.book import ClassBook, Reminder
from bot.port import NotFired
from bot.step import Desk, Refused, Said, Wake, Woken
from bot.talk.putaside import REMINDER
from bot.talk.state import Talk
from storage import queue
from storage.codec import micros
from storage.letters import addressed
from storage.shelf import Apart, Due, Shelf, Written
from storage.trouble import TRIES, next_try
from storage.unit import Done, decided, desk_for, saying, written_by

LOG = logging.getLogger("sprung.storage")


Books = Mapping[str, ClassBook]


@dataclass(frozen=True, slots=True)
class Firing:
    """What was said to whom when a reminder fired. `stuck`: reminders that the dialogue left queued."""

    club: str
    person: str
    said: tuple[Said, ...]
    stuck: int = 0


def wake(shelf: Shelf, due: Due, now: datetime, fire: Wake) -> Done[Firing | None]:
    """Fire what is due to one person at one instant, as things are now."""
    before = {class_id: shelf.book(due.club, class_id) for class_id, _ in due.keys}
    still = tuple(
        one for class_id, key in due.keys
        if (one := before[class_id].pending.get(key)) is not None and one.due_at == due.at
    )
    if not still:           # something was said, or taken back, since it was looked up
        return Done(None)
    try:
        return _fired(shelf, due, before, still, now, fire)
    except (Refused, Apart):
        raise
    except Exception as error:      # a fault of ours; nothing is written yet
        return _failed(shelf, due, before, still, now, error)


def _fired(
    shelf: Shelf, due: Due, before: Books, still: tuple[Reminder, ...], now: datetime, fire: Wake,
) -> Done[Firing | None]:
    home = shelf.home(due.club)
    me = None if home is None else home.people.get(due.person)
    if home is None or me is None:
        return _lost(due, before)
    id_ = f"wake:{due.person}:{micros(due.at)}:{shelf.last_fact(due.club) + 1}"
    desk = desk_for(shelf, home, me, ("", ""), now, also=before.keys())
    woken = Woken(id_, now, still)
    written = written_by(shelf, desk, decided(shelf, desk, lambda full: fire(woken, full)), woken.id, now, None)
    written, stuck = _unstuck(shelf, due, before, written)
    return Done(Firing(due.club, due.person, written.said, stuck), addressed(shelf, written))


def _failed(
    shelf: Shelf, due: Due, before: Books, still: tuple[Reminder, ...], now: datetime, error: Exception,
) -> Done[Firing | None]:
    """Note that it could not be said; the last time, put it aside and tell those who can look by themselves."""
    id_ = f"wake:{blake2s(f'{due.club}/{due.person}/{micros(due.at)}'.encode(), digest_size=12).hexdigest()}"
    what = f"reminder: {', '.join(sorted({one.kind for one in still}))}"
    one = next_try(shelf, due.club, id_, what, error, now)
    if one.tries < TRIES:
        return Done(None, Written(due.club, troubles=(one,)), error)
    LOG.error("%s is put aside after %d tries: %s in %s", what, one.tries, one.kind, one.place)
    done = _lost(due, before)
    home = shelf.home(due.club)
    me = None if home is None else home.people.get(due.person)
    written = done.written or Written(due.club)
    if home is not None and me is not None and me.role != "parent":     # no family is told of what we meant to say
        desk = Desk(home.club, me, ("", ""), shelf.talk(due.club, due.person) or Talk())
        told = addressed(shelf, written_by(shelf, desk, saying(desk, REMINDER), id_, now, None))
        written = replace(told, books=written.books, queue=written.queue)
    return Done(Firing(due.club, due.person, written.said), replace(written, troubles=(one,)))


def _unstuck(shelf: Shelf, due: Due, before: Books, written: Written) -> tuple[Written, int]:
    after, stuck = queue.spent({**before, **written.books}, due)
    if not stuck:
        return written, 0
    before = {**before, **{class_id: shelf.book(due.club, class_id) for class_id in written.books}}
    return replace(written, books=after, queue=queue.difference(before, after)), stuck


def _lost(due: Due, before: Books) -> Done[Firing | None]:
    """Nobody is there to be told any more."""
    after, stuck = queue.spent(before, due)
    written = Written(due.club, books=after, queue=queue.difference(before, after))
    return Done(Firing(due.club, due.person, (), stuck), written)


class Put(Protocol):
    """Carries out a plan about a club, or about all of them.

    `patient`: it may wait while another process is at that club; else the answer is None.
    """

    def __call__(self, plan: Callable[[Shelf], Done[Any]], club: str | None, *, patient: bool) -> Awaitable[Any]: ...


async def wake_all(put: Put, until: datetime, fire: Wake, go_on: Callable[[], bool]) -> tuple[Said, ...]:
    """Fire all that is due, one transaction for each person and instant, while `go_on` says so.

    Where one can't be fired the others still are, and then NotFired is raised; it stays due. Several processes
    that wake at once each take what no other is at, and wait for each other only where nothing else is left.
    """
    said: list[Said] = []
    failed: dict[tuple[str, str], Exception] = {}
    elsewhere: set[tuple[str, str]] = set()
    patient = False
    while go_on():
        due = await put(partial(_due, until=until, but=failed.keys() | elsewhere), None, patient=True)
        if not due and not elsewhere:
            break
        if not due:
            elsewhere, patient = set(), True
            continue
        first = _until_somebody_comes_again(due)
        firings = await asyncio.gather(
            *(put(partial(wake, due=one, now=until, fire=fire), one.club, patient=patient) for one in first.values()),
            return_exceptions=True,
        )
        for whose, firing in zip(first, firings, strict=True):
            if isinstance(firing, Firing):
                said.extend(firing.said)
                if firing.stuck:
                    LOG.warning("%d reminders were left queued by what they woke; they count as sent", firing.stuck)
            elif isinstance(firing, Exception):
                failed[whose] = firing
            elif firing is not None:
                raise firing
            elif not patient:
                elsewhere.add(whose)
    if failed:
        raise NotFired(tuple(said)) from next(iter(failed.values()))
    return tuple(said)


def _due(shelf: Shelf, until: datetime, but: AbstractSet[tuple[str, str]]) -> Done[tuple[Due, ...]]:
    return Done(shelf.due(until, but))


def _until_somebody_comes_again(due: Iterable[Due]) -> dict[tuple[str, str], Due]:
    """What may be fired at once, by (club, person): nothing overtakes what failed for the same person."""
    first: dict[tuple[str, str], Due] = {}
    for one in due:
        if (one.club, one.person) in first:
            break
        first[one.club, one.person] = one
    return first
