"""A fault of ours in one message or reminder, over HTTP: tried three times, put aside, told; the others go on."""
from __future__ import annotations

import logging
from collections.abc import AsyncIterator
from datetime import timedelta
from pathlib import Path

import pytest

from adapters.clock import Clock
from adapters.service import Service
from bot.port import Store
from bot.step import Desk, Stepped, Woken
from bot.talk.putaside import MESSAGE, REMINDER
from tests.adapters.conftest import echo, echo_wake
from tests.adapters.http.api import Api, Gateway, soon


def faulty_wake(woken: Woken, desk: Desk) -> Stepped:
    """A reminder for `jo` after 13 s has a mistake in it."""
    if any(one.key == "13/jo" for one in woken.due):
        raise KeyError("Ava Price")
    return echo_wake(woken, desk)


def service(store: Store, clock: Clock) -> Service:
    """A dialogue that only echoes; `fail` fails."""
    return Service(store, clock, echo, faulty_wake)


@pytest.fixture
async def api(filled: Path) -> AsyncIterator[Api]:
    """The API with that dialogue."""
    running = Api(filled, service)
    await running.start()
    yield running
    await running.stop()
    await running.session.close()


async def put_aside(gate: Gateway) -> str:
    """What is counted."""
    text = await (await gate.ask("GET", "/metrics")).text()
    return next(line for line in text.splitlines() if line.startswith("sprung_put_aside "))


async def test_a_poisoned_message(api: Api, caplog: pytest.LogCaptureFixture) -> None:
    """Sent again and again, over a restart too, it is answered the third time; the next one is answered at once."""
    gate = await api.gateway()
    bad = gate.message("fail")
    assert (await gate.send(bad)).status == 500
    assert (await gate.says("hello"))[0]["text"] == "heard hello"
    await api.restart()
    gate.base = api.plain().base
    problem = await gate.send(bad)
    assert (problem.status, "Retry-After" in problem.headers) == (500, False)
    assert await put_aside(gate) == "sprung_put_aside 0.0"
    third, again = await gate.send(bad), await gate.send(bad)
    assert (third.status, again.status) == (200, 200)
    (said,) = (await third.json())["replies"]
    assert said["text"] == MESSAGE
    assert await again.json() == await third.json()
    assert await put_aside(gate) == "sprung_put_aside 1.0"
    (told,) = [one.getMessage() for one in caplog.records if one.name == "sprung.storage"]
    assert told.startswith(f"message gate:{bad['id']} is put aside after 3 tries: RuntimeError in echo (conftest.py:")
    assert (await gate.says("hello"))[0]["text"] == "heard hello"


async def test_a_poisoned_reminder(api: Api, caplog: pytest.LogCaptureFixture) -> None:
    """Others get theirs at once, its own person is told within a few looks, and then hears the next one."""
    gate = await api.gateway()
    for text, person in (("hi", "sam"), ("later 13 jo sam", "jo"), ("later 14 jo", "jo")):
        await gate.says(text, person)
    waker = api.served._waker
    api.clock.move_to(api.clock.now() + timedelta(seconds=20))
    said, after = [], "0"
    for _ in range(3):
        await waker._fire()
        found, after = await gate.outbox(after=after)
        said += [one["text"] for one in found]
    assert said == ["due 13", REMINDER, "due 14"]
    await soon(lambda: not waker._one.locked())
    assert await put_aside(gate) == "sprung_put_aside 1.0"
    assert "Ava" not in "".join(one.getMessage() for one in caplog.records if one.levelno >= logging.ERROR)
