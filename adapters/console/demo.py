"""The console's two ways in: `chat` as one person of a club, and `demo` on a lesson about to begin."""
from __future__ import annotations

import contextlib
import sys
from collections.abc import Coroutine
from datetime import datetime
from typing import Any
from zoneinfo import ZoneInfo

from adapters.clock import ShiftedClock
from adapters.codes import invitation, new_code
from adapters.console import CHANNEL
from adapters.console.chat import GOODBYE, Console, address
from adapters.console.keyboard import Keyboard, terminal_kept
from adapters.console.screen import Screen
from adapters.records import the_child
from adapters.service import Service
from bot.lesson.timetable import on_now
from bot.people.hall import Hall
from bot.people.model import Club, Person
from bot.port import Store

DEMO_GOODBYE = "That was the demo. Nothing of it is kept; on your own database every mark is."
CLOCK = "2026-11-24 16:58"      # a Tuesday: the demo hall's class of that day begins two minutes later


async def chat(service: Service, club: Club, me: Person | None, phone: str) -> None:
    """Talk as one person of a club; `me` None: as somebody new, on a phone of that name."""
    store, clock = service.store, service.clock
    screen = Screen(sys.stdout, club.tz)
    screen.note(_greeting(club, me, phone))
    if isinstance(clock, ShiftedClock):
        screen.note(f"It is {clock.now().astimezone(club.tz):%A %H:%M} here; wait 1m lets a minute pass.")
    if me is not None:
        await _meet(store, club, me)
    await Console(service, screen, Keyboard(sys.stdin), club, me.id if me else phone).run()


def _greeting(club: Club, me: Person | None, phone: str) -> str:
    if me is None:
        some = ", ".join(dict.fromkeys(one for each in club.classes for one in each.people))
        return (
            f"{phone} is none of the people of {club.name} ({some}), so this is a phone of its own. "
            "A code from sprung invite lets it in: join CODE. Leave with Ctrl-D."
        )
    return f"You are {me.name} of {club.name}. Type help to see what can be said; leave with Ctrl-D."


async def demo(service: Service, hall: Hall) -> None:
    """The coach's talk in a lesson about to begin, with the other phones beside it."""
    store, clock, club = service.store, service.clock, hall.club
    await store.load(hall, clock.now())
    me = _coach(club, hall.people, clock.now())
    await _meet(store, club, me)
    await _a_parent_joins(service, hall, clock.now())
    screen = Screen(sys.stdout, club.tz)
    for line in _hints(club, me, clock.now()):
        screen.note(line)
    await Console(service, screen, Keyboard(sys.stdin), club, me.id, beside=True).run()


async def _meet(store: Store, club: Club, me: Person) -> None:
    await store.meet(CHANNEL, address(club.id, me.id), club.id, me.id)


async def _a_parent_joins(service: Service, hall: Hall, now: datetime) -> None:
    """A parent of the child who is nearest to an award wants to be told: so that a parent's phone shows too."""
    on = {one.id for one in on_now(hall.club, hall.club.classes, now)}
    line = max((one for one in hall.roster if one.class_id in on or not on), key=lambda one: len(one.has))
    child = await the_child(service.store, hall.club.id, line.child)
    code, phone = new_code(), address(hall.club.id, "a parent")
    await service.store.invite(invitation(hall.club.id, now, child=child.id), code)
    for text in (f"join {code}", "yes"):
        await service.hear(CHANNEL, phone, text=text)


def at_the_console(talk: Coroutine[Any, Any, None], goodbye: str = GOODBYE) -> None:
    """Run a talk to its end, which Ctrl-C may be too, and say goodbye."""
    import asyncio

    with terminal_kept(sys.stdin), contextlib.suppress(KeyboardInterrupt, asyncio.CancelledError):
        asyncio.run(talk)
    sys.stdout.write("\n" if sys.stdout.isatty() else "")
    Screen(sys.stdout, ZoneInfo("UTC")).note(goodbye)


def _coach(club: Club, people: tuple[Person, ...], now: datetime) -> Person:
    """Who runs the class that is on now; else the club's first coach."""
    on = on_now(club, club.classes, now)
    wanted = on[0].coach if on else ()
    coaches = [one for one in people if one.role == "coach"]
    return next((one for one in coaches if one.id in wanted), coaches[0])


def _hints(club: Club, me: Person, now: datetime) -> tuple[str, str]:
    """Who one is and what to type, in two lines of 80 columns."""
    on = on_now(club, club.classes, now)
    first = club.classes[0]
    opens = f"start to open {on[0].day.title()}'s class" if on else f"start {first.day} to open that day's class"
    return (
        f"You are {me.first_name}, the coach. Type {opens}.",
        "Then a choice's number, or: ava seen. wait 1m skips a minute, Ctrl-D leaves.",
    )
