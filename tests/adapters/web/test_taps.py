"""How many taps a lesson costs on the page, and the seconds that they take beside those of a pencil.

A whole simulated lesson in a real Chromium: 12 children, 8 skills of which 4 are shown twice, lines of 4, 15 % misses
(the lesson of `tests/bench/budget_taps.py`). Reasons of a miss are left out on both sides; Start, Everyone, Go and
Close are counted.
"""
from __future__ import annotations

import contextlib
import json
import random
import re
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

from adapters.clock import SimulatedClock
from bot.people.hall import read_hall
from bot.talk.sheet import sheet
from storage import open_store
from tests.adapters.http.api import START
from tests.adapters.web.conftest import Phone, phones_in, running
from tests.adapters.web.test_lesson import standing
from tests.bench.budget_taps import CLUB, MISSES, hall, roster

BUDGET = 0.45
LOOK_S = 25
LOOKED_S = 3        # a stream looks ten times a second
DATA = Path(__file__).parents[2] / "outside" / "data" / "09_time_per_mark.json"
CASES = {
    one["id"]: one["expected"]
    for one in json.loads(DATA.read_text(encoding="utf-8"))["cases"]
}
"""Published and computed times; where a value is an estimate, the file says so."""


def misses(chance: random.Random) -> Iterator[bool]:
    """15 in 100, three of each twenty: a single lesson is short, and is to have as many as it is said to."""
    while True:
        yield from chance.sample([True] * round(20 * MISSES) + [False] * round(20 * (1 - MISSES)), 20)


class Thumb:
    """Counts what it taps."""

    def __init__(self, phone: Phone) -> None:
        self.phone, self.taps = phone, 0

    async def taps_on(self, label: str | re.Pattern[str]) -> None:
        """One tap, once it can be made."""
        await self.phone.page.locator("#dock:not([aria-busy=true])").get_by_role("button", name=label).first.tap()
        self.taps += 1

    async def judge(self, missed: list[str], several: int) -> None:
        """A line: as few taps as the page allows."""
        if (several and len(missed) == several) or (not several and missed):
            await self.taps_on("None yet")
            return
        for name in missed:
            await self.taps_on(f"{name} not yet")
        await self.taps_on(re.compile("^Save") if missed else re.compile("^(All s|S)een$"))


async def lesson(folder: Path, seed: int) -> tuple[int, int]:
    """A whole lesson on a phone: how many taps, and for how many judgements."""
    path = folder / f"hall-{seed}.sqlite"
    store, missed = open_store(f"sqlite:///{path}"), misses(random.Random(seed))
    await store.load(read_hall(hall(), CLUB, roster()), SimulatedClock(START).now())
    await store.close()
    async with running(path, folder / f"served-{seed}") as served, phones_in(served) as make:
        thumb = Thumb(await make())
        await thumb.phone.come_in("jo")
        await thumb.phone.says("start")
        thumb.taps += 1
        for label in ("Everyone", "Go"):
            await thumb.taps_on(label)
        await led_to_the_end(thumb, missed)
        return thumb.taps, len((await served.export())["marks"])


async def test_a_lesson_costs_few_taps(tmp_path: Path) -> None:
    """At most 0.45 taps for each judgement, and less time than ticks on paper are estimated to take.

    Over two lessons: one alone goes up or down by one tap in a hundred judgements as its misses fall.
    """
    found = [await lesson(tmp_path, seed) for seed in (1, 5)]
    taps, judged = (sum(column) for column in zip(*found, strict=True))
    tap, tick = (CASES[one] for one in ("one_tap_quick_reply", "paper_tick_12x10"))
    by_taps, on_paper = ([count * time[how] for how in ("low", "mid", "high")] for count, time in (
        (taps, tap), (judged, tick),
    ))
    print(f"{taps} taps for {judged} judgements: {taps / judged:.3f} for each (budget {BUDGET}); by "
          "keystroke-level sums {1:.0f} s ({0:.0f} to {2:.0f})".format(*by_taps),
          "against {1:.0f} s ({0:.0f} to {2:.0f}) of ticks on paper".format(*on_paper))
    assert judged > 200
    assert taps / judged <= BUDGET
    assert all(quick < slow for quick, slow in zip(by_taps, on_paper, strict=True))


async def told_all(phone: Phone) -> None:
    """Wait until the page knows all that was said to its owner, and how things stand.

    What changes by the clock alone (a rest that is over) is no news to a page, so it is not waited for in vain.
    """
    hall = phone.hall
    (club,) = await hall.store.clubs()
    last = (await hall.store.said(club.id, "jo", 0, 1))[-1].seq
    (here,) = await hall.store.phones(club.id, "jo")
    wanted = sheet(await hall.service.desk("web", here.id), hall.clock.now())
    stands = [wanted[part] for part in ("marks", "lines")]
    await phone.becomes(lambda: phone.page.evaluate(KNOWN), lambda found: (found[0] or 0) >= last)
    with contextlib.suppress(TimeoutError):
        await phone.becomes(lambda: phone.page.evaluate(KNOWN), lambda found: found[1:] == stands, LOOKED_S)
    await phone.linked()


KNOWN = """import('/js/kept.js').then(one => one.everything())
    .then(({ said, facts }) => [said.at(-1)?.seq, facts.sheet.marks, facts.sheet.lines])"""


async def led_to_the_end(thumb: Thumb, misses: Iterator[bool]) -> None:
    """Line after line, until nothing is left; then Close."""
    phone = thumb.phone
    said: Callable[[], Any] = phone.page.locator("#record > li").last.text_content
    while "Nothing is left" not in await said():
        await phone.hall.wait(LOOK_S)
        await told_all(phone)
        about, names = await standing(phone)
        if not about:
            continue        # all rest
        alone = about.rpartition(": ")[2]
        missed = [name for name in names or (alone,) if next(misses)]
        await thumb.judge(missed, len(names))
        await phone.taken()
    await thumb.taps_on("Close")
    await phone.taken()
