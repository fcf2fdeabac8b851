"""What goes out unasked over real HTTP: taken out by polling, in order, until it is reported."""
from __future__ import annotations

import asyncio
from datetime import timedelta

import pytest

from adapters.http.letters import TOO_OLD
from tests.adapters.http.api import Api, Gateway, soon


def texts(messages: list[dict]) -> list[tuple[str, str]]:
    """Whom and what."""
    return [(one["to"][-1], one["text"]) for one in messages]      # phones end in 1 (jo), 2 (sam), 3 (ines)


@pytest.fixture
async def gate(echo: Api) -> Gateway:
    """A gateway through which jo and sam were heard."""
    made = await echo.gateway()
    await made.says("hi")
    await made.says("hi", "sam")
    return made


async def test_what_falls_due_waits_at_the_gateway(echo: Api, gate: Gateway) -> None:
    """An unasked message has the shape of a reply, and answers nothing; it goes to its person's address."""
    await gate.says("later 60 sam")
    await echo.pass_time(60)
    (message,), cursor = await gate.outbox()
    assert message == {
        "id": message["id"], "seq": 2, "channel": "whatsapp", "to": "+447700900002", "text": "due 60", "choices": [],
        "attachments": [], "in_reply_to": None,
    }
    assert await gate.outbox(after=cursor) == ([], cursor)


async def test_nothing_is_lost_by_being_read(echo: Api, gate: Gateway) -> None:
    """Until it is reported delivered it comes again, under one id, over restarts; after that never."""
    await gate.says("later 60 sam jo")
    await echo.pass_time(60)
    first, cursor = await gate.outbox()
    await echo.restart()
    assert await gate.outbox() == (first, cursor)
    assert await gate.report(first[0], "delivered") == 204
    assert await gate.report(first[0], "delivered") == 204
    await echo.restart()
    assert await gate.outbox() == (first[1:], cursor)
    await gate.says("later 60 sam")
    await echo.pass_time(60)
    new, later = await gate.outbox(after=cursor)
    assert [one["id"] for one in new] not in [[one["id"]] for one in first]
    assert int(later) > int(cursor)


async def test_another_gateway_sees_nothing(echo: Api, gate: Gateway) -> None:
    """Only the gateway through which its person was last heard gets a message, and may report it."""
    await gate.says("later 60 sam")
    await echo.pass_time(60)
    other = await echo.gateway("other")
    (message,), _ = await gate.outbox()
    assert (await other.outbox())[0] == []
    for how in ("delivered", "failed"):
        assert await other.report(message, how) == 404
    assert len((await gate.outbox())[0]) == 1
    await other.says("hi", "sam")
    await gate.says("later 60 sam")
    await echo.pass_time(60)
    assert len((await gate.outbox())[0]) == 1
    assert len((await other.outbox())[0]) == 1


async def test_a_failing_head_blocks_its_person_alone(echo: Api, gate: Gateway) -> None:
    """What failed comes again later, with all that comes after it for the same person; others go on at once."""
    await gate.says("later 60 sam jo")
    await gate.says("later 70 sam")
    await echo.pass_time(80)
    before, cursor = await gate.outbox()
    assert [one["to"][-1] for one in before] == ["1", "2", "2"]
    assert await gate.report(before[1], "failed") == 204
    assert texts((await gate.outbox())[0]) == [("1", "due 60")]
    await gate.says("later 1 sam jo")
    await echo.pass_time(1)
    held, cursor = await gate.outbox(after=cursor)
    assert texts(held) == [("1", "due 1")]
    await echo.pass_time(10)
    again, _ = await gate.outbox(after=cursor)
    assert [one["id"] for one in again[:2]] == [before[1]["id"], before[2]["id"]]
    assert texts(again) == [("2", "due 60"), ("2", "due 70"), ("2", "due 1")]


async def test_what_can_never_be_delivered_is_given_up(echo: Api, gate: Gateway) -> None:
    """A permanent failure frees what comes after it, and is counted."""
    await gate.says("later 60 sam")
    await gate.says("later 70 sam")
    await echo.pass_time(80)
    (first, second), _ = await gate.outbox()
    assert await gate.report(first, "failed", permanent=True) == 204
    assert (await gate.outbox())[0] == [second]
    counted = await (await gate.ask("GET", "/metrics")).text()
    assert 'sprung_unasked_messages_total{how="given up"} 1.0' in counted


