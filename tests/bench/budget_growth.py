"""What a message costs among thousands of clubs with a term behind them: `python tests/bench/budget_growth.py [FOLDER]`

2,000 clubs of a hundred children with 26 marks each, 5.2 million in all, in one SQLite file (`many_clubs.py`). A whole
message, typed by a coach in a lesson and durably answered, against the same message in a file with one club alone;
CPU of the process, in rounds that take turns, medians. First 100 of the clubs have a lesson, then all of them, each
typing when every other has: nothing that is remembered of the last message is of use for the next. The budget is 1.3
times. FOLDER keeps the files for another run; making them takes a while. `SPRUNG_CLUBS` makes fewer clubs.
"""
from __future__ import annotations

import asyncio
import gc
import os
import shutil
import statistics
import sys
import tempfile
import time
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[2]))

from adapters.clock import SimulatedClock
from adapters.http.serve import loaded
from adapters.service import Service
from storage import open_store
from tests.bench.budget_hall import SKILLS
from tests.bench.many_clubs import CHILDREN, CLASSES, FIRST, MARKED, NEXT, WEEK, copied, one_club, typed

CLUBS = int(os.environ.get("SPRUNG_CLUBS", "2000"))
ROUNDS = int(os.environ.get("SPRUNG_ROUNDS", "5"))
REMEMBER = int(os.environ["SPRUNG_REMEMBER"]) if "SPRUNG_REMEMBER" in os.environ else None
FEW, ALONE, BUDGET = 100, 50, 1.3       # clubs with a lesson; files of one club each, so that they are as far in theirs
TEXTS = typed(SKILLS[MARKED:], "seen")


class Coaches:
    """Coaches on one file or several, each in a lesson."""

    def __init__(self, several: list[tuple[Path, list[str]]], week: int) -> None:
        self.clock = SimulatedClock(NEXT + week * WEEK)
        self.stores = [open_store(str(path), REMEMBER) for path, _ in several]
        services = [Service(store, self.clock) for store in self.stores]
        self.who = [(service, club) for service, (_, clubs) in zip(services, several, strict=True) for club in clubs]

    async def say(self, text: str) -> float:
        """Each of them, one after another; the CPU of one message, in ms."""
        gc.collect()        # or these pay for what the others left behind
        began = time.process_time()
        for service, club in self.who:
            (said,) = (await service.hear("bench", f"{club}/coach-0", text=text))[-1:]
        took = (time.process_time() - began) / len(self.who) * 1e3
        assert said.choices, said.text
        return took

    async def begin(self) -> None:
        """Begin their lessons."""
        for text in ("start", "everyone"):
            await self.say(text)

    async def close(self) -> None:
        """Let go."""
        for store in self.stores:
            await store.close()


async def compared(many: Path, one: Path, active: int, week: int, folder: Path) -> tuple[float, float, float]:
    """Among that many with a lesson, and alone: medians in ms, and the median of their ratios."""
    alone = [(Path(shutil.copy(one, folder / f"alone-{n}.sqlite")), [FIRST]) for n in range(ALONE)]
    among = Coaches([(many, [f"club-{n}" for n in range(active)])], week)
    other = Coaches(alone, week)
    for coaches in (among, other):
        await coaches.begin()
    for coaches in (among, other):
        await coaches.say("next")       # the first message of a lesson reads its book, where it is remembered at all
    loaded()
    texts = (TEXTS[week * ROUNDS:] + TEXTS)[:ROUNDS]
    rounds = [(await among.say(text), await other.say(text)) for text in texts]
    for coaches in (among, other):
        await coaches.close()
    return (*(statistics.median(one[at] for one in rounds) for at in (0, 1)),
            statistics.median(among / alone for among, alone in rounds))


def made(folder: Path) -> tuple[Path, Path]:
    """Both files; those that are there already are taken."""
    one, many = folder / "one.sqlite", folder / f"m{CLUBS}.sqlite"
    if not one.exists():
        asyncio.run(one_club(one))
    if not many.exists():
        began, part = time.perf_counter(), folder / "part.sqlite"
        copied(one, part, CLUBS)
        part.rename(many)
        print(f"made in {time.perf_counter() - began:.0f} s", file=sys.stderr)
    return one, many


def main() -> int:
    """Both; 1 where the budget is not kept."""
    with tempfile.TemporaryDirectory() as temporary:
        kept = Path(sys.argv[1]) if len(sys.argv) > 1 else Path(temporary)
        one, many = made(kept)
        size, children = many.stat().st_size / 2**30, CLUBS * CLASSES * CHILDREN
        print(f"{CLUBS} clubs, {children:,} children, {children * MARKED * 2:,} marks, {size:.1f} GiB")
        worst = 0.0
        for active in sorted({min(FEW, CLUBS), CLUBS}):
            weeks = len(list(kept.glob("week-*")))      # lessons of another week each time
            (kept / f"week-{weeks}").touch()
            among, alone, ratio = asyncio.run(compared(many, one, active, weeks, Path(temporary)))
            worst = max(worst, ratio)
            print(f"{active} of them with a lesson: {among:.2f} ms of CPU a message, one club alone {alone:.2f}: "
                  f"{ratio:.2f} times (budget {BUDGET}; {ROUNDS} rounds of {active} and {ALONE} messages)")
        return 0 if worst <= BUDGET else 1


if __name__ == "__main__":
    sys.exit(main())
