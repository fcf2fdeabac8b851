"""kill -9 of `sprung serve` while marks come in and reminders go out over HTTP: nothing lost, nothing twice.

`SPRUNG_KILLS` says how often (10 where it is not set). The moments are seeded; the machine adds its own chance.
"""
from __future__ import annotations

import asyncio
import json
import os
import random
import signal
import subprocess
import sys
from collections import Counter
from collections.abc import Callable, Iterator
from contextlib import suppress
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from itertools import product
from pathlib import Path
from time import monotonic
from typing import Any

import pytest
from aiohttp import ClientError, ClientResponse, ClientSession, ClientTimeout

from adapters.clock import SimulatedClock
from adapters.http.keys import new_key
from adapters.service import Service
from bot.out.export import export
from bot.people.hall import Hall, read_hall
from storage import open_store

KILLS = int(os.environ.get("SPRUNG_KILLS", "10"))
AGAIN_S = 0.05                  # so long after a refusal a message is sent again
UNDER_WAY = 10                  # so many messages wait for an answer at any time
PROGRAM = Path(__file__).with_name("serve_child.py")
START = datetime(2026, 11, 24, 17, 0, 30, tzinfo=UTC)
BEHIND = timedelta(seconds=30)  # so far the phones' clocks are behind: a program that starts slowly is behind them too
CLASSES = 5
CHILDREN = ("Ava", "Ben", "Chidi", "Dara", "Efa", "Finn", "Gus", "Hana", "Ivy", "Kemi", "Leo", "Mia")
SKILLS = tuple(f"{how} {what}" for how, what in product(
    ("Slow", "Quick", "High", "Deep", "Wide", "Long", "Soft", "Round"),
    ("fold", "turn", "kick", "lunge", "swing", "balance", "drop", "step"),
))
BROKEN = (ClientError, TimeoutError, OSError)


def hall() -> Hall:
    """A club with five classes now, each with a coach and an assistant; every skill is shown twice, after a second."""
    skills = "".join(
        f'[[award.skill]]\nid = "{name.lower().replace(" ", "-")}"\nname = "{name}"\n'
        "shows = [{seconds = 5}, {seconds = 5, rest_s = 1}]\nlight = true\n" for name in SKILLS
    )
    parts, rows = ['name = "Club"\n'], ["child,class,award,has"]
    for n in range(CLASSES):
        parts.append(
            f'[[class]]\nid = "c{n}"\nname = "Class {n}"\nday = "tuesday"\nstart = "17:00"\nminutes = 90\n'
            f'coach = "coach{n}"\nassistant = "second{n}"\n'
            f'[[person]]\nid = "coach{n}"\nname = "Coach {n}"\nrole = "coach"\n'
            f'[[person]]\nid = "second{n}"\nname = "Second {n}"\nrole = "assistant"\n'
        )
        rows += [f"{name} Of{n},c{n},one," for name in CHILDREN]
    scheme = f'[scheme]\nname = "S"\n[[award]]\nid = "one"\nname = "One"\n{skills}'
    return read_hall(scheme, "".join(parts), "\n".join(rows) + "\n")


def messages() -> Iterator[dict[str, str]]:
    """Marks, each of another child on another skill; a whole class on one skill, then on the next."""
    marks = [(n, skill, child) for skill in SKILLS for n in range(CLASSES) for child in CHILDREN]
    for number, (n, skill, child) in enumerate(marks):
        yield {"id": f"m{number}", "channel": "chat", "sender": f"coach{n}", "text": f"{child} seen {skill}"}


@dataclass
class Phones:
    """What the gateway knows: what it sent, what was answered, what came unasked, what it reported."""

    chance: random.Random
    new: Iterator[dict[str, str]]
    unanswered: dict[str, dict[str, str]] = field(default_factory=dict)
    sent: dict[str, dict[str, str]] = field(default_factory=dict)
    answers: dict[str, Any] = field(default_factory=dict)
    came: dict[str, dict[str, Any]] = field(default_factory=dict)
    again: set[str] = field(default_factory=set)        # killed between the commit and the answer
    twice: int = 0                                      # unasked messages that came more than once
    refused: Counter[str] = field(default_factory=Counter)      # with which sentence
    cursor: str | None = None
    clock: float = field(default_factory=monotonic)

    def now(self) -> datetime:
        """The time in the hall."""
        return START + 2 * BEHIND + timedelta(seconds=monotonic() - self.clock)

    def answered(self, id_: str, found: Any) -> None:
        """An answer came."""
        self.unanswered.pop(id_, None)
        assert self.answers.setdefault(id_, found) == found, "a message was answered in two ways"

    def not_now(self, response: ClientResponse, found: Any) -> bool:
        """Was that refused because the database is away? Then it says so, and when to come again."""
        if response.status != 503:
            return False
        assert found["detail"].endswith(".")
        assert int(response.headers["Retry-After"]) > 0
        self.refused[found["detail"]] += 1
        return True

    def heard(self, message: dict[str, Any]) -> None:
        """An unasked message came."""
        self.twice += message["id"] in self.came
        assert self.came.setdefault(message["id"], message) == message, "one id, two messages"


