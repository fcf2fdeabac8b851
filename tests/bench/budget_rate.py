"""How many messages a second become durable at 100 senders: `python tests/bench/budget_rate.py`

The real dialogue marking lines of four, typed, into an SQLite file. In the same round: a handler that only reads the
text and answers, with no storage; and the same dialogue with a commit for each message, one after another, which
is what a handler does that saves each mark as it comes. Budgets: 0.4 of the first, ten times the second where that
runs on an asynchronous messenger framework with its own driver. Each is said by the clock, and by the CPU that the
process used: the second hardly changes where others use the machine too.
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
Rate = tuple[float, float]      # messages a second, and a second of CPU


async def rate(handle: Handler, senders: list[str], texts: list[str], between: Callable[[], None]) -> Rate:
    """How many messages: every sender types the next text as soon as the last one is answered."""
    half = len(texts) // 2
    took = used = 0.0
    for part in (texts[:half], texts[half:]):
        began, cpu = time.perf_counter(), time.process_time()
        await asyncio.gather(*(_type(handle, sender, part) for sender in senders))
        took, used = took + time.perf_counter() - began, used + time.process_time() - cpu
        between()
    return len(senders) * len(texts) / took, len(senders) * len(texts) / used


async def _type(handle: Handler, sender: str, texts: list[str]) -> None:
    for text in texts:
        await handle(sender, text)


async def stored(url: str, several: int | None = None) -> Rate:
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


async def once(folder: str, turn: int) -> tuple[Rate, Rate, Rate]:
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
    for how, what in enumerate(("a second", "a second of CPU")):
        together, read_only, alone = (statistics.median(one[n][how] for one in rounds) for n in range(3))
        print(f"durable, {CLUBS * CLASSES} senders: {together:,.0f} messages {what} ({ROUNDS} rounds); "
              f"only read: {read_only:,.0f}; a commit for each message: {alone:,.0f}")
        of_read = statistics.median(a[how] / b[how] for a, b, _ in rounds)
        of_alone = statistics.median(a[how] / c[how] for a, _, c in rounds)
        print(f"  {of_read:.2f} of only reading (budget 0.4), {of_alone:.1f} times a commit for each message")


if __name__ == "__main__":
    main()
