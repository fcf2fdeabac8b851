"""Anything at all done to both stores: they agree with each other and with a plain dict, over restarts."""
from __future__ import annotations

import asyncio
import tempfile
from collections.abc import Awaitable, Callable
from contextlib import ExitStack
from dataclasses import dataclass, field, replace
from datetime import datetime, timedelta
from pathlib import Path
from random import Random
from typing import Any, TypeVar

import pytest
from hypothesis import settings
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, initialize, invariant, rule

from bot.facts import Mark, Voided
from bot.lesson.book import Changes, Reminder
from bot.marks.standing import Standing
from bot.people.hall import Hall
from bot.people.model import Person, RosterLine
from bot.port import Snapshot, Store
from bot.step import Desk, Heard, OtherMessage, Said, Say, Stepped, Want, Woken
from storage import open_store
from storage.memory import MemoryStore
from storage.trouble import TRIES
from tests.postgres import address_of, require
from tests.storage.steps import LESSON, NOW, answer, hall

T = TypeVar("T")
CLUBS, PEOPLE, CHILDREN = ("bench", "other"), ("jo", "kim"), ("ava", "ben")
clubs, people, children = st.sampled_from(CLUBS), st.sampled_from(PEOPLE), st.sampled_from(CHILDREN)
numbers, seconds = st.integers(1, 12), st.integers(0, 30)


def a_club(name: str) -> Hall:
    """A class of two children and two coaches; the ids are the same in every club."""
    made = hall()
    tuesday = made.club.classes[0].model_copy(update={"coach": PEOPLE})
    return replace(
        made,
        club=made.club.model_copy(update={"id": name, "name": name, "classes": (tuesday,)}),
        people=tuple(Person(id=one, name=one, role="coach") for one in PEOPLE),
        roster=tuple(RosterLine(child=one, class_id="tue", award="one", id=one) for one in CHILDREN),
    )


def marking(child: str) -> Callable[[Heard, Desk], Stepped]:
    """A mark, and a standing that counts them."""
    def decide(message: Heard, desk: Desk) -> Stepped:
        assert desk.me is not None
        mark = Mark(f"{message.message}#0", child, "hop", LESSON, "seen", desk.me.id, NOW, NOW, 1)
        counted = Standing(tries=desk.books["tue"].standing(child, "hop").tries + 1)
        changes = Changes(standings={(child, "hop"): counted})
        return replace(answer(message, desk), facts=(mark,), lesson=LESSON, changes=changes)

    return decide


def undoing(message: Heard, desk: Desk) -> Stepped:
    """Void the last mark of this person that is not voided yet."""
    assert desk.me is not None
    (record,) = desk.facts(Want(kind="mark", by=desk.me.id))       # the voids have to come along
    gone = {one.fact.target for one in record if isinstance(one.fact, Voided)}
    left = [one.message for one in record if isinstance(one.fact, Mark) and one.message not in gone]
    facts = (Voided(left[-1], undo=True),) if left else ()
    return replace(answer(message, desk), facts=facts, lesson=LESSON)


def queueing(due: dict[str, int]) -> Callable[[Heard, Desk], Stepped]:
    """Exactly these are queued: key → seconds. What was sent under its key is not sent again."""
    def decide(message: Heard, desk: Desk) -> Stepped:
        queue = {
            key: Reminder(key, key.partition("/")[0], "rest", NOW + timedelta(seconds=after), LESSON)
            for key, after in due.items()
        }
        fired = desk.books["tue"].fired & queue.keys()
        return replace(answer(message, desk), changes=Changes(pending={"tue": queue}, fired={"tue": fired}))

    return decide


def fire(woken: Woken, desk: Desk) -> Stepped:
    """Say what is due and take it off the queue."""
    book, keys = desk.books["tue"], {one.key for one in woken.due}
    left = {key: one for key, one in book.pending.items() if key not in keys}
    talk = replace(desk.talk, said=desk.talk.said + 1)
    changes = Changes(pending={"tue": left}, fired={"tue": book.fired | keys})
    return Stepped(talk, (Say(" ".join(sorted(keys))),), changes=changes)


def fail(message: Heard, desk: Desk) -> Stepped:
    """A mistake."""
    raise ArithmeticError


