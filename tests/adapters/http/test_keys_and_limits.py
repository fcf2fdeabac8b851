"""Who is let in, and how often."""
from __future__ import annotations

from collections.abc import Awaitable, Callable
from datetime import timedelta
from pathlib import Path

import pytest

from adapters.clock import Clock
from adapters.http.limits import Limits, Rate
from adapters.service import Service
from bot.port import Store
from tests.adapters.http.api import Api, Gateway


async def test_only_a_key_lets_in(api: Api, gate: Gateway) -> None:
    """No key and an unknown one are told how to get one; an ended one is refused, the gateway's other one is not."""
    for key, header in (("", ""), ("nonsense", "Bearer nonsense"), ("", "Basic am86am8="), ("", "Bearer")):
        response = await api.plain(key).ask("POST", "/v1/messages", json={}, headers={"Authorization": header})
        assert response.status == 401
        assert response.headers["WWW-Authenticate"].startswith("Bearer")
        assert "sprung key" in (await response.json())["detail"]
    other = await api.gateway()
    await api.store.end_keys("gate", "_".join(other.key.split("_")[:2]))
    assert (await other.ask("GET", "/v1/outbox")).status == 403
    assert (await gate.ask("GET", "/v1/outbox")).status == 200


async def test_an_ended_key_stops_within_seconds(api: Api, gate: Gateway) -> None:
    """A key that was used a moment ago is looked up again before long."""
    now = [0.0]
    api.served.desk.keys._now = lambda: now[0]
    assert (await gate.ask("GET", "/v1/outbox")).status == 200
    await api.store.end_keys("gate")
    now[0] += 2.1
    assert (await gate.ask("GET", "/v1/outbox")).status == 403


async def test_no_key_is_kept_in_clear(api: Api, gate: Gateway) -> None:
    """Neither a key nor its secret part is anywhere in the file."""
    await gate.says("help")
    await api.store.backup(str(api.database) + ".copy")
    kept = Path(f"{api.database}.copy").read_bytes()
    assert gate.key.encode() not in kept
    assert gate.key.split("_", 2)[2].encode() not in kept


Limited = Callable[[Limits], Awaitable[Api]]


@pytest.fixture
async def limited(filled: Path, make_service: Callable[[Store, Clock], Service]):
    """An API with these limits."""
    made: list[Api] = []

    async def start(limits: Limits) -> Api:
        api = Api(filled, make_service, limits)
        made.append(api)
        await api.start()
        return api

    yield start
    for api in made:
        await api.stop()
        await api.session.close()


async def test_a_person_who_writes_too_often_waits(limited: Limited) -> None:
    """One sender's flood is stopped, with the time to wait; others go on; after that time it is heard again."""
    api = await limited(Limits(person=Rate(0.5, 3)))
    gate = await api.gateway()
    found = [(await gate.send(gate.message("hi"))).status for _ in range(4)]
    assert found == [200, 200, 200, 429]
    response = await gate.send(gate.message("hi"))
    assert response.headers["Retry-After"] == "2"
    assert response.content_type == "application/problem+json"
    assert (await gate.send(gate.message("hi", "sam"))).status == 200
    api.clock.move_to(api.clock.now() + timedelta(seconds=2))
    assert [(await gate.send(gate.message("hi"))).status for _ in range(2)] == [200, 429]


async def test_a_key_that_asks_too_often_waits(limited: Limited) -> None:
    """All that comes with one key counts; another key has its own."""
    api = await limited(Limits(key=Rate(1, 2)))
    gate, other = await api.gateway(), await api.gateway("other")
    assert [(await gate.ask("GET", "/v1/outbox")).status for _ in range(3)] == [200, 200, 429]
    assert (await other.ask("GET", "/v1/outbox")).status == 200
    assert (await gate.ask("GET", "/healthz")).status == 200


async def test_codes_can_not_be_tried_for_long(limited: Limited) -> None:
    """A sender has a few tries at a code, however it is typed; other words are not counted, others not held up."""
    api = await limited(Limits(codes=Rate(1 / 360, 3)))
    gate = await api.gateway()
    tries = [(await gate.send(gate.message(text))).status for text in ("join A1", "Join: B2", "  JOIN C3", "join D4")]
    assert tries == [200, 200, 200, 429]
    assert (await gate.send(gate.message("joining us?"))).status == 200
    assert (await gate.send(gate.message("join A1", "sam"))).status == 200


async def test_wrong_keys_can_not_be_tried_for_long(limited: Limited) -> None:
    """An address that tries keys is told to wait; whoever has a right one there is still let in."""
    api = await limited(Limits(wrong_keys=Rate(0.1, 2)))
    gate = await api.gateway()
    assert [(await api.plain("x").ask("GET", "/v1/outbox")).status for _ in range(3)] == [401, 401, 429]
    assert (await gate.ask("GET", "/v1/outbox")).status == 200
