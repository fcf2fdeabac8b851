"""The console's two ways in: `chat` as one person of a club, and `demo` on a lesson about to begin."""
from __future__ import annotations

import contextlib
import sys
from collections.abc import Coroutine
from datetime import datetime
from typing import Any, TextIO

from adapters.clock import Clock, ShiftedClock
from adapters.console.chat import GOODBYE, Console
from adapters.console.keyboard import Keyboard, terminal_kept
from adapters.console.screen import Screen
from adapters.service import Service
from bot.lesson.timetable import on_now
from bot.people.hall import Hall
from bot.people.model import Club, Person
from bot.step import Store

DEMO_GOODBYE = "That was the demo. Nothing of it is kept; on your own database every mark is."
CLOCK = "2026-11-24 16:58"      # a Tuesday: the demo hall's class of that day begins two minutes later


async def chat(store: Store, clock: Clock, club: Club, me: Person) -> None:
    """Talk as one person of a club."""
    screen = _screen(sys.stdout, club)
    screen.note(f"You are {me.name} of {club.name}. Type help to see what can be said; leave with Ctrl-D.")
    console = Console(Service(store, clock), screen, Keyboard(sys.stdin), club, me)
    await console.run()


async def demo(store: Store, hall: Hall, start: datetime) -> None:
    """The coach's talk in a lesson about to begin, with the other phones beside it."""
    clock = ShiftedClock(start)
    club = hall.club
    await store.load(hall, clock.now())
    me = _coach(club, hall.people, clock.now())
    screen = _screen(sys.stdout, club)
    for line in _hints(club, me, clock.now()):
        screen.note(line)
    console = Console(Service(store, clock), screen, Keyboard(sys.stdin), club, me, beside=True, clock_moves=True)
    await console.run()


def at_the_console(talk: Coroutine[Any, Any, None], goodbye: str = GOODBYE) -> None:
    """Run a talk to its end, which Ctrl-C may be too, and say goodbye."""
    import asyncio

    for stream in (sys.stdin, sys.stdout):
        with contextlib.suppress(AttributeError, ValueError):
            stream.reconfigure(errors="replace")        # type: ignore[union-attr]
    with terminal_kept(sys.stdin), contextlib.suppress(KeyboardInterrupt, asyncio.CancelledError):
        asyncio.run(talk)
    sys.stdout.write(("\n" if sys.stdout.isatty() else "") + goodbye + "\n")


def _screen(out: TextIO, club: Club) -> Screen:
    return Screen(out, club.tz)


def _coach(club: Club, people: tuple[Person, ...], now: datetime) -> Person:
    """Who runs the class that is on now; else the club's first coach."""
    on = on_now(club, club.classes, now)
    wanted = on[0].coach if on else ()
    coaches = [one for one in people if one.role == "coach"]
    return next((one for one in coaches if one.id in wanted), coaches[0])


def _hints(club: Club, me: Person, now: datetime) -> tuple[str, str]:
    day = now.astimezone(club.tz).strftime("%A")
    return (
        f"You are {me.first_name}, the coach. Type start to open {day}'s class, then what you see.",
        "Type wait 1m to let a minute pass; leave with Ctrl-D.",
    )

