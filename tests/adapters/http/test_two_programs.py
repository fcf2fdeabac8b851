"""Two programs on one PostgreSQL database: what one does the other's phones hear, and one may be killed at any moment.

`SPRUNG_KILLS` says how often (5 where it is not set). The moments are seeded; the machine adds its own chance. What
becomes of an answer that is lost after the commit is shown in `tests/storage/test_postgres_faults.py`, without chance.
"""
from __future__ import annotations

import asyncio
import os
import random
import signal
from collections.abc import AsyncIterator, Callable
from contextlib import asynccontextmanager, suppress
from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest

from adapters.clock import Clock
from adapters.http import outbox
from adapters.service import Service
from bot.port import Store
from tests import postgres
from tests.adapters.conftest import echo_wake
from tests.adapters.http.api import Api, Gateway, fill
from tests.adapters.http.test_kill_serve import (
    AGAIN_S,
    BROKEN,
    UNDER_WAY,
    Phones,
    Program,
    messages,
    nothing_lost_or_doubled,
    prepared,
    ready_to_fork,
)
from tests.adapters.http.test_outbox import texts

KILLS = int(os.environ.get("SPRUNG_KILLS", "5"))


# --- in this process ------------------------------------------------------------------------------------

@pytest.fixture
async def pair(make_service: Callable[[Store, Clock], Service]) -> AsyncIterator[tuple[Api, Api]]:
    """Two programs with a dialogue that only echoes."""
    with postgres.database() as url:
        await fill(url)
        both = Api(url, make_service), Api(url, make_service)
        for one in both:
            await one.start()
        yield both
        for one in both:
            await one.stop()
            await one.session.close()


async def test_whoever_waits_at_another_program_hears_at_once(
    pair: tuple[Api, Api], monkeypatch: pytest.MonkeyPatch,
) -> None:
    """A gateway that waits at one program gets what the other said without looking for it, and so does a page."""
    monkeypatch.setattr(outbox, "LOOK_S", 600.0)
    here, there = pair
    gate = await here.gateway()
    await gate.says("hi", "sam")
    await gate.says("later 3600 sam")
    looks = here.served.desk.page_bell.ringing()
    waiting = asyncio.create_task(gate.outbox(wait=60))
    await there.store.wake(there.clock.now() + timedelta(hours=2), echo_wake)
    assert texts((await asyncio.wait_for(waiting, 20))[0]) == [("2", "due 3600")]
    async with asyncio.timeout(20):
        await looks.wait()


async def test_a_message_may_come_to_any_of_them(pair: tuple[Api, Api]) -> None:
    """A gateway's key, its messages and its reports are the same at both; what came to both is answered alike."""
    here, there = pair
    gate = await here.gateway()
    other = Gateway(f"http://127.0.0.1:{there.port}", gate.key, there.session)
    message = gate.message("hello")
    answers = [await (await one.send(message)).json() for one in (gate, other, gate)]
    assert answers[0] == answers[1] == answers[2]
    await gate.says("later 60 jo")
    await there.pass_time(100)
    ((waits,), _) = await other.outbox()
    assert await gate.report(waits, "delivered") == 204
    assert (await other.outbox())[0] == []


async def test_a_database_that_is_away(pair: tuple[Api, Api]) -> None:
    """Meanwhile a message is refused with a problem that says when to try again; later the same one is answered."""
    here, _ = pair
    gate = await here.gateway()
    await gate.says("hello")
    postgres.server().stop()
    message = gate.message("are you there")
    for asked in (gate.send(message), gate.ask("GET", "/v1/outbox"), gate.ask("GET", "/readyz")):
        response = await asked
        assert response.status == 503
        assert int(response.headers["Retry-After"]) > 0
        assert "can't be reached" in (await response.json())["detail"]
    assert (await gate.ask("GET", "/healthz")).status == 200
    postgres.server().start()
    response = await gate.send(message)
    assert response.status == 200
    assert [one["text"] for one in (await response.json())["replies"]] == ["heard are you there"]


# --- processes of their own -------------------------------------------------------------------------------

