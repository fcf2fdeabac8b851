"""kill -9 while a class is being marked: what was answered is there, once, whatever the moment.

`SPRUNG_KILLS` says how often (20 where it is not set). The moments are seeded; the machine adds its own chance.
"""
from __future__ import annotations

import json
import os
import random
import signal
import subprocess
import sys
from collections import Counter
from collections.abc import Iterable, Iterator
from contextlib import suppress
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from itertools import count, islice
from pathlib import Path
from typing import Any

import pytest

from adapters.halls import DEMO_HALL, read_folder
from adapters.service import Service
from bot.out.export import export
from storage import open_store

KILLS = int(os.environ.get("SPRUNG_KILLS", "20"))
UNDER_WAY = 12                  # so many messages wait for an answer at any time
PROGRAM = Path(__file__).with_name("crash_child.py")
START = datetime(2026, 11, 24, 17, 0, tzinfo=UTC)
CHILDREN = {                    # who marks whom, so that nobody's mark is another's second look
    "jo": ("ava", "ben", "chidi", "dara", "efa", "finn"),
    "sam": ("gus", "hana", "leo", "mia", "noor", "ivy"),
}
PHONES = {"jo-1": "jo", "jo-2": "jo", "sam-1": "sam", "sam-2": "sam"}


@dataclass
class Sender:
    """What the phones know: what they sent, what was answered, and what the program said it had written."""

    unanswered: dict[str, dict[str, str]] = field(default_factory=dict)
    sent: dict[str, dict[str, str]] = field(default_factory=dict)
    answers: dict[str, str] = field(default_factory=dict)
    kept: Counter[str] = field(default_factory=Counter)
    again: set[str] = field(default_factory=set)        # killed between the commit and the answer

    def hear(self, line: str) -> None:
        """One line of the program's output."""
        word, id_, *rest = line.rstrip("\n").split(" ", 2)
        if word == "kept":
            self.kept[id_] += 1
        else:
            self.unanswered.pop(id_, None)
            assert self.answers.setdefault(id_, rest[0]) == rest[0], "a message was answered in two ways"


def messages(skills: tuple[str, ...]) -> Iterator[dict[str, str]]:
    """Marks without end: each has an id and a second of its own, by which the export shows it."""
    for n in count():
        phone = tuple(PHONES)[n % len(PHONES)]
        children = CHILDREN[PHONES[phone]]
        child, skill = children[n // 4 % len(children)], skills[n // 24 % len(skills)]
        at = START + timedelta(seconds=n + 1)
        yield {"id": f"m{n}", "sender": phone, "text": f"{child} not yet {skill}", "at": at.isoformat()}


class Program:
    """One process with the service in it."""

    def __init__(self, loaded: subprocess.Popen[str], path: Path, seed: int, folder: Path | None = None) -> None:
        """`folder`: for the pipes, where they can't lie beside the database."""
        pipes = [str((folder or path.parent) / f"{seed}-{way}") for way in ("in", "out")]
        for pipe in pipes:
            os.mkfifo(pipe)
        assert loaded.stdin is not None
        loaded.stdin.write(json.dumps([str(path), str(seed), *pipes]) + "\n")
        loaded.stdin.flush()
        self.lines = open(pipes[1])             # noqa: SIM115 - closed by `rest`
        self.pid = int(self.lines.readline())
        self._in = open(pipes[0], "w")          # noqa: SIM115

    def send(self, several: Iterable[dict[str, str]]) -> None:
        """Hand these over."""
        self._in.write("".join(json.dumps(one) + "\n" for one in several))
        self._in.flush()

    def rest(self, *, killed: bool) -> list[str]:
        """End it, at once or when it has done what it was sent; what it said until then."""
        if killed:
            os.kill(self.pid, signal.SIGKILL)
        else:
            self._in.close()
        lines = self.lines.readlines()
        self.lines.close()
        with suppress(BrokenPipeError):
            self._in.close()
        return lines


def run(program: Program, sender: Sender, new: Iterator[dict[str, str]], lines: int) -> bool:
    """Redeliver what was not answered, go on until so many lines came back, and kill it.

    Did the kill fall between a commit and its answer?
    """
    program.send(sender.unanswered.values())
    for _ in range(lines):
        fresh = {one["id"]: one for one in islice(new, UNDER_WAY - len(sender.unanswered))}
        sender.unanswered |= fresh
        sender.sent |= fresh
        program.send(fresh.values())
        line = program.lines.readline()
        assert line, "the program ended by itself"
        sender.hear(line)
    for line in program.rest(killed=True):
        sender.hear(line)
    between = {id_ for id_ in sender.unanswered if sender.kept[id_]} - sender.again
    sender.again |= between
    return bool(between)


def finish(program: Program, sender: Sender, also: list[dict[str, str]]) -> None:
    """Redeliver what is left, and these that were answered before, and let it end by itself."""
    program.send([*sender.unanswered.values(), *also])
    for line in program.rest(killed=False):
        sender.hear(line)


async def prepared(path: Path) -> tuple[str, ...]:
    """The demo hall with Tuesday's lesson open; the skills that nobody of that class has."""
    hall = read_folder(DEMO_HALL)
    store = open_store(str(path))
    clock: Any = type("Clock", (), {"now": lambda self: START})()
    service = Service(store, clock)
    await store.load(hall, START - timedelta(days=1))
    for phone, person in PHONES.items():
        await store.meet("pipe", phone, hall.club.id, person)
    for text in ("start tuesday", "everyone"):
        await service.hear("pipe", "jo-1", text=text)
    await store.close()
    had = {skill for line in hall.roster if line.class_id == "tuesday" for skill in line.has}
    return tuple(skill.name for skill in hall.scheme.skills.values() if skill.id not in had)[:8]


async def marks(path: Path) -> Counter[int]:
    """How often the mark of each message is in the export."""
    store = open_store(str(path))
    (club,) = await store.clubs()
    found = export(await store.snapshot(club.id), START + timedelta(hours=1))["marks"]
    await store.close()
    return Counter(round((datetime.fromisoformat(one["judged_at"]) - START).total_seconds()) - 1 for one in found)


@pytest.mark.timeout(60 + 6 * KILLS)
async def test_no_answered_mark_is_lost_or_doubled(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Killed again and again in mid-lesson, every answered mark is exported exactly once, and none is there twice."""
    path, chance, sender = tmp_path / "club.sqlite", random.Random(20261124), Sender()
    new = messages(await prepared(path))
    loaded = subprocess.Popen(
        [sys.executable, str(PROGRAM)], stdin=subprocess.PIPE, text=True,
        env={**os.environ, "PYTHONPATH": str(PROGRAM.parents[2])},
    )
    between = sum(run(Program(loaded, path, n), sender, new, chance.randint(1, 60)) for n in range(KILLS))
    finish(Program(loaded, path, KILLS), sender, chance.sample([*sender.sent.values()], min(40, len(sender.sent))))
    loaded.communicate()
    assert not sender.unanswered
    assert await marks(path) == Counter({int(id_[1:]): 1 for id_ in sender.answers})
    assert between > 0, "no kill fell between a commit and its answer"
    with capsys.disabled():
        print(f"\n{KILLS} kills, {between} of them between a commit and its answer ({len(sender.again)} messages); "
              f"{len(sender.answers)} marks, none lost, none doubled")
