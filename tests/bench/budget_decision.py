"""Whom to watch next, in the running service: how long a decision takes, and that no message waits for it.

    python tests/bench/budget_decision.py [LESSONS]

24 children, 18 skills, two who watch. Each answer of theirs is a message to a service with a planning process beside
it; the time of a decision is that from handing the problem to the process until its first plan is there, the way there
and back included. Budget: 30 ms at the 95th percentile, 60 ms at most. Then the time of the messages, with the
process and without it.
"""
from __future__ import annotations

import asyncio
import random
import statistics
import sys
from datetime import timedelta
from pathlib import Path
from time import perf_counter

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

from adapters.clock import SimulatedClock
from adapters.planners import Planners
from adapters.service import Service
from bot.people.hall import read_hall
from bot.talk.taps import Answer
from storage import open_store
from tests.bench.lesson_by_plan import CLUB, START, hall

TWO = CLUB.replace('coach = "jo"', 'coach = "jo"\nassistant = "sam"') + """
[[person]]
id = "sam"
name = "Sam"
role = "assistant"
"""
PAUSE = 0.2         # seconds between two messages: a coach takes a hundred times as long


class Timed(Planners):
    """Notes how long the first plan after each step takes."""

    def __init__(self) -> None:
        super().__init__(1)
        self.taken: list[float] = []

    def _begin(self, job):
        self._since = perf_counter() if job.round == 0 else None
        super()._begin(job)

    def _keep(self, job, made, ruled):
        if self._since is not None:
            self.taken.append(1000 * (perf_counter() - self._since))
        super()._keep(job, made, ruled)


async def lesson(seed: int, thinking: Planners | None) -> list[float]:
    """A lesson of two who watch; the milliseconds that each message took."""
    chance, taken = random.Random(seed), []
    store, clock = open_store("memory:"), SimulatedClock(START)
    scheme, roster = hall(chance, 24, 18, far=0.5)
    await store.load(read_hall(scheme, TWO, roster), clock.now())
    service = Service(store, clock) if thinking is None else Service(store, clock, thinking.decide, thinking.wake)
    for person in ("jo", "sam"):
        await store.meet("bench", person, "bench", person)

    async def send(person: str, **what: str):
        began = perf_counter()
        said = await service.hear("bench", person, **what)
        taken.append(1000 * (perf_counter() - began))
        await asyncio.sleep(PAUSE)
        return said[-1]

    await send("jo", text="start")
    last = {"jo": await send("jo", text="everyone"), "sam": await send("sam", text="next")}
    for _ in range(40):
        for person in ("jo", "sam"):
            clock.move_to(clock.now() + timedelta(seconds=chance.randint(15, 35)))
            said = last[person]
            at = next((n for n, one in enumerate(said.choices)
                       if one.label == "Go" or isinstance(one.tap, Answer)), None)
            answer = {"text": "next"} if at is None else {"choice": said.choice_ids()[at]}
            last[person] = await send(person, **answer)
    await store.close()
    return taken


def main() -> None:
    """Print the times of decisions, and of messages with and without them."""
    lessons, decisions, beside, alone = int(sys.argv[1]) if len(sys.argv) > 1 else 3, [], [], []
    for seed in range(lessons):
        thinking = Timed()
        beside += asyncio.run(lesson(seed, thinking))
        decisions += thinking.taken[1:]         # the first waits for the process to start
        thinking.close()
        alone += asyncio.run(lesson(seed, None))
    p95, most = statistics.quantiles(decisions, n=20)[-1], max(decisions)
    print(f"{len(decisions)} decisions: median {statistics.median(decisions):.1f} ms")
    print(f"{'met    ' if p95 <= 30 else 'NOT met'} p95 {p95:.1f} ms (<= 30)")
    print(f"{'met    ' if most <= 60 else 'NOT met'} most {most:.1f} ms (<= 60)")
    print(f"a message: median {statistics.median(beside):.2f} ms with planning beside it, "
          f"{statistics.median(alone):.2f} without; p95 {statistics.quantiles(beside, n=20)[-1]:.2f} and "
          f"{statistics.quantiles(alone, n=20)[-1]:.2f}")


if __name__ == "__main__":
    main()
