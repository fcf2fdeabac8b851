"""A small club and small decisions: what the store's tests stand on. Nothing here is a test.

The decisions know nothing of the talk: a store has to keep whatever it is told.
"""
from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime, timedelta
from typing import Any

from bot.facts import Fact, Mark
from bot.lesson.book import Changes, Reminder
from bot.people.hall import Hall, read_hall
from bot.step import Choice, Decide, Desk, Heard, Say, Stepped, Woken
from bot.talk.taps import Card

NOW = datetime(2026, 11, 24, 17, 0, tzinfo=UTC)
LESSON = "tue/2026-11-24"

SCHEME = """
[scheme]
name = "Bench"
[[award]]
id = "one"
name = "One"
  [[award.skill]]
  id = "hop"
  name = "Hop"
  [[award.skill]]
  id = "stand"
  name = "Stand"
  shows = [{seconds = 20}, {seconds = 20, rest_s = 60}]
  [[award.skill]]
  id = "wheel"
  name = "Wheel"
"""

CLUB = """
name = "Bench"
[[class]]
id = "tue"
name = "Tuesday"
day = "tuesday"
start = "17:00"
minutes = 60
coach = "jo"
assistant = "sam"
[[class]]
id = "fri"
name = "Friday"
day = "friday"
start = "17:00"
minutes = 60
coach = "ines"
[[person]]
id = "jo"
name = "Jo Marsh"
role = "coach"
[[person]]
id = "sam"
name = "Sam Hill"
role = "assistant"
[[person]]
id = "ines"
name = "Ines Duarte"
role = "coach"
"""

ROSTER = """child,class,award,has,id
Ava Price,tue,one,,ava
Ben Okafor,tue,one,hop,ben
Zuleika Canary,fri,one,,zu
"""


def hall(name: str = "Bench", *, scheme: str = SCHEME, club: str = CLUB, roster: str = ROSTER) -> Hall:
    """The club's folder, under another name if one is given."""
    return read_hall(scheme, club.replace('name = "Bench"', f'name = "{name}"', 1), roster)


def heard(id: str, text: str | None = "ava seen", sender: str = "jo", **more: Any) -> Heard:
    """A message to the club `bench`, unless told otherwise."""
    at = more.pop("at", NOW)
    return Heard(id, more.pop("channel", "sms"), sender, at, at, text, more.pop("choice", None), **more)


def stepped(desk: Desk, *texts: str, facts: tuple[Fact, ...] = (), changes: Changes | None = None,
            choices: tuple[Choice, ...] = (), **more: Any) -> Stepped:
    """These sentences, counted in the talk, with these facts."""
    talk = replace(desk.talk, said=desk.talk.said + len(texts))
    says = tuple(Say(text, choices) for text in texts)
    return Stepped(talk, says, facts, LESSON if facts else None, changes or Changes(), **more)


def saying(*texts: str, **more: Any) -> Decide:
    """A decision that says this, whatever was heard."""
    return lambda heard, desk: stepped(desk, *texts, **more)


def mark(message: str, child: str = "ava", skill: str = "hop", by: str = "jo", at: datetime = NOW) -> Mark:
    """A mark that came in that message."""
    return Mark(f"{message}#0", child, skill, LESSON, "seen", by, at, at, 1)


def marking(child: str = "ava", skill: str = "hop") -> Decide:
    """A decision that records one mark and answers with two choices."""
    def decide(heard: Heard, desk: Desk) -> Stepped:
        one = mark(heard.message, child, skill, desk.me.id if desk.me else "")
        offered = (Choice("Card", Card(skill), 1), Choice("Another card", Card("stand"), 2))
        return stepped(desk, f"{child} seen {skill}", facts=(one,), choices=offered)

    return decide


def refusing(heard: Heard, desk: Desk) -> Stepped:
    """A decision with a mistake in it."""
    raise ArithmeticError("a mistake")


def never(heard: Heard, desk: Desk) -> Stepped:
    """A decision that nobody may ask for."""
    raise AssertionError("this was decided before")


# --- reminders ----------------------------------------------------------------------------------------

def reminder(key: str = "rest/ava", person: str = "jo", after: float = 60) -> Reminder:
    """A rest that is over so many seconds after the lesson began."""
    return Reminder(key, person, "rest", NOW + timedelta(seconds=after), LESSON, "ava", "stand", 2)


def queueing(*reminders: Reminder) -> Decide:
    """A decision after which exactly these are queued for the Tuesday class."""
    pending = {"tue": {one.key: one for one in reminders}}
    return lambda heard, desk: stepped(desk, "ok", changes=Changes(pending=pending))


class Waking:
    """A wake that says what it was woken for, takes it off the queue, and remembers when that was."""

    def __init__(self, *, leaves: bool = False, fails_for: str = "") -> None:
        self.woken: list[tuple[datetime, tuple[str, ...]]] = []
        self._leaves, self._fails_for = leaves, fails_for

    def __call__(self, woken: Woken, desk: Desk) -> Stepped:
        if desk.me is not None and desk.me.id == self._fails_for:
            raise ArithmeticError("a mistake")
        keys = tuple(one.key for one in woken.due)
        self.woken.append((woken.now, keys))
        book = desk.books["tue"]
        left = {key: one for key, one in book.pending.items() if key not in keys}
        changes = Changes() if self._leaves else Changes(pending={"tue": left}, fired={"tue": book.fired | set(keys)})
        return stepped(desk, f"due: {', '.join(keys)}", changes=changes)


def waking(**more: Any) -> Waking:
    """A fresh one."""
    return Waking(**more)




