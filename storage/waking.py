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
from typing import Any, Protocol

from bot.lesson.book import ClassBook
from bot.step import Said, Wake, Woken
from storage import queue
from storage.codec import micros
from storage.letters import addressed
from storage.shelf import Due, Shelf, Written
from storage.unit import Done, decided, desk_for, written_by

LOG = logging.getLogger("sprung.storage")


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
    still = [
        one for class_id, key in due.keys
        if (one := before[class_id].pending.get(key)) is not None and one.due_at == due.at
    ]
    if not still:           # something was said, or taken back, since it was looked up
        return Done(None)
    home = shelf.home(due.club)
    me = None if home is None else home.people.get(due.person)
    if home is None or me is None:
        return _lost(due, before)
    id_ = f"wake:{due.person}:{micros(due.at)}:{shelf.last_fact(due.club) + 1}"
    desk = desk_for(shelf, home, me, ("", ""), now, also=before.keys())
    woken = Woken(id_, now, tuple(still))
    written = written_by(shelf, desk, decided(shelf, desk, lambda full: fire(woken, full)), woken.id, now, None)
    written, stuck = _unstuck(shelf, due, before, written)
    return Done(Firing(due.club, due.person, written.said, stuck), addressed(shelf, written))


Books = Mapping[str, ClassBook]


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


async def wake_all(put: Put, until: datetime, fire: Wake) -> tuple[Said, ...]:
    """Fire all that is due, one transaction for each person and instant.

    Where one can't be fired the others still are, and then what went wrong is raised; it stays due. Several processes
    that wake at once each take what no other is at, and wait for each other only where nothing else is left.
    """
    said: list[Said] = []
    failed: dict[tuple[str, str], Exception] = {}
    elsewhere: set[tuple[str, str]] = set()
    patient = False
    while True:
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
        raise next(iter(failed.values()))
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
