"""One store after another, behind the same promises. Each can be let go and opened again on what it kept."""
from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime, timedelta
from typing import Any

from bot.facts import Mark
from bot.lesson.book import Changes, Reminder
from bot.people.hall import read_hall
from bot.port import Store
from bot.step import Choice, Desk, Heard, Say, Stepped, Woken
from bot.talk.taps import Help
from storage import open_store
from tests.talk.hall import CLUB, ROSTER, SCHEME

NOW = datetime(2026, 11, 24, 17, 0, tzinfo=UTC)


def hall(name: str = "Bench", cls: str = "tue", roster: str = ROSTER, scheme: str = SCHEME) -> Any:
    """A small hall."""
    return read_hall(scheme.format(ways=""), CLUB.format(name=name, cls=cls), roster)


class Kept:
    """A store and how to open it again."""

    def __init__(self, url: str) -> None:
        self.url = url
        self.store: Store = open_store(url)
        self.n = 0

    async def restart(self) -> Store:
        """Let it go and open it again; what is in memory alone has no other place to be."""
        if self.url != "memory:":
            await self.store.close()
            self.store = open_store(self.url)
        return self.store

    def heard(self, text: str = "hello", person: str = "jo", **more: Any) -> Heard:
        """A message, with an id of its own unless one is given."""
        self.n += 1
        at = NOW + timedelta(seconds=self.n)
        return replace(Heard(f"m{self.n}", "bench", person, at, at, text), **more)


def answer(heard: Heard, desk: Desk) -> Stepped:
    """Say the text back, with a choice."""
    talk = replace(desk.talk, said=desk.talk.said + 1, numbers=desk.talk.numbers + 1)
    return Stepped(talk, (Say(f"you said {heard.text}", (Choice("Help", Help(), talk.numbers),)),))


def a_mark(heard: Heard, desk: Desk) -> Stepped:
    """Record a mark of Ava, and answer."""
    child = next(iter(desk.books["tue"].children))
    at, lesson = heard.sent_at, "tue/2026-11-24"
    mark = Mark(f"{heard.message}#0", child, "hop", lesson, "seen", heard.sender, at, at, 1)
    before = desk.books["tue"].standing(child, "hop")
    standing = replace(before, tries=before.tries + 1)
    changes = Changes(standings={(child, "hop"): standing})
    return replace(answer(heard, desk), facts=(mark,), lesson=lesson, changes=changes)


def a_reminder(key: str, after: float, person: str = "jo") -> Reminder:
    """Something that is due so many seconds from the start."""
    return Reminder(key, person, "rest", NOW + timedelta(seconds=after), "tue/2026-11-24")


def queueing(*reminders: Reminder):
    """A step that queues exactly these for the class."""
    def decide(heard: Heard, desk: Desk) -> Stepped:
        return replace(answer(heard, desk), changes=Changes(pending={"tue": {one.key: one for one in reminders}}))
    return decide


def fired(woken: Woken, desk: Desk) -> Stepped:
    """Say what fired, once."""
    book = desk.books["tue"]
    keys = frozenset(one.key for one in woken.due)
    left = {key: one for key, one in book.pending.items() if key not in keys}
    talk = replace(desk.talk, said=desk.talk.said + 1)
    changes = Changes(pending={"tue": left}, fired={"tue": book.fired | keys})
    return Stepped(talk, (Say("fired " + ", ".join(sorted(keys)) + f" at {woken.now:%H:%M:%S}"),), changes=changes)
