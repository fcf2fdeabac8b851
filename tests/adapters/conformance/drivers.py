"""How the suite makes people talk through each adapter: one driver for each. Nothing here is a test.

A driver works an adapter from outside, as people do, and knows nothing of what is behind it.
"""
from __future__ import annotations

import io
import re
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Protocol
from uuid import uuid4

from adapters.clock import Clock
from adapters.console import CHANNEL
from adapters.console.chat import Console, address
from adapters.console.keyboard import Keyboard
from adapters.console.screen import Screen
from adapters.http.keys import digest_of
from adapters.service import Service
from adapters.web.phones import COOKIE
from bot.port import Phone, Store
from storage import open_store
from tests.adapters.http.api import Api

Make = Callable[[Store, Clock], Service]


@dataclass(frozen=True)
class Shown:
    """A message as a person has it before them."""

    text: str
    labels: tuple[str, ...] = ()


class Driver(Protocol):
    """Works one adapter."""

    async def start(self, path: Path, make: Make) -> None:
        """Start the program on that database, with that dialogue; jo and sam are known there."""

    async def stop(self) -> None:
        """End it."""

    async def says(self, person: str, text: str) -> list[Shown]:
        """Somebody types; what they are shown for an answer."""

    async def taps(self, person: str, label: str) -> list[Shown]:
        """Somebody picks a choice of their last answer that carries one of that label."""

    async def pass_time(self, seconds: float) -> None:
        """Let time pass; what falls due is said."""

    async def unasked(self, person: str) -> list[str]:
        """What somebody is shown that they did not ask for."""


class OnTheConsole:
    """Each line is typed into a console that is opened for it, in a plain pipe."""

    async def start(self, path: Path, make: Make) -> None:
        """Open the database."""
        self._api = Api(path, make)         # for its clock and the way that it lets time pass
        self._store = open_store(str(path))
        self._service = make(self._store, self._api.clock)
        (self._club,) = await self._store.clubs()
        self._picked: dict[tuple[str, str], str] = {}
        for person in ("jo", "sam"):
            await self._store.meet(CHANNEL, address(self._club.id, person), self._club.id, person)

    async def stop(self) -> None:
        """Close it."""
        await self._store.close()
        await self._api.session.close()

    async def _typed(self, person: str, lines: str) -> str:
        out = io.StringIO()
        await Console(self._service, Screen(out, self._club.tz), Keyboard(io.StringIO(lines)), self._club, person).run()
        return out.getvalue()

    async def says(self, person: str, text: str) -> list[Shown]:
        """What stands below the line."""
        shown = (await self._typed(person, text + "\n")).partition("> ")[2].partition("\n")[2]
        messages = [_read(one) for one in re.split(r"^(?=\S)", shown, flags=re.MULTILINE) if one.strip()]
        for message in messages:
            for label in message.labels:
                number, _, bare = label.partition(" ")
                self._picked[person, bare] = number
        return [Shown(one.text, tuple(label.partition(" ")[2] for label in one.labels)) for one in messages]

    async def taps(self, person: str, label: str) -> list[Shown]:
        """Type its number."""
        return await self.says(person, self._picked[person, label])

    async def pass_time(self, seconds: float) -> None:
        """Reminder by reminder."""
        from datetime import timedelta

        until = self._api.clock.now() + timedelta(seconds=seconds)
        async for _ in self._service.pass_time(until):
            pass
        self._api.clock.move_to(until)

    async def unasked(self, person: str) -> list[str]:
        """What a phone shows that is switched on."""
        shown = await self._typed(person, "")
        return [_read(one).text for one in re.split(r"^(?=\S)", shown, flags=re.MULTILINE) if one.strip()]


def _read(shown: str) -> Shown:
    """A message out of its lines: a time or nothing before each, buttons in brackets last."""
    lines = [re.sub(r"^\d\d:\d\d  |^ {7}", "", line) for line in shown.rstrip("\n").split("\n")]
    labels = tuple(label for line in lines for label in re.findall(r"\[([^\]]+)\]", line))
    return Shown("\n".join(line for line in lines if not line.startswith("[")), labels)