class Two:
    """Two processes of `sprung serve`; what is not answered by one may be sent to the other."""

    def __init__(self, database: str, folder: Path, phones: Phones, key: str, *, look: str = "") -> None:
        """`look`: where a test looks into the database, if the programs reach it by another way."""
        self._given, self._phones = (database, folder), phones
        self._look = look or database
        self._key = key
        self._parent = ready_to_fork()
        self._made = 0

    async def start(self) -> None:
        """Both."""
        self._programs = [await self._new(), await self._new()]

    async def _new(self) -> Program:
        program = Program(self._parent, *self._given, self._made, self._phones, self._key)
        self._made += 1
        await program.ready()
        return program

    async def send(self, message: dict[str, str]) -> bool:
        """Send one to either."""
        return await self._phones.chance.choice(self._programs).send(message)

    async def listen(self) -> None:
        """Take unasked messages out, now here and now there."""
        while True:
            with suppress(*BROKEN):
                await self._phones.chance.choice(self._programs).poll(0.2, forgetful=0.2)
            self._phones.cursor = self._phones.cursor if self._phones.chance.random() < 0.8 else None
            await asyncio.sleep(0)

    async def live(self, lines: int) -> set[str]:
        """Go on until so many answers came, then kill one of them and start another; what was left unanswered."""
        phones = self._phones
        listening = asyncio.create_task(self.listen())
        under_way = {asyncio.create_task(self.send(one)) for one in phones.unanswered.values()}
        while lines > 0:
            while len(under_way) < UNDER_WAY and (fresh := next(phones.new, None)):
                phones.unanswered[fresh["id"]] = phones.sent[fresh["id"]] = fresh
                under_way.add(asyncio.create_task(self.send(fresh)))
            done, under_way = await asyncio.wait(under_way, return_when=asyncio.FIRST_COMPLETED)
            assert all(one.result() for one in done), "a program ended by itself"
            lines -= len(done)
        await asyncio.sleep(phones.chance.uniform(0, 0.1))
        which = phones.chance.randrange(2)
        os.kill(self._programs[which].pid, signal.SIGKILL)
        await asyncio.gather(*under_way)
        listening.cancel()
        with suppress(asyncio.CancelledError):
            await listening
        await self._programs[which].close()
        self._programs[which] = await self._new()
        return set(phones.unanswered)

    @asynccontextmanager
    async def speaking(self) -> AsyncIterator[None]:
        """Under load that bears with refusals: each message is sent until it is answered, by one of the two."""
        ended, phones = asyncio.Event(), self._phones

        async def speak() -> None:
            while not ended.is_set() and (fresh := next(phones.new, None)):
                phones.unanswered[fresh["id"]] = phones.sent[fresh["id"]] = fresh
                while not await self.send(fresh):
                    await asyncio.sleep(AGAIN_S)

        listening = asyncio.create_task(self.listen())
        speaking = [asyncio.create_task(speak()) for _ in range(UNDER_WAY)]
        yield
        ended.set()
        await asyncio.gather(*speaking)
        listening.cancel()
        with suppress(asyncio.CancelledError):
            await listening

    async def more(self, count: int) -> None:
        """Wait until so many more are answered."""
        enough = len(self._phones.answers) + count
        async with asyncio.timeout(120):
            while len(self._phones.answers) < enough:
                await asyncio.sleep(0.005)

    def _on_its_way(self) -> int:
        (row,) = asked(self._look, "SELECT count(*) FROM letter WHERE cursor IS NOT NULL OR held_until IS NOT NULL")
        return int(row[0])

    async def finish(self, also: list[dict[str, str]]) -> None:
        """Take out all that waits through one, and let both end."""
        first, second = self._programs
        await second.stop()
        await first.finish(also, self._on_its_way)
        await asyncio.to_thread(self._parent.communicate)


def written(url: str) -> set[str]:
    """The messages of the gateway that are durable."""
    rows = asked(url, "SELECT message FROM heard WHERE message LIKE 'gate:%%'")
    return {row[0].removeprefix("gate:") for row in rows}


def asked(url: str, question: str) -> list[Any]:
    """What the database answers."""
    from storage.postgres_server import engine_for, url_of

    with engine_for(url_of(url)).connect() as connection:
        return list(connection.exec_driver_sql(question))


@pytest.mark.timeout(240 + 20 * KILLS)
async def test_one_of_two_is_killed_again_and_again(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Whichever is killed and whenever: every answered mark is there once, and every reminder came out, once."""
    with postgres.database() as url:
        phones = Phones(random.Random(20261125), messages())
        key = await prepared(url)
        two = Two(url, tmp_path, phones, key)
        await two.start()
        between: list[set[str]] = []
        for _ in range(KILLS):
            between.append(await two.live(phones.chance.randint(5, 40)) & written(url))
        await two.finish(phones.chance.sample([*phones.sent.values()], min(40, len(phones.sent))))
        await nothing_lost_or_doubled(url, phones)
    with capsys.disabled():
        print(f"\n{KILLS} kills of one of two, {sum(map(bool, between))} of them between commit and answer "
              f"({len(set().union(*between))} messages); "
              f"{len(phones.answers)} marks, {len(phones.came)} unasked messages ({phones.twice} came again), "
              "none lost, none doubled; "
              f"{phones.refused.total()} refused for now")
