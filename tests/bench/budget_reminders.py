"""Reminders in heaps: `python tests/bench/budget_reminders.py`

A running API on a database with 100,000 reminders that are to come: how long until it is ready (budget: 1 s, without
loading the program). Then 500 a second fall due for ten seconds, while both cores are kept busy by others: how late
each was durable and handed on, and how many never were.
"""
from __future__ import annotations

import asyncio
import os
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import replace
from datetime import datetime, timedelta
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[2]))

from adapters.clock import ShiftedClock
from adapters.http.serve import Served
from adapters.service import Service
from bot.lesson.book import Changes, Reminder
from bot.port import Store
from bot.step import Desk, Heard, Said, Say, Stepped, Woken
from storage import open_store
from tests.bench.budget_hall import START, hall, percentile

CLUBS, CLASSES, PENDING, ROUNDS = 20, 10, 100_000, int(os.environ.get("SPRUNG_ROUNDS", "5"))
A_SECOND, SECONDS = 500, 10


def woken(when: Woken, desk: Desk) -> Stepped:
    """Say when each was due, and take it off the queue."""
    pending = {class_id: dict(book.pending) for class_id, book in desk.books.items()}
    for one in when.due:
        for left in pending.values():
            left.pop(one.key, None)
    says = tuple(Say(one.due_at.isoformat()) for one in when.due)
    return Stepped(replace(desk.talk, said=desk.talk.said + len(says)), says, changes=Changes(pending=pending))


class Watched(Service):
    """Notes when what was due was durable, and what it was."""

    def __init__(self, store: Store, clock: ShiftedClock) -> None:
        super().__init__(store, clock, wake=woken)
        self.seen: list[tuple[datetime, tuple[Said, ...]]] = []

    async def wake(self, now: datetime | None = None, go_on: Callable[[], bool] = lambda: True) -> tuple[Said, ...]:
        """Fire what is due."""
        said = await super().wake(now, go_on)
        self.seen.append((self.clock.now(), said))
        return said


async def fill(store: Store, each: int) -> None:
    """Clubs, each class of which has so many reminders for a day far away."""
    for n in range(CLUBS):
        club = f"club-{n}"
        await store.load(hall(club, CLASSES), START)
        for m in range(CLASSES):
            await store.meet("bench", f"{club}/coach-{m}", club, f"coach-{m}")
            await queue(store, f"{club}/coach-{m}", f"c{m}", f"coach-{m}", "far", [
                START + timedelta(days=1, seconds=at) for at in range(each)
            ])


async def queue(store: Store, sender: str, class_id: str, person: str, name: str, at: list[datetime]) -> None:
    """Queue reminders of one class for its coach, beside those that it has."""
    def decide(_: Heard, desk: Desk) -> Stepped:
        fresh = [Reminder(f"{name}/{n}", person, "rest", due, f"{class_id}/x") for n, due in enumerate(at)]
        pending = {class_id: {**desk.books[class_id].pending, **{one.key: one for one in fresh}}}
        return Stepped(replace(desk.talk, said=desk.talk.said + 1), (Say("ok"),), changes=Changes(pending=pending))

    await store.step(Heard(f"{name}-{sender}", "bench", sender, START, START, "x", via="gate"), decide)


@contextmanager
def busy() -> Iterator[None]:
    """Both cores have something else to do."""
    others = [subprocess.Popen([sys.executable, "-c", "while True: pass"]) for _ in range(2)]
    try:
        yield
    finally:
        for one in others:
            one.kill()
            one.wait()


async def ready(path: Path) -> float:
    """How long until it listens and is armed for the next reminder, in seconds."""
    began = time.perf_counter()
    store = open_store(str(path))
    served = Served(Service(store, ShiftedClock(START), wake=woken))
    await served.start()
    took = time.perf_counter() - began
    await served.stop()
    await store.close()
    return took


async def late(path: Path, turn: int) -> tuple[list[float], int, float]:
    """How late each was durable, in seconds; how many never were though nothing was left to do; CPU for each."""
    store, clock = open_store(str(path)), ShiftedClock(START)
    begin = clock.now() + timedelta(seconds=8)
    due = [begin + timedelta(seconds=n / A_SECOND) for n in range(A_SECOND * SECONDS)]
    people = [(f"club-{n}", m) for n in range(CLUBS) for m in range(CLASSES)]
    for n, (club, m) in enumerate(people):
        await queue(store, f"{club}/coach-{m}", f"c{m}", f"coach-{m}", f"now-{turn}", due[n::len(people)])
    service = Watched(store, clock)
    served = Served(service)
    await served.start()
    used = time.process_time()
    with busy():
        await asyncio.sleep((due[-1] - clock.now()).total_seconds())
        while (at := await store.next_due()) is not None and at <= due[-1]:
            await asyncio.sleep(0.5)
    used = time.process_time() - used
    await served.stop()
    await store.close()
    waits = [(at - datetime.fromisoformat(one.text)).total_seconds() for at, said in service.seen for one in said]
    return waits, len(due) - len(waits), used / len(due)


async def measure(folder: Path) -> None:
    """Print medians."""
    path = folder / "club.sqlite"
    store = open_store(str(path))
    await fill(store, PENDING // CLUBS // CLASSES)
    await store.close()
    starts = [await ready(path) for _ in range(ROUNDS)]
    print(f"{PENDING:,} pending: ready after {statistics.median(starts) * 1e3:.0f} ms (budget 1,000; {ROUNDS} rounds)")
    rounds = [await late(path, turn) for turn in range(ROUNDS)]
    p50, p99 = (statistics.median(percentile(waits, of) for waits, *_ in rounds) for of in (0.5, 0.99))
    print(f"{A_SECOND} a second for {SECONDS} s, both cores busy: p50 {p50:.2f} s late, p99 {p99:.2f} s, "
          f"{sum(lost for _, lost, _ in rounds)} of {ROUNDS * A_SECOND * SECONDS:,} not said (budgets 0.25 s, none; "
          f"{ROUNDS} rounds); {statistics.median(cpu for *_, cpu in rounds) * 1e3:.2f} ms of CPU each")


def main() -> None:
    """Measure on a fresh file."""
    with tempfile.TemporaryDirectory() as folder:
        asyncio.run(measure(Path(folder)))


if __name__ == "__main__":
    main()
