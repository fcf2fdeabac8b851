"""How much `sprung serve` holds, and whether it stays so: `python tests/bench/budget_memory.py`

2,000 clubs with five lessons each that are on: 10,000 open conversations in one SQLite file. How long until the
program is ready (budget 1.5 s, loaded program and all); how much memory it holds once everybody has said something
(budget 300 MB); then, once everybody has said as much as is remembered of each, ten minutes of half the load that it
took before, from anybody: memory and latency must not climb. Latency is given by the clock, which other work on the
machine disturbs, and as the CPU time that the program spends on a message beside that of a loop which is always the
same, since the machine itself is now faster and now slower. `SPRUNG_MINUTES` says how long, `SPRUNG_CLUBS` makes fewer
clubs.
"""
from __future__ import annotations

import asyncio
import os
import random
import statistics
import sys
import tempfile
import time
from datetime import timedelta
from pathlib import Path
from typing import Any

sys.path.insert(0, str(Path(__file__).parents[2]))

from aiohttp import ClientSession

from adapters.http.keys import new_key
from storage import open_store
from storage.shelf import SAID_KEPT
from tests.adapters.http.ill_will import rss
from tests.adapters.http.program import Program
from tests.bench.budget_hall import SKILLS, START, Floor, hall
from tests.bench.many_clubs import CLASSES, FIRST, copied, typed

CLUBS = int(os.environ.get("SPRUNG_CLUBS", "2000"))
MINUTES = float(os.environ.get("SPRUNG_MINUTES", "10"))
NOW = START + timedelta(minutes=5)
READY_S, HELD_MB, AT_ONCE = 1.5, 300, 16
CLIMB_MB, CLIMB = 1.0, 1.25     # a minute; of what a message costs, the last third against the first
CHILDREN, TEXTS = 12, typed(SKILLS[:8][::-1], "seen", 12)     # the last of them shown once: nothing falls due
TURNS = (TEXTS[-1], "undo")     # what is known of a class is as much after both as before: nothing of it may climb
Sent = tuple[float, float]      # when, and how long it took, in s
Held = tuple[float, float, float, int, float]       # when; MB; s of CPU and messages answered, until then; of a loop


async def lesson_is_on(path: Path) -> None:
    """One club whose five coaches are near the end of their lessons."""
    floor = Floor(open_store(str(path)))
    await floor.store.load(hall(FIRST, CLASSES, CHILDREN), START)
    for n in range(CLASSES):
        floor.senders.append(f"{FIRST}/coach-{n}")
        await floor.store.meet("bench", floor.senders[-1], FIRST, f"coach-{n}")
    for text in ("start", "everyone", *TEXTS[:-1]):
        for sender in floor.senders:
            await floor.say(sender, text)
        floor.later(5)
    floor.later(60)
    await floor.service.wake()      # whoever rests has been reminded of
    await floor.store.close()


async def key_of(path: Path) -> str:
    """A gateway's key."""
    store = open_store(str(path))
    made = await new_key(store, "gate", None)
    await store.close()
    return made.key


def cpu_of(pid: int) -> float:
    """How many seconds of CPU a process used until now."""
    parts = Path(f"/proc/{pid}/stat").read_text().rpartition(")")[2].split()
    return (int(parts[11]) + int(parts[12])) / os.sysconf("SC_CLK_TCK")


class Gateway:
    """Whoever brings in the messages."""

    def __init__(self, base: str, key: str, session: ClientSession) -> None:
        self._to, self._headers, self._session = f"{base}/v1/messages", {"Authorization": f"Bearer {key}"}, session
        self._count, self._began = 0, time.perf_counter()
        self._said: dict[str, int] = {}

    async def send(self, sender: str) -> Sent:
        """The next thing that this coach has to say."""
        self._count += 1
        said = self._said[sender] = self._said.get(sender, -1) + 1
        # Each is sent when it is: a mark of the same time as one before it would be taken for one that comes late.
        sent_at = NOW + timedelta(seconds=time.perf_counter() - self._began)
        message: dict[str, Any] = {"id": f"m-{self._count}", "channel": "bench", "sender": sender,
                                   "sent_at": sent_at.isoformat(), "text": TURNS[said % len(TURNS)]}
        began = time.perf_counter()
        async with self._session.post(self._to, json=message, headers=self._headers) as response:
            text = await response.text()
        assert response.status == 200, text
        return began, time.perf_counter() - began


async def everybody(gateway: Gateway, senders: list[str]) -> float:
    """Each once, many at the same time; so many a second."""
    left, began = iter(senders), time.perf_counter()

    async def one() -> None:
        for sender in left:
            await gateway.send(sender)

    await asyncio.gather(*(one() for _ in range(AT_ONCE)))
    return len(senders) / (time.perf_counter() - began)


