"""Turns: many processes on one database, and what belongs together done one after another.

What lives here: which locks a plan takes, and what may be remembered from one turn to the next. All that a message
reads or writes belongs to its sender's club, so a club's turn is the one lock that is needed: it stands for its lessons
and its people as well. Who is no club's yet has a turn alone. A plan that turns out to need another one is begun anew
with all of them, always taken in the same order, so nobody waits for somebody who waits for them.

Each turn counts on the club's revision. What a process remembers of a club is true at one revision, and where that is
not the last one, another process wrote meanwhile: what that touched is forgotten (`lately.py`).
"""
from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field, replace
from threading import Lock
from time import perf_counter
from typing import Any, TypeVar

from sqlalchemy import Connection, bindparam, select, update
from sqlalchemy.dialects.postgresql import insert
from sqlalchemy.exc import DBAPIError

from bot.lesson.book import ClassBook
from bot.talk.state import Talk
from storage import postgres_server as server
from storage import tables
from storage.cache import Cache, Recent
from storage.keeper import OUTBOX, Keeper
from storage.lately import forget, read, touched, with_one_more
from storage.pad import Broken
from storage.postgres_server import Line
from storage.session import Session
from storage.shelf import NOBODY, Apart, Home, Shelf, Written
from storage.sql import SqlShelf
from storage.unit import Done, stranger

T = TypeVar("T")
Turn = tuple[str, str]          # a club, and nothing; or of nobody's club, the name of a stranger
Address = tuple[str, str]
ROUNDS = 10                     # so often a plan may find that it needs another turn

_turn = tables.turn
TAKE = insert(_turn).on_conflict_do_update(
    index_elements=[_turn.c.club, _turn.c.person], set_={"revision": _turn.c.revision + 1},
).returning(_turn.c.revision, _turn.c.lately)
FREE = select(_turn.c.revision).where(
    _turn.c.club == bindparam("club"), _turn.c.person == bindparam("person"),
).with_for_update(skip_locked=True)
LOOK = select(_turn.c.revision, _turn.c.lately).where(
    _turn.c.club == bindparam("club"), _turn.c.person == bindparam("person"),
)
TOUCH = update(_turn).where(
    _turn.c.club == bindparam("its_club"), _turn.c.person == "",
).values(lately=bindparam("so_far"))
_numbers = insert(tables.counter)
NUMBERS = _numbers.on_conflict_do_update(
    index_elements=[tables.counter.c.name], set_={"value": tables.counter.c.value + _numbers.excluded.value},
).returning(tables.counter.c.value)


def club_turn(club: str) -> Turn:
    """The turn of a club."""
    return club, ""


def turn_of(club: str, person: str) -> Turn:
    """The turn in which what is somebody's may be touched."""
    return (NOBODY, person) if club == NOBODY else club_turn(club)


def sender_turn(address: Address) -> Turn:
    """The turn of an address as long as it is nobody's."""
    return NOBODY, stranger(*address)


class Elsewhere(Apart):
    """It takes these turns to go on."""

    def __init__(self, turns: frozenset[Turn]) -> None:
        super().__init__(f"{len(turns)} turns are needed")
        self.turns = turns


class GivenUp(Exception):
    """Nobody waits for it any more, and nothing of it was kept."""


# --- what is remembered ---------------------------------------------------------------------------------

@dataclass
class Memory:
    """What is remembered of a club, and the revision at which it is so."""

    cache: Cache = field(default_factory=Cache)
    revision: int = 0

    def at(self, club: str, revision: int, lately: str) -> None:
        """Trust only what is still so at that revision."""
        if self.revision != revision:
            forget(self.cache, club, self.revision, revision, read(lately))
            self.revision = revision


