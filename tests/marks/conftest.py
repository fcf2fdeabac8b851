"""A small bench for marks: one child, one skill, times in seconds from 17:00 on a Tuesday."""
from __future__ import annotations

import itertools
from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import UTC, date, datetime, timedelta
from typing import Any
from zoneinfo import ZoneInfo

import pytest

from bot.facts import LessonClosed, Mark, ReasonGiven, Recorded, RetestMoved, TickBrought, Voided
from bot.marks.history import events
from bot.marks.standing import Outcome, Rules, Standing, View, fold, view
from bot.scheme.model import Award, Scheme, Skill

ZERO = datetime(2026, 11, 24, 17, 0, tzinfo=UTC)
LONDON = ZoneInfo("Europe/London")
LESSON = "tue/2026-11-24"


def scheme(skill: dict[str, Any], **ways: Any) -> Scheme:
    """A scheme of one award and one skill."""
    return Scheme(name="Bench", award=(Award(id="one", name="One", skill=(Skill(id="s", name="S", **skill),)),), **ways)


TWO_SHOWS = {"shows": ({"seconds": 20}, {"seconds": 20, "rest_s": 60})}
ONE_SHOW = {"shows": ({"seconds": 20},)}
BOTH_SIDES = {"shows": ({"seconds": 20},), "sides": "each"}
THREE_PARTS = {"shows": ({"seconds": 20},), "parts": ("galop", "polka", "waltz")}


@dataclass
class Bench:
    """Facts of one pair as they are said, and what they amount to."""

    schemes: dict[int, Scheme]
    record: list[Recorded] = field(default_factory=list)
    closes: list[tuple[str, LessonClosed]] = field(default_factory=list)
    count: Any = field(default_factory=itertools.count)

    def rules_of(self, version: int) -> Rules:
        made = self.schemes[version]
        return Rules(version, made.skills["s"], made, LONDON)

    def at(self, seconds: float) -> datetime:
        return ZERO + timedelta(seconds=seconds)

    def mark(self, seconds: float, verdict: str = "seen", by: str = "jo", **more: Any) -> str:
        """Say a mark; returns its id. `sent`: seconds at which it was sent, if later."""
        n = next(self.count)
        sent = more.pop("sent", seconds)
        made = Mark(
            id=f"m{n}#0", child="ava", skill="s", lesson=more.pop("lesson", LESSON), verdict=verdict, by=by,  # type: ignore[arg-type]
            judged_at=self.at(seconds), sent_at=self.at(sent), rules=more.pop("rules", 1), **more,
        )
        self.record.append(Recorded(n, f"m{n}", made))
        return made.id

    def say(self, fact: Any) -> str:
        n = next(self.count)
        self.record.append(Recorded(n, f"m{n}", fact))
        return f"m{n}"

    def undo(self, mark: str) -> None:
        """Take back the message of a mark."""
        self.say(Voided(mark.split("#")[0], undo=True))

    def reason(self, mark: str, *points: str) -> None:
        self.say(ReasonGiven(mark, "ava", "s", points))

    def move(self, to: date, seconds: float) -> None:
        self.say(RetestMoved("ava", "s", to, self.at(seconds)))

    def bring(self, on: date) -> None:
        self.say(TickBrought("ava", "s", on))

    def close(self, seconds: float, lesson: str = LESSON) -> LessonClosed:
        shut = LessonClosed(lesson, "jo", self.at(seconds))
        self.closes.append((lesson, shut))
        return shut

    def fold(self) -> tuple[Standing, dict[str, Outcome]]:
        marked = {one.fact.lesson for one in self.record if isinstance(one.fact, Mark)}
        return fold(events(self.record, [c for lesson, c in self.closes if lesson in marked]), self.rules_of)

    @property
    def standing(self) -> Standing:
        return self.fold()[0]

    def outcome(self, mark: str) -> Outcome:
        return self.fold()[1][mark]

    def view(self, seconds: float) -> View:
        return view(self.standing, self.at(seconds), self.rules_of(max(self.schemes)), self.rules_of)

    def label(self, seconds: float) -> str:
        return self.view(seconds).label


@pytest.fixture
def bench() -> Callable[..., Bench]:
    """`bench(skill, **scheme)` gives a bench for one skill under one scheme."""
    return lambda skill=TWO_SHOWS, **ways: Bench({1: scheme(skill, **ways)})
