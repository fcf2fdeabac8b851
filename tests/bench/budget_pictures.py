"""Pictures of large classes: `python tests/bench/budget_pictures.py`

1,000 children and 18 skills, from the desk of a coach to the file: CPU seconds and memory, in processes of their own.
Budget for the PNG: 5 s and 200 MB over a program that has the class in memory. Beside it a class of twelve. Median of
five rounds.
"""
from __future__ import annotations

import asyncio
import os
import statistics
import subprocess
import sys
import time
from datetime import timedelta
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[2]))

from adapters.files.kinds import KINDS
from bot.attached import ClassGrid
from bot.people.hall import read_hall
from storage import open_store
from tests.bench.budget_hall import START
from tests.talk.hall import CLUB

ROUNDS = int(os.environ.get("SPRUNG_ROUNDS", "5"))
SKILLS, BUDGET_S, BUDGET_MB = 18, 5.0, 200


def hall(children: int):
    """A class of so many; each has a third of the skills."""
    skills = "".join(
        f'[[award.skill]]\nid = "s{n}"\nname = "Skill number {n}"\nshows = [{{}}, {{rest_s = 60}}]\n'
        for n in range(SKILLS)
    )
    scheme = f'[scheme]\nname = "Bench"\n[[award]]\nid = "one"\nname = "One"\n{skills}'
    rows = (
        f"Given{n} Family{n * 7 % 400},tue,one,{'; '.join(f's{m}' for m in range(n % 3, SKILLS, 3))}"
        for n in range(children)
    )
    return read_hall(scheme, CLUB.format(name="Bench", cls="tue"), "\n".join(["child,class,award,has", *rows, ""]))


async def measured(children: int, name: str) -> None:
    """Make one picture; say its seconds, its MB more than before, and its kB."""
    store = open_store("memory:")
    loaded = await store.load(hall(children), START)
    await store.meet("bench", "jo", loaded.club, "jo")
    desk = await store.desk("bench", "jo", START)
    form = KINDS["class"].form(name)
    before, began = peak(), time.process_time()
    body = form.make(ClassGrid("tue"), desk, START + timedelta(minutes=1))
    took = time.process_time() - began
    print(took, peak() - before, len(body) / 1000)


def peak() -> float:
    """The most memory that this process ever had, in MB (Linux)."""
    lines = Path("/proc/self/status").read_text().splitlines()
    return next(int(line.split()[1]) / 1024 for line in lines if line.startswith("VmHWM"))


def main() -> int:
    """Measure; 1 where a budget is not met."""
    met = True
    for children in (12, 1000):
        for name in ("class.svg", "class.png"):
            runs = [
                [float(one) for one in subprocess.run(
                    [sys.executable, __file__, str(children), name], capture_output=True, text=True, check=True,
                ).stdout.split()] for _ in range(ROUNDS)
            ]
            took, more, size = (statistics.median(column) for column in zip(*runs, strict=True))
            print(f"{children:5} children, {name}: {took:6.2f} s, {more:6.1f} MB more, {size:7.0f} kB")
            met = met and took <= BUDGET_S and more <= BUDGET_MB
    print("within the budget" if met else f"NOT within {BUDGET_S:g} s and {BUDGET_MB} MB")
    return 0 if met else 1


if __name__ == "__main__":
    if len(sys.argv) > 1:
        asyncio.run(measured(int(sys.argv[1]), sys.argv[2]))
    else:
        raise SystemExit(main())
