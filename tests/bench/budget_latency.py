"""How long one message takes from received to answered, durably: `python tests/bench/budget_latency.py`

One sender, the real dialogue, an SQLite file on disk. Beside each round the same messages go to a store in memory,
and the same number of bare commits of one row to the disk, for what of it is the dialogue's and what the disk's.
The budget is a p50 of 10 ms.
"""
from __future__ import annotations

import asyncio
import sqlite3
import statistics
import sys
import tempfile
import time
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[2]))

from storage import open_store
from tests.bench.budget_hall import Floor, lines, percentile

ROUNDS = 5


async def talk(url: str) -> list[float]:
    """How long each message of one lesson took, in ms."""
    floor = Floor(open_store(url))
    await floor.fill(clubs=1, classes=1)
    took = []
    for text in lines():
        floor.later(20)
        began = time.perf_counter()
        await floor.say(floor.senders[0], text)
        took.append((time.perf_counter() - began) * 1e3)
    await floor.store.close()
    return took


def commits(path: Path, several: int) -> list[float]:
    """How long each bare commit took, in ms."""
    raw = sqlite3.connect(path, isolation_level=None)
    raw.execute("PRAGMA journal_mode=WAL")
    raw.execute("PRAGMA synchronous=FULL")
    raw.execute("CREATE TABLE t (n INTEGER PRIMARY KEY, body TEXT)")
    took = []
    for n in range(several):
        began = time.perf_counter()
        raw.execute("BEGIN IMMEDIATE")
        raw.execute("INSERT INTO t VALUES (?, ?)", (n, "x" * 400))
        raw.execute("COMMIT")
        took.append((time.perf_counter() - began) * 1e3)
    raw.close()
    return took


def main() -> None:
    """Print medians of the rounds."""
    found: dict[str, list[tuple[float, float]]] = {"on disk": [], "in memory": [], "a bare commit": []}
    for turn in range(ROUNDS):
        with tempfile.TemporaryDirectory() as folder:
            disk = asyncio.run(talk(f"sqlite:///{folder}/{turn}.sqlite"))
            memory = asyncio.run(talk("memory:"))
            bare = commits(Path(folder) / "bare.sqlite", len(disk))
        for what, took in zip(found, (disk, memory, bare), strict=True):
            found[what].append((statistics.median(took), percentile(took, 0.95)))
    for what, rounds in found.items():
        p50, p95 = (statistics.median(one[n] for one in rounds) for n in (0, 1))
        print(f"one sender, {what}: p50 {p50:.2f} ms, p95 {p95:.2f} ms ({ROUNDS} rounds of {len(disk)} messages)")


if __name__ == "__main__":
    main()
