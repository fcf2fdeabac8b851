"""A week of a club, over good lines and over bad ones: it comes to the same, and each reminder is told once.

`SPRUNG_CLASSES` says how many classes the club has (3 where it is not set; 30 for a whole club). What is delivered
late or out of order has the time at which it was sent. Of every message it is asked first whether anything that was
sent before it came could have been sent without it, or would mean something else (`Sent.needs`):

- a choice, by who had not yet got the message that offers it; what was undone, by an undo; a lesson, by its start;
- a mark that was held and asked about (early, a second look, away): whether it is asked is known when it comes;
- a mark that changed nothing: one that was told to count when it came stays in the list of marks, though an earlier
  one that came later made it needless (the standings are the same);
- `undo` typed: it is about the last message that its sender was answered, as far as that changed anything and was
  not taken back by an `undo` before.

A choice that a late message keeps from a screen is no such thing: who saw the line says so with its names.
"""
from __future__ import annotations

import asyncio
import os
import random
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest

from storage import open_store
from tests.postgres import address_of
from tests.talk.bad_line import BadLine, Delivery, Needs, delivered
from tests.talk.week import MONDAY, Author, Programs, Sent

CLASSES = int(os.environ.get("SPRUNG_CLASSES", "3"))
SEED = 20261123
BY_TIMETABLE = ("before", "eve", "awards")


@dataclass(frozen=True)
class Lived:
    """What was sent in the week, and what it came to."""

    sent: list[Sent]
    export: dict[str, Any]
    fired: frozenset[str]


@pytest.fixture(scope="module")
def lived() -> Lived:
    """The week as it was lived, on a store in memory."""
    async def live() -> Lived:
        programs = Programs(open_store("memory:"))
        author = Author(programs, CLASSES, random.Random(SEED))
        sent = await author.live()
        assert programs.fired_again() == []
        sent = Needs(sent, programs.facts, author.answers).found()
        made = Lived(sent, await programs.export(), frozenset(programs.fired))
        await programs.close()
        return made
    return asyncio.run(live())


@pytest.fixture(params=["sqlite", "postgresql"])
def programs(request: pytest.FixtureRequest, tmp_path: Path) -> Iterator[Programs]:
    """One program on SQLite, or two on PostgreSQL."""
    with address_of(request.param, tmp_path) as url:
        yield Programs(*(open_store(url) for _ in range(1 if request.param == "sqlite" else 2)))


def of_the_timetable(keys: Any) -> set[str]:
    """Those that depend on nothing that is said."""
    return {key for key in keys if key.partition("/")[0] in BY_TIMETABLE}


@pytest.mark.timeout(120 + 60 * CLASSES)
async def test_a_week_over_good_lines(lived: Lived, programs: Programs) -> None:
    """What was sent in a week amounts to the same, wherever it is kept and by however many programs."""
    typed = await delivered(programs, CLASSES, [Delivery(one.at, one) for one in lived.sent])
    assert not typed
    assert await programs.export() == lived.export
    assert programs.fired_again() == []
    assert set(programs.fired) == lived.fired
    await programs.close()


@pytest.mark.timeout(120 + 60 * CLASSES)
async def test_a_week_over_bad_lines(
    lived: Lived, programs: Programs, capsys: pytest.CaptureFixture[str],
) -> None:
    """Twice, late, out of order: the export is the same to the last mark, and no reminder is told twice."""
    line = BadLine(random.Random(SEED + 1))
    typed = await delivered(programs, CLASSES, line.deliveries(lived.sent))
    found = await programs.export()
    assert found["marks"] == lived.export["marks"]
    assert found == lived.export
    assert programs.fired_again() == []
    assert of_the_timetable(programs.fired) == of_the_timetable(lived.fired)
    assert min(line.done[kind] for kind in ("twice", "late", "overtaken")) > 0
    await programs.close()
    with capsys.disabled():
        print(f"\n{len(lived.sent)} messages, {len(found['marks'])} marks, {len(programs.fired)} reminders; of the "
              f"messages came {dict(line.done)}, {typed.total()} taps were typed instead: all the same")


# --- what comes late into another lesson ---------------------------------------------------------------------

