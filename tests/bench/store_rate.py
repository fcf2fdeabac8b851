"""How many messages a second the store takes in, durably: run it by itself, it prints medians.

One hundred senders of ten clubs, each with one message under way, each message one mark and one answer with
three choices, decided by something trivial. Then one sender alone, for the time from sent to answered.
"""
from __future__ import annotations

import asyncio
import statistics
import sys
import tempfile
import time
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path

from bot.facts import Mark
from bot.lesson.book import Changes
from bot.marks.standing import Standing
from bot.people.hall import Hall
from bot.people.model import Club, ClubClass, Person, RosterLine
from bot.port import Store
from bot.scheme.model import Award, Scheme, Skill
from bot.step import Choice, Desk, Heard, Say, Stepped
from bot.talk import taps
from storage import open_store

NOW = datetime(2026, 11, 24, 17, 0, tzinfo=UTC)
SENDERS, CLUBS, EACH, ROUNDS = 100, 10, 60, 5
CHILDREN = tuple(f"child-{n}" for n in range(12))
CHOICES = (
    Choice("All seen", taps.Card("skill-0"), 1), Choice("Some not yet", taps.Card("skill-1"), 2),
    Choice("Undo", taps.Undo("m"), 3),
)


def decide(heard: Heard, desk: Desk) -> Stepped:
    """One mark, one standing, one answer."""
    assert desk.me is not None
    number = desk.talk.said
    child, skill = CHILDREN[number % 12], f"skill-{number % 8}"
    mark = Mark(
        f"{heard.message}#0", child, skill, "tuesday/2026-11-24", "seen", desk.me.id, heard.sent_at, heard.sent_at,
        desk.version,
    )
    standing = Standing(show=1, tries=1, began=heard.sent_at, lesson=mark.lesson, rules=1)
    return Stepped(
        replace(desk.talk, said=number + 1), (Say("Ava seen. Next: 5 Efa, 6 Finn, 7 Gus, 8 Hana.", CHOICES),), (mark,),
        mark.lesson, Changes(standings={(child, skill): standing}),
    )


def hall(club: str) -> Hall:
    """A club with one class of twelve, and eight skills."""
    skills = tuple(Skill(id=f"skill-{n}", name=f"Skill {n}") for n in range(8))
    coaches = tuple(f"coach-{n}" for n in range(SENDERS // CLUBS))
    tuesday = ClubClass(id="tuesday", name="Tuesday", day="tuesday", start="17:00", coach=coaches)  # type: ignore[arg-type]
    return Hall(
        Scheme(name="Bench", award=(Award(id="one", name="One", skill=skills),)),
        Club(id=club, name=club, classes=(tuesday,)),
        tuple(Person(id=one, name=one, role="coach") for one in coaches),
        tuple(RosterLine(child=one, class_id="tuesday", award="one", id=one) for one in CHILDREN),
    )


async def prepare(store: Store) -> list[str]:
    """Load the clubs; the addresses of the senders."""
    senders = []
    for club in (f"club-{n}" for n in range(CLUBS)):
        await store.load(hall(club), NOW)
        for person in await store.people(club):
            senders.append(f"{club}/{person.id}")
            await store.meet("sms", senders[-1], club, person.id)
    return senders


async def send(store: Store, sender: str, several: int, name: str) -> list[float]:
    """Send so many one after another; how long each took."""
    took = []
    for n in range(several):
        heard = Heard(f"{name}-{sender}-{n}", "sms", sender, NOW, NOW, text="ava seen")
        began = time.perf_counter()
        await store.step(heard, decide)
        took.append(time.perf_counter() - began)
    return took


async def measure(url: str) -> None:
    """Print medians of the rounds."""
    store = open_store(url)
    senders = await prepare(store)
    await asyncio.gather(*(send(store, one, 5, "warm") for one in senders))
    rates, waits, alone = [], [], []
    for turn in range(ROUNDS):
        began = time.perf_counter()
        took = await asyncio.gather(*(send(store, one, EACH, f"round-{turn}") for one in senders))
        rates.append(SENDERS * EACH / (time.perf_counter() - began))
        waits.append(statistics.median(one for several in took for one in several))
        alone.append(statistics.median(await send(store, senders[0], 200, f"alone-{turn}")))
    await store.close()
    print(f"{SENDERS} senders: {statistics.median(rates):,.0f} a second, p50 {statistics.median(waits) * 1e3:.2f} ms")
    print(f"one sender: p50 {statistics.median(alone) * 1e3:.2f} ms")


def main() -> None:
    """Measure the store that is named, or a fresh SQLite file."""
    if len(sys.argv) > 1:
        asyncio.run(measure(sys.argv[1]))
        return
    with tempfile.TemporaryDirectory() as folder:
        asyncio.run(measure(f"sqlite:///{Path(folder) / 'bench.sqlite'}"))


if __name__ == "__main__":
    main()
