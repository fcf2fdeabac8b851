"""The real service on an SQLite file, driven over pipes until it is killed. Started by `test_kill.py`.

To load its code takes longer than all that happens before a kill, so that is done once: each line on the standard
input, `DATABASE SEED IN OUT`, forks a process that opens the database and speaks through these two named pipes. With a
word on the command line that is how it syncs (SQLite's `synchronous`), instead of as it should.

Its first line is its process id. A line to it is a message: JSON with `id`, `sender`, `text`, `at`. A line from it is
`kept ID`, written as soon as the commit returned that made it durable, or `answered ID ANSWER`. Between the two it
idles for a moment now and then, so that a kill can fall there.
"""
from __future__ import annotations

import asyncio
import json
import os
import random
import signal
import sys
import time
from datetime import UTC, datetime

import storage.sqlite
from adapters.clock import SimulatedClock
from adapters.service import Service
from storage import open_store
from storage.sqlite_file import Database

CHANNEL = "pipe"
IDLE_S = 0.003
START = datetime(2026, 11, 24, 17, 0, tzinfo=UTC)


def out(*words: str) -> None:
    """One line, in one write: a kill leaves no half of it."""
    os.write(1, (" ".join(words) + "\n").encode())


class Announcing(Database):
    """The writer's connection; it says what became durable before anybody else can."""

    chance = random.Random(0)
    batch: tuple[str, ...] = ()

    def begin(self) -> None:
        """Before the first transaction, perhaps sync less than we should."""
        raw = self._connection.connection.dbapi_connection
        if len(sys.argv) > 1 and raw is not None and not raw.in_transaction:
            raw.execute(f"PRAGMA synchronous={sys.argv[1]}").close()
        super().begin()

    def expect(self, messages: list[str]) -> None:
        """Remember what this transaction is about."""
        self.batch = tuple(messages)
        super().expect(messages)

    def commit(self) -> None:
        """Commit, say so, and perhaps idle."""
        super().commit()
        for message in self.batch:
            out("kept", message.removeprefix(f"{CHANNEL}:"))
        self.batch = ()
        if self.chance.random() < 0.5:
            time.sleep(self.chance.uniform(0, IDLE_S))


async def handle(service: Service, clock: SimulatedClock, line: bytes) -> None:
    """One message, and its answer."""
    message = json.loads(line)
    at = datetime.fromisoformat(message["at"])
    clock.move_to(max(at, clock.now()))
    said = await service.hear(CHANNEL, message["sender"], text=message["text"], id=message["id"], sent_at=at)
    out("answered", message["id"], json.dumps([(one.seq, one.text, one.choice_ids()) for one in said]))


async def serve(path: str, incoming: str) -> None:
    """Handle what comes, until it ends."""
    reader = asyncio.StreamReader(limit=2**20)
    with open(incoming, "rb") as pipe:
        await asyncio.get_running_loop().connect_read_pipe(lambda: asyncio.StreamReaderProtocol(reader), pipe)
        store = open_store(path)
        service = Service(store, clock := SimulatedClock(START))
        tasks = set()
        while line := await reader.readline():
            tasks.add(task := asyncio.create_task(handle(service, clock, line)))
            task.add_done_callback(tasks.discard)
        await asyncio.gather(*tasks)
        await store.close()


def fork(path: str, seed: str, incoming: str, outgoing: str) -> None:
    """Another process, that serves and ends."""
    if os.fork():
        return
    Announcing.chance = random.Random(seed)
    storage.sqlite.Database = Announcing        # type: ignore[misc]
    os.dup2(os.open(outgoing, os.O_WRONLY), 1)
    out(str(os.getpid()))
    asyncio.run(serve(path, incoming))
    os._exit(0)


if __name__ == "__main__":
    signal.signal(signal.SIGCHLD, signal.SIG_IGN)       # nobody waits for those that were killed
    for asked in sys.stdin:
        fork(*json.loads(asked))
