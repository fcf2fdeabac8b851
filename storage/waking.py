"""One waking: what is due to one person at one instant, and all that is due.

What lives here: the same as in `unit.py`, where time has come instead of a message.
"""
from __future__ import annotations

import asyncio
import logging
from collections.abc import Awaitable, Callable, Iterable, Mapping
from dataclasses import dataclass, replace
from datetime import datetime
from functools import partial
from typing import Any

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


Put = Callable[[Callable[[Shelf], Done[Any]], str | None], Awaitable[Any]]     # a plan, and whose club it is about


async def wake_all(put: Put, until: datetime, fire: Wake) -> tuple[Said, ...]:
    """Fire all that is due, one transaction for each person and instant.

    Where one can't be fired the others still are, and then what went wrong is raised; it stays due.
    """
    said: list[Said] = []
    failed: dict[tuple[str, str], Exception] = {}
    while due := await put(lambda shelf: Done(shelf.due(until, failed.keys())), None):
        first = _until_somebody_comes_again(due)
        firings = await asyncio.gather(
            *(put(partial(wake, due=one, now=until, fire=fire), one.club) for one in first.values()),
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
    if failed:
        raise next(iter(failed.values()))
    return tuple(said)


def _until_somebody_comes_again(due: Iterable[Due]) -> dict[tuple[str, str], Due]:
    """What may be fired at once, by (club, person): nothing overtakes what failed for the same person."""
    first: dict[tuple[str, str], Due] = {}
    for one in due:
        if (one.club, one.person) in first:
            break
        first[one.club, one.person] = one
    return first
