"""What a bad line makes of a week: some messages come twice, some late, some after what was sent later.

Nothing here is a test. Which message needs which to mean the same, and why, is said in `test_disturbed_week.py`.
"""
from __future__ import annotations

import random
from collections import Counter, defaultdict
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from datetime import datetime, timedelta

from bot.facts import Fact, LessonOpened, Mark, Voided
from bot.talk.taps import Count
from tests.talk.week import SUNDAY, Answered, Programs, Sent, id_of, on_screen

Pair = tuple[str, str]          # a child and a skill


class Needs:
    """Finds what each message of a week needs, from what it recorded and how it was answered."""

    def __init__(
        self, sent: list[Sent], facts: Mapping[str, tuple[Fact, ...]], answers: Mapping[str, Answered],
    ) -> None:
        self._sent, self._facts, self._answers = sent, facts, answers
        self._place = {one.id: n for n, one in enumerate(sent)}
        self._on: dict[Pair, list[str]] = defaultdict(list)             # messages about a child and skill
        self._own: dict[tuple[str, str], list[str]] = defaultdict(list)     # a person's messages of a lesson
        self._undos: dict[tuple[str, str], list[str]] = defaultdict(list)
        self._started: dict[str, str] = {}
        self._pairs: dict[str, set[Pair]] = {}
        self._needs: dict[str, set[str]] = {}

    def found(self) -> list[Sent]:
        """All that was sent, each with what it needs."""
        for one in self._sent:
            self._needs[one.id] = set(one.needs)
            facts = self._facts.get(one.id, ())
            self._pairs[one.id] = {(fact.child, fact.skill) for fact in facts if isinstance(fact, Mark)}
            self._of_lesson(one, facts)
            for void in facts:
                if isinstance(void, Voided):
                    self._takes_back(one, id_of(void.target))
            self._of_marks(one, facts)
        return [replace(one, needs=frozenset(self._needs[one.id] - {one.id})) for one in self._sent]

    def _of_lesson(self, one: Sent, facts: tuple[Fact, ...]) -> None:
        """It needs the start of the lesson that it is about."""
        for fact in facts:
            lesson = getattr(fact, "lesson", "")
            if isinstance(fact, LessonOpened):
                self._started[lesson] = one.id
            elif lesson in self._started:
                self._needs[one.id].add(self._started[lesson])

    def _takes_back(self, one: Sent, target: str) -> None:
        """It needs what it takes back; where that is the last one, it has to be the last one again."""
        self._needs[one.id].add(target)
        self._pairs[one.id] |= self._pairs[target]
        if one.text != "undo":
            return
        where = one.who, self._lesson(target)
        self._needs[one.id].update(self._undos[where])
        self._undos[where].append(one.id)
        of_lesson = self._own[where]
        at = of_lesson.index(target)
        self._needs[target].update(of_lesson[:at])
        for later in of_lesson[at:]:        # did they change anything, as far as was known when they came?
            before = {id_ for id_ in self._about(self._pairs[later]) if self._place[id_] < self._place[later]}
            self._needs[later] |= before
            self._needs[one.id] |= before

    def _of_marks(self, one: Sent, facts: tuple[Fact, ...]) -> None:
        """What was held or changed nothing needs all before it on that child and skill; a mark what was taken back."""
        held, pairs, mine = self._held(one.id), self._pairs[one.id], self._needs[one.id]
        aside = {(fact.child, fact.skill) for fact in facts if isinstance(fact, Mark) and fact.aside}
        mine |= self._about(held | aside)
        mine |= {id_ for id_ in self._about(pairs) if any(isinstance(fact, Voided) for fact in self._facts[id_])}
        for pair in pairs | held:
            self._on[pair].append(one.id)
        if any(not isinstance(fact, Voided) for fact in facts):
            self._own[one.who, self._lesson(one.id)].append(one.id)

    def _about(self, pairs: set[Pair]) -> set[str]:
        return {id_ for pair in pairs for id_ in self._on[pair]}

    def _lesson(self, id_: str) -> str:
        return next((fact.lesson for fact in self._facts[id_] if hasattr(fact, "lesson")), "")

    def _held(self, id_: str) -> set[Pair]:
        """The children and skills that the answer asked about."""
        taps = [choice.tap for said in self._answers[id_] for choice in said.choices]
        return {(mark.child, mark.skill) for tap in taps if isinstance(tap, Count) for mark in tap.marks}


# --- deliveries -----------------------------------------------------------------------------------------------

@dataclass(frozen=True)
class Delivery:
    """A message comes at that time, perhaps again."""

    at: datetime
    sent: Sent
    again: bool = False


@dataclass
class BadLine:
    """Some messages come twice, some late, some after what was sent later; each with the time at which it was sent."""

    chance: random.Random
    twice: float = 0.05
    late: float = 0.05
    overtaken: float = 0.02
    done: Counter[str] = field(default_factory=Counter)

    def deliveries(self, sent: list[Sent]) -> list[Delivery]:
        """All of them, as they come."""
        came: list[Delivery] = []
        until = self._needed_at(sent)
        for n, one in enumerate(sent):
            at = self._comes(n, one, sent, until.get(one.id))
            came.append(Delivery(at, one))
            if self.chance.random() < self.twice:
                self.done["twice"] += 1
                later = timedelta(seconds=self.chance.choice((0, 1, 30, 600, 86_400)))
                came.append(Delivery(at + later, one, again=True))
        return sorted(came, key=lambda one: (one.at, one.again))

    def _needed_at(self, sent: list[Sent]) -> dict[str, datetime]:
        """When the first message is sent that could not be without it."""
        found: dict[str, datetime] = {}
        for one in reversed(sent):
            found |= dict.fromkeys(one.needs, one.at)
        return found

    def _comes(self, n: int, one: Sent, sent: list[Sent], until: datetime | None) -> datetime:
        luck, late = self.chance.random(), timedelta(seconds=self.chance.choice((20, 60, 90, 240, 1200, 5400)))
        if luck >= self.late + self.overtaken:
            return one.at
        kind = "late" if luck < self.late else "overtaken"
        if kind == "overtaken":
            following = next((other for other in sent[n + 1:] if other.who == one.who), None)
            late = timedelta() if following is None else following.at - one.at + timedelta(milliseconds=1)
        if until is not None and one.at + late >= until:
            late = until - one.at - timedelta(seconds=1)
        self.done[kind if late > timedelta() else f"not {kind}"] += 1
        return one.at + max(late, timedelta())


async def delivered(programs: Programs, classes: int, deliveries: list[Delivery]) -> Counter[str]:
    """Deliver all of it; how often somebody had to type what they would have tapped, and what."""
    typed: Counter[str] = Counter()
    as_sent: dict[str, dict[str, str | None]] = {}
    await programs.begin(classes)
    for one in deliveries:
        await programs.until(one.at)
        sent = one.sent
        if one.sent.id not in as_sent:
            choice = None if sent.tap is None else on_screen(programs.screens[sent.who], sent.tap)
            text = sent.text if sent.tap is None else None if choice is not None else sent.instead
            typed.update([type(sent.tap).__name__] if sent.tap is not None and choice is None else [])
            as_sent[sent.id] = {"text": text, "choice": choice}
        await programs.hear(sent.id, sent.who, sent.at, **as_sent[sent.id])
    await programs.until(SUNDAY)
    return typed
