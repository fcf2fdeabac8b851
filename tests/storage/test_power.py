"""The light goes out while a class is being marked: what was answered is there, though the disk kept only what it must.

A kill alone shows nothing of this: what a killed program wrote and never synced is still in the machine's memory.
`SPRUNG_KILLS` says how often (6 where it is not set).
"""
from __future__ import annotations

import asyncio
import os
import random
import subprocess
import sys
from collections import Counter
from collections.abc import Iterator
from pathlib import Path

import pytest

from bot.port import Store
from bot.step import Refused
from storage import open_store
from storage.jobs import NOT_SAVED
from tests.disks import LossyDisk, lossy_disk
from tests.storage.steps import a_mark, heard, settle
from tests.storage.test_kill import PROGRAM, Program, Sender, finish, marks, messages, prepared, run

CUTS = int(os.environ.get("SPRUNG_KILLS", "6"))


@pytest.fixture
def disk(tmp_path: Path) -> Iterator[LossyDisk]:
    """A disk that forgets what was not synced."""
    with lossy_disk(tmp_path / "disk") as made:
        yield made


async def marked(disk: LossyDisk, pipes: Path, cuts: int, *words: str) -> Sender:
    """Mark, cut the power, and go on, so often; what was sent and answered."""
    path, chance, sender = disk.folder / "club.sqlite", random.Random(20261124), Sender()
    new = messages(await prepared(path))
    loaded = subprocess.Popen(
        [sys.executable, str(PROGRAM), *words], stdin=subprocess.PIPE, text=True,
        env={**os.environ, "PYTHONPATH": str(PROGRAM.parents[2])},
    )
    for n in range(cuts):
        run(Program(loaded, path, n, pipes), sender, new, chance.randint(1, 60))
        disk.light_out()
    finish(Program(loaded, path, cuts, pipes), sender, [])
    loaded.communicate()
    return sender


@pytest.mark.timeout(60 + 10 * CUTS)
async def test_what_was_answered_outlives_the_light(
    disk: LossyDisk, tmp_path: Path, capsys: pytest.CaptureFixture[str],
) -> None:
    """However often the power is cut in mid-lesson, every answered mark is there exactly once."""
    sender = await marked(disk, tmp_path, CUTS)
    disk.light_out()
    assert not sender.unanswered
    assert await marks(disk.folder / "club.sqlite") == Counter({int(id_[1:]): 1 for id_ in sender.answers})
    with capsys.disabled():
        print(f"\nthe power cut {CUTS} times: {len(sender.answers)} marks, none lost, none doubled")


@pytest.mark.parametrize("synchronous", ["OFF", "NORMAL"])
async def test_with_less_syncing_it_would_not(disk: LossyDisk, tmp_path: Path, synchronous: str) -> None:
    """The same with a weaker `synchronous` of SQLite's loses what was answered: the disk is one that can show it."""
    try:
        sender = await marked(disk, tmp_path, 3, synchronous)
        found = await marks(disk.folder / "club.sqlite")
    except (Refused, AssertionError):
        return          # nothing is left that could be opened
    assert len(found) < len(sender.answers)


@pytest.fixture
async def store(disk: LossyDisk) -> Store:
    """A store on that disk, with one club and one coach."""
    return await settle(open_store(str(disk.folder / "club.sqlite")))


async def test_where_a_commit_fails_all_of_it_can_be_sent_again(store: Store, disk: LossyDisk) -> None:
    """A disk that can't sync: none of a batch is answered, all hear one sentence, and all is taken once it can."""
    def send(several: range) -> object:
        return asyncio.gather(*(store.step(heard(n), a_mark) for n in several), return_exceptions=True)

    await send(range(5))
    disk.fail()
    failed = await send(range(5, 25))
    assert {str(one) for one in failed} == {NOT_SAVED}
    assert all(isinstance(one, Refused) for one in failed)
    disk.fail()
    again = await send(range(25))
    assert [one[0].seq for one in again] == list(range(1, 26))
    disk.light_out()
    there = open_store(str(disk.folder / "club.sqlite"))
    snapshot = await there.snapshot("bench")
    assert snapshot.books["tue"].standing("ava", "hop").tries == 25
    assert len([one for one in snapshot.record if one.fact.kind == "mark"]) == 25
    await there.close()
