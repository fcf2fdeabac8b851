"""What the program says of itself, and how it ends."""
from __future__ import annotations

import asyncio
from typing import Any

from tests.adapters.http.api import Api, Gateway, soon


async def test_the_program_says_how_it_is(api: Api, gate: Gateway) -> None:
    """It is alive and ready, without a key; what is counted names nobody."""
    await gate.says("start tuesday")
    await gate.send({})
    open_to_all = api.plain()
    assert await (await open_to_all.ask("GET", "/healthz")).json() == {"status": "ok"}
    assert await (await open_to_all.ask("GET", "/readyz")).json() == {"status": "ready"}
    counted = await (await open_to_all.ask("GET", "/metrics")).text()
    assert 'sprung_messages_total{gateway="gate",outcome="answered"} 1.0' in counted
    assert 'sprung_messages_total{gateway="gate",outcome="refused"} 1.0' in counted
    assert 'sprung_problems_total{status="422"} 1.0' in counted
    assert "+447700900001" not in counted


async def test_what_is_about_to_stop_is_not_ready(api: Api) -> None:
    """While it ends it says so."""
    api.served.desk.bell.stop()
    assert (await api.plain().ask("GET", "/readyz")).status == 503


async def test_the_end_waits_for_what_is_under_way(api: Api, gate: Gateway) -> None:
    """A message that is under way when we are asked to stop is answered."""
    await gate.says("start tuesday")
    entered, go = asyncio.Event(), asyncio.Event()
    hear = api.service.hear

    async def slowly(*args: Any, **more: Any) -> Any:
        entered.set()
        await go.wait()
        return await hear(*args, **more)

    api.service.hear = slowly       # type: ignore[method-assign]
    sent = asyncio.create_task(gate.send(gate.message("everyone")))
    await entered.wait()
    stopped = asyncio.create_task(api.served.stop())
    await soon(lambda: api.served.desk.bell.stopped)
    go.set()
    assert (await asyncio.wait_for(sent, 10)).status == 200
    await stopped
