"""A disk that fills up under load, and is freed: nothing that was answered is lost, and nobody starts anything anew."""
from __future__ import annotations

import asyncio
import random
from collections.abc import Iterator
from itertools import islice
from pathlib import Path

import pytest
from aiohttp import ClientSession

from adapters.http.problems import MEDIA_TYPE
from adapters.scheduler import AFTER_A_FAULT
from tests.adapters.http.program import Program
from tests.adapters.http.test_kill_serve import (
    CHILDREN,
    START,
    Phones,
    messages,
    nothing_lost_or_doubled,
    prepared,
)
from tests.disks import SmallDisk, small_disk

SIZE = 12 * 2**20
UNDER_WAY = 12                  # so many messages wait for an answer at any time
CLOCK = f"{START:%Y-%m-%d %H:%M:%S}"
ROUNDS = 3                      # so often it fills up
RETRIED_S = AFTER_A_FAULT.total_seconds() + 1     # what was due while it was full comes within that


@pytest.fixture
def disk(tmp_path: Path) -> Iterator[SmallDisk]:
    """A small disk."""
    with small_disk(tmp_path / "disk", SIZE) as made:
        yield made


class Load:
    """A gateway that always has messages under way."""

    def __init__(self, session: ClientSession) -> None:
        self._session = session
        self.phones = Phones(random.Random(20261124), messages())
        self.refusals = 0

    async def send(self, one: dict[str, str]) -> None:
        """Send one; what is refused stays unanswered, to be sent again."""
        self.phones.unanswered[one["id"]] = self.phones.sent[one["id"]] = one
        async with self._session.post("/v1/messages", json={**one, "sent_at": START.isoformat()}) as response:
            found = await response.json()
        if response.status == 200:
            self.phones.answered(one["id"], found)
            return
        self.refusals += 1
        assert response.status == 503, found
        assert response.content_type == MEDIA_TYPE
        assert int(response.headers["Retry-After"]) > 0
        assert found["detail"] == "That could not be saved just now. Please send it again in a moment."

    async def until_refused(self, disk: SmallDisk, but: int) -> None:
        """Fill the disk in the middle of it, and go on until nothing is taken any more."""
        new = self.phones.new
        await self._several(islice(new, 4 * UNDER_WAY))
        disk.fill(but)
        while True:
            before = len(self.phones.answers)
            await self._several(islice(new, 2 * UNDER_WAY))
            if len(self.phones.answers) == before:
                return

    async def again(self) -> int:
        """Send all that was refused once more; how much still is."""
        await self._several(iter([*self.phones.unanswered.values()]))
        return len(self.phones.unanswered)

    async def _several(self, several: Iterator[dict[str, str]]) -> None:
        async def phone() -> None:
            for one in several:
                await self.send(one)

        await asyncio.gather(*(phone() for _ in range(UNDER_WAY)))

    async def taken_out(self) -> int:
        """Take out what comes unasked within a while, and say that it is delivered; how much that was."""
        async with self._session.get("/v1/outbox", params={"wait": str(RETRIED_S)}) as response:
            found = (await response.json())["messages"]
        for one in found:
            self.phones.heard(one)
            async with self._session.post(f"/v1/outbox/{one['id']}/delivered") as response:
                assert response.status == 204
        return len(found)


async def test_a_disk_that_fills_up_loses_nothing(
    disk: SmallDisk, tmp_path: Path, capsys: pytest.CaptureFixture[str],
) -> None:
    """What is answered is kept, what can't be kept is said so in a sentence, and all goes on once there is room."""
    database = disk.folder / "club.sqlite"
    key = await prepared(str(database))
    program = Program(database, "--clock", CLOCK, env={"SPRUNG_PLANNERS": "0", "HOME": str(tmp_path)})
    async with ClientSession(program.base, headers={"Authorization": f"Bearer {key}"}) as session:
        load = Load(session)
        for n in range(ROUNDS):
            await load.until_refused(disk, but=13 * n)
            assert await load.again(), "it is still full, but something is taken"
            async with session.get("/healthz") as alive:
                assert alive.status == 200
            disk.free()
            assert not await load.again(), "there is room, but it is not used"
        while await load.taken_out():
            pass
    code, said = program.stop()
    assert code == 0, said
    assert "there is no room on the disk" in said
    assert not any(child in said for child in CHILDREN), "a child is named in the log"
    await nothing_lost_or_doubled(str(database), load.phones)
    with capsys.disabled():
        print(f"\na disk that filled up {ROUNDS} times: {load.refusals} refusals, {len(load.phones.answers)} marks "
              f"and {len(load.phones.came)} unasked messages, none lost, none doubled")
