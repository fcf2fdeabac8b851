"""What is counted, and what of it is asked of the store when somebody looks. Read by Prometheus's own parser."""
from __future__ import annotations

import asyncio
from collections.abc import AsyncIterator
from datetime import timedelta
from typing import Any

import pytest
from prometheus_client.parser import text_string_to_metric_families

from adapters.http.metrics import OUTCOMES
from bot.step import Refused
from tests.adapters.http.api import PHONES, Api, Gateway, soon
from tests.adapters.http.test_push import Receiver

LABELS = {"gateway", "outcome", "status", "level", "kind", "how", "to", "le", "quantile"}


async def counted(gate: Gateway) -> dict[tuple[str, ...], float]:
    """Each number under its name and the values of its labels."""
    text = await (await gate.ask("GET", "/metrics")).text()
    samples = [one for family in text_string_to_metric_families(text) for one in family.samples]
    assert {label for one in samples for label in one.labels} <= LABELS
    return {(one.name, *(value for _, value in sorted(one.labels.items()))): one.value for one in samples}


async def test_messages_by_what_became_of_them(echo: Api) -> None:
    """Answered, not as it should be, an id that was another's, a fault of ours, not to be saved: each is told apart."""
    gate = await echo.gateway()
    await gate.says("hello", id="m")
    await gate.says("hello", id="m")
    await gate.send(gate.message("something else", id="m"))
    await gate.send({"text": "Ava Price"})
    await gate.send(gate.message("fail"))
    step = echo.store.step

    def busy(*_: Any) -> None:
        raise Refused("not now")

    echo.store.step = busy      # type: ignore[method-assign, assignment]
    await gate.send(gate.message("hello"))
    echo.store.step = step      # type: ignore[method-assign]
    found = await counted(gate)
    said = {outcome: found["sprung_messages_total", "gate", outcome] for outcome in OUTCOMES}
    assert said == {"answered": 2, "refused": 1, "conflict": 1, "busy": 1, "failed": 1}
    assert found["sprung_message_seconds_count",] == 2
    assert found["sprung_errors_total", "RuntimeError", "error"] == 1
    assert found["sprung_messages_waiting",] == 0


async def test_messages_that_wait_are_seen(echo: Api) -> None:
    """Whoever looks while messages wait for the store sees how many they are."""
    gate = await echo.gateway()
    go, hear = asyncio.Event(), echo.service.hear

    async def slowly(*args: Any, **more: Any) -> Any:
        await go.wait()
        return await hear(*args, **more)

    echo.service.hear = slowly      # type: ignore[method-assign]
    sent = [asyncio.create_task(gate.says(f"hello {n}")) for n in range(3)]
    await soon(lambda: "sprung_messages_waiting 3.0" in echo.served.desk.metrics.text().decode())
    go.set()
    await asyncio.gather(*sent)
    assert (await counted(gate))["sprung_messages_waiting",] == 0


async def test_what_waits_in_the_store_is_asked_when_somebody_looks(echo: Api) -> None:
    """What is due and not sent, and the oldest letter of each gateway; and whether the store answers at all."""
    gate = await echo.gateway()
    await gate.says("hi", "sam")
    await gate.says("later 60 sam")
    await echo.pass_time(60)
    await gate.says("later 10 sam")
    await echo.served._waker.stop()         # nobody wakes for it
    echo.clock.move_to(echo.clock.now() + timedelta(minutes=5))
    found = await counted(gate)
    assert found["sprung_store_up",] == 1
    assert (found["sprung_reminders_due",], found["sprung_reminder_oldest_seconds",]) == (1, 290)
    assert (found["sprung_outbox_letters", "gate"], found["sprung_outbox_oldest_seconds", "gate"]) == (1, 300)
    (letter,), _ = await gate.outbox()
    await gate.report(letter, "delivered")
    assert ("sprung_outbox_letters", "gate") not in await counted(gate)

    async def away(_: object) -> None:
        raise Refused("the database can't be reached")

    echo.store.waits = away         # type: ignore[method-assign, assignment]
    assert (await counted(gate))["sprung_store_up",] == 0


async def test_commits_and_the_process_are_counted(echo: Api) -> None:
    """Each message that is kept is a commit at most; what the process takes is there too."""
    gate = await echo.gateway()
    before = await counted(gate)
    await gate.says("hello")
    after = await counted(gate)
    assert after["sprung_commit_seconds_count",] == before["sprung_commit_seconds_count",] + 1
    assert after["sprung_commit_seconds_sum",] > before["sprung_commit_seconds_sum",]
    assert after["process_resident_memory_bytes",] > 1_000_000


@pytest.fixture
async def receiver() -> AsyncIterator[Receiver]:
    """A gateway's own server."""
    made = Receiver()
    made.url = await made.start()       # type: ignore[attr-defined]
    yield made
    await made.stop()


async def test_pushes_are_counted(echo: Api, receiver: Receiver) -> None:
    """Each try to push is counted by what came of it."""
    receiver.answers[PHONES["sam"]] = [500, 204]
    gate = await echo.gateway(push=receiver.url)        # type: ignore[attr-defined]
    await gate.says("hi", "sam")
    await gate.says("later 60 sam")
    await echo.pass_time(60)
    metrics = echo.served.desk.metrics
    await soon(lambda: 'how="failed",to="gateway"} 1.0' in metrics.text().decode())
    await soon(lambda: 'how="failed"} 1.0' in metrics.text().decode())      # and the store knows
    await echo.pass_time(60)
    await soon(lambda: 'how="delivered",to="gateway"} 1.0' in metrics.text().decode())