class Memories:
    """One for each club; whoever is in a club's lane has it alone."""

    def __init__(self, clubs: int) -> None:
        self._clubs: Recent[str, Memory] = Recent(clubs)
        self._senders: Recent[Address, str] = Recent(40 * clubs)
        self._lock = Lock()

    def of(self, club: str) -> Memory:
        """What is remembered of a club."""
        with self._lock:
            return self._clubs.get(club) or self._clubs.put(club, Memory())

    def club_of(self, address: Address) -> str | None:
        """Whose that address was last: no more than a guess."""
        with self._lock:
            return self._senders.get(address)

    def note(self, address: Address, club: str | None) -> None:
        """It was that club's just now; None: nobody's."""
        with self._lock:
            if club is None:
                self._senders.drop(address)
            else:
                self._senders.put(address, club)


# --- the shelf --------------------------------------------------------------------------------------------

class TurnShelf(SqlShelf):
    """A shelf that opens only what these turns are about; for the rest it raises Elsewhere."""

    def __init__(self, session: Session, turns: frozenset[Turn]) -> None:
        super().__init__(session)
        self._turns = turns
        self._keeper = TurnKeeper(session)

    def _mine(self, *turns: Turn) -> None:
        if not self._turns.issuperset(turns):
            raise Elsewhere(self._turns | set(turns))

    def home(self, club: str) -> Home | None:
        """A club, its people and schemes."""
        self._mine(club_turn(club))
        return super().home(club)

    def book(self, club: str, class_id: str) -> ClassBook:
        """A class's book."""
        self._mine(club_turn(club))
        return super().book(club, class_id)

    def talk(self, club: str, person: str) -> Talk | None:
        """Where somebody's talk is."""
        self._mine(turn_of(club, person))
        return super().talk(club, person)

    def keep(self, written: Written) -> None:
        """Write all of it."""
        if written.club != NOBODY or written.talk is not None:
            self._mine(turn_of(written.club, written.person))
        for address in _moved(written):
            whose = self.known(*address)
            others = () if whose is None else (club_turn(whose[0]),)
            self._mine(sender_turn(address), *others)
        super().keep(written)


def _moved(written: Written) -> list[Address]:
    """The addresses that become somebody's: who they belonged to has to be kept from it meanwhile."""
    return [one[:2] for one in (written.joined, written.met) if one is not None]


class TurnKeeper(Keeper):
    """Takes the outbox's numbers last of all.

    They are in the order in which they become visible, or a reader behind a cursor would miss some; so whoever takes
    them keeps everybody else from it until the commit.
    """

    def keep(self, written: Written, before: Home | None) -> None:
        """All that one transaction writes."""
        super().keep(replace(written, said=(), released=()), before)
        numbered = any(one.in_reply_to is None for one in written.said) or written.released
        if numbered:
            self._pad.flush()
        self._said(written.club, written.person, written.said)
        self._post(self._released(written.released))

    def _cursors(self, several: int) -> int:
        last: int = self._session.all(NUMBERS, name=OUTBOX, value=several)[0].value
        return last - several


# --- a turn -----------------------------------------------------------------------------------------------

@dataclass(frozen=True, slots=True)
class Work:
    """A plan, with the turns that it is known to need; or the address whose turn it is, whoever's that is.

    `looks`: it writes nothing. `patient`: it waits for its turn; else, where another process has it, it comes to None.
    """

    plan: Callable[[Shelf], Done[Any]]
    turns: frozenset[Turn] = frozenset()
    address: Address | None = None
    looks: bool = False
    patient: bool = True