class ThroughTheGateway:
    """A gateway that brings each message by HTTP, and polls for what is unasked."""

    async def start(self, path: Path, make: Make) -> None:
        """Begin to listen."""
        self._api = Api(path, make)
        await self._api.start()
        self._gate = await self._api.gateway()
        self._last: dict[str, list[dict[str, object]]] = {}

    async def stop(self) -> None:
        """End it."""
        await self._api.stop()
        await self._api.session.close()

    async def says(self, person: str, text: str) -> list[Shown]:
        """The replies."""
        return self._shown(person, await self._gate.says(text, person))

    async def taps(self, person: str, label: str) -> list[Shown]:
        """Send the id of the choice."""
        (with_it,) = [one for one in self._last[person] if label in [c["label"] for c in one["choices"]]]
        return self._shown(person, await self._gate.taps(label, [with_it], person))

    def _shown(self, person: str, replies: list[dict[str, object]]) -> list[Shown]:
        if any(one["choices"] for one in replies):
            self._last[person] = replies
        return [Shown(one["text"], tuple(choice["label"] for choice in one["choices"])) for one in replies]

    async def pass_time(self, seconds: float) -> None:
        """Reminder by reminder."""
        await self._api.pass_time(seconds)

    async def unasked(self, person: str) -> list[str]:
        """What waits for that phone."""
        from tests.adapters.http.api import PHONES

        return [one["text"] for one in (await self._gate.outbox())[0] if one["to"] == PHONES[person]]


class AtThePage:
    """What a page asks for, without its looks: those are looked at in a browser, in tests/adapters/web/."""

    async def start(self, path: Path, make: Make) -> None:
        """Begin to listen; jo and sam have come in on a phone each."""
        self._api = Api(path, make)
        await self._api.start()
        (club,) = await self._api.store.clubs()
        self._secrets = {person: uuid4().hex for person in ("jo", "sam")}
        self._last: dict[str, list[dict[str, object]]] = {}
        for person, secret in self._secrets.items():
            await self._api.store.meet("web", f"p-{person}", club.id, person)
            phone = Phone(digest_of(secret), f"p-{person}", club.id, person, self._api.clock.now())
            await self._api.store.keep_phone(phone)

    async def stop(self) -> None:
        """End it."""
        await self._api.stop()
        await self._api.session.close()

    async def _ask(self, person: str, method: str, path: str, **more: object) -> list[dict[str, object]]:
        host = f"http://127.0.0.1:{self._api.port}"
        headers = {"Cookie": f"{COOKIE}={self._secrets[person]}", "Origin": host}
        async with self._api.session.request(method, host + path, headers=headers, **more) as response:
            assert response.status == 200, await response.text()
            return (await response.json())["said"]

    async def _say(self, person: str, **content: str) -> list[Shown]:
        body = {"id": uuid4().hex, "sent_at": self._api.clock.now().isoformat(), **content}
        said = await self._ask(person, "POST", "/web/messages", json=body)
        if any(one["choices"] for one in said):
            self._last[person] = said
        return [Shown(one["text"], tuple(choice["label"] for choice in one["choices"])) for one in said]

    async def says(self, person: str, text: str) -> list[Shown]:
        """Type it."""
        return await self._say(person, text=text)

    async def taps(self, person: str, label: str) -> list[Shown]:
        """Tap it."""
        (choice,) = [one["id"] for said in self._last[person] for one in said["choices"] if one["label"] == label]
        return await self._say(person, choice=choice)

    async def pass_time(self, seconds: float) -> None:
        """Reminder by reminder."""
        await self._api.pass_time(seconds)

    async def unasked(self, person: str) -> list[str]:
        """What was said and answers nothing."""
        return [one["text"] for one in await self._ask(person, "GET", "/web/said?after=0") if not one["asked"]]


DRIVERS: dict[str, Callable[[], Driver]] = {
    "console": OnTheConsole, "gateway": ThroughTheGateway, "web": AtThePage,
}
