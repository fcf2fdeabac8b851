"""Asked to stop with a message in hand, and copied while it is written to: what was answered is there."""
from __future__ import annotations

import asyncio
import json
import random
import signal
import sqlite3
from collections.abc import AsyncIterator
from contextlib import suppress
from itertools import islice
from pathlib import Path
from typing import Any

import pytest
from aiohttp import ClientConnectionError, ClientSession

from tests.adapters.http.program import Program, command
from tests.adapters.http.test_kill_serve import START, Phones, messages, prepared

CLOCK = f"{START:%Y-%m-%d %H:%M:%S}"
UNDER_WAY = 10
SETTINGS = {"SPRUNG_PLANNERS": "0"}


class Running:
    """`sprung serve` on a club of five classes, and a gateway in front of it."""

    def __init__(self, database: Path, key: str) -> None:
        self.database = database
        self.program = Program(database, "--clock", CLOCK, env=SETTINGS)
        self._headers = {"Authorization": f"Bearer {key}"}
        self.session = ClientSession(self.program.base, headers=self._headers)
        self.phones = Phones(random.Random(20261124), messages())

    async def send(self, one: dict[str, str]) -> int:
        """Send one; the status."""
        async with self.session.post("/v1/messages", json={**one, "sent_at": START.isoformat()}) as response:
            if response.status == 200:
                self.phones.answered(one["id"], await response.json())
                self.phones.sent[one["id"]] = one
            return response.status

    async def on(self, database: Path) -> None:
        """End, and begin anew on that file."""
        await self.session.close()
        self.program = Program(database, "--clock", CLOCK, env=SETTINGS)
        self.session = ClientSession(self.program.base, headers=self._headers)


@pytest.fixture
async def running(tmp_path: Path) -> AsyncIterator[Running]:
    """It runs."""
    database = tmp_path / "club.sqlite"
    made = Running(database, await prepared(str(database)))
    yield made
    await made.session.close()


def marks(database: Path) -> set[tuple[str, str]]:
    """First name and class of the child, and skill, of every mark that `sprung export` prints."""
    done = command(database, "export", "--json")
    assert done.returncode == 0, done.stderr
    return {(one["child"], one["skill"]) for one in json.loads(done.stdout)["marks"]}


async def test_what_is_in_hand_is_answered_before_the_end(running: Running) -> None:
    """Asked to stop while messages wait for the disk, it answers them first, durably, and ends in good order."""
    lock = sqlite3.connect(running.database, isolation_level=None)
    lock.execute("BEGIN IMMEDIATE")
    new = [*islice(running.phones.new, UNDER_WAY)]
    under_way = [asyncio.create_task(running.send(one)) for one in new]
    async with running.session.get("/metrics"):        # they are there by now: what came before this was read before
        pass
    running.program.process.send_signal(signal.SIGTERM)
    for _ in range(3):                                  # whoever answers these has heard it
        with suppress(ClientConnectionError):
            async with ClientSession() as stranger, stranger.get(f"{running.program.base}/healthz"):
                pass
    assert not any(one.done() for one in under_way)
    lock.execute("ROLLBACK")
    lock.close()
    assert await asyncio.gather(*under_way) == [200] * UNDER_WAY
    _, said = await asyncio.to_thread(running.program.process.communicate, timeout=30)
    assert running.program.process.returncode == 0, said
    assert len(marks(running.database)) == UNDER_WAY
    before = dict(running.phones.answers)
    await running.on(running.database)
    assert [await running.send(one) for one in new] == [200] * UNDER_WAY
    assert running.phones.answers == before


async def test_a_copy_made_under_load_is_whole(running: Running, tmp_path: Path) -> None:
    """`sprung backup` beside a program that is written to: all that was answered before it began is in the copy."""
    stop = asyncio.Event()

    async def phone() -> None:
        while not stop.is_set():
            assert await running.send(next(running.phones.new)) == 200

    phones = [asyncio.create_task(phone()) for _ in range(UNDER_WAY)]
    while len(running.phones.answers) < 3 * UNDER_WAY:
        await asyncio.sleep(0.01)
    before: dict[str, Any] = dict(running.phones.answers)
    copied = await asyncio.to_thread(command, running.database, "backup", str(tmp_path / "copy.sqlite"))
    assert copied.returncode == 0, copied.stderr
    stop.set()
    await asyncio.gather(*phones)
    after = len(running.phones.answers)
    assert after > len(before), "nothing was written meanwhile"
    whole, copy = marks(running.database), marks(tmp_path / "copy.sqlite")
    assert len(whole) == after
    assert copy <= whole
    assert len(copy) >= len(before)
    running.program.stop()
    await running.on(tmp_path / "copy.sqlite")
    assert {await running.send(running.phones.sent[id_]) for id_ in before} == {200}     # and in the same words
    assert len(marks(tmp_path / "copy.sqlite")) == len(copy)
