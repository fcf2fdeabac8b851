"""Two programs on one PostgreSQL database against one: `python tests/bench/budget_postgres.py`  (needs PostgreSQL)

The real dialogue, typed lines of four, each message a transaction that is synced. In a round: one program with all the
clubs; two with half of them each, as a balancer does that goes by the sender; two with all of them, as one does that
knows nothing, where each has to read anew what the other wrote. Budget: two are 1.6 times one. Where there are too few
cores for that, the CPU that a message takes in the program and in the server says so: no two programs can do more than
the cores divided by both.
"""
from __future__ import annotations

import asyncio
import os
import statistics
import subprocess
import sys
import time
from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path
from subprocess import PIPE

sys.path.insert(0, str(Path(__file__).parents[2]))

from storage import open_store
from tests import postgres
from tests.bench.budget_hall import Floor, lines

CLUBS, CLASSES, ROUNDS = 16, 2, int(os.environ.get("SPRUNG_ROUNDS", "5"))
CORES = os.cpu_count() or 1
TICKS = os.sysconf("SC_CLK_TCK")


@dataclass(frozen=True, slots=True)
class Measured:
    """Messages a second, and the CPU that one takes in the programs and in the server, in ms."""

    rate: float
    ours: float
    servers: float


# --- a program --------------------------------------------------------------------------------------------

async def program(url: str, senders: list[str]) -> None:
    """Say that it is ready; once it is told, let everybody type, and say how much CPU that took."""
    floor = Floor(open_store(url))
    texts = [text for text in lines() if "not yet" in text]     # nobody has to rest before a first show
    print("ready", flush=True)
    sys.stdin.readline()
    used = time.process_time()

    async def type_(sender: str) -> None:
        for text in texts:
            await floor.say(sender, text)

    await asyncio.gather(*(type_(sender) for sender in senders))
    print(len(senders) * len(texts), time.process_time() - used, flush=True)
    sys.stdin.readline()        # the server's own CPU is looked at meanwhile
    await floor.store.close()


# --- a round ----------------------------------------------------------------------------------------------

def measured(server: postgres.Server, parts: Iterable[list[str]]) -> Measured:
    """On a fresh database, a program for each part of the senders."""
    name = server.take()
    url = server.url(name)
    asyncio.run(filled(url))
    programs = [
        subprocess.Popen([sys.executable, __file__, url, *part], stdin=PIPE, stdout=PIPE, text=True) for part in parts
    ]
    for one in programs:
        assert one.stdout is not None
        assert one.stdout.readline() == "ready\n"
    began, used = time.perf_counter(), cpu_of(server)
    for one in programs:
        assert one.stdin is not None
        one.stdin.write("\n")
        one.stdin.flush()
    said = [one.stdout.readline().split() for one in programs if one.stdout is not None]
    took, servers = time.perf_counter() - began, cpu_of(server) - used
    for one in programs:
        one.communicate()
    server.give_back(name)
    count = sum(int(messages) for messages, _ in said)
    return Measured(count / took, sum(float(ours) for _, ours in said) / count * 1e3, servers / count * 1e3)


async def filled(url: str) -> None:
    """The clubs, in the middle of their lessons."""
    floor = Floor(open_store(url))
    await floor.fill(CLUBS, CLASSES)
    await floor.store.close()


def cpu_of(server: postgres.Server) -> float:
    """How many seconds of CPU all processes of the server used that are there now."""
    first = server.pids()[0]
    ticks = 0
    for path in Path("/proc").glob("[0-9]*/stat"):
        try:
            parts = path.read_text().rpartition(")")[2].split()
        except OSError:
            continue
        if first in (int(path.parent.name), int(parts[1])):
            ticks += int(parts[11]) + int(parts[12])
    return ticks / TICKS


def main() -> None:
    """Print medians of the rounds, and of the ratios within each."""
    server = postgres.Server()
    senders = [f"club-{n}/coach-{m}" for n in range(CLUBS) for m in range(CLASSES)]
    parted = [senders[:len(senders) // 2], senders[len(senders) // 2:]]
    mixed = [senders[::2], senders[1::2]]       # every club has a coach in each
    rounds = []
    try:
        for turn in range(ROUNDS):
            rounds.append([measured(server, parts) for parts in ([senders], parted, mixed)])
            print(f"round {turn + 1}: " + ", ".join(f"{one.rate:,.0f}/s" for one in rounds[-1]), file=sys.stderr)
    finally:
        server.close()
    names = "one program", "two, parted by clubs", "two, each with all clubs"
    for at, name in enumerate(names):
        rate, ours, servers = (
            statistics.median(getattr(one[at], what) for one in rounds) for what in ("rate", "ours", "servers")
        )
        ratio = statistics.median(one[at].rate / one[0].rate for one in rounds)
        most = CORES * ours / (ours + servers)      # of one program, which has one core to itself at most
        print(f"{name}: {rate:,.0f} messages a second, {ratio:.2f} of one (budget 1.6); CPU of one {ours:.2f} ms in "
              f"the program, {servers:.2f} ms in the server: {CORES} cores allow {most:.2f} of one")


if __name__ == "__main__":
    if len(sys.argv) > 1:
        asyncio.run(program(sys.argv[1], sys.argv[2:]))
    else:
        main()
