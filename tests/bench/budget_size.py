"""What a big lesson costs beside a small one: `python tests/bench/budget_size.py`

24 children and 16 skills against 6 and 6, the real dialogue with an SQLite file on disk: CPU for each message, of all
threads of the process. The messages are alike: typed lines of three, two seen and one not yet. The budget is a
ratio of 1.5.
"""
from __future__ import annotations

import asyncio
import statistics
import sys
import tempfile
import time
from collections.abc import Iterator
from itertools import cycle, islice, product
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[2]))

from storage import open_store
from tests.bench.budget_hall import NAMES, SKILLS, Floor

ROUNDS, MESSAGES = 7, 200
SIZES = {"24 × 16": (24, 16), "6 × 6": (6, 6)}


def typed(children: int, skills: int) -> Iterator[str]:
    """Lines of three, skill by skill, again and again: nobody ever runs out of something to show."""
    lines = [NAMES[start:start + 3] for start in range(0, children, 3)]
    for skill, (one, other, third) in cycle(product(SKILLS[:skills], lines)):
        yield f"{one}, {other}, {third} not yet {skill}"


async def talk(url: str, children: int, skills: int) -> float:
    """CPU for each message of one lesson, in ms."""
    floor = Floor(open_store(url))
    await floor.fill(1, 1, children, skills)
    texts = list(islice(typed(children, skills), MESSAGES))
    began = time.process_time()
    for text in texts:
        floor.later(10)
        await floor.say(floor.senders[0], text)
    took = time.process_time() - began
    await floor.store.close()
    return took / MESSAGES * 1e3


def main() -> None:
    """Print medians of the rounds, and of the ratio within each."""
    rounds: list[list[float]] = []
    for _ in range(ROUNDS):
        with tempfile.TemporaryDirectory() as folder:
            rounds.append([
                asyncio.run(talk(f"sqlite:///{folder}/{n}.sqlite", *size)) for n, size in enumerate(SIZES.values())
            ])
    for name, took in zip(SIZES, zip(*rounds, strict=True), strict=True):
        print(f"{name}: {statistics.median(took):.2f} ms of CPU for each message")
    print(f"ratio {statistics.median(big / small for big, small in rounds):.2f} (budget 1.5; {ROUNDS} paired rounds)")


if __name__ == "__main__":
    main()
