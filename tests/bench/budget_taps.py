"""How many taps a judgement takes: a simulated lesson by the real dialogue. `python tests/bench/budget_taps.py`

12 children, 8 skills of which 4 are shown twice, lines of 4, 15 % misses, taps only; the reasons are left out.
Start, who is here, Go and Close are counted. The budget is 0.45 taps for each judgement. Then the same lessons typed:
`all seen`, `not gus`, `none yet`; the budget is one message for a line.
"""
from __future__ import annotations

import asyncio
import random
import statistics
from datetime import UTC, datetime, timedelta

from adapters.clock import SimulatedClock
from adapters.service import Service
from bot.lesson.book import ClassBook
from bot.people.hall import read_hall
from bot.step import Said
from storage import open_store

MISSES = 0.15
CHILDREN = 12
LESSONS = 40


def hall() -> str:
    """The scheme: eight skills, every other one shown twice."""
    skills = "".join(
        f"""
  [[award.skill]]
  id = "skill-{n}"
  name = "Skill {"abcdefgh"[n]}"
  shows = [{{seconds = 20}}{", {seconds = 20, rest_s = 60}" if n % 2 else ""}]
  line = 4
""" for n in range(8)
    )
    return f'[scheme]\nname = "Bench"\n[[award]]\nid = "one"\nname = "One"\n{skills}'


def roster() -> str:
    """The children, each with a name of her own."""
    return "child,class,award,has\n" + "".join(f"{chr(65 + n)}nna Child,c,one,\n" for n in range(CHILDREN))


CLUB = """
name = "Bench"
[[class]]
id = "c"
name = "Class"
day = "tuesday"
start = "17:00"
minutes = 90
coach = "jo"
[[person]]
id = "jo"
name = "Jo"
role = "coach"
"""


class Coach:
    """Somebody who taps the first thing that fits, and misses nothing."""

    def __init__(self, service: Service, clock: SimulatedClock, chance: random.Random) -> None:
        self.service, self.clock, self.chance = service, clock, chance
        self.taps = self.typed = self.lines = self.n = 0
        self.shown: list[Said] = []

    async def tap(self, label: str) -> None:
        """Tap that choice on the latest message that carries it."""
        for said in reversed(self.shown):
            for choice, known in zip(said.choice_ids(), said.choices, strict=True):
                if known.label == label:
                    self.taps += 1
                    await self.send(choice=choice)
                    return
        raise LookupError(label)

    async def send(self, **what: str) -> None:
        self.n += 1
        self.shown += await self.service.hear("bench", "jo", id=f"m{self.n}", **what)

    async def wait(self, seconds: int) -> None:
        until = self.clock.now() + timedelta(seconds=seconds)
        while (due := await self.service.store.next_due()) is not None and due <= until:
            self.clock.move_to(max(due, self.clock.now()))
            self.shown += [said for said in await self.service.wake() if said.person == "jo"]
        self.clock.move_to(until)


    async def type(self, text: str) -> None:
        """Type it instead."""
        self.typed += 1
        await self.send(text=text)

    async def answer(self, missed: list[str], several: int, typing: bool) -> None:
        """Say what was seen in a line: `missed` of so many are not yet there."""
        self.lines += 1
        label = "All seen" if not missed else "None yet" if len(missed) == several else "Some not yet"
        if typing:
            await self.type(f"not {', '.join(missed)}" if label == "Some not yet" else label)
            return
        await self.tap(label)
        if label == "Some not yet":
            for child in missed:
                await self.tap(child)


async def opened(seed: int) -> Coach:
    """A coach in front of a class, everyone here, the first line standing there."""
    store = open_store("memory:")
    clock = SimulatedClock(datetime(2026, 11, 24, 17, 0, tzinfo=UTC))
    await store.load(read_hall(hall(), CLUB, roster()), clock.now())
    await store.meet("bench", "jo", "bench", "jo")
    coach = Coach(Service(store, clock), clock, random.Random(seed))
    await coach.send(text="start")
    coach.taps += 1
    await coach.tap("Everyone")
    await coach.tap("Go")
    return coach


def stands(coach: Coach, book: ClassBook) -> list[str] | None:
    """Who is left in the line that stands there; None where none does."""
    last = next((said for said in reversed(coach.shown) if said.choices), None)
    line = next((one.tap.line for one in last.choices if one.label == "All seen"), None) if last else None
    if line is None:
        return None
    standings = ((child, book.standing(child, line.skill)) for child in line.children)
    return [
        child for child, one in standings if not one.ticked and one.show == line.show and not one.retest_from
    ]


async def lesson(seed: int, typing: bool = False) -> tuple[int, int, int, int]:
    """One lesson; returns its taps, its judgements, its lines and the messages typed for them."""
    coach = await opened(seed)
    store = coach.service.store
    while coach.clock.now() < datetime(2026, 11, 24, 18, 20, tzinfo=UTC):
        await coach.wait(25)
        book = (await store.snapshot("bench")).books["c"]
        left = stands(coach, book)
        if left is None and "Nothing is left" in coach.shown[-1].text:
            break
        if left is not None:
            missed = [book.called[child] for child in left if coach.chance.random() < MISSES]
            await coach.answer(missed, len(left), typing)
    await coach.tap("Close")
    kinds = [one.fact.kind for one in (await store.snapshot("bench")).record]
    await store.close()
    return coach.taps, kinds.count("mark") - kinds.count("voided"), coach.lines, coach.typed


def main() -> None:
    """Print taps for each judgement, and messages for each line, over several seeded lessons."""
    results = [asyncio.run(lesson(seed)) for seed in range(LESSONS)]
    rates = [taps / judged for taps, judged, _, _ in results]
    taps, judged = (sum(one[n] for one in results) for n in (0, 1))
    print(f"{LESSONS} lessons, {taps} taps, {judged} judgements: {taps / judged:.3f} taps for each (budget 0.45); "
          f"median lesson {statistics.median(rates):.3f}, worst {max(rates):.3f}")
    results = [asyncio.run(lesson(seed, typing=True)) for seed in range(LESSONS)]
    judged, lines, typed = (sum(one[n] for one in results) for n in (1, 2, 3))
    print(f"typed: {typed} messages for {lines} lines and {judged} judgements: {typed / lines:.2f} for each line "
          "(budget 1)")


if __name__ == "__main__":
    main()
