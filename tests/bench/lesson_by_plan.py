"""A lesson of 45 minutes with 12 children, led by the plan and by the simple rule, in the talk itself, by taps.

    python tests/bench/lesson_by_plan.py [LESSONS] [TRIALS]
    python tests/bench/lesson_by_plan.py turns [SEED]

Each child passes or misses the same shows either way, each line takes the same time (up to a fifth longer or shorter
than the scheme says), and so does each way to another skill; only whom to watch next differs. Printed: the minutes
that were watched, and the ticks. All of it is made up.

`turns`: twelve lessons of one class, one after another, some children away now and then, some slower to pass than
others. No child may be watched on fewer than half the turns of the middle child, counted by the lessons she was at.
"""
from __future__ import annotations

import asyncio
import random
import statistics
import sys
from collections import Counter
from datetime import UTC, datetime, timedelta
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

from adapters.clock import SimulatedClock
from adapters.service import Service
from adapters.thinking import AtOnce
from bot.people.hall import read_hall
from storage import open_store
from tests.bench.budget_taps import Coach, stands

START, LONG = datetime(2026, 9, 8, 16, 0, tzinfo=UTC), timedelta(minutes=45)     # 17:00 in London, in the summer
WEEK, LESSONS = timedelta(days=7), 12
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


def hall(chance: random.Random, children: int, skills: int, far: float = 0.7) -> tuple[str, str]:
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
        has = [f"skill-{k}" for k in range(skills) if chance.random() < n / children * far]
        roster.append(f"{chr(65 + n)}nna Child,c,one,{';'.join(has)}")
    return scheme, "\n".join(roster) + "\n"


class Led(Coach):
    """A coach who follows what is said, in a class whose shows are known beforehand to nobody."""

    def __init__(self, service: Service, clock: SimulatedClock, chance: random.Random) -> None:
        super().__init__(service, clock, chance)
        self.able: dict[str, float] = {}        # child → how often she passes, of what others pass
        self.turns: Counter[str] = Counter()    # child → how often she was watched

    async def lead(self, seed: int, long: timedelta = LONG) -> tuple[int, float]:
        """To the end of the lesson: ticks, and the minutes in which a line was watched."""
        store, watched, at, opened, end = self.service.store, 0, None, set(), self.clock.now() + long
        while self.clock.now() < end:
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
            if self.clock.now() > end:
                break
            watched += round(takes)
            self.turns.update(left)
            missed = [book.called[child] for child in left if not passes(seed, child, line, self.able.get(child, 1))]
            self.shown.append(last)         # it is this line that is answered, whatever came meanwhile
            await self.answer(missed, len(left), typing=False)
        snapshot = await store.snapshot("bench")
        standings = snapshot.books["c"].standings.values()
        ticks = sum(one.ticked_at is not None for of_child in standings for one in of_child.values())
        return ticks, watched / 60


def passes(seed: int, child: str, line, able: float) -> bool:
    """Does this child pass that show? The same however the lesson is led."""
    luck = random.Random(f"{seed}/{child}/{line.lesson}/{line.skill}/{line.show}").random()
    return luck < (0.75, 0.9)[line.show - 1] * able


async def coach_of(seed: int, trials: int | None, children: int, skills: int, far: float = 0.7) -> Led:
    """A coach in front of a class; with no trials led by the simple rule."""
    chance = random.Random(seed)
    store, clock = open_store("memory:"), SimulatedClock(START)
    scheme, roster = hall(chance, children, skills, far)
    await store.load(read_hall(scheme, CLUB, roster), clock.now())
    await store.meet("bench", "jo", "bench", "jo")
    thinking = None if trials is None else AtOnce(trials)
    service = Service(store, clock) if thinking is None else Service(store, clock, thinking.decide, thinking.wake)
    return Led(service, clock, random.Random(seed))


async def lesson(seed: int, trials: int | None, children: int, skills: int) -> tuple[int, float]:
    """One lesson; with no trials by the simple rule."""
    coach = await coach_of(seed, trials, children, skills)
    await coach.send(text="start")
    await coach.tap("Everyone")
    await coach.tap("Go")
    found = await coach.lead(seed)
    await coach.service.store.close()
    return found


async def twelve(seed: int, trials: int, children: int = 12, skills: int = 26) -> dict[str, tuple[float, float]]:
    """Twelve lessons of which 20 minutes are left: child → how able she is, and her turns a lesson that she was at."""
    coach, chance = await coach_of(seed, trials, children, skills, far=0), random.Random(f"{seed} away")
    ids = list((await coach.service.store.snapshot("bench")).books["c"].children)
    coach.able = {child: 0.4 + 0.6 * n / (children - 1) for n, child in enumerate(reversed(ids))}
    lessons: Counter[str] = Counter()
    for week in range(LESSONS):
        start = START + week * WEEK + timedelta(minutes=25)
        await coach.wait(int((start - coach.clock.now()).total_seconds()))
        coach.shown.clear()
        away = [child for child in ids if chance.random() < 0.15]
        await coach.send(text="start")
        called = (await coach.service.store.snapshot("bench")).books["c"].called
        await coach.send(text=f"{', '.join(called[child] for child in away)} away" if away else "everyone")
        if any(choice.label == "Go" for choice in coach.shown[-1].choices):
            await coach.tap("Go")
            await coach.lead(seed, timedelta(minutes=20))
        lessons.update(child for child in ids if child not in away)
        await coach.send(text="close")
    await coach.service.store.close()
    return {child: (coach.able[child], coach.turns[child] / max(1, lessons[child])) for child in ids}


def shares(found: dict[str, tuple[float, float]]) -> float:
    """Print who had how many turns; returns the least share of the middle child's turns."""
    middle = statistics.median(turns for _, turns in found.values())
    for child, (able, turns) in found.items():
        print(f"{child:12} passes {able:.0%} of what others pass: {turns:4.1f} turns a lesson, "
              f"{turns / middle:4.0%} of the middle child's")
    least = min(turns for _, turns in found.values()) / middle
    print(f"{'met    ' if least >= 0.5 else 'NOT met'} the least {least:.0%} (>= 50 %)")
    return least


def main() -> None:
    """Print each lesson both ways, and what it amounts to; or the turns of twelve lessons."""
    if sys.argv[1:2] == ["turns"]:
        shares(asyncio.run(twelve(int(sys.argv[2]) if len(sys.argv) > 2 else 0, 60)))
        return
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
