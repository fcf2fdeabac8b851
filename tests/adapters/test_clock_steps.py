"""The computer's clock is set back or forward in mid-lesson: nothing twice, nothing lost, no rest without end."""
from __future__ import annotations

import logging
from collections.abc import AsyncIterator
from datetime import datetime, timedelta
from pathlib import Path

import pytest

from adapters.clock import SLOWER, SystemClock
from adapters.service import Service
from bot.out.export import export
from bot.step import Said
from storage import open_store
from tests.contract.club import NOW, hall

HOUR = 3600.0
REST = 60.0             # of the hall's skill "stand"
SILENCE = 30.0          # so long who is in the middle of something is left alone


class Computer:
    """A computer's two clocks: the one that people set, and the one that only counts seconds."""

    def __init__(self) -> None:
        self.set_by, self.seconds = 0.0, 0.0

    def wall(self) -> datetime:
        """What it shows."""
        return NOW + timedelta(seconds=self.seconds + self.set_by)

    def running(self) -> float:
        """How long it has run."""
        return self.seconds


# --- the clock --------------------------------------------------------------------------------------------

def test_it_is_the_computers_clock() -> None:
    """As long as nobody sets that one, it is the same; where it is set forward, or the computer slept, it is too."""
    computer = Computer()
    clock = SystemClock(computer.wall, computer.running)
    for seconds, set_by in ((0.5, 0), (2, 0), (2, HOUR), (3, HOUR), (3, HOUR + 1)):
        computer.seconds, computer.set_by = seconds, set_by
        assert clock.now() == computer.wall()


@pytest.mark.parametrize("back", [0.02, 2.0, HOUR])
def test_it_never_goes_back(back: float) -> None:
    """Set back, it goes on a tenth slower from where it was, until the other has caught up; then it is that one."""
    computer = Computer()
    clock = SystemClock(computer.wall, computer.running)
    computer.seconds = 10
    last = clock.now()
    computer.set_by = -back
    caught_up = back / (1 - SLOWER)
    for n in range(1, 11):
        computer.seconds = 10 + caught_up * n / 10
        now = clock.now()
        assert abs((now - last).total_seconds() - SLOWER * caught_up / 10) < 1e-5
        last = now
    computer.seconds += 1
    assert clock.now() == computer.wall()


def test_whoever_looks_after_it_is_told_once(caplog: pytest.LogCaptureFixture) -> None:
    """Seconds are put right without a word; an hour is told once, however often it is asked."""
    computer = Computer()
    clock = SystemClock(computer.wall, computer.running)
    with caplog.at_level(logging.WARNING):
        for set_by in (-2, -HOUR, -HOUR, -HOUR):
            computer.set_by, computer.seconds = set_by, computer.seconds + 1
            clock.now()
    (told,) = caplog.records
    assert "was set back by 35" in told.getMessage()


# --- in a lesson ------------------------------------------------------------------------------------------

class Lesson:
    """The real dialogue on a real file, by a computer's clock."""

    def __init__(self, path: Path) -> None:
        self.computer = Computer()
        self.store = open_store(str(path))
        self.service = Service(self.store, SystemClock(self.computer.wall, self.computer.running))
        self.said: dict[str, list[Said]] = {"jo": [], "sam": []}
        self.unasked: list[tuple[float, str, str]] = []

    async def says(self, text: str, person: str = "jo") -> str:
        """Somebody says something; what is answered."""
        said = await self.service.hear("chat", person, text=text)
        self.said[person] += said
        return said[-1].text

    async def passes(self, seconds: int) -> None:
        """Time passes, and each second it is looked what is due."""
        for _ in range(seconds):
            self.computer.seconds += 1
            for one in await self.service.wake():
                self.said[one.person].append(one)
                self.unasked.append((self.computer.seconds, one.person, one.text))

    def rested(self, child: str) -> list[float]:
        """When the coach was told that she has rested."""
        return [at for at, person, text in self.unasked
                if person == "jo" and text.startswith("Rested") and child in text]


@pytest.fixture
async def lesson(tmp_path: Path) -> AsyncIterator[Lesson]:
    """Tuesday, open, everyone here."""
    made = Lesson(tmp_path / "club.sqlite")
    await made.store.load(hall(), NOW - timedelta(days=1))
    for person in made.said:
        await made.store.meet("chat", person, "bench", person)
    for text in ("start", "everyone"):
        await made.says(text)
    yield made
    await made.store.close()


@pytest.mark.parametrize("set_by", [-HOUR, -2.0, -0.02, HOUR])
async def test_the_clock_is_set_while_children_rest(lesson: Lesson, set_by: float) -> None:
    """Every rest ends, once and in good time; marks keep their order; nobody's messages are out of order."""
    await lesson.says("ava seen stand")
    await lesson.passes(10)
    lesson.computer.set_by = set_by
    await lesson.passes(10)
    await lesson.says("ben seen stand")
    await lesson.passes(200)
    longest = REST / SLOWER + SILENCE + 1
    for child, marked in (("Ava", 0), ("Ben", 20)):
        (at,) = lesson.rested(child)
        assert at <= marked + longest
    await lesson.says("ava seen stand; ben seen stand")
    (club,) = await lesson.store.clubs()
    found = export(await lesson.store.snapshot(club.id), lesson.service.clock.now())
    assert len(found["marks"]) == 4
    tuesday = [child for child in found["children"] if child["class"] == "tue"]
    assert {child["skills"]["stand"]["standing"] for child in tuesday} == {"ticked"}
    assert [one["judged_at"] for one in found["marks"]] == sorted(one["judged_at"] for one in found["marks"])
    for said in lesson.said.values():
        assert [one.seq for one in said] == list(range(1, len(said) + 1))
        assert [one.at for one in said] == sorted(one.at for one in said)