class Program:
    """One process of `sprung serve`, and the gateway in front of it."""

    def __init__(
        self, parent: subprocess.Popen[str], database: str, folder: Path, seed: int, phones: Phones, key: str,
    ) -> None:
        self._said, self._kept = (folder / f"{seed}-{what}" for what in ("said", "kept"))
        self._phones, self._key = phones, key
        # The clock is read to the second; the last process may have been a second further.
        clock = f"{phones.now() + timedelta(seconds=1):%Y-%m-%d %H:%M:%S}"
        assert parent.stdin is not None
        parent.stdin.write(json.dumps([database, clock, str(seed), str(self._said), str(self._kept)]) + "\n")
        parent.stdin.flush()

    async def ready(self) -> None:
        """Wait until it listens."""
        async with asyncio.timeout(180):
            while "Serving on" not in (text := self._said.read_text() if self._said.exists() else ""):
                await asyncio.sleep(0.002)
        self.pid = int(text.split()[0])
        base = text.split("Serving on ")[1].split()[0]
        self._session = ClientSession(base, headers={"Authorization": f"Bearer {self._key}"},
                                      timeout=ClientTimeout(total=30))

    async def send(self, message: dict[str, str]) -> bool:
        """Send one, again and again while it is refused for now; was it answered?"""
        body = {**message, "sent_at": (self._phones.now() - BEHIND).isoformat()}
        with suppress(*BROKEN):
            while True:
                async with self._session.post("/v1/messages", json=body) as response:
                    found = await response.json()
                if not self._phones.not_now(response, found):
                    break
                await asyncio.sleep(AGAIN_S)
            assert response.status == 200, found
            self._phones.answered(message["id"], found)
            return True
        return False

    async def listen(self) -> None:
        """Take unasked messages out, one poll after another, and report what became of them."""
        phones = self._phones
        with suppress(*BROKEN):
            while True:
                await self.poll(0.5, forgetful=0.2)
                phones.cursor = phones.cursor if phones.chance.random() < 0.8 else None     # begins anew

    async def poll(self, wait: float, forgetful: float = 0.0) -> int:
        """One poll; how much came. `forgetful`: so often nothing is reported, and half as often a failure."""
        phones = self._phones
        query = {"wait": str(wait)} | ({"after": phones.cursor} if phones.cursor else {})
        async with self._session.get("/v1/outbox", params=query) as response:
            found = await response.json()
            if phones.not_now(response, found):
                return 0
            assert response.status == 200, found
        for message in found["messages"]:
            phones.heard(message)
            luck = phones.chance.random()
            if luck >= forgetful:
                how = "failed" if luck < forgetful * 1.5 else "delivered"
                async with self._session.post(f"/v1/outbox/{message['id']}/{how}") as response:
                    assert response.status == 204 or phones.not_now(response, await response.json())
        phones.cursor = found["next"]
        return len(found["messages"])

    async def live(self, lines: int) -> bool:
        """Redeliver what was not answered, go on until so many answers came, and kill it.

        Did the kill fall between a commit and its answer?
        """
        phones, listening = self._phones, asyncio.create_task(self.listen())
        under_way = {asyncio.create_task(self.send(one)) for one in phones.unanswered.values()}
        while lines > 0:
            while len(under_way) < UNDER_WAY and (fresh := next(phones.new, None)):
                phones.unanswered[fresh["id"]] = phones.sent[fresh["id"]] = fresh
                under_way.add(asyncio.create_task(self.send(fresh)))
            if not under_way:
                break
            done, under_way = await asyncio.wait(under_way, return_when=asyncio.FIRST_COMPLETED)
            assert all(one.result() for one in done), self._said.read_text()
            lines -= len(done)
        await asyncio.sleep(phones.chance.uniform(0, 0.003))
        os.kill(self.pid, signal.SIGKILL)
        await asyncio.gather(*under_way, listening)
        await self._session.close()
        kept = Counter(self._kept.read_text().split())
        between = {id_ for id_ in phones.unanswered if kept[id_]} - phones.again
        phones.again |= between
        return bool(between)

    async def finish(self, also: list[dict[str, str]], on_its_way: Callable[[], int] = lambda: 0) -> None:
        """Redeliver what is left, and these that were answered before; take out all that waits; let it end."""
        phones = self._phones
        assert all(await asyncio.gather(*(self.send(one) for one in (*phones.unanswered.values(), *also))))
        quiet = 0
        async with asyncio.timeout(180):
            while quiet < 6 or on_its_way():        # a failed one comes again after 7.5 s at the latest
                phones.cursor = None
                quiet = 0 if await self.poll(2) else quiet + 1
        await self.stop()

    async def close(self) -> None:
        """Ask no more."""
        await self._session.close()

    async def stop(self) -> None:
        """Ask it to end, and wait until it says that it has."""
        await self.close()
        os.kill(self.pid, signal.SIGTERM)
        async with asyncio.timeout(30):
            while "Stopped." not in self._said.read_text():
                await asyncio.sleep(0.01)


