"""The store in a PostgreSQL database: a transaction for each message, several at once, in any number of processes.

What lives here: which turn each method of the port takes. What a turn is, is in `turns.py`; what is peculiar to the
server in `postgres_server.py`.
"""
from __future__ import annotations

import asyncio
from collections.abc import Awaitable, Callable, Collection
from datetime import datetime
from functools import partial
from typing import Any, TypeVar

from bot.people.hall import Hall
from bot.port import Loaded, Snapshot
from bot.step import Decide, Desk, Heard, Refused, Said, Want
from storage import house, letters, migrations, phones, unit
from storage import postgres_server as server
from storage.cache import LESSONS
from storage.lanes import Lanes
from storage.postgres_notices import Notices
from storage.shelf import NOBODY, Lease, Shelf
from storage.store import BaseStore, Plan
from storage.turns import Address, Memories, Turn, Turns, Work, club_turn, sender_turn

T = TypeVar("T")
CONNECTIONS = 8     # of each process; what waits for the server's disk is committed together
LONGEST_S = 12      # so long a message waits for a server that stands still: a little longer than for a lock there
WHOLE_S = 120       # … and so long what is about all of a club, for which nobody stands in a hall


class PostgresStore(BaseStore):
    """The store in one database. What each method promises is said in `bot.port.Store`."""

    def __init__(self, address: str, lessons: int | None = None) -> None:
        url = server.url_of(address)
        engine = server.engine_for(url)
        lines = [server.Line(engine, migrations.HEAD) for _ in range(CONNECTIONS)]
        try:
            server.migrate(engine)
        except Refused as error:
            if str(error) != server.AWAY:
                raise
            raise Refused(
                f"The database {server.named(url)} can't be opened. Please see that it runs, and to its name, user "
                "and password."
            ) from error
        self._engine = engine
        self._notices: Notices | None = None
        self._memories = Memories(lessons or LESSONS)
        self._timed: Callable[[float], None] = lambda seconds: None
        self._lanes = Lanes([Turns(line, self._memories, self._wrote) for line in lines], LONGEST_S)

    def step(self, heard: Heard, decide: Decide) -> Awaitable[tuple[Said, ...]]:
        """Handle a message once."""
        heard = unit.readable(heard)
        return self._by_sender((heard.channel, heard.sender), lambda shelf: unit.step(shelf, heard, decide))

    def desk(
        self, channel: str, address: str, now: datetime, wants: Collection[Want] = ()
    ) -> Awaitable[Desk]:
        """What a message from there would find; nobody in another process waits for it."""
        return self._by_sender(
            (channel, address), lambda shelf: phones.desk(shelf, channel, address, now, wants), looks=True
        )

    async def load(self, hall: Hall, now: datetime) -> Loaded:
        """Load or update a club."""
        turn = club_turn(hall.club.id)
        return await self._in_turn(lambda shelf: house.load(shelf, hall, now), turn, longest_s=WHOLE_S)

    async def forget(self, club: str, child: str) -> None:
        """Remove a child."""
        await self._in_turn(lambda shelf: house.forget(shelf, club, child), club_turn(club), longest_s=WHOLE_S)

    async def snapshot(self, club: str) -> Snapshot:
        """All of a club at one instant."""
        return await self._read(lambda shelf: house.snapshot(shelf, club), longest_s=WHOLE_S)

    async def settle(self, gateway: str, message: str, retry_at: datetime | None = None) -> bool:
        """That message is out, given up, or failed for now."""
        one = await self._read(lambda shelf: shelf.posted(message))
        if one is None:
            return False
        return await self._do(lambda shelf: letters.settle(shelf, gateway, message, retry_at), one.club)

    async def release(self, now: datetime, said_since: datetime) -> tuple[int, int]:
        """Let go on what waited, give up what is too old, club by club."""
        found = await self._read(lambda shelf: shelf.overdue(now, said_since))
        released = dropped = 0
        for club in sorted({one.club for one in found}):
            several = await self._do(partial(letters.release, now=now, said_since=said_since, club=club), club)
            released, dropped = released + several[0], dropped + several[1]
        return released, dropped

    async def hold(self, name: str, holder: str, now: datetime, until: datetime) -> bool:
        """Something is the holder's alone until then."""
        lease = Lease(name, holder, until)
        return await self._in_turn(lambda shelf: letters.hold(shelf, lease, now), (NOBODY, f"hold {name}"))

    def heed(self, told: Callable[[], None]) -> None:
        """Call this when another process wrote."""
        if self._notices is not None:
            self._notices.close()
        self._notices = Notices(self._engine, told)

    def measured(self, told: Callable[[float], None]) -> None:
        """Hear how long each commit takes, with the rows that go along with it."""
        self._timed = told

    def _wrote(self, seconds: float | None) -> None:
        if seconds is not None:
            self._timed(seconds)
        if self._notices is not None:
            self._notices.wrote()

    async def backup(self, path: str) -> None:
        """A server has its own tools for that."""
        raise Refused("A PostgreSQL database is copied with its own tools while the work goes on: pg_dump -Fc DATABASE")

    async def close(self) -> None:
        """Finish what is queued and let go."""
        await asyncio.to_thread(self._lanes.close)
        if self._notices is not None:
            await asyncio.to_thread(self._notices.close)

    async def _do(self, plan: Plan[T], club: str | None = None, *, shared: bool = False) -> T:
        """In the club's turn."""
        return await self._in_turn(plan, None if club is None else club_turn(club))

    async def _fire(self, plan: Plan[Any], club: str | None, *, patient: bool) -> Any:
        """In the club's turn; of several processes that wake at once, one has it and the others go on to the next."""
        return await self._in_turn(plan, None if club is None else club_turn(club), patient=patient)

    async def _in_turn(
        self, plan: Plan[T], turn: Turn | None, *, patient: bool = True, longest_s: float | None = None,
    ) -> T:
        """After what waits for that turn here."""
        work = Work(plan, frozenset(() if turn is None else (turn,)), patient=patient)
        done: T = await self._lanes.put(lambda one: one.do(work, turn), turn, longest_s=longest_s)
        return done

    async def _read(self, ask: Callable[[Shelf], T], *, longest_s: float | None = None) -> T:
        """On any connection."""
        found: T = await self._lanes.put(lambda turns: turns.read(ask), longest_s=longest_s)
        return found

    def _by_sender(self, address: Address, plan: Plan[T], *, looks: bool = False) -> asyncio.Future[T]:
        """In the turn of whoever writes from there, after what came from there before."""
        stranger = sender_turn(address)
        club = self._memories.club_of(address)
        lane = stranger if club is None else club_turn(club)
        turns = frozenset(() if club is None else (lane,))
        work = Work(plan, turns, address, looks)
        return self._lanes.put(lambda one: one.do(work, lane), lane, behind=stranger)
