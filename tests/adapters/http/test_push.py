"""What is pushed to a gateway's URL: signed, in order for each person, tried again; a receiver of our own listens."""
from __future__ import annotations

import asyncio
import json
from collections.abc import AsyncIterator
from datetime import timedelta
from typing import Any

import pytest
from aiohttp import web
from standardwebhooks import Webhook, WebhookVerificationError

from adapters.http.keys import NoGateway, gateway_of
from adapters.http.letters import FIRST_WAIT, LONGEST_WAIT, retry_at
from adapters.http.push import AT_ONCE
from tests.adapters.http.api import START, Api, Gateway, soon
from tests.contract.club import CLUB, hall


class Receiver:
    """A gateway's own server. `answers`: what it answers to a person's messages, a status each, the last for ever."""

    def __init__(self) -> None:
        self.came: list[tuple[dict[str, Any], dict[str, str], bytes]] = []
        self.answers: dict[str, list[int]] = {}
        self.slow: dict[str, asyncio.Event] = {}
        self._runner: web.AppRunner

    async def start(self) -> str:
        """Begin to listen; its URL."""
        app = web.Application()
        app.router.add_post("/hook", self._post)
        self._runner = web.AppRunner(app, shutdown_timeout=0.1)
        await self._runner.setup()
        await web.TCPSite(self._runner, "127.0.0.1", 0).start()
        return f"http://127.0.0.1:{self._runner.addresses[0][1]}/hook"

    async def stop(self) -> None:
        """End."""
        for event in self.slow.values():
            event.set()
        await self._runner.cleanup()

    async def _post(self, request: web.Request) -> web.Response:
        body = await request.read()
        message = json.loads(body)
        self.came.append((message, dict(request.headers), body))
        if message["to"] in self.slow:
            await self.slow[message["to"]].wait()
        answers = self.answers.get(message["to"], [204])
        return web.Response(status=answers.pop(0) if len(answers) > 1 else answers[0])

    def texts(self, person: str = "") -> list[str]:
        """What came for one, or for all."""
        return [one["text"] for one, _, _ in self.came if one["to"].endswith(person)]


@pytest.fixture
async def receiver() -> AsyncIterator[Receiver]:
    """One that takes everything."""
    made = Receiver()
    made.url = await made.start()       # type: ignore[attr-defined]
    yield made
    await made.stop()


@pytest.fixture
async def gate(echo: Api, receiver: Receiver) -> Gateway:
    """A gateway that is pushed to, through which jo and sam were heard."""
    made = await echo.gateway(push=receiver.url)        # type: ignore[attr-defined]
    await made.says("hi")
    await made.says("hi", "sam")
    return made


async def settled(gate: Gateway, how: str = "delivered", count: int = 1) -> None:
    """So many are counted."""
    async def counted() -> bool:
        return f'how="{how}"}} {count}.0' in await (await gate.ask("GET", "/metrics")).text()

    async with asyncio.timeout(15):
        while not await counted():
            await asyncio.sleep(0.01)


async def test_what_is_pushed_is_signed(echo: Api, gate: Gateway, receiver: Receiver) -> None:
    """The body is the message; its signature is what the `standardwebhooks` library accepts, and no other body's."""
    await gate.says("say more [Yes]")
    await gate.says("later 60 sam")
    await echo.pass_time(60)
    await settled(gate)
    (message, headers, body), = receiver.came
    assert (message["to"], message["text"], message["in_reply_to"]) == ("+447700900002", "due 60", None)
    assert headers["webhook-id"] == message["id"]
    assert Webhook(echo.secret).verify(body, headers) == message
    with pytest.raises(WebhookVerificationError):
        Webhook(echo.secret).verify(body + b" ", headers)
    assert (await gate.outbox())[0] == []


async def test_what_failed_is_tried_again_under_its_id(echo: Api, gate: Gateway, receiver: Receiver) -> None:
    """A receiver that is broken gets the same message later, signed anew; what comes after it keeps its place."""
    receiver.answers["+447700900002"] = [500, 302, 204]
    await gate.says("later 60 sam")
    await gate.says("later 61 sam")
    await echo.pass_time(70)
    await settled(gate, "failed")
    assert receiver.texts() == ["due 60"]
    await echo.pass_time(FIRST_WAIT.total_seconds())
    await settled(gate, "failed", 2)
    await echo.pass_time(FIRST_WAIT.total_seconds())
    assert receiver.texts() == ["due 60", "due 60"]         # twice as long the second time
    await echo.pass_time(FIRST_WAIT.total_seconds())
    await settled(gate, "delivered", 2)
    assert receiver.texts() == ["due 60", "due 60", "due 60", "due 61"]
    assert len({one["id"] for one, _, _ in receiver.came}) == 2


async def test_a_slow_receiver_holds_up_nobody_else(echo: Api, gate: Gateway, receiver: Receiver) -> None:
    """While one person's message hangs, others get theirs; behind it, in order, comes that person's next."""
    receiver.slow["+447700900002"] = asyncio.Event()
    await gate.says("later 60 sam jo")
    await gate.says("later 61 sam jo")
    await echo.pass_time(70)
    await settled(gate, "delivered", 2)
    assert receiver.texts("1") == ["due 60", "due 61"]
    assert receiver.texts("2") == ["due 60"]
    assert (await gate.send(gate.message("hi"))).status == 200
    receiver.slow["+447700900002"].set()
    await settled(gate, "delivered", 4)
    assert receiver.texts("2") == ["due 60", "due 61"]


