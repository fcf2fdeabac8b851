"""The message API over real HTTP, on one core: `python tests/bench/budget_http.py`  (needs the extra `bench`)

One sender: how long a message takes, sent to answered, durably (budget: p50 10 ms). A hundred senders: how many
messages of four marks a second, beside
(a) the same API with the same keys, models and limits, whose handler only reads the text and answers (budget: 0.4);
(b) the same dialogue on aiogram, a messenger framework, fed its updates directly in the process, with no HTTP at all,
    every mark with a commit of its own (`mark_by_mark.py`; budget: ten times that).
The server has one core, whoever sends the other. Each figure is also given for each second of the server's CPU.
"""
from __future__ import annotations

import asyncio
import contextlib
import json
import os
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Awaitable, Callable, Iterator
from datetime import UTC, datetime
from itertools import count
from pathlib import Path
from typing import Any

sys.path.insert(0, str(Path(__file__).parents[2]))

from adapters.http.keys import new_key
from adapters.http.limits import Limits, Rate
from adapters.http.serve import Served
from adapters.service import Service
from bot.step import Said
from bot.talk.reading import Context, Vocabulary, read
from storage import open_store
from tests.bench.budget_hall import WATCHED, Floor, hall, lines, percentile
from tests.bench.budget_rate import rate as in_process
from tests.bench.mark_by_mark import MarkByMark

CLUBS, CLASSES, ROUNDS = 10, 10, int(os.environ.get("SPRUNG_ROUNDS", "5"))
FRAMEWORK_SENDERS = 12  # of the senders, so many where every mark has its own commit: it takes long enough
FREE = Rate(1e9, 10**9)
Measured = tuple[float, float]      # messages a second, and for each second of CPU


# --- the server, a process of its own -------------------------------------------------------------------

class Reading(Service):
    """Reads the text and says what it understood; asks no store."""

    def __init__(self, *given: Any) -> None:
        super().__init__(*given)
        one = hall("club", CLASSES)
        children = tuple((f"c0-{n}", line.child) for n, line in enumerate(one.roster) if line.class_id == "c0")
        self._words = Vocabulary(children, one.scheme, one.club.classes)

    async def hear(self, channel: str, sender: str, **given: Any) -> tuple[Said, ...]:     # type: ignore[override]
        """What was understood, as an answer."""
        now = self.clock.now()
        found = read(given["text"], Context(vocabulary=self._words, now=now, skill=WATCHED))
        return (Said("club", sender, 1, now, str(found)[:200], (), given["id"]),)


async def serve(kind: str, path: str, clubs: int, classes: int) -> None:
    """Serve; on each line of the standard input let 90 seconds pass, and say how much CPU was used until now."""
    floor = Floor(open_store(path))
    await floor.fill(clubs, classes)
    service = (Reading if kind == "read" else Service)(floor.store, floor.clock)
    served = Served(service, limits=Limits(FREE, FREE, FREE, FREE))
    made = await new_key(floor.store, "gate", None)
    print(await served.start(), made.key, flush=True)
    while await asyncio.to_thread(sys.stdin.readline):
        floor.later(90)
        print(time.process_time(), flush=True)
    await served.stop()
    await floor.store.close()


class Server:
    """That process, and the way to it."""

    def __init__(self, kind: str, path: Path, clubs: int, classes: int) -> None:
        self._process = subprocess.Popen(
            [sys.executable, __file__, kind, str(path), str(clubs), str(classes)], text=True,
            stdin=subprocess.PIPE, stdout=subprocess.PIPE, preexec_fn=lambda: os.sched_setaffinity(0, {0}),
        )
        assert self._process.stdout is not None
        port, self._key = self._process.stdout.readline().split()
        self.port = int(port)

    def later(self) -> float:
        """Time passes there; the CPU that it used until now."""
        assert self._process.stdin is not None
        assert self._process.stdout is not None
        self._process.stdin.write("\n")
        self._process.stdin.flush()
        return float(self._process.stdout.readline())

    def request(self, sender: str, id_: str, text: str) -> bytes:
        """A message, as it goes over the line."""
        body = json.dumps({"id": id_, "channel": "bench", "sender": sender, "text": text,
                           "sent_at": datetime(2026, 11, 24, 17, tzinfo=UTC).isoformat()}).encode()
        return (f"POST /v1/messages HTTP/1.1\r\nHost: here\r\nAuthorization: Bearer {self._key}\r\n"
                f"Content-Type: application/json\r\nContent-Length: {len(body)}\r\n\r\n").encode() + body

    def close(self) -> None:
        """End it."""
        self._process.communicate()


@contextlib.contextmanager
def serving(kind: str, path: Path, clubs: int, classes: int) -> Iterator[Server]:
    """A server for a while."""
    server = Server(kind, path, clubs, classes)
    try:
        yield server
    finally:
        server.close()


# --- whoever sends --------------------------------------------------------------------------------------

async def send(server: Server, sender: str, texts: list[str], name: str) -> list[float]:
    """One sender on one connection, the next text as soon as the last is answered; how long each took, in ms."""
    reader, writer = await asyncio.open_connection("127.0.0.1", server.port)
    took = []
    for n, text in enumerate(texts):
        request = server.request(sender, f"{sender}-{name}-{n}", text)
        began = time.perf_counter()
        writer.write(request)
        head = await reader.readuntil(b"\r\n\r\n")
        assert head.startswith(b"HTTP/1.1 200"), head
        length = int(head.lower().split(b"content-length: ")[1].split(b"\r\n")[0])
        await reader.readexactly(length)
        took.append((time.perf_counter() - began) * 1e3)
    writer.close()
    return took


