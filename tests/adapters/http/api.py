"""A running message API on a real SQLite file, and a gateway in front of it that speaks real HTTP.

Nothing here is a test.
"""
from __future__ import annotations

import asyncio
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

from aiohttp import ClientResponse, ClientSession

from adapters.clock import Clock, SimulatedClock
from adapters.halls import DEMO_HALL, read_folder
from adapters.http.keys import new_key
from adapters.http.limits import Limits
from adapters.http.serve import Served
from adapters.service import Service
from bot.out.export import export
from bot.port import Store
from storage import open_store

START = datetime(2026, 11, 24, 16, 58, tzinfo=UTC)     # a Tuesday; the demo hall's class begins two minutes later
PHONES = {"jo": "+447700900001", "sam": "+447700900002", "ines": "+447700900003"}
Make = Callable[[Store, Clock], Service]


class Gateway:
    """Somebody with a key."""

    def __init__(self, base: str, key: str, session: ClientSession) -> None:
        self.base, self.key, self._session = base, key, session
        self._count = 0

    def message(self, text: str | None = None, person: str = "jo", **more: Any) -> dict[str, Any]:
        """A message as it is sent; each with an id of its own unless one is given."""
        self._count += 1
        made = {"id": f"m-{self._count}", "channel": "whatsapp", "sender": PHONES.get(person, person),
                "sent_at": START.isoformat(), **more}
        return made if text is None else {**made, "text": text}

    async def ask(self, method: str, path: str, **more: Any) -> ClientResponse:
        """One request, read to its end."""
        headers = {"Authorization": f"Bearer {self.key}", **more.pop("headers", {})}
        async with self._session.request(method, self.base + path, headers=headers, **more) as response:
            await response.read()
        return response

    async def send(self, message: dict[str, Any]) -> ClientResponse:
        """Send a message."""
        return await self.ask("POST", "/v1/messages", json=message)

    async def says(self, text: str, person: str = "jo", **more: Any) -> list[dict[str, Any]]:
        """Somebody says something; what is answered."""
        response = await self.send(self.message(text, person, **more))
        assert response.status == 200, await response.text()
        return (await response.json())["replies"]

    async def taps(self, label: str, replies: list[dict[str, Any]], person: str = "jo") -> list[dict[str, Any]]:
        """Somebody taps a choice of the last of these."""
        (choice,) = [one["id"] for one in replies[-1]["choices"] if one["label"] == label]
        return (await (await self.send(self.message(person=person, choice=choice))).json())["replies"]

    async def outbox(self, **query: Any) -> tuple[list[dict[str, Any]], str]:
        """What waits, and the cursor."""
        response = await self.ask("GET", "/v1/outbox", params=query)
        assert response.status == 200, await response.text()
        found = await response.json()
        return found["messages"], found["next"]

    async def report(self, message: dict[str, Any], how: str, **body: Any) -> int:
        """Say what became of one."""
        return (await self.ask("POST", f"/v1/outbox/{message['id']}/{how}", **({"json": body} if body else {}))).status


class Api:
    """The program: it can be stopped and started again on what it left behind."""

    def __init__(
        self, database: Path | str, make: Make = Service, limits: Limits | None = None, **more: Any,
    ) -> None:
        self.database, self._make, self._limits, self._more = str(database), make, limits, more
        self.clock = SimulatedClock(START)
        self.session = ClientSession()
        self._keys: dict[str, str] = {}
        self.port = 0

    async def start(self) -> None:
        """Open the store, begin to listen."""
        self.store = open_store(self.database)
        self.service = self._make(self.store, self.clock)
        self.served = Served(self.service, limits=self._limits, jitter=lambda: 0.5, **self._more)
        self.port = await self.served.start(port=self.port)

    async def stop(self) -> None:
        """End it."""
        await self.served.stop()
        await self.store.close()

    async def restart(self) -> None:
        """End it, and start it anew."""
        await self.stop()
        await self.start()

    async def gateway(self, name: str = "gate", push: str | None = None) -> Gateway:
        """A gateway with a new key."""
        made = await new_key(self.store, name, push)
        self.secret = made.gateway.push_secret
        return Gateway(f"http://127.0.0.1:{self.port}", made.key, self.session)

    def plain(self, key: str = "") -> Gateway:
        """Somebody with that key, or with none that is any good."""
        return Gateway(f"http://127.0.0.1:{self.port}", key, self.session)

    async def pass_time(self, seconds: float) -> None:
        """Time passes at once; what falls due on the way is said, what waited long enough is let go."""
        until = self.clock.now() + timedelta(seconds=seconds)
        async for _, said in self.service.pass_time(until):
            await self.served.woken(said)
        self.clock.move_to(until)
        await self.service.wake()
        await self.served.rounds.once()
        self.served.desk.bell.ring()


async def fill(database: Path | str) -> None:
    """Load the demo hall; its people have phones."""
    store = open_store(str(database))
    loaded = await store.load(read_folder(DEMO_HALL), START)
    people = {one.id for one in await store.people(loaded.club)}
    for person in PHONES.keys() & people:
        await store.meet("whatsapp", PHONES[person], loaded.club, person)
    await store.close()


async def marks(api: Api) -> list[tuple[str, str]]:
    """Child and verdict of every mark of the club."""
    (club,) = await api.store.clubs()
    found = export(await api.store.snapshot(club.id), START)["marks"]
    return [(one["child"], one["verdict"]) for one in found]


async def soon(true: Callable[[], bool], longest_s: float = 10) -> None:
    """Wait until something is so."""
    async with asyncio.timeout(longest_s):
        while not true():
            await asyncio.sleep(0.005)