class Turns:
    """Carries out plans on one connection, each in one transaction. For one thread."""

    def __init__(self, line: Line, memories: Memories, wrote: Callable[[float | None], None]) -> None:
        """`wrote` hears of each turn that is over, and how many seconds its commit took if it wrote something."""
        self._line = line
        self.wanted: Callable[[], bool] = lambda: True
        self._memories = memories
        self._wrote = wrote

    def close(self) -> None:
        """Let go."""
        self._line.close()

    def read(self, question: Callable[[Shelf], T]) -> T:
        """Answer a question as things are at one instant."""
        connection = self._line.begin(server.LOOKING)
        try:
            return question(SqlShelf(Session(connection, server.upsert)))
        finally:
            self._line.rollback()

    def do(self, work: Work, lane: object) -> Any:
        """Carry out a plan, all of it or nothing. Raises what it raises, Broken, or Refused."""
        turns = work.turns
        for _ in range(ROUNDS):
            try:
                return self._once(work, turns, lane)
            except Elsewhere as other:
                turns = other.turns
        raise RuntimeError("a plan never stopped asking for other turns")

    def _once(self, work: Work, turns: frozenset[Turn], lane: object) -> Any:
        connection = self._line.begin(server.LOOKING if work.looks else server.WRITING)
        memory = Memory()
        try:
            if work.address is not None and not turns:
                turns = frozenset((self._found(connection, work.address),))
            if not work.patient and not _free(Session(connection, server.upsert), turns):
                self._line.rollback()
                return None
            taken = _taken(Session(connection, server.upsert), turns, looks=work.looks)
            revision, lately = taken[-1] if taken else (0, "")
            club = _remembered(turns, lane)
            if club is not None:
                memory = self._memories.of(club)
                memory.at(club, revision if work.looks else revision - 1, lately)
            session = Session(connection, server.upsert, memory.cache)
            done = _carried_out(work.plan, TurnShelf(session, turns))
            told = None if work.looks else _alone(turns)
            if not self.wanted():
                raise GivenUp

            def last() -> None:
                session.pad.flush()
                if told is not None:
                    _touch(session, told, with_one_more(lately, touched(revision, done.written)))

            began = perf_counter()
            self._line.commit(last)
            took = perf_counter() - began
        except BaseException:
            memory.cache.clear()
            self._line.rollback()
            raise
        memory.revision = revision
        if not work.looks:
            self._wrote(None if done.written is None else took)
        if work.address is not None:
            whose = memory.cache.known.get(work.address)
            self._memories.note(work.address, None if whose is None else whose[0])
        return done.told()

    def _found(self, connection: Connection, address: Address) -> Turn:
        whose = SqlShelf(Session(connection, server.upsert)).known(*address)
        return sender_turn(address) if whose is None else club_turn(whose[0])


def _free(session: Session, turns: frozenset[Turn]) -> bool:
    """Claim them, unless some other process has one of them just now. Raises Broken."""
    return all(session.all(FREE, club=club, person=person) for club, person in sorted(turns))


def _taken(session: Session, turns: frozenset[Turn], *, looks: bool) -> list[tuple[int, str]]:
    """Wait for all of them, in their order, or only look; at which revision each is, and what was touched lately.

    Raises Broken.
    """
    taken = []
    for club, person in sorted(turns):
        if looks:
            found = session.all(LOOK, club=club, person=person)
        else:
            found = session.all(TAKE, club=club, person=person, revision=1, lately="")
        taken.append((found[0].revision, found[0].lately) if found else (0, ""))
    return taken


def _touch(session: Session, club: str, lately: str) -> None:
    """Say what was touched. Of several turns at once nothing is said, so that all of them are read anew."""
    try:
        session.connection.execute(TOUCH, {"its_club": club, "so_far": lately})
    except DBAPIError as error:
        raise Broken from error


def _alone(turns: frozenset[Turn]) -> str | None:
    """The club, where one club's turn is all that is needed."""
    (club, _), *others = turns or {(NOBODY, "")}
    return None if others or club == NOBODY else club


def _remembered(turns: frozenset[Turn], lane: object) -> str | None:
    """The club whose memory may be used: it is its lane, and no other turn is needed."""
    club = _alone(turns)
    return club if club is not None and lane == club_turn(club) else None


def _carried_out(plan: Callable[[Shelf], Done[Any]], shelf: TurnShelf) -> Done[Any]:
    done = plan(shelf)
    if done.written is not None:
        shelf.keep(done.written)
    return done