@dataclass
class Model:
    """A club as plain dicts: what a store must come to."""

    marks: list[tuple[str, str]] = field(default_factory=list)         # message, child
    undone: list[str] = field(default_factory=list)
    said: dict[str, int] = field(default_factory=dict)
    queue: dict[str, int] = field(default_factory=dict)
    fired: set[str] = field(default_factory=set)
    mistakes: dict[str, int] = field(default_factory=dict)             # message → tries that came to nothing


class Both(RuleBasedStateMachine):
    """The same done to memory, to a database, and to the model."""

    kind = "sqlite"

    def __init__(self) -> None:
        super().__init__()
        self.loop = asyncio.new_event_loop()
        self.kept = ExitStack()
        folder = self.kept.enter_context(tempfile.TemporaryDirectory())
        self.address = self.kept.enter_context(address_of(self.kind, Path(folder)))
        self.stores: list[Store] = [MemoryStore(), self.opened()]
        self.models = {club: Model() for club in CLUBS}
        self.heard: dict[str, tuple[Heard, tuple[Said, ...]]] = {}

    def opened(self) -> Store:
        """The store in the database."""
        return open_store(self.address)

    def both(self, do: Callable[[Store], Awaitable[T]]) -> T:
        """Do it to both; they must come to the same."""
        async def done(store: Store) -> Any:
            return await do(store)

        first, second = (self.loop.run_until_complete(done(store)) for store in self.stores)
        assert first == second
        return first        # type: ignore[no-any-return]

    @initialize()
    def load(self) -> None:
        for club in CLUBS:
            self.both(lambda store, club=club: store.load(a_club(club), NOW))   # type: ignore[misc]
            for person in PEOPLE:
                self.both(lambda store, club=club, person=person: store.meet("sms", f"{club}/{person}", club, person))  # type: ignore[misc]

    def send(self, club: str, person: str, number: int, decide: Any, text: str) -> bool:
        """Send a message; was it new? An old one gets its old answer, or is refused where it differs."""
        message = Heard(f"m{number}", "sms", f"{club}/{person}", NOW, NOW, text)
        before = self.heard.get(message.id)
        if before is not None and before[0] != message:
            for store in self.stores:
                with pytest.raises(OtherMessage):
                    self.loop.run_until_complete(self._one(store, message, decide))
            return False
        answers = self.both(lambda store: store.step(message, decide))
        if before is not None:
            assert answers == before[1]
            return False
        self.heard[message.id] = message, answers
        model = self.models[club]
        model.said[person] = model.said.get(person, 0) + 1
        assert [one.seq for one in answers] == [model.said[person]]
        return True

    async def _one(self, store: Store, message: Heard, decide: Any) -> tuple[Said, ...]:
        return await store.step(message, decide)

    @rule(club=clubs, person=people, child=children, number=numbers)
    def mark(self, club: str, person: str, child: str, number: int) -> None:
        if self.send(club, person, number, marking(child), f"mark {child}"):
            self.models[club].marks.append((f"sms:m{number}", child))

    @rule(club=clubs, person=people, number=numbers)
    def undo(self, club: str, person: str, number: int) -> None:
        model = self.models[club]
        own = [
            message for message, _ in model.marks
            if self.heard[message.removeprefix("sms:")][0].sender == f"{club}/{person}" and message not in model.undone
        ]
        if self.send(club, person, number, undoing, "undo") and own:
            model.undone.append(own[-1])

    @rule(
        club=clubs, person=people, number=numbers,
        due=st.dictionaries(st.sampled_from(["jo/a", "jo/b", "kim/a", "kim/b"]), seconds, max_size=4),
    )
    def queue(self, club: str, person: str, number: int, due: dict[str, int]) -> None:
        if self.send(club, person, number, queueing(due), f"queue {due}"):
            model = self.models[club]
            model.fired &= due.keys()
            model.queue = {key: after for key, after in due.items() if key not in model.fired}

    @rule(after=seconds)
    def wake(self, after: int) -> None:
        said = self.both(lambda store: store.wake(NOW + timedelta(seconds=after), fire))
        expected: list[tuple[int, str, str, str]] = []
        for club, model in self.models.items():
            now = {key: due for key, due in model.queue.items() if due <= after}
            for due, person in {(due, key.partition("/")[0]) for key, due in now.items()}:
                keys = sorted(key for key, at in now.items() if (at, key.partition("/")[0]) == (due, person))
                expected.append((due, club, person, " ".join(keys)))
                model.said[person] = model.said.get(person, 0) + 1
            model.fired |= now.keys()
            model.queue = {key: due for key, due in model.queue.items() if key not in now}
        assert [(one.club, one.person, one.text) for one in said] == [one[1:] for one in sorted(expected)]

    @rule(club=clubs, person=people, number=numbers)
    def mistake(self, club: str, person: str, number: int) -> None:
        message = Heard(f"m{number}", "sms", f"{club}/{person}", NOW, NOW, "mistake")
        tries = self.models[club].mistakes
        known = self.heard.get(message.id)
        last = known is None and tries.get(message.id, 0) == TRIES - 1      # it is put aside, and answered
        if last or (known is not None and known[0] == message):
            self.send(club, person, number, fail, "mistake")
            return
        for store in self.stores:
            with pytest.raises((ArithmeticError, OtherMessage)):
                self.loop.run_until_complete(self._one(store, message, fail))
        if known is None:
            tries[message.id] = tries.get(message.id, 0) + 1

    @rule()
    def restart(self) -> None:
        memory, database = self.stores
        self.loop.run_until_complete(self._close(database))
        assert isinstance(memory, MemoryStore)
        self.stores = [memory.restarted(), self.opened()]

    @rule(club=clubs)
    def load_again(self, club: str) -> None:
        assert self.both(lambda store: store.load(a_club(club), NOW)).changes == ("Nothing has changed.",)
        model = self.models[club]
        model.queue, model.fired = {}, set()        # by the timetable nothing of the kind is called for

    @invariant()
    def agree(self) -> None:
        for club, model in self.models.items():
            if not self.heard:
                continue
            snapshot = self.both(lambda store, club=club: store.snapshot(club))     # type: ignore[misc]
            self.check(snapshot, model)
        due = [NOW + timedelta(seconds=after) for model in self.models.values() for after in model.queue.values()]
        found: datetime | None = self.both(lambda store: store.next_due())
        assert not due or found == min(due)
        self.both(self._unasked)

    async def _unasked(self, store: Store) -> dict[str, list[tuple[Said, Any]]]:
        """By club: those of different clubs may become due side by side."""
        found: dict[str, list[tuple[Said, Any]]] = {}
        for _, said, addresses in await store.outbox(0):
            found.setdefault(said.club, []).append((said, addresses))
        return found

    def check(self, snapshot: Snapshot, model: Model) -> None:
        record = snapshot.record
        assert [one.seq for one in record] == list(range(1, len(record) + 1))
        marks = [(one.message, one.fact.child) for one in record if isinstance(one.fact, Mark)]
        assert marks == model.marks
        assert [one.fact.target for one in record if isinstance(one.fact, Voided)] == model.undone
        book = snapshot.books["tue"]
        for child in CHILDREN:
            assert book.standing(child, "hop").tries == sum(one == child for _, one in model.marks)
        queue = {key: one for key, one in book.pending.items() if one.kind == "rest"}
        assert {key: (one.due_at - NOW).seconds for key, one in queue.items()} == model.queue
        assert {key for key in book.fired if not key.startswith("before")} == model.fired

    async def _close(self, store: Store) -> None:
        await store.close()

    def teardown(self) -> None:
        for store in self.stores:
            self.loop.run_until_complete(self._close(store))
        self.loop.close()
        self.kept.close()


class InTurns:
    """Two programs on one database, of which any does what is asked next."""

    def __init__(self, address: str) -> None:
        self._both = open_store(address), open_store(address)
        self._chance = Random(len(address))

    def __getattr__(self, name: str) -> Any:
        return getattr(self._chance.choice(self._both), name)

    async def close(self) -> None:
        """Both."""
        for one in self._both:
            await one.close()


class BothOnPostgres(Both):
    """The same by two programs on a server."""

    kind = "postgresql"

    def __init__(self) -> None:
        require()
        super().__init__()

    def opened(self) -> Store:
        """Two of them."""
        both: Any = InTurns(self.address)
        return both     # type: ignore[no-any-return]


TestBoth = pytest.mark.timeout(600)(Both.TestCase)
TestBoth.settings = settings(max_examples=30, stateful_step_count=30, deadline=None)
TestBothOnPostgres = pytest.mark.timeout(600)(BothOnPostgres.TestCase)
TestBothOnPostgres.settings = settings(max_examples=10, stateful_step_count=30, deadline=None)
