"""A week of a club on a simulated clock: what its people type and tap, and what programs make of it.

Nothing here is a test. A seed makes the week: people look at their screens and at the children, on a store in memory.
What they sent can then be delivered anew to any programs, over bad lines too (`bad_line.py`).
"""
from __future__ import annotations

import asyncio
import random
from collections import Counter, defaultdict
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field, replace
from datetime import UTC, datetime, timedelta
from typing import Any

from adapters.clock import SimulatedClock
from adapters.service import Service
from bot.facts import Fact, Mark, Voided
from bot.out.export import export
from bot.people.hall import Hall, read_hall
from bot.port import Store
from bot.step import Desk, Heard, Invitation, Said, Stepped, Woken
from bot.talk import turn
from bot.talk.taps import Answer, Reason, Some, Tap
from tests.talk.hall import SCHEME

MONDAY = datetime(2026, 11, 23, 12, 0, tzinfo=UTC)
SUNDAY = MONDAY + timedelta(days=6, hours=8)
DAYS = ("monday", "tuesday", "wednesday", "thursday", "friday")
NAMES = ("Ava", "Ben", "Chidi", "Dara", "Efa", "Finn", "Gus", "Hana", "Ivy", "Kemi", "Leo", "Mia", "Noor", "Otis",
         "Pia", "Quin", "Rosa", "Sami", "Tove", "Una", "Vik", "Wren", "Yara", "Zoe")
IN_A_CLASS = 8
A_DAY = 3               # so many classes a coach has, one straight after the other
SHOWS = {"hop": 1, "stand": 2, "wheel": 1, "medley": 2}
ASKED = ("Count it", "Second look", "Yes here", "Start", "Seen now")      # held until somebody decides
REASONS = {"Knees together": "knees", "Soft landing": "land", "Hips over shoulders": "hips"}
POINTS = tuple(REASONS)
Answered = tuple[Said, ...]


def coach_of(n: int) -> str:
    """Who has the class of that number."""
    return f"coach{n // A_DAY}"


def starts(n: int) -> datetime:
    """When the lesson of that class begins."""
    day = n // A_DAY % len(DAYS)
    return MONDAY.replace(hour=16) + timedelta(days=day, hours=n % A_DAY)


def hall(classes: int) -> Hall:
    """Coaches with three classes a day, an assistant in two of three."""
    parts, rows = ['name = "Club"\n'], ["child,class,award,has"]
    for n in range(classes):
        at, assistant = starts(n), f'assistant = "second{n // A_DAY}"\n' if n % A_DAY else ""
        parts.append(f'[[class]]\nid = "c{n}"\nname = "Class {n}"\nday = "{DAYS[at.weekday()]}"\n'
                     f'start = "{at:%H:%M}"\nminutes = 55\ncoach = "{coach_of(n)}"\n{assistant}')
        names = NAMES[n % A_DAY * IN_A_CLASS:][:IN_A_CLASS]
        rows += [f"{name} Of{n},c{n},one," for name in names]
    for n in range(0, classes, A_DAY):
        for role, who in (("coach", coach_of(n)), ("assistant", f"second{n // A_DAY}")):
            parts.append(f'[[person]]\nid = "{who}"\nname = "{who.title()}"\nrole = "{role}"\n')
    return read_hall(SCHEME.format(ways=""), "".join(parts), "\n".join(rows) + "\n")


# --- programs ---------------------------------------------------------------------------------------------