async def test_slow_gateways_hold_up_no_other(echo: Api, receiver: Receiver) -> None:
    """Two gateways that never answer, with all that they may have under way, do not keep a third from its own."""
    people = [f"p{n}" for n in range(2 * AT_ONCE + 1)]
    persons = "".join(f'[[person]]\nid = "{one}"\nname = "Person {one}"\nrole = "helper"\n' for one in people)
    await echo.store.load(hall("Slow", club=CLUB + persons), START)
    await echo.store.meet("chat", "jo", "slow", "jo")
    slow = asyncio.Event()
    for n, name in enumerate(("first", "second", "third")):
        await echo.gateway(name, push=receiver.url)     # type: ignore[attr-defined]
        for one in people[n * AT_ONCE:(n + 1) * AT_ONCE]:
            await echo.store.meet("chat", one, "slow", one)
            await echo.service.hear("chat", one, text="hi", via=name)
            if name != "third":
                receiver.slow[one] = slow
    await echo.service.hear("chat", "jo", text=f"later 60 {' '.join(people[:-1])}")
    await echo.service.hear("chat", "jo", text=f"later 61 {people[-1]}")
    await echo.pass_time(60)
    await soon(lambda: len(receiver.came) == 2 * AT_ONCE)
    await echo.pass_time(5)
    await soon(lambda: receiver.texts(people[-1]) == ["due 61"])


async def test_nothing_is_forgotten_by_a_restart(echo: Api, gate: Gateway, receiver: Receiver) -> None:
    """What was not taken before the end comes after it, and what was taken does not."""
    receiver.answers["+447700900002"] = [503]
    await gate.says("later 60 sam jo")
    await echo.pass_time(60)
    await settled(gate, "failed")
    await settled(gate, "delivered")
    await echo.restart()
    receiver.answers["+447700900002"] = [200]
    await echo.pass_time(60)
    await settled(gate, "delivered")
    assert receiver.texts("1") == ["due 60"]
    assert receiver.texts("2") == ["due 60", "due 60"]


async def test_a_receiver_that_is_not_there(echo: Api, receiver: Receiver) -> None:
    """Where nobody listens the message waits, and polling finds it once it is let go."""
    gate = await echo.gateway("deaf", push="http://127.0.0.1:9/hook")
    await gate.says("hi", "sam")
    await gate.says("later 60 sam")
    await echo.pass_time(60)
    await settled(gate, "failed")
    assert receiver.came == []
    await echo.gateway("deaf", push="off")
    await echo.served.pushes.once()
    await echo.pass_time(60)
    assert [one["text"] for one in (await gate.outbox())[0]] == ["due 60"]


def test_it_waits_longer_each_time() -> None:
    """The wait doubles up to a limit; chance moves it by half either way, so that not all come back at once."""
    waits = [retry_at(START, tries, lambda: 0.5) - START for tries in range(12)]
    assert waits[:4] == [FIRST_WAIT, FIRST_WAIT * 2, FIRST_WAIT * 4, FIRST_WAIT * 8]
    assert waits[-1] == retry_at(START, 10**6, lambda: 0.5) - START == LONGEST_WAIT
    assert retry_at(START, 0, lambda: 0.0) - START == FIRST_WAIT / 2
    assert retry_at(START, 0, lambda: 1.0) - START == FIRST_WAIT * 1.5
    assert timedelta(minutes=1) < LONGEST_WAIT


@pytest.mark.parametrize("url", [
    "http://gate.example/hook", "ftp://gate.example/hook", "gate.example", "", "https://", "file:///etc/passwd",
])
def test_names_are_sent_to_no_open_line(url: str) -> None:
    """Only https is good enough, or this machine itself."""
    with pytest.raises(NoGateway, match="https"):
        gateway_of("gate", url, None)
    assert gateway_of("gate", "http://[::1]:9/hook", None).push_url == "http://[::1]:9/hook"


@pytest.mark.parametrize("name", ["", "Gate", "a b", "a:b", "-a", "x" * 41, "console", "wake", "hall"])
def test_a_gateways_name(name: str) -> None:
    """A name is small letters, digits and hyphens, and none that the program uses for its own messages."""
    with pytest.raises(NoGateway):
        gateway_of(name, None, None)


# --- several programs -----------------------------------------------------------------------------------

async def test_of_two_programs_one_pushes(echo: Api, gate: Gateway, receiver: Receiver) -> None:
    """Two programs on one database send each message once between them; when one ends, the other does it at once."""
    other = Api(echo.database, echo._make)
    await other.start()
    await gate.says("later 60 jo sam")
    await gate.says("later 200 jo sam")
    await echo.pass_time(100)
    await soon(lambda: len(receiver.came) == 2)
    pushes, stays = (echo, other) if echo.served.pushes._held else (other, echo)
    await pushes.served.stop()
    await stays.pass_time(300)
    await soon(lambda: len(receiver.came) == 4)
    assert sorted(receiver.texts()) == ["due 200", "due 200", "due 60", "due 60"]
    await pushes.served.start()
    await other.stop()
    await other.session.close()
