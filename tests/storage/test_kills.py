"""A program that is killed in the middle of its work has kept all that it answered, and nothing twice."""
from __future__ import annotations

import os
import random
import subprocess
import sys
import time
from collections import Counter
from dataclasses import dataclass, field
from pathlib import Path

from bot.facts import Mark
from bot.step import Snapshot, Store
from storage import open_store
from tests.storage.killed import SENDERS
from tests.storage.steps import a_mark, heard, settle

ROOT = Path(__file__).parents[2]
KILLS = int(os.environ.get("SPRUNG_TEST_KILLS", "20"))


@dataclass
class Known:
    """What the sender knows: the numbers it sent, and those that were answered."""

    sent: set[int] = field(default_factory=set)
    done: set[int] = field(default_factory=set)


def run_and_kill(path: Path, known: Known, chance: random.Random) -> int:
    """Start the program, kill it at some moment after its first answer; how many it had sent without an answer."""
    first = max(known.sent, default=0) + 1
    program = subprocess.Popen(
        [sys.executable, "-m", "tests.storage.killed", str(path), str(first)],
        cwd=ROOT, env={**os.environ, "PYTHONPATH": str(ROOT)}, stdout=subprocess.PIPE, text=True,
    )
    assert program.stdout is not None
    lines = [program.stdout.readline()]
    while not lines[-1].startswith("done"):
        lines.append(program.stdout.readline())
        assert lines[-1], "the program ended by itself"
    time.sleep(chance.uniform(0, 0.08))
    program.kill()
    lines += program.communicate()[0].splitlines()
    before = len(known.sent - known.done)
    for line in lines:
        word, _, number = line.strip().partition(" ")
        if number.isdigit():
            (known.sent if word == "sent" else known.done).add(int(number))
    return len(known.sent - known.done) - before


def marks(snapshot: Snapshot) -> Counter[int]:
    """How often each message is on record."""
    return Counter(
        int(one.message.removeprefix("bench:m")) for one in snapshot.record if isinstance(one.fact, Mark)
    )


async def test_what_was_answered_outlives_a_kill(tmp_path: Path) -> None:
    """Killed again and again: each answered mark is there once, none is there twice, and no answer has a hole."""
    path, known, chance = tmp_path / "club.sqlite", Known(), random.Random(7)
    await (await settle(open_store(str(path)))).close()
    between = sum(run_and_kill(path, known, chance) > 0 for _ in range(KILLS))
    store = open_store(str(path))
    kept = marks(await store.snapshot("bench"))
    assert set(kept.values()) == {1}
    assert known.done <= kept.keys() <= known.sent
    unanswered = known.sent - known.done
    written = len(unanswered & kept.keys())
    print(f"{KILLS} kills, {between} with messages under way; {len(known.done)} answered, {written} kept unanswered")
    assert between > 0, "no kill fell between a message and its answer"
    assert len(unanswered) <= KILLS * SENDERS
    await every_message_again(store, known)
    await store.close()


async def every_message_again(store: Store, known: Known) -> None:
    """All are sent once more, as a sender does that got no answer: each is there once, its answer the first one."""
    answers = {number: await store.step(heard(number, str(number)), a_mark) for number in sorted(known.sent)}
    snapshot = await store.snapshot("bench")
    assert marks(snapshot) == Counter(dict.fromkeys(known.sent, 1))
    assert all(said.text == f"answer to {number}" for number, (said,) in answers.items())
    assert sorted(said.seq for (said,) in answers.values()) == list(range(1, len(known.sent) + 1))
    assert snapshot.books["tue"].standing("ava", "hop").tries == len(known.sent)
