"""A PostgreSQL server that goes away, and lines that are cut: what was answered is there once, the rest comes again.

`SPRUNG_KILLS` says how often each goes away under load (4 where it is not set). The moments are seeded; the machine
adds its own chance.
"""
from __future__ import annotations

import asyncio
import os
import random
import signal
from collections import Counter
from collections.abc import AsyncIterator, Awaitable, Callable, Iterator
from contextlib import asynccontextmanager, contextmanager, suppress
from datetime import timedelta
from typing import Any

import pytest

from bot.port import Store
from bot.step import Refused, Said
from storage import lanes, migrations, open_store
from tests import postgres
from tests.storage.steps import NOW, a_mark, heard, settle

KILLS = int(os.environ.get("SPRUNG_KILLS", "4"))
PHONES = 6              # so many send at once, each the next message once the last is answered
A_WHILE_S = 0.02


@pytest.fixture(scope="module")
def server() -> Iterator[postgres.Server]:
    """A server that syncs its disk and can be reached over TCP too, to be mistreated."""
    postgres.require()
    made = postgres.Server(f"port={postgres.free_port()}", "listen_addresses=127.0.0.1", "wal_sync_method=fdatasync")
    yield made
    made.close()


@pytest.fixture
def name(server: postgres.Server) -> Iterator[str]:
    """An empty database on it."""
    taken = server.take()
    yield taken
    server.give_back(taken)


class Phones:
    """Each marks Ava again and again, through either of two programs, and sends again what was refused."""

    def __init__(self, stores: tuple[Store, ...], seed: int) -> None:
        self.chance = random.Random(seed)
        self.answers: dict[int, tuple[Said, ...]] = {}
        self.refused: Counter[str] = Counter()
        self._stores, self._next, self._ended = stores, 0, False

    @asynccontextmanager
    async def speaking(self) -> AsyncIterator[None]:
        """Under load; at the end all that was sent is answered."""
        phones = [asyncio.create_task(self._speak()) for _ in range(PHONES)]
        yield
        self._ended = True
        await asyncio.gather(*phones)

    async def _speak(self) -> None:
        while not self._ended:
            self._next += 1
            await self.say(self._next)

    async def say(self, number: int) -> None:
        """One message, until it is answered."""
        while number not in self.answers:
            try:
                self.answers[number] = await self.chance.choice(self._stores).step(heard(number), a_mark)
            except Refused as refused:
                self.refused[str(refused)] += 1
                await asyncio.sleep(A_WHILE_S)

    async def more(self, count: int) -> None:
        """Wait until so many more are answered."""
        enough = len(self.answers) + count
        async with asyncio.timeout(60):
            while len(self.answers) < enough:
                await asyncio.sleep(0.001)

    async def all_is_there_once(self, store: Store) -> None:
        """Each answered message is one mark, one answer, one number."""
        for number in self.chance.sample(sorted(self.answers), min(20, len(self.answers))):
            assert await store.step(heard(number), a_mark) == self.answers[number]
        after = await store.snapshot("bench")
        marks = Counter(one.message for one in after.record if one.message.startswith("bench:m"))
        assert marks == Counter(f"bench:m{n}" for n in self.answers)
        assert [one.seq for one in after.record] == list(range(1, len(after.record) + 1))
        assert sorted(one.seq for (one,) in self.answers.values()) == list(range(1, len(self.answers) + 1))
        assert after.books["tue"].standing("ava", "hop").tries == len(self.answers)


@asynccontextmanager
async def two_programs(url: str, seed: int) -> AsyncIterator[tuple[Phones, Store]]:
    """Two programs and the phones that speak to both."""
    first = await settle(open_store(url))
    second = open_store(url)
    yield Phones((first, second), seed), first
    await first.close()
    await second.close()


Harm = Callable[[postgres.Server, str, random.Random], Awaitable[None]]


async def restarted(server: postgres.Server, name: str, chance: random.Random) -> None:
    """The server is started again, in order or as if the light went out."""
    await asyncio.to_thread(server.stop, chance.choice((signal.SIGINT, signal.SIGQUIT)))
    await asyncio.sleep(chance.uniform(0, 0.3))
    server.launch()
    await asyncio.to_thread(server.wait)


async def thrown_out(server: postgres.Server, name: str, chance: random.Random) -> None:
    """Some connections are ended by whoever runs the server."""
    await asyncio.to_thread(
        server.run, "postgres",
        f"SELECT pg_terminate_backend(pid) FROM pg_stat_activity WHERE datname = '{name}' AND random() < 0.5",
    )


