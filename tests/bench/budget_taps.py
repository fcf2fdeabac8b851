"""How many taps a judgement takes: a simulated lesson by the real dialogue. `python tests/bench/budget_taps.py`

12 children, 8 skills of which 4 are shown twice, lines of 4, 15 % misses, taps only; the reasons are left out.
Start, who is here, Go and Close are counted. The budget is 0.45 taps for each judgement.
"""
from __future__ import annotations

import asyncio
import random
import statistics
from datetime import UTC, datetime, timedelta

from adapters.clock import SimulatedClock
from adapters.service import Service
from bot.people.hall import read_hall
from bot.step import Said
from storage import open_store

MISSES = 0.15
CHILDREN = 12


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
        self.taps = self.n = 0
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


async def lesson(seed: int) -> tuple[int, int]:
    """One lesson; returns its taps and its judgements."""
    store = open_store("memory:")
    names = "\n".join(f"{chr(65 + n)}nna Child,c,one," for n in range(CHILDREN))
    clock = SimulatedClock(datetime(2026, 11, 24, 17, 0, tzinfo=UTC))
    await store.load(read_hall(hall(), CLUB, f"child,class,award,has\n{names}\n"), clock.now())
    await store.meet("bench", "jo", "bench", "jo")
    coach = Coach(Service(store, clock), clock, random.Random(seed))
    await coach.send(text="start")
    coach.taps += 1
    await coach.tap("Everyone")
    await coach.tap("Go")
    while clock.now() < datetime(2026, 11, 24, 18, 20, tzinfo=UTC):
        await coach.wait(25)
        last = next((said for said in reversed(coach.shown) if said.choices), None)
        labels = [choice.label for choice in last.choices] if last is not None else []
        if "All seen" not in labels:
            if "Nothing is left" in coach.shown[-1].text:
                break
            continue
        line = next(choice.tap.line for choice in last.choices if choice.label == "All seen")
        standing = (await store.snapshot("bench")).books["c"]
        left = [child for child in line.children if not standing.standing(child, line.skill).ticked
                and standing.standing(child, line.skill).show == line.show
                and not (standing.standing(child, line.skill).retest_from)]
        missed = [child for child in left if coach.chance.random() < MISSES]
        if not missed:
            await coach.tap("All seen")
        elif len(missed) == len(left):
            await coach.tap("None yet")
        else:
            await coach.tap("Some not yet")
            for child in missed:
                await coach.tap(standing.called[child])
    await coach.tap("Close")
    judged = [one for one in (await store.snapshot("bench")).record if one.fact.kind == "mark"]
    voided = [one for one in (await store.snapshot("bench")).record if one.fact.kind == "voided"]
    await store.close()
    return coach.taps, len(judged) - len(voided)


def main() -> None:
    """Print taps for each judgement over several seeded lessons."""
    results = [asyncio.run(lesson(seed)) for seed in range(40)]
    rates = [taps / judged for taps, judged in results]
    taps, judged = (sum(each) for each in zip(*results, strict=True))
    print(f"{len(results)} lessons, {taps} taps, {judged} judgements: {taps / judged:.3f} taps for each (budget 0.45); "
          f"median lesson {statistics.median(rates):.3f}, worst {max(rates):.3f}")


if __name__ == "__main__":
    main()
