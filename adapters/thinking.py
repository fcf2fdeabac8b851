"""Planning between messages: what the rest of each open lesson is best used for.

A step never waits for a plan. It is given the plans that there are; what it leaves in hand is thought about after it,
while a line is watched, and the next step finds the better plan. One that is stale is filtered by the step that finds
it (`bot/lesson/follow.py`); where there is none, the simple rule chooses.
"""
from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from random import Random
from threading import Lock

from bot.lesson.ahead import Ahead, Thought, thought
from bot.lesson.hall import hall_of
from bot.lesson.plan.planner import plan
from bot.lesson.plan.rule import by_rule
from bot.people.model import Club
from bot.scheme.model import Scheme
from bot.step import Desk, Heard, InHand, Stepped, Woken
from bot.talk import turn

DAY = timedelta(days=1)
CLUBS = 500     # of so many plans are kept; where one was let go, the simple rule chooses until the next is found
SEED = 1        # the same for all: a plan differs by what it is made of, not by luck


@dataclass(frozen=True, slots=True)
class Wish:
    """A lesson to be thought about, as a step left it."""

    club: Club
    schemes: Mapping[int, Scheme]
    in_hand: InHand
    now: datetime

    @property
    def key(self) -> tuple[str, str]:
        """Club and lesson."""
        return self.club.id, self.in_hand.lesson

    def thought(self) -> Thought | None:
        """The problem; None where nothing is left to plan."""
        one = self.in_hand
        lesson = one.book.lessons[one.lesson]       # one to come is planned from its beginning on
        hall = hall_of(one.book, lesson, self.club, self.schemes, max(self.now, lesson.opened_at))
        return thought(replace(hall, skipped=one.skipped, most=one.most), self.club, one.watchers)


class Thinking:
    """The plans that there are, and what becomes of them with each step. A step's `decide` and `wake`, with plans."""

    def __init__(self) -> None:
        self._plans: dict[str, dict[str, Ahead]] = {}       # club → lesson → the plan
        self._lock = Lock()

    def decide(self, heard: Heard, desk: Desk) -> Stepped:
        """`turn.step`, with the plans that there are on its desk."""
        stepped = turn.step(heard, self.with_plans(desk))
        self._after(desk, stepped, heard.received_at)
        return stepped

    def wake(self, woken: Woken, desk: Desk) -> Stepped:
        """`turn.wake`, with the plans that there are on its desk."""
        stepped = turn.wake(woken, self.with_plans(desk))
        self._after(desk, stepped, woken.now)
        return stepped

    def think(self, wish: Wish) -> None:
        """Take up a lesson. What comes of it is told to `found`, now or later."""
        raise NotImplementedError

    def close(self) -> None:
        """Stop thinking. Safe to call twice."""

    def ahead(self, club: str, lesson: str) -> Ahead | None:
        """The plan for a lesson."""
        return self._plans.get(club, {}).get(lesson)

    def found(self, club: str, lesson: str, ahead: Ahead | None) -> None:
        """From now on this is the plan for a lesson; None: there is none."""
        with self._lock:        # steps and thoughts may come from different threads
            plans = {key: one for key, one in self._plans.get(club, {}).items() if key != lesson}
            if ahead is not None:       # of lessons that were planned and never held nothing stays
                plans = {key: one for key, one in plans.items() if one.end > ahead.made_at - DAY} | {lesson: ahead}
            self._plans.pop(club, None)
            self._plans[club] = plans       # the latest last
            if len(self._plans) > CLUBS:
                del self._plans[next(iter(self._plans))]

    def drop(self, club: str, lesson: str) -> None:
        """A lesson is over."""
        if self.ahead(club, lesson) is not None:
            self.found(club, lesson, None)

    def with_plans(self, desk: Desk) -> Desk:
        """The desk with the plans that there are."""
        plans = None if desk.club is None else self._plans.get(desk.club.id)
        return replace(desk, plans=plans) if plans else desk

    def _after(self, desk: Desk, stepped: Stepped, now: datetime) -> None:
        if desk.club is None:
            return
        for lesson in stepped.changes.lessons.values():
            if not lesson.is_open:
                self.drop(desk.club.id, lesson.id)
        if stepped.in_hand is not None:
            self.think(Wish(desk.club, desk.schemes, stepped.in_hand, now))


class AtOnce(Thinking):
    """Thinks within the step, for so many trials: the same plans each time. For scripts and tests."""

    def __init__(self, trials: int = 60) -> None:
        super().__init__()
        self._trials = trials

    def think(self, wish: Wish) -> None:
        """Plan, here and now."""
        made = wish.thought()
        if made is None:
            self.found(*wish.key, None)
            return
        before = made.again(self.ahead(*wish.key))
        found = plan(made.problem, Random(SEED), lambda done: done / max(1, self._trials), before)
        self.found(*wish.key, made.ahead(found, by_rule(made.problem)))
