"""Two programs over HTTP while their database breaks: every mark once in the end, every reminder once, all by itself.

`SPRUNG_KILLS` says how often a server is harmed (3 where it is not set); a primary dies only once. The moments are
seeded; the machine adds its own chance.
"""
from __future__ import annotations

import asyncio
import os
import random
import signal
from collections.abc import Awaitable, Callable
from pathlib import Path

import pytest

from tests import postgres
from tests.adapters.http.test_kill_serve import Phones, messages, nothing_lost_or_doubled, prepared
from tests.adapters.http.test_two_programs import Two
from tests.storage.test_postgres_faults import Cut

KILLS = int(os.environ.get("SPRUNG_KILLS", "3"))
AWAY = ("can't be reached", "could not be saved", "takes too long")


async def two_programs(url: str, folder: Path, seed: int, through: str | None = None) -> tuple[Two, Phones]:
    """Two processes of `sprung serve` on a club whose five lessons are open; perhaps they reach it another way."""
    phones = Phones(random.Random(seed), messages())
    two = Two(through or url, folder, phones, await prepared(url), look=url)
    await two.start()
    return two, phones


async def all_is_there(two: Two, phones: Phones, url: str) -> None:
    """What was answered before is answered alike, nothing is lost or doubled, and who was refused was told why."""
    await two.finish(phones.chance.sample([*phones.sent.values()], min(40, len(phones.sent))))
    await nothing_lost_or_doubled(url, phones)
    assert not [one for one in phones.refused if not any(words in one for words in AWAY)]


@pytest.mark.timeout(300)
async def test_a_primary_dies_and_its_standby_takes_over(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Of two servers in step one is killed under load and the other promoted: the programs find it by themselves."""
    postgres.require()
    first = await asyncio.to_thread(_server)
    second = await asyncio.to_thread(first.standby, *_settings())
    try:
        hosts = "&".join(f"host=127.0.0.1:{one.port}" for one in (first, second))
        url = f"postgresql://{postgres.USER}@/{first.take()}?{hosts}&target_session_attrs=read-write"
        two, phones = await two_programs(url, tmp_path, 20261201)
        async with two.speaking():
            await two.more(60)
            await asyncio.to_thread(first.stop, signal.SIGKILL)
            before = len(phones.answers)
            await asyncio.sleep(phones.chance.uniform(0.2, 1))
            await asyncio.to_thread(second.run, "postgres", "SELECT pg_promote()")
            await two.more(60)
        await all_is_there(two, phones, url)
    finally:
        second.close()
        first.close()
    assert phones.refused, "nobody noticed that the primary was gone"
    with capsys.disabled():
        print(f"\na primary killed after {before} answers: {len(phones.answers)} marks, {len(phones.came)} unasked "
              f"messages, none lost, none doubled; {phones.refused.total()} refused and sent again")


def _server() -> postgres.Server:
    return postgres.Server(*_settings())


def _settings() -> tuple[str, str]:
    return f"port={postgres.free_port()}", "listen_addresses=127.0.0.1"


# --- one server, and the way to it -------------------------------------------------------------------------

Harm = Callable[[postgres.Server, Cut, random.Random], Awaitable[None]]


async def restarted(server: postgres.Server, line: Cut, chance: random.Random) -> None:
    """The server ends, in order or as if the light went out, and comes back."""
    await asyncio.to_thread(server.stop, chance.choice((signal.SIGINT, signal.SIGQUIT, signal.SIGKILL)))
    await asyncio.sleep(chance.uniform(0, 1))
    server.launch()
    await asyncio.to_thread(server.wait)


async def cut_and_slow(server: postgres.Server, line: Cut, chance: random.Random) -> None:
    """Every line is reset, and what comes after it is slow for a while."""
    line.slow_s = chance.uniform(0, 0.05)
    line.cut()
    await asyncio.sleep(chance.uniform(0.2, 1))
    line.cut()
    line.slow_s = 0.0


async def let_nobody_in(server: postgres.Server, line: Cut, chance: random.Random) -> None:
    """Every line is reset, and new ones too."""
    line.closed = True
    line.cut()
    await asyncio.sleep(chance.uniform(0.2, 1))
    line.closed = False


HARMS: tuple[Harm, ...] = (restarted, cut_and_slow, let_nobody_in)


@pytest.mark.timeout(240 + 20 * KILLS)
async def test_the_database_is_harmed_again_and_again(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Whatever is done to the server or to the lines to it: the programs go on, and nothing is lost or doubled."""
    postgres.require()
    server = await asyncio.to_thread(_server)
    line = Cut(server.port)
    port = await line.start()
    try:
        name = server.take()
        url = server.url(name)
        through = f"postgresql://{postgres.USER}@127.0.0.1:{port}/{name}"
        two, phones = await two_programs(url, tmp_path, 20261202, through)
        async with two.speaking():
            for n in range(KILLS):
                await two.more(phones.chance.randint(5, 30))
                await HARMS[n % len(HARMS)](server, line, phones.chance)
            await two.more(20)
        await all_is_there(two, phones, url)
    finally:
        await line.close()
        server.close()
    with capsys.disabled():
        print(f"\n{KILLS} times harmed: {len(phones.answers)} marks, {len(phones.came)} unasked messages, "
              f"none lost, none doubled; {phones.refused.total()} refused and sent again")
