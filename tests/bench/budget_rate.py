"""How many messages a second become durable at 100 senders: `python tests/bench/budget_rate.py`

The real dialogue marking lines of four, typed, into an SQLite file. In the same round: a handler that only reads the
text and answers, with no storage; and the same dialogue with a commit for each message, one after another, which
is what a handler does that saves each mark as it comes. Budgets: 0.4 of the first, ten times the second where that
runs on an asynchronous messenger framework with its own driver.
"""
from __future__ import annotations

import asyncio
import statistics
import sys
import tempfile
import time
from collections.abc import Awaitable, Callable
from datetime import datetime
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[2]))

from bot.people.hall import Hall
from bot.talk.reading import Context, Vocabulary, read
from storage import jobs, open_store
from tests.bench.budget_hall import START, Floor, hall, lines

CLUBS, CLASSES, ROUNDS = 10, 10, 5
ALONE = 8               # of the senders, so many where each message has its own commit: it takes long enough
Handler = Callable[[str, str], Awaitable[str]]


async def rate(handle: Handler, senders: list[str], texts: list[str], between: Callable[[], None]) -> float:
    """Messages a second: every sender types the next text as soon as the last one is answered."""
    half = len(texts) // 2
    took = 0.0
    for part in (texts[:half], texts[half:]):
        began = time.perf_counter()
        await asyncio.gather(*(_type(handle, sender, part) for sender in senders))
        took += time.perf_counter() - began
        between()
    return len(senders) * len(texts) / took


async def _type(handle: Handler, sender: str, texts: list[str]) -> None:
    for text in texts:
        await handle(sender, text)


async def stored(url: str, several: int | None = None) -> float:
    """The dialogue on a store; `several`: only so many of the senders."""
    floor = Floor(open_store(url))
    await floor.fill(CLUBS, CLASSES)
    found = await rate(floor.say, floor.senders[:several], list(lines()), lambda: floor.later(90))
    await floor.store.close()
    return found


def reader(one: Hall, now: datetime) -> Handler:
    """A handler that reads the text and says what it understood."""
    children = tuple((f"c0-{n}", line.child) for n, line in enumerate(one.roster) if line.class_id == "c0")
    vocabulary = Vocabulary(children, one.scheme, one.club.classes)

    async def handle(sender: str, text: str) -> str:
        return f"{sender}: {read(text, Context(vocabulary=vocabulary, line=(), now=now))}"

    return handle


async def once(folder: str, turn: int) -> tuple[float, float, float]:
    """One round of all three."""
    senders = [f"s{n}" for n in range(CLUBS * CLASSES)]
    together = await stored(f"sqlite:///{folder}/together-{turn}.sqlite")
    read_only = await rate(reader(hall("club", CLASSES), START), senders, list(lines()), lambda: None)
    batch, jobs.BATCH = jobs.BATCH, 1
    try:
        alone = await stored(f"sqlite:///{folder}/alone-{turn}.sqlite", ALONE)
    finally:
        jobs.BATCH = batch
    return together, read_only, alone


def main() -> None:
    """Print medians of the rounds, and of the ratios within each."""
    with tempfile.TemporaryDirectory() as folder:
        rounds = [asyncio.run(once(folder, turn)) for turn in range(ROUNDS)]
    together, read_only, alone = (statistics.median(one[n] for one in rounds) for n in range(3))
    print(f"durable, {CLUBS * CLASSES} senders: {together:,.0f} messages a second ({ROUNDS} rounds)")
    print(f"only read and answered: {read_only:,.0f}; durable is "
          f"{statistics.median(a / b for a, b, _ in rounds):.2f} of it (budget 0.4)")
    print(f"a commit for each message: {alone:,.0f}; durable is "
          f"{statistics.median(a / c for a, _, c in rounds):.1f} times that")


if __name__ == "__main__":
    main()