async def crashed(server: postgres.Server, name: str, chance: random.Random) -> None:
    """One of the server's own processes dies, and it makes all of them anew."""
    found = await asyncio.to_thread(
        server.run, "postgres", f"SELECT pid FROM pg_stat_activity WHERE datname = '{name}'",
    )
    with suppress(ProcessLookupError):
        os.kill(chance.choice(found)[0], signal.SIGKILL)


@pytest.mark.timeout(120 + 20 * KILLS)
@pytest.mark.parametrize("harm", [restarted, thrown_out, crashed])
async def test_whatever_becomes_of_the_server_nothing_is_lost_or_doubled(
    server: postgres.Server, name: str, harm: Harm, capsys: pytest.CaptureFixture[str],
) -> None:
    """Under load, again and again: each message is answered in the end, its mark is there once, and all by itself."""
    async with two_programs(server.url(name), 20261126) as (phones, store):
        async with phones.speaking():
            for _ in range(KILLS):
                await phones.more(phones.chance.randint(5, 40))
                await harm(server, name, phones.chance)
            await phones.more(20)
        await phones.all_is_there_once(store)
    assert all(one.endswith(".") for one in phones.refused)
    with capsys.disabled():
        print(f"\n{KILLS} times {harm.__name__}: {len(phones.answers)} marks, none lost, none doubled; "
              f"{phones.refused.total()} refused and sent again")


# --- a line that is cut ---------------------------------------------------------------------------------

class Cut:
    """A line to the server that can be cut, at once or as soon as it carries a certain word there, and can be slow."""

    def __init__(self, port: int) -> None:
        self._server_port = port
        self._open: set[asyncio.StreamWriter] = set()
        self.slow_s = 0.0                   # what the server says takes so long to come
        self.closed = False                 # nobody new is let in
        self.at: bytes | None = None        # the word; what it asks for still reaches the server, its answer nobody

    async def start(self) -> int:
        """Begin to listen; the port."""
        self._listening = await asyncio.start_server(self._carry, "127.0.0.1", 0)
        port: int = self._listening.sockets[0].getsockname()[1]
        return port

    def cut(self) -> None:
        """All that is under way."""
        for writer in tuple(self._open):
            writer.transport.abort()

    async def close(self) -> None:
        """End."""
        self.cut()
        self._listening.close()

    async def _carry(self, reader: asyncio.StreamReader, writer: asyncio.StreamWriter) -> None:
        if self.closed:
            writer.transport.abort()
            return
        try:
            up, down = await asyncio.open_connection("127.0.0.1", self._server_port)
        except OSError:         # the server is away
            writer.transport.abort()
            return
        both = {writer, down}
        self._open |= both
        deaf = asyncio.Event()
        with suppress(OSError):
            await asyncio.gather(self._there(reader, down, deaf), self._back(up, writer, deaf))
        for one in both:
            one.transport.abort()
        self._open -= both

    async def _there(self, reader: asyncio.StreamReader, down: asyncio.StreamWriter, deaf: asyncio.Event) -> None:
        while data := await reader.read(65536):
            if self.at is not None and self.at in data:
                self.at = None
                deaf.set()
            down.write(data)
            await down.drain()
        down.close()

    async def _back(self, up: asyncio.StreamReader, writer: asyncio.StreamWriter, deaf: asyncio.Event) -> None:
        while data := await up.read(65536):
            if deaf.is_set():
                raise ConnectionResetError
            await asyncio.sleep(self.slow_s)
            writer.write(data)
            await writer.drain()
        writer.close()


@pytest.fixture
async def line(server: postgres.Server, name: str) -> AsyncIterator[tuple[Cut, Store]]:
    """A store behind such a line."""
    cut = Cut(server.port)
    port = await cut.start()
    store = await asyncio.to_thread(open_store, f"postgresql://{postgres.USER}@127.0.0.1:{port}/{name}")
    yield cut, await settle(store)
    await store.close()
    await cut.close()


async def test_an_answer_that_is_lost_after_the_commit(line: tuple[Cut, Store]) -> None:
    """Where the line is cut between the commit and its answer, the message fails, and sent again it is done once."""
    cut, store = line
    await store.step(heard(1), a_mark)
    cut.at = b"COMMIT\0"       # the statement: BEGIN speaks of commits too
    with pytest.raises(Refused, match="send it again"):
        await store.step(heard(2), a_mark)
    assert cut.at is None
    assert (await store.step(heard(2), a_mark))[0].seq == 2
    assert (await store.step(heard(3), a_mark))[0].seq == 3
    after = await store.snapshot("bench")
    marks = [one.message for one in after.record if one.message.startswith("bench:m")]
    assert marks == ["bench:m1", "bench:m2", "bench:m3"]
    assert after.books["tue"].standing("ava", "hop").tries == 3


