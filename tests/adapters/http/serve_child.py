"""`sprung serve`, started again and again to be killed. Started by `test_kill_serve.py`.

To load its code takes longer than all that happens before a kill, so that is done once: each line on the standard
input, JSON `[DATABASE, CLOCK, SEED, SAID, KEPT]`, forks a process that runs the command. What it says goes to the file
SAID, with its process id first. The id of each message is written to the file KEPT as soon as the commit returned that
made it durable, before anybody else can know; then the writer idles for a moment now and then, so that a kill can fall
between the two.
"""
from __future__ import annotations

import contextlib
import ctypes
import json
import os
import random
import signal
import sys
import time
from typing import Any

import adapters.http.serve  # noqa: F401 - loaded once, before the forks
import storage.sqlite
from adapters.cli import main
from storage.sqlite_file import Database

with contextlib.suppress(ImportError):      # where there is no driver, nobody asks for that database
    from storage import postgres_server

PR_SET_PDEATHSIG = 1
IDLE_S = 0.01
IDLE_ON_A_SERVER_S = 0.1        # where others go on meanwhile


class Announcing(Database):
    """The writer's connection; it says what became durable before anybody else can."""

    chance = random.Random(0)
    kept = 2
    batch: tuple[str, ...] = ()

    def expect(self, messages: list[str]) -> None:
        """Remember what this transaction is about."""
        self.batch = tuple(messages)
        super().expect(messages)

    def commit(self) -> None:
        """Commit, say so, and perhaps idle."""
        super().commit()
        if self.batch:
            os.write(self.kept, "".join(f"{one.partition(':')[2]}\n" for one in self.batch).encode())
        self.batch = ()
        if self.chance.random() < 0.5:
            time.sleep(self.chance.uniform(0, IDLE_S))


def _idle_after_commits(chance: random.Random) -> None:
    """On a server many transactions end side by side; who looks into the database sees what became durable."""
    commit = postgres_server.Line.commit

    def idling(self: postgres_server.Line, *given: Any) -> None:
        commit(self, *given)
        if chance.random() < 0.5:
            time.sleep(chance.uniform(0, IDLE_ON_A_SERVER_S))

    postgres_server.Line.commit = idling        # type: ignore[method-assign]


def fork(path: str, clock: str, seed: str, said: str, kept: str) -> None:
    """Another process, that serves until it is killed or asked to stop, or until this one is gone."""
    if os.fork():
        return
    with contextlib.suppress(AttributeError):       # Linux only
        ctypes.CDLL(None).prctl(PR_SET_PDEATHSIG, signal.SIGKILL)
    Announcing.chance = random.Random(seed)
    if path.startswith("postgresql:"):
        _idle_after_commits(Announcing.chance)
    Announcing.kept = os.open(kept, os.O_CREAT | os.O_APPEND | os.O_WRONLY)
    storage.sqlite.Database = Announcing        # type: ignore[misc]
    out = os.open(said, os.O_CREAT | os.O_TRUNC | os.O_WRONLY)
    os.write(out, f"{os.getpid()}\n".encode())
    os.dup2(out, 1)
    os.dup2(out, 2)
    main(["serve", "--port", "0", "--db", path, "--clock", clock], prog_name="sprung")


if __name__ == "__main__":
    signal.signal(signal.SIGCHLD, signal.SIG_IGN)       # nobody waits for those that were killed
    for asked in sys.stdin:
        fork(*json.loads(asked))