class Programs:
    """One program or several on one store's data, with one clock, and what came of all that they did."""

    def __init__(self, *stores: Store) -> None:
        self.stores, self.clock = stores, SimulatedClock(MONDAY)
        self.screens: dict[str, list[Said]] = defaultdict(list)
        self.facts: dict[str, tuple[Fact, ...]] = {}        # message → what it recorded
        self.fired: Counter[str] = Counter()                # a reminder's key → how often it was told or dropped
        self._woken: dict[str, tuple[str, ...]] = {}
        self._services = [Service(one, self.clock, self._step, self._wake) for one in stores]
        self._count = 0

    def _step(self, heard: Heard, desk: Desk) -> Stepped:
        stepped = turn.step(heard, desk)
        self.facts[heard.id] = stepped.facts
        return stepped

    def _wake(self, woken: Woken, desk: Desk) -> Stepped:
        stepped = turn.wake(woken, desk)
        put_off = {key for of_class in (stepped.changes.pending or {}).values() for key in of_class}
        self._woken[woken.id] = tuple(one.key for one in woken.due if one.key not in put_off)
        return stepped

    async def begin(self, classes: int) -> None:
        """The club is loaded, its people have phones, and one parent of each class said yes."""
        store = self.stores[0]
        loaded = hall(classes)
        await store.load(loaded, MONDAY)
        for person in loaded.people:
            await store.meet("chat", person.id, "club", person.id)
        children = [(n, child) for n in range(classes) for child in await self._first(n)]
        for n, child in children:
            until = MONDAY + timedelta(days=14)
            await store.invite(Invitation("club", None, child, until, used=False), f"CODE{n:04}")
            for number, text in enumerate((f"join CODE{n:04}", "yes")):
                await self.hear(f"family{n}-{number}", f"parent{n}", MONDAY, text=text)

    async def _first(self, n: int) -> list[str]:
        book = (await self.stores[0].snapshot("club")).books[f"c{n}"]
        return sorted(book.children)[:1]

    async def hear(self, id_: str, who: str, sent_at: datetime, **what: Any) -> Answered:
        """Deliver a message to one of the programs in turn; what is new of the answer is on the screen then."""
        self._count += 1
        said = await self._services[self._count % len(self._services)].hear(
            "chat", who, id=id_, sent_at=sent_at, **what,
        )
        self._show(who, said)
        return said

    def _show(self, who: str, said: Iterable[Said]) -> None:
        known = {one.seq for one in self.screens[who]}
        self.screens[who] += [one for one in said if one.seq not in known]

    async def until(self, instant: datetime) -> None:
        """Let time pass; what falls due on the way is told at its time, by whichever program is first."""
        while (due := await self.stores[0].next_due()) is not None and due <= instant:
            self.clock.move_to(max(due, self.clock.now()))
            for said in await asyncio.gather(*(one.wake() for one in self._services)):
                for one in said:
                    self._show(one.person, [one])
            for keys in self._woken.values():
                self.fired.update(keys)
            self._woken.clear()
        self.clock.move_to(max(instant, self.clock.now()))

    def fired_again(self) -> list[str]:
        """Reminders that were told or dropped twice, though nothing was taken back that they are about."""
        undone = {
            (fact.child, fact.skill) for facts in self.facts.values() for void in facts if isinstance(void, Voided)
            for fact in self.facts[id_of(void.target)] if isinstance(fact, Mark)
        }
        twice = [key for key, times in self.fired.items() if times > 1]
        return [key for key in twice if not any(f"/{child}/{skill}/" in key for child, skill in undone)]

    async def export(self) -> dict[str, Any]:
        """What `sprung export --json` prints, but for the time at which it does."""
        found = export(await self.stores[0].snapshot("club"), SUNDAY)
        found.pop("as_of")
        return found

    async def close(self) -> None:
        """Let go of the stores."""
        for one in self.stores:
            await one.close()


def id_of(message: str) -> str:
    """The sender's own id of a message, or of the message of a mark."""
    return message.partition(":")[2].partition("#")[0]


# --- what was sent ------------------------------------------------------------------------------------------

@dataclass(frozen=True)
class Sent:
    """A message as its sender means it: a text, or a choice that stands on their screen.

    `instead`: what they type where their screen shows no such choice. `needs`: messages without which nobody could
    send this one, or it would mean something else.
    """

    id: str
    who: str
    at: datetime
    text: str | None = None
    tap: Tap | None = None
    instead: str = ""
    needs: frozenset[str] = frozenset()


def same(one: Tap, other: Tap) -> bool:
    """Do two choices ask for the same? When their line was put up is no part of that."""
    if isinstance(one, Answer | Some) and isinstance(other, Answer | Some):
        there = other.line
        line = replace(one.line, asked_at=there.asked_at, shown_at=there.shown_at, set_up=there.set_up)
        one = replace(one, line=line)
    return one == other


def on_screen(screen: list[Said], tap: Tap) -> str | None:
    """The id of that choice, on the latest message that has it."""
    for said in reversed(screen):
        for id_, choice in zip(said.choice_ids(), said.choices, strict=True):
            if same(tap, choice.tap):
                return id_
    return None


# --- a week as it is lived ------------------------------------------------------------------------------------

