"""One club and two decisions that know nothing of the talk. Nothing here is a test."""
from __future__ import annotations

import asyncio
from dataclasses import replace
from datetime import UTC, datetime, time

import pytest

from bot.facts import Mark
from bot.lesson.book import Changes
from bot.marks.standing import Standing
from bot.people.hall import Hall
from bot.people.model import Club, ClubClass, Person, RosterLine
from bot.port import Store
from bot.scheme.model import Award, Scheme, Skill
from bot.step import Choice, Desk, Heard, Refused, Say, Stepped
from bot.talk.taps import Help

NOW = datetime(2026, 11, 24, 17, 0, tzinfo=UTC)
LESSON = "tue/2026-11-24"


def hall() -> Hall:
    """A class of one child, and its coach."""
    tuesday = ClubClass(id="tue", name="Tuesday", day="tuesday", start=time(17), coach=("jo",))
    return Hall(
        Scheme(name="Bench", award=(Award(id="one", name="One", skill=(Skill(id="hop", name="Hop"),)),)),
        Club(id="bench", name="Bench", classes=(tuesday,)),
        (Person(id="jo", name="Jo Marsh", role="coach"),),
        (RosterLine(child="Ava Price", class_id="tue", award="one", id="ava"),),
    )


async def settle(store: Store) -> Store:
    """Load the club and let the coach be known."""
    await store.load(hall(), NOW)
    await store.meet("bench", "jo", "bench", "jo")
    return store


def heard(number: int, text: str = "hello") -> Heard:
    """The coach's message of that number."""
    return Heard(f"m{number}", "bench", "jo", NOW, NOW, text)


def answer(message: Heard, desk: Desk) -> Stepped:
    """Say the text back, with a choice."""
    talk = replace(desk.talk, said=desk.talk.said + 1)
    return Stepped(talk, (Say(f"answer to {message.text}", (Choice("Help", Help(), 1),)),))


def a_mark(message: Heard, desk: Desk) -> Stepped:
    """Answer, with a mark on record and a standing that counts the marks."""
    mark = Mark(f"{message.message}#0", "ava", "hop", LESSON, "seen", "jo", NOW, NOW, desk.version)
    counted = Standing(tries=desk.books["tue"].standing("ava", "hop").tries + 1)
    changes = Changes(standings={("ava", "hop"): counted})
    return replace(answer(message, desk), facts=(mark,), lesson=LESSON, changes=changes)


async def closes_in_order(store: Store) -> None:
    """What was handed over before the end is answered; what comes after it is refused."""
    steps = [asyncio.ensure_future(store.step(heard(n), a_mark)) for n in range(30)]
    await asyncio.sleep(0)
    await store.close()
    await store.close()
    assert [said.seq for (said,) in await asyncio.gather(*steps)] == list(range(1, 31))
    with pytest.raises(Refused, match="closed"):
        await store.step(heard(99), a_mark)
    with pytest.raises(Refused, match="closed"):
        await store.snapshot("bench")
