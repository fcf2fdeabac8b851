"""A lesson of 45 minutes with 12 children, led by the plan and by the simple rule, in the talk itself, by taps.

    python tests/bench/lesson_by_plan.py [LESSONS] [TRIALS]

Each child passes or misses the same shows either way, each line takes the same time (up to a fifth longer or shorter
than the scheme says), and so does each way to another skill; only whom to watch next differs. Printed: the minutes
that were watched, and the ticks. All of it is made up.
"""
from __future__ import annotations

import asyncio
import random
import statistics
import sys
from datetime import UTC, datetime
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

from adapters.clock import SimulatedClock
from adapters.service import Service
from adapters.thinking import AtOnce
from bot.people.hall import read_hall
from storage import open_store
from tests.bench.budget_taps import Coach, stands

START, END = datetime(2026, 11, 24, 17, 0, tzinfo=UTC), datetime(2026, 11, 24, 17, 45, tzinfo=UTC)
CLUB = """
name = "Bench"
[[class]]
id = "c"
name = "Class"
day = "tuesday"
start = "17:00"
minutes = 45
coach = "jo"
[[person]]
id = "jo"
name = "Jo"
role = "coach"
"""


def hall(chance: random.Random, children: int, skills: int) -> tuple[str, str]:
    """A scheme and a roster: lines of 2 to 6, half of the skills shown twice, some children far, some near the end."""
    rows = []
    for n in range(skills):
        seconds, rest = chance.choice([30, 40, 60, 90]), chance.choice([45, 60, 90, 120])
        again = f", {{seconds = {seconds}, rest_s = {rest}}}" if chance.random() < 0.5 else ""
        rows.append(f"""
  [[award.skill]]
  id = "skill-{n}"
  name = "Skill {"abcdefghijklmnopqrstuvwxyz"[n]}"
  shows = [{{seconds = {seconds}}}{again}]
  line = {chance.choice([1, 2, 3, 4, 6])}
  changeover_s = {chance.choice([20, 30, 45, 60])}
""")
    scheme = f'[scheme]\nname = "Bench"\n[[award]]\nid = "one"\nname = "One"\n{"".join(rows)}'
    roster = ["child,class,award,has"]
    for n in range(children):
        has = [f"skill-{k}" for k in range(skills) if chance.random() < n / children * 0.7]
        roster.append(f"{chr(65 + n)}nna Child,c,one,{';'.join(has)}")
    return scheme, "\n".join(roster) + "\n"


class Led(Coach):
    """A coach who follows what is said, in a class whose shows are known beforehand to nobody."""

    async def lead(self, seed: int) -> tuple[int, float]:
        """To the end of the lesson: ticks, and the minutes in which a line was watched."""
        store, watched, at, opened = self.service.store, 0, None, set()
        while self.clock.now() < END:
            book = (await store.snapshot("bench")).books["c"]
            left = stands(self, book)
            if left is None:
                await self.wait(5)
                continue
            last = next(said for said in reversed(self.shown) if said.choices)
            line = next(one.tap.line for one in last.choices if one.label == "All seen")
            skill = (await store.snapshot("bench")).schemes[1].skills[line.skill]
            luck = random.Random(f"{seed}/{line.skill}/{line.show}")
            takes = skill.shows[line.show - 1].seconds * luck.uniform(0.8, 1.2)
            back = min(10, skill.changeover_s) if line.skill in opened else skill.changeover_s
            away, at = 0 if at == line.skill else back, line.skill
            opened.add(at)
            await self.wait(round(away + takes))
            if self.clock.now() > END:
                break
            watched += round(takes)
            missed = [book.called[child] for child in left if not passes(seed, child, line)]
            self.shown.append(last)         # it is this line that is answered, whatever came meanwhile
            await self.answer(missed, len(left), typing=False)
        snapshot = await store.snapshot("bench")
        standings = snapshot.books["c"].standings.values()
        ticks = sum(one.ticked_at is not None for of_child in standings for one in of_child.values())
        return ticks, watched / 60


def passes(seed: int, child: str, line) -> bool:
    """Does this child pass that show? The same however the lesson is led."""
    return random.Random(f"{seed}/{child}/{line.skill}/{line.show}").random() < (0.75, 0.9)[line.show - 1]


async def lesson(seed: int, trials: int | None, children: int, skills: int) -> tuple[int, float]:
    """One lesson; with no trials by the simple rule."""
    chance = random.Random(seed)
    store, clock = open_store("memory:"), SimulatedClock(START)
    scheme, roster = hall(chance, children, skills)
    await store.load(read_hall(scheme, CLUB, roster), clock.now())
    await store.meet("bench", "jo", "bench", "jo")
    thinking = None if trials is None else AtOnce(trials)
    service = Service(store, clock) if thinking is None else Service(store, clock, thinking.decide, thinking.wake)
    coach = Led(service, clock, random.Random(seed))
    await coach.send(text="start")
    await coach.tap("Everyone")
    await coach.tap("Go")
    found = await coach.lead(seed)
    await store.close()
    return found


def main() -> None:
    """Print each lesson both ways, and what it amounts to."""
    lessons = int(sys.argv[1]) if len(sys.argv) > 1 else 10
    trials = int(sys.argv[2]) if len(sys.argv) > 2 else 60
    rows = []
    for seed in range(lessons):
        skills = random.Random(f"{seed} skills").randint(12, 18)
        by_rule, by_plan = (asyncio.run(lesson(seed, way, 12, skills)) for way in (None, trials))
        rows.append((by_rule, by_plan))
        print(f"lesson {seed:2}, 12 × {skills:2}: by the rule {by_rule[0]:3} ticks in {by_rule[1]:4.1f} min watched; "
              f"by the plan {by_plan[0]:3} in {by_plan[1]:4.1f}", flush=True)
    rule, plan = (statistics.mean(row[n][0] for row in rows) for n in (0, 1))
    print(f"ticks a lesson: {rule:.1f} by the rule, {plan:.1f} by the plan: {plan / rule:.2f} times")


if __name__ == "__main__":
    main()