async def soak(gateway: Gateway, senders: list[str], a_second: float, pid: int) -> tuple[list[Sent], list[Held]]:
    """Anybody, at that rate: the messages, and how the program is doing once a second."""
    chance, tasks, held = random.Random(1), [], []
    began = time.perf_counter()
    until = began + MINUTES * 60
    while (now := time.perf_counter()) < until:
        while len(tasks) < (now - began) * a_second:
            tasks.append(asyncio.create_task(gateway.send(chance.choice(senders))))
        if len(held) <= now - began:
            held.append((now, rss(pid), cpu_of(pid), sum(task.done() for task in tasks), loop()))
        await asyncio.sleep(0.005)
    return list(await asyncio.gather(*tasks)), held


def loop() -> float:
    """Seconds of CPU for what is always the same: how fast the machine is just now."""
    began = time.process_time()
    sum(range(100_000))
    return time.process_time() - began


def spent(several: list[Held]) -> tuple[float, float]:
    """Seconds of CPU on a message, and so many loops."""
    (_, _, before, first, _), (_, _, after, last, _) = several[0], several[-1]
    a_message = (after - before) / (last - first)
    return a_message, a_message / statistics.median(one[-1] for one in several)


def slope(several: list[Sent]) -> float:
    """How much it climbs a minute."""
    return statistics.linear_regression(*zip(*several, strict=True)).slope * 60


async def measured(program: Program, key: str) -> int:
    """All that is measured on the running program; 1 where a budget is not kept."""
    pid, senders = program.process.pid, [f"club-{n}/coach-{m}" for n in range(CLUBS) for m in range(CLASSES)]
    random.Random(0).shuffle(senders)
    async with ClientSession() as session:
        first = rss(pid)
        gateway = Gateway(program.base, key, session)
        rates = [await everybody(gateway, senders)]
        print(f"{len(senders):,} open conversations: {first:.0f} MB at first, {rss(pid):.0f} MB once each had spoken "
              f"(budget {HELD_MB})", flush=True)
        while len(rates) < SAID_KEPT:       # then each message that is remembered takes the place of another
            rates.append(await everybody(gateway, senders))
            print(f"each had spoken once more: {rss(pid):.0f} MB", flush=True)
        rate = statistics.harmonic_mean(rates[-len(TURNS):])        # each of its turns costs something else
        print(f"{rate:.0f} messages a second, {AT_ONCE} at once", flush=True)
        sent, held = await soak(gateway, senders, rate / 2, pid)
    third, part = len(sent) // 3, len(held) // 3
    climb = slope([(at, mb) for at, mb, *_ in held[part:]])
    early, late = (statistics.median(took for _, took in some) for some in (sent[:third], sent[-third:]))
    (before, first_loops), (after, last_loops) = spent(held[:part]), spent(held[-part:])
    costs = last_loops / first_loops
    print(f"{MINUTES:g} minutes at {rate / 2:.0f} a second: {held[0][1]:.0f} to {held[-1][1]:.0f} MB, at the end "
          f"{climb:+.2f} MB a minute (budget {CLIMB_MB}); in the first third and in the last, of CPU a message "
          f"{before * 1e3:.1f} and {after * 1e3:.1f} ms, in loops {costs:.2f} times (budget {CLIMB}); p50 by the clock "
          f"{early * 1e3:.1f} and {late * 1e3:.1f} ms: {late / early:.2f} times")
    return 0 if held[-1][1] <= HELD_MB and climb <= CLIMB_MB and costs <= CLIMB else 1


def main() -> int:
    """Make the file, start the program, measure."""
    with tempfile.TemporaryDirectory() as folder:
        one, many = Path(folder) / "one.sqlite", Path(folder) / "many.sqlite"
        asyncio.run(lesson_is_on(one))
        copied(one, many, CLUBS)
        key = asyncio.run(key_of(many))
        os.environ.pop("PYTHONDONTWRITEBYTECODE", None)     # or each start would compile us anew; pip does so once
        ready, cpu = [], []
        for turn in range(3):
            began = time.perf_counter()
            program = Program(many, "--clock", f"{NOW:%Y-%m-%d %H:%M}")
            ready.append(time.perf_counter() - began)
            cpu.append(cpu_of(program.process.pid))
            if turn < 2:
                program.stop()
        print(f"ready in {statistics.median(ready):.2f} s (budget {READY_S}), {statistics.median(cpu):.2f} s of CPU, "
              f"{os.getloadavg()[0]:.1f} waiting for {os.cpu_count()} cores")
        try:
            kept = asyncio.run(measured(program, key))
        finally:
            code, said = program.stop()
        print(f"the log: {said.strip() or 'nothing'}")
        return 1 if kept or code or said or statistics.median(ready) > READY_S else 0


if __name__ == "__main__":
    sys.exit(main())