async def rate(server: Server, senders: list[str], texts: list[str]) -> Measured:
    """All of them at once."""
    half, took, cpu = len(texts) // 2, 0.0, 0.0
    for name, part in (("first", texts[:half]), ("second", texts[half:])):
        used, began = server.later(), time.perf_counter()
        await asyncio.gather(*(send(server, sender, part, name) for sender in senders))
        took += time.perf_counter() - began
        cpu += server.later() - used
    count = len(senders) * len(texts)
    return count / took, count / cpu


def over_http(kind: str, path: Path) -> Measured:
    """A hundred senders."""
    senders = [f"club-{n}/coach-{m}" for n in range(CLUBS) for m in range(CLASSES)]
    with serving(kind, path, CLUBS, CLASSES) as server:
        return asyncio.run(rate(server, senders, list(lines())))


def alone(path: Path) -> tuple[float, float]:
    """One sender: the median and the 95th percentile, in ms."""
    with serving("real", path, 1, 1) as server:
        took = asyncio.run(send(server, "club-0/coach-0", list(lines()), "alone"))
    return statistics.median(took), percentile(took, 0.95)


# --- the framework --------------------------------------------------------------------------------------

def on_aiogram(floor: Floor) -> Callable[[str, str], Awaitable[str]]:
    """The dialogue behind aiogram's dispatcher, as one writes it: a router, a handler, an answer returned from it."""
    from aiogram import Bot, Dispatcher, F, Router
    from aiogram.types import Message, Update

    router = Router()

    @router.message(F.text)
    async def typed(message: Message) -> Any:
        return message.answer(await floor.say(floor.senders[message.chat.id], message.text or ""))

    bot, dispatcher = Bot("1:x"), Dispatcher(disable_fsm=True)      # what is remembered of a talk is in our store
    dispatcher.include_router(router)
    ids = {sender: n for n, sender in enumerate(floor.senders)}
    # Each update has a number of its own, as a messenger gives it: aiogram looks updates up by it, and takes
    # milliseconds to tell apart those that share one.
    numbers = count(1)

    async def handle(sender: str, text: str) -> str:
        person, number = ids[sender], next(numbers)
        message = {"message_id": number, "date": 1795539791, "chat": {"id": person, "type": "private"},
                   "from": {"id": person, "is_bot": False, "first_name": "x"}, "text": text}
        update = Update.model_validate({"update_id": number, "message": message}, context={"bot": bot})
        return (await dispatcher.feed_update(bot, update)).text

    return handle


async def framework(path: Path) -> Measured:
    """Whole lessons of some of the senders, in the process itself."""
    floor = Floor(MarkByMark(str(path)))
    await floor.fill(CLUBS, CLASSES)
    handle, texts, senders = on_aiogram(floor), list(lines()), floor.senders[:FRAMEWORK_SENDERS]
    found = await in_process(handle, senders, texts, lambda: floor.later(90))
    await floor.store.close()
    return found


def on_one_core(path: Path) -> Measured:
    """The framework, on the core that the server had."""
    os.sched_setaffinity(0, {0})
    try:
        return asyncio.run(framework(path))
    finally:
        os.sched_setaffinity(0, {1})


def main() -> None:
    """Print medians of the rounds, and of the ratios within each."""
    os.sched_setaffinity(0, {1})
    waits, rounds = [], []
    for turn in range(ROUNDS):
        with tempfile.TemporaryDirectory() as folder:
            room = Path(folder)
            waits.append(alone(room / "alone.sqlite"))
            rounds.append((over_http("real", room / "real.sqlite"), over_http("read", room / "read.sqlite"),
                           on_one_core(room / "framework.sqlite")))
        print(f"round {turn + 1}: p50 {waits[-1][0]:.2f} ms; "
              + ", ".join(f"{by_clock:,.0f}/s" for by_clock, _ in rounds[-1]), file=sys.stderr)
    p50, p95 = (statistics.median(one[n] for one in waits) for n in (0, 1))
    print(f"one sender over HTTP: p50 {p50:.2f} ms, p95 {p95:.2f} ms (budget p50 10 ms; {ROUNDS} rounds)")
    for unit, at in (("by the clock", 0), ("for each second of the server's CPU", 1)):
        durable, reading, commits = (statistics.median(one[n][at] for one in rounds) for n in range(3))
        to_read, to_framework = (statistics.median(one[0][at] / one[n][at] for one in rounds) for n in (1, 2))
        print(f"{unit}: {durable:,.0f} durable messages of four marks ({CLUBS * CLASSES} senders, {ROUNDS} rounds); "
              f"only read and answered {reading:,.0f}: {to_read:.2f} of it (budget 0.4); "
              f"aiogram, a commit for every mark {commits:,.0f}: {to_framework:.1f} times that (budget 10)")


if __name__ == "__main__":
    if len(sys.argv) > 1:
        asyncio.run(serve(sys.argv[1], sys.argv[2], int(sys.argv[3]), int(sys.argv[4])))
    else:
        main()
