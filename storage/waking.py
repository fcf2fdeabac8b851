"""One waking: what is due to one person at one instant, and all that is due.

What lives here: the same as in `unit.py`, where time has come instead of a message.
"""
from __future__ import annotations

import logging
from collections.abc import Awaitable, Callable
from dataclasses import dataclass, replace
from datetime import datetime
from typing import Any

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
    """Fire what was due to one person at one instant, as things are now."""
    home = shelf.home(due.club)
    me = None if home is None else home.people.get(due.person)
    if home is None or me is None:
        return _lost(shelf, due)
    woken = Woken(
        f"wake:{due.person}:{micros(due.at)}:{shelf.last_fact(due.club) + 1}",
        now, tuple(reminder for _, reminder in due.reminders),
    )
    desk = desk_for(shelf, home, me, ("", ""), now)
    written = written_by(shelf, desk, decided(shelf, desk, lambda full: fire(woken, full)), woken.id, now, None)
    written, stuck = _unstuck(shelf, due, written)
    return Done(Firing(due.club, due.person, written.said, stuck), addressed(shelf, written))


def _unstuck(shelf: Shelf, due: Due, written: Written) -> tuple[Written, int]:
    before = {class_id: shelf.book(due.club, class_id) for class_id, _ in due.reminders}
    before |= {class_id: shelf.book(due.club, class_id) for class_id in written.books}
    after, stuck = queue.spent({**before, **written.books}, due)
    if not stuck:
        return written, 0
    return replace(written, books=after, queue=queue.difference(before, after)), stuck


def _lost(shelf: Shelf, due: Due) -> Done[Firing | None]:
    """Nobody is there to be told any more."""
    before = {class_id: shelf.book(due.club, class_id) for class_id, _ in due.reminders}
    after, stuck = queue.spent(before, due)
    written = Written(due.club, books=after, queue=queue.difference(before, after))
    return Done(Firing(due.club, due.person, (), stuck), written)


Put = Callable[[Callable[[Shelf], Done[Any]]], Awaitable[Any]]


async def wake_all(put: Put, until: datetime, fire: Wake) -> tuple[Said, ...]:
    """Fire all that is due, one transaction for each person and instant.

    Where one can't be fired the others still are, and then what went wrong is raised; it stays due.
    """
    said: list[Said] = []
    failed: dict[tuple[str, str], Exception] = {}
    while True:
        turn = _Turn(until, fire, frozenset(failed))
        try:
            firing = await put(turn)
        except Exception as error:
            if turn.whose is None or turn.whose in failed:
                raise
            failed[turn.whose] = error
            continue
        if firing is None:
            break
        if firing.stuck:
            LOG.warning("%d reminders were left queued by what they woke; they count as sent", firing.stuck)
        said.extend(firing.said)
    if failed:
        raise next(iter(failed.values()))
    return tuple(said)


@dataclass(slots=True)
class _Turn:
    """Fire what is due next, and remember whose it was."""

    until: datetime
    fire: Wake
    but: frozenset[tuple[str, str]]
    whose: tuple[str, str] | None = None

    def __call__(self, shelf: Shelf) -> Done[Firing | None]:
        due = shelf.earliest(self.until, self.but)
        if due is None:
            return Done(None)
        self.whose = due.club, due.person
        return wake(shelf, due, self.until, self.fire)