@dataclass
class Author:
    """Makes the week: at each of their moments somebody looks at the screen and does something."""

    programs: Programs
    classes: int
    chance: random.Random
    sent: list[Sent] = field(default_factory=list)
    answers: dict[str, Answered] = field(default_factory=dict)

    async def live(self) -> list[Sent]:
        """The whole week; what was sent in it, in order."""
        await self.programs.begin(self.classes)
        for at, n, who, what in sorted(self._moments()):
            await self.programs.until(at)
            await self._do(n, who, what)
        await self.programs.until(SUNDAY)
        return [replace(one, instead=self._in_words(one)) for one in self.sent]

    def _moments(self) -> Iterator[tuple[datetime, int, str, str]]:
        for n in range(self.classes):
            yield from self._of_lesson(n, coach_of(n), 50)
            if n % A_DAY:
                yield from self._of_lesson(n, f"second{n // A_DAY}", 130)

    def _of_lesson(self, n: int, who: str, every: int) -> Iterator[tuple[datetime, int, str, str]]:
        """A start, a register, some minutes of marks, and mostly a close: of the lesson before the next one begins."""
        at, end = starts(n) + timedelta(seconds=self.chance.uniform(0, 90)), starts(n) + timedelta(minutes=54)
        coach = who == coach_of(n)
        if coach:
            yield at, n, who, "start"
            yield at + timedelta(seconds=self.chance.uniform(5, 60)), n, who, "register"
        at += timedelta(seconds=90)
        while (at := at + timedelta(seconds=self.chance.uniform(0.3, 1.7) * every)) < end:
            yield at, n, who, "watch"
        if coach and self.chance.random() < 0.85:
            yield end + timedelta(seconds=self.chance.uniform(0, 300)), n, who, "close"
            yield end + timedelta(seconds=self.chance.uniform(310, 350)), n, who, "send news"

    # --- what is done ---

    async def _do(self, n: int, who: str, what: str) -> None:
        desk = await self.programs.stores[0].desk("chat", who, self.programs.clock.now())
        book = desk.books[f"c{n}"]
        match what:
            case "start":
                await self._type(who, f"start class {n}")
            case "register":
                await self._register(who, [child.name for child in book.children.values()])
            case "watch":
                await self._watch(n, who, desk)
            case "close":
                await self._type(who, "close")
            case _:
                await self._tap(who, "Send as usual")

    async def _type(self, who: str, text: str) -> None:
        await self._send(Sent(f"m{len(self.sent)}", who, self.programs.clock.now(), text))

    async def _send(self, sent: Sent, choice: str | None = None) -> None:
        self.sent.append(sent)
        self.answers[sent.id] = await self.programs.hear(sent.id, sent.who, sent.at, text=sent.text, choice=choice)

    async def _tap(self, who: str, *labels: str) -> bool:
        """Tap the first of these labels that the last message has."""
        for said in self.programs.screens[who][-1:]:
            for label in labels:
                for id_, choice in zip(said.choice_ids(), said.choices, strict=True):
                    if choice.label == label:
                        sent = Sent(f"m{len(self.sent)}", who, self.programs.clock.now(), tap=choice.tap)
                        if said.in_reply_to is not None:
                            sent = replace(sent, needs=frozenset((said.in_reply_to,)))
                        await self._send(sent, id_)
                        return True
        return False

    async def _register(self, who: str, names: list[str]) -> None:
        if self.chance.random() < 0.6:
            await self._tap(who, "Everyone")
        else:
            await self._type(who, f"{self.chance.choice(names).split()[0]} away")

    async def _watch(self, n: int, who: str, desk: Desk) -> None:
        luck = self.chance.random()
        if luck < 0.35 and await self._tap(who, *self._answers()):
            return
        if luck < 0.5 and await self._tap(who, "Go", "Count it", "Second show", "Yes here", *POINTS):
            return
        if luck < 0.56:
            if not (self.chance.random() < 0.5 and await self._tap(who, "Undo")):
                await self._type(who, "undo")
        elif luck < 0.62:
            await self._type(who, self.chance.choice(("next", "owed", "resting", "standard stand", "hop", "medley")))
        else:
            await self._type(who, self._marks(n, desk))

    def _answers(self) -> list[str]:
        """All seen, mostly; or who needs another go."""
        labels = ["All seen", "None yet"]
        return labels if self.chance.random() < 0.8 else labels[::-1]

    def _marks(self, n: int, desk: Desk) -> str:
        """What was seen of up to three children on a skill or two, in words."""
        book, lesson = desk.books[f"c{n}"], desk.books[f"c{n}"].open_lesson
        here = [key for key in book.children if lesson is None or key not in lesson.away]
        if self.chance.random() < 0.04:
            here = list(book.children)          # one who came late
        clauses = []
        for skill in self.chance.sample(sorted(SHOWS), self.chance.choice((1, 1, 1, 2))):
            ready = [key for key in here if not self._rests(book.standing(key, skill)) or self.chance.random() < 0.1]
            for verdict, most in (("seen", 3), ("not yet", 1)):
                some = self.chance.sample(ready, min(len(ready), self.chance.randint(0, most)))
                ready = [key for key in ready if key not in some]
                if some:
                    side = self.chance.choice((" left", " right", "")) if skill == "wheel" else ""
                    who = ", ".join(book.children[key].name.split()[0] for key in some)
                    clauses.append(f"{who} {verdict} {skill}{side}")
        return "; ".join(clauses) or "owed"

    def _rests(self, standing: Any) -> bool:
        return standing.rested_at is not None and self.programs.clock.now() < standing.rested_at

    def _in_words(self, sent: Sent) -> str:
        """What is typed where a line's choice is not on the screen: the same of the same children; or a reason."""
        if isinstance(sent.tap, Reason):
            return next(point for point in POINTS if REASONS[point] in sent.tap.points)
        marks = [fact for fact in self.programs.facts[sent.id] if isinstance(fact, Mark)]
        if not isinstance(sent.tap, Answer) or not marks:
            return "next"
        line = sent.tap.line
        names = ", ".join(self._first(mark.child) for mark in marks)
        show = f" show {line.show}" if SHOWS[line.skill] > 1 else ""
        return f"{names} {sent.tap.verdict} {line.skill}{show}"

    def _first(self, child: str) -> str:
        return child.split("-")[1].title()