async def test_what_is_too_old_is_dropped_and_counted(echo: Api, gate: Gateway) -> None:
    """A head that can't be delivered is dropped one day, and what was said later goes on."""
    await gate.says("later 60 sam")
    await echo.pass_time(60)
    (head,), _ = await gate.outbox()
    await gate.says(f"later {int(TOO_OLD.total_seconds()) - 10} sam")
    for _ in range(3):
        await gate.report(head, "failed")
        await echo.pass_time(20)
    await echo.pass_time(TOO_OLD.total_seconds() - 80)
    assert [one["id"] for one in (await gate.outbox())[0]] == [head["id"]]
    await echo.pass_time(60)
    (later,), _ = await gate.outbox()
    assert later["id"] != head["id"]
    counted = await (await gate.ask("GET", "/metrics")).text()
    assert 'sprung_unasked_messages_total{how="dropped"} 1.0' in counted


async def test_a_long_poll_is_answered_at_once(echo: Api, gate: Gateway) -> None:
    """Whoever waits is answered when something comes; the others go on waiting."""
    other = await echo.gateway("other")
    mine, theirs = (asyncio.create_task(one.outbox(wait=50)) for one in (gate, other))
    await soon(lambda: "sprung_polls 2.0" in echo.served.desk.metrics.text().decode())
    await gate.says("later 0 sam")
    messages, _ = await asyncio.wait_for(mine, 5)
    assert texts(messages) == [("2", "due 0")]
    assert not theirs.done()
    await asyncio.gather(echo.served.stop(), theirs)
    assert theirs.result()[0] == []
    await echo.served.start(port=0)


async def test_a_long_poll_ends_empty(echo: Api, gate: Gateway) -> None:
    """When its time is over a long poll brings nothing, and the cursor that it began with."""
    began = asyncio.get_running_loop().time()
    assert await gate.outbox(after="7", wait="0.3") == ([], "7")
    assert 0.25 < asyncio.get_running_loop().time() - began < 5


async def test_what_another_program_said_is_found(echo: Api, gate: Gateway) -> None:
    """A message that another process on the same database let fall due is brought within a second or two."""
    from storage import open_store
    from tests.adapters.conftest import echo_wake

    await gate.says("later 3600 sam")
    waiting = asyncio.create_task(gate.outbox(wait=30))
    other = open_store(echo.database)
    await other.wake(echo.clock.now() + timedelta(hours=2), echo_wake)
    await other.close()
    assert texts((await asyncio.wait_for(waiting, 10))[0]) == [("2", "due 3600")]


@pytest.mark.parametrize("query", [
    "after=x", "after=-1", "after=", "after=99999999999999999999", "after=9223372036854775808", "after=1&after=2",
    "wait=soon", "wait=-1", "wait=61", "wait=nan", "wait=inf", "before=3", "after=%EF%BC%91",
])
async def test_a_wrong_parameter_is_named(gate: Gateway, query: str) -> None:
    """A cursor or a time that is none is a problem that says what would do."""
    response = await gate.ask("GET", f"/v1/outbox?{query}")
    assert response.status == 422
    assert query.split("=")[0] in (await response.json())["detail"]


async def test_pages_follow_each_other(echo: Api, gate: Gateway) -> None:
    """More than a page's worth comes page by page, everything once."""
    for n in range(130):
        await gate.says(f"later {1000 + n} sam")
    await echo.pass_time(2000)
    seen, cursor = [], "0"
    while page := (await gate.outbox(after=cursor))[0]:
        seen += page
        cursor = (await gate.outbox(after=cursor))[1]
    assert [one["text"] for one in seen] == [f"due {1000 + n}" for n in range(130)]


@pytest.mark.parametrize(("path", "body", "status"), [
    ("m_1_none/delivered", None, 404), ("m_1_none/failed", None, 404), ("%2F/failed", None, 404),
    ("m_1_none/failed", {"permanent": "yes"}, 422), ("m_1_none/failed", {"why": "no"}, 422),
    ("m_1_none/delivered", {"why": "no"}, 422), ("m_1_none/failed", [], 422),
])
async def test_a_report_that_fits_nothing(gate: Gateway, path: str, body: object, status: int) -> None:
    """An unknown message is not there; a report with other fields is named."""
    more = {} if body is None else {"json": body}
    response = await gate.ask("POST", f"/v1/outbox/{path}", **more)
    assert (response.status, response.content_type) == (status, "application/problem+json")