async def prepared(database: str) -> str:
    """The club with its five lessons open; the gateway's key. Everybody was heard through it."""
    store, clock = open_store(database), SimulatedClock(START)
    service = Service(store, clock)
    await store.load(hall(), START - timedelta(days=1))
    for n in range(CLASSES):
        for person, texts in ((f"coach{n}", ("start", "everyone")), (f"second{n}", ("help",))):
            await store.meet("chat", person, "club", person)
            for text in texts:
                await service.hear("chat", person, text=text, via="gate")
    made = await new_key(store, "gate", None)
    await store.close()
    return made.key


async def kept(database: str) -> tuple[Counter[tuple[str, str]], list[Any]]:
    """How often each child's mark on each skill is in the export; every unasked message that was ever said."""
    store = open_store(database)
    marks = export(await store.snapshot("club"), START + timedelta(hours=1))["marks"]
    unasked, after = [], 0
    while page := await store.outbox(after):
        unasked += [said for _, said, _ in page]
        after = page[-1][0]
    assert await store.letters("gate", 0) == (), "something waits that nobody fetched"
    await store.close()
    return Counter((one["child"], one["skill"]) for one in marks), unasked


def rested(said: list[dict[str, Any]]) -> Counter[tuple[str, str, str]]:
    """Whom, which child and which skill the messages name whose rest is over."""
    found: Counter[tuple[str, str, str]] = Counter()
    for one in said:
        head, _, tail = one["text"].partition(". ")
        assert head.startswith("Rested: "), one["text"]
        skill = tail.partition(",")[0].casefold()
        names = head.removeprefix("Rested: ").replace("; then ", ", ").split(", ")
        found.update((one["to"], child, skill) for child in names)
    return found


@pytest.mark.timeout(180 + 12 * KILLS)
async def test_a_killed_program_loses_and_doubles_nothing(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Killed again and again, every answered mark is there once, and every reminder came out, under one id."""
    database, phones = str(tmp_path / "club.sqlite"), Phones(random.Random(20261124), messages())
    key = await prepared(database)
    parent = ready_to_fork()
    kills = between = 0
    while kills < KILLS or (not between and kills < KILLS + 150):   # one in fifteen falls there: go on until one does
        program = Program(parent, database, tmp_path, kills, phones, key)
        await program.ready()
        between += await program.live(phones.chance.randint(1, 36))
        kills += 1
    program = Program(parent, database, tmp_path, kills, phones, key)
    await program.ready()
    await program.finish(phones.chance.sample([*phones.sent.values()], min(40, len(phones.sent))))
    await asyncio.to_thread(parent.communicate)
    await nothing_lost_or_doubled(database, phones)
    assert between > 0, "no kill fell between a commit and its answer"
    with capsys.disabled():
        print(f"\n{kills} kills of serve, {between} of them between a commit and its answer ({len(phones.again)} "
              f"messages); {len(phones.answers)} marks, {len(phones.came)} unasked messages ({phones.twice} came "
              "again), none lost, none doubled")


def ready_to_fork() -> subprocess.Popen[str]:
    """The process with the code loaded. No plans are made: to start what makes them takes longer than all the rest."""
    return subprocess.Popen(
        [sys.executable, str(PROGRAM)], stdin=subprocess.PIPE, text=True,
        env={"SPRUNG_PLANNERS": "0", **os.environ, "PYTHONPATH": str(PROGRAM.parents[3])},
    )


async def nothing_lost_or_doubled(database: str, phones: Phones) -> None:
    """Every answered mark is there once, every unasked message came under one id, every rest was told once."""
    assert not phones.unanswered
    marks, unasked = await kept(database)
    assert len(marks) == len(phones.answers)
    assert set(marks.values()) == {1}
    assert phones.came.keys() == {one.id for one in unasked}
    assert unasked
    for person in {one["to"] for one in phones.came.values()}:
        seqs = [one["seq"] for one in phones.came.values() if one["to"] == person]
        assert seqs == sorted(seqs), "out of order"
    told = rested([one for one in phones.came.values() if one["to"].startswith("second")])
    asked = [phones.sent[id_] for id_ in phones.answers]
    wanted = Counter(
        (one["sender"].replace("coach", "second"), *map(str.casefold, one["text"].split(" seen "))) for one in asked
    )
    assert Counter({(to, child.casefold(), skill): n for (to, child, skill), n in told.items()}) == wanted