@pytest.mark.parametrize("word", [b"BEGIN", b"INSERT INTO turn", b"SELECT heard"])
async def test_a_line_that_is_cut_before_the_commit(line: tuple[Cut, Store], word: bytes) -> None:
    """Where it is cut earlier nothing is kept; whether told so or not, the message comes to pass once."""
    cut, store = line
    await store.step(heard(1), a_mark)
    cut.at = word
    with suppress(Refused):
        await store.step(heard(2), a_mark)
    assert cut.at is None
    await store.step(heard(2), a_mark)
    assert (await store.snapshot("bench")).books["tue"].standing("ava", "hop").tries == 2


@pytest.mark.timeout(120 + 10 * KILLS)
async def test_lines_that_are_cut_under_load(line: tuple[Cut, Store]) -> None:
    """All lines are cut again and again: nothing is lost, nothing is done twice, and they are made anew."""
    cut, store = line
    phones = Phones((store,), 20261127)
    async with phones.speaking():
        for _ in range(3 * KILLS):
            await phones.more(phones.chance.randint(1, 30))
            cut.cut()
        await phones.more(10)
    await phones.all_is_there_once(store)


# --- a server that is away ------------------------------------------------------------------------------

async def test_away_and_back(server: postgres.Server, name: str) -> None:
    """While it is away everything is refused in one sentence, and once it is back everything goes on by itself."""
    store = await settle(open_store(server.url(name)))
    await store.step(heard(1), a_mark)
    server.stop()
    for work in (lambda: store.step(heard(2), a_mark), lambda: store.snapshot("bench"), lambda: store.next_due(),
                 lambda: store.key("x"), lambda: store.wake(NOW, None), lambda: store.desk("bench", "jo", NOW)):
        with pytest.raises(Refused, match=r"can't be reached.*\.$"):
            await work()    # type: ignore[no-untyped-call]
    server.start()
    assert (await store.step(heard(2), a_mark))[0].seq == 2
    assert (await store.snapshot("bench")).books["tue"].standing("ava", "hop").tries == 2
    await store.close()


@contextmanager
def standing_still(server: postgres.Server) -> Iterator[None]:
    """None of the server's processes goes on."""
    pids = server.pids()
    _signal(pids, signal.SIGSTOP)
    try:
        yield
    finally:
        _signal(pids, signal.SIGCONT)


def _signal(pids: list[int], how: signal.Signals) -> None:
    for pid in pids:
        with suppress(ProcessLookupError):      # that of whoever asked for the list is gone
            os.kill(pid, how)


async def test_a_server_that_stands_still(server: postgres.Server, name: str) -> None:
    """Who waits too long is told so, and what was given up is not done when the server goes on: typed anew, it is."""
    store: Any = await settle(open_store(server.url(name)))
    await store.step(heard(1), a_mark)
    store._lanes._longest_s = 0.3
    with standing_still(server):
        several = [store.step(heard(number), a_mark) for number in (2, 3, 4)]
        for refused in await asyncio.gather(*several, return_exceptions=True):
            assert isinstance(refused, Refused)
            assert str(refused) == lanes.SLOW
    store._lanes._longest_s = 60
    assert (await store.step(heard(5), a_mark))[0].seq == 2
    assert (await store.step(heard(2), a_mark))[0].seq == 3
    assert (await store.snapshot("bench")).books["tue"].standing("ava", "hop").tries == 3
    await store.close()


async def test_a_program_that_has_become_old_is_refused(server: postgres.Server, name: str) -> None:
    """Where a newer program brought the database further, an older one that runs finds out by its next connection."""
    store = await settle(open_store(server.url(name)))
    server.run(name, "UPDATE alembic_version SET version_num = '9999'")
    await thrown_out_all(server, name)
    with pytest.raises(Refused, match="newer version"):
        await store.step(heard(1), a_mark)
    server.run(name, f"UPDATE alembic_version SET version_num = '{migrations.HEAD}'")
    assert (await store.step(heard(1), a_mark))[0].seq == 1
    await store.close()


async def thrown_out_all(server: postgres.Server, name: str) -> None:
    """Every connection to that database is ended."""
    server.run("postgres", f"SELECT pg_terminate_backend(pid) FROM pg_stat_activity WHERE datname = '{name}'")


# --- a pooler -------------------------------------------------------------------------------------------

async def test_through_a_pooler_that_lends_connections_by_transaction(server: postgres.Server, name: str) -> None:
    """Behind pgbouncer, with fewer connections than we ask for and each transaction on any of them, all is the same."""
    with postgres.pooler(server, size=3) as address:
        async with two_programs(address(name), 20261128) as (phones, store):
            async with phones.speaking():
                await phones.more(150)
            await phones.all_is_there_once(store)
            assert await store.wake(NOW + timedelta(hours=1), None) == ()       # type: ignore[arg-type]
            assert not phones.refused
