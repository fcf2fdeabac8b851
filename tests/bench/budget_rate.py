"""How many messages a second become durable at 100 senders: `python tests/bench/budget_rate.py`

The real dialogue marking lines of four, typed, into an SQLite file, beside three others in the same round: the same
dialogue with no database (it parses, decides and answers); a handler that only reads the text and says what it
understood; and the same dialogue with a commit for every mark (`mark_by_mark.py`), which is what a handler does that
saves each mark as it comes. Budgets: 0.4 of a handler that parses and answers, and ten times the last.
Each figure is given by the clock and by CPU time, since other work on the machine disturbs the clock.
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
from bot.port import Store
from bot.talk.reading import Context, Vocabulary, read
from storage import open_store
from tests.bench.budget_hall import START, WATCHED, Floor, hall, lines
from tests.bench.mark_by_mark import MarkByMark

CLUBS, CLASSES, ROUNDS = 10, 10, 5
ALONE = 8               # of the senders, so many where each message has its own commit: it takes long enough
Handler = Callable[[str, str], Awaitable[str]]
Rate = tuple[float, float]      # messages a second, and a second of CPU


async def rate(handle: Handler, senders: list[str], texts: list[str], between: Callable[[], None]) -> Rate:
    """Messages a second: every sender types the next text as soon as the last one is answered."""
    half = len(texts) // 2
    took = cpu = 0.0
    for part in (texts[:half], texts[half:]):
        began, used = time.perf_counter(), time.process_time()
        await asyncio.gather(*(_type(handle, sender, part) for sender in senders))
        took += time.perf_counter() - began
        cpu += time.process_time() - used
        between()
    count = len(senders) * len(texts)
    return count / took, count / cpu


async def _type(handle: Handler, sender: str, texts: list[str]) -> None:
    for text in texts:
        await handle(sender, text)


async def stored(store: Store, texts: list[str], several: int | None = None) -> Rate:
    """The dialogue on a store; `several`: only so many of the senders."""
    floor = Floor(store)
    await floor.fill(CLUBS, CLASSES)
    found = await rate(floor.say, floor.senders[:several], texts, lambda: floor.later(90))
    await floor.store.close()
    return found


def reader(one: Hall, now: datetime) -> Handler:
    """A handler that reads the text and says what it understood."""
    children = tuple((f"c0-{n}", line.child) for n, line in enumerate(one.roster) if line.class_id == "c0")
    vocabulary = Vocabulary(children, one.scheme, one.club.classes)

    async def handle(sender: str, text: str) -> str:
        return f"{sender}: {read(text, Context(vocabulary=vocabulary, now=now, skill=WATCHED))}"

    return handle


async def once(folder: str, turn: int) -> tuple[Rate, Rate, Rate, Rate]:
    """One round of all four."""
    texts = list(lines())
    senders = [f"s{n}" for n in range(CLUBS * CLASSES)]
    durable = await stored(open_store(f"sqlite:///{folder}/together-{turn}.sqlite"), texts)
    no_database = await stored(open_store("memory:"), texts)
    read_only = await rate(reader(hall("club", CLASSES), START), senders, texts, lambda: None)
    alone = await stored(MarkByMark(f"{folder}/alone-{turn}.sqlite"), texts, ALONE)
    return durable, no_database, read_only, alone


def main() -> None:
    """Print medians of the rounds, and of the ratios within each."""
    with tempfile.TemporaryDirectory() as folder:
        rounds = [asyncio.run(once(folder, turn)) for turn in range(ROUNDS)]
    for unit, at in (("by the clock", 0), ("for each second of CPU", 1)):
        durable, no_database, read_only, alone = (statistics.median(one[n][at] for one in rounds) for n in range(4))
        without = statistics.median(one[0][at] / one[1][at] for one in rounds)
        reading = statistics.median(one[0][at] / one[2][at] for one in rounds)
        marks = statistics.median(one[0][at] / one[3][at] for one in rounds)
        print(f"{unit}: {durable:,.0f} durable messages of four marks ({CLUBS * CLASSES} senders, {ROUNDS} rounds); "
              f"with no database {no_database:,.0f}, {without:.2f} of it (budget 0.4); "
              f"only read {read_only:,.0f}, {reading:.2f} of it; "
              f"a commit for every mark {alone:,.0f}, {marks:.1f} times that (budget 10)")


if __name__ == "__main__":
    main()