class Talk:
    """One coach, whose first lesson of the day was not closed when the second began."""

    def __init__(self) -> None:
        self.programs, self._count = Programs(open_store("memory:")), 0

    async def says(self, at: str, text: str, came: str | None = None) -> str:
        """What is answered; sent at that time of the day, and come then or at another."""
        hours, minutes = map(int, (came or at).split(":"))
        await self.programs.until(MONDAY.replace(hour=hours, minute=minutes))
        hours, minutes = map(int, at.split(":"))
        self._count += 1
        said = await self.programs.hear(
            f"m{self._count}", "coach0", MONDAY.replace(hour=hours, minute=minutes), text=text,
        )
        return said[0].text

    async def standing(self, child: str, skill: str = "hop") -> str:
        """What the export says of that child and skill."""
        children = (await self.programs.export())["children"]
        (found,) = [one for one in children if one["name"].startswith(child)]
        return found["skills"][skill]["standing"]


@pytest.fixture
async def talk() -> Talk:
    """In the second lesson."""
    made = Talk()
    await made.programs.begin(3)
    for at, text in (("16:00", "start class 0"), ("16:01", "everyone"), ("16:05", "Ava seen hop"),
                     ("17:00", "start class 1"), ("17:01", "everyone"), ("17:05", "Ivy seen hop")):
        await made.says(at, text)
    return made


async def test_an_undo_that_comes_late_takes_back_nothing_that_was_sent_after_it(talk: Talk) -> None:
    """Sent in the first lesson, it takes back the last mark of that one, and by its label too."""
    assert "Ava seen" in await talk.says("16:10", "undo", came="17:06")
    assert await talk.standing("Ava") == "untried"
    assert await talk.standing("Ivy") == "ticked"
    assert "who is here" in await talk.says("16:11", "undo", came="17:07")
    assert "Ivy seen" in await talk.says("17:08", "undo")


async def test_an_undo_that_is_overtaken_by_a_mark_is_about_the_one_before(talk: Talk) -> None:
    """Two messages a second apart change places: what each of them does is the same."""
    await talk.says("17:08", "Kemi seen hop")
    assert "Ivy seen" in await talk.says("17:07", "undo", came="17:08")
    assert await talk.standing("Kemi") == "ticked"
    assert await talk.standing("Ivy") == "untried"


async def test_a_close_that_comes_late_closes_the_lesson_of_its_time(talk: Talk) -> None:
    """The next lesson, which was opened since, stays open; once more, and it says so."""
    assert "Monday" in await talk.says("16:55", "close", came="17:06")
    assert "Leo seen" in await talk.says("17:07", "Leo seen hop")
    assert await talk.says("16:56", "close", came="17:08") == "That lesson is closed already."
    assert "Mia seen" in await talk.says("17:09", "Mia seen hop")


@pytest.mark.parametrize("late", [True, False], ids=["by a late close", "by itself"])
async def test_a_lesson_that_is_closed_meanwhile_costs_nobody_their_place(talk: Talk, late: bool) -> None:
    """Whoever is in the next lesson, with a line that stands there, goes on with that line."""
    await talk.says("17:50", "stand")
    await talk.says("17:50", "go")
    if late:
        await talk.says("16:55", "close", came="17:51")
    assert "Four seen" in await talk.says("17:56", "all seen")
    assert "Nothing" not in await talk.says("17:57", "undo")
    children = (await talk.programs.export())["children"]
    assert {one["standing"] for child in children for one in child["skills"].values()} == {"untried", "ticked"}


async def test_an_answer_without_names_that_comes_late_marks_nobody_else(talk: Talk) -> None:
    """A line that was put up since is not what it was about: nothing is recorded, and it is told what to type."""
    await talk.says("17:06", "stand")
    assert "Kemi" in await talk.says("17:07", "go")
    before = await talk.programs.export()
    for text in ("all seen", "none yet", "not kemi"):
        assert "was put up since, so nothing was recorded" in await talk.says("16:50", text, came="17:08")
    for text in ("kemi seen", "ava seen"):
        assert "skill" in await talk.says("16:50", text, came="17:08")
    assert await talk.programs.export() == before
    assert "seen" in await talk.says("17:09", "all seen")
    assert await talk.programs.export() != before
