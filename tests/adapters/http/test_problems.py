"""Wrong paths, wrong methods, no HTTP at all, and faults of ours: the answer is a problem document."""
from __future__ import annotations

import asyncio
from pathlib import Path
from typing import Any

import pytest

from bot.step import Heard, Refused
from bot.talk import turn
from tests.adapters.http.api import Api, Gateway


@pytest.mark.parametrize(("method", "path", "status", "allowed"), [
    ("GET", "/v1/messages", 405, "POST"), ("PUT", "/v1/outbox", 405, "GET"), ("TRACE", "/v1/outbox", 405, "GET"),
    ("GET", "/v1/outbox/m_1/delivered", 405, "POST"), ("DELETE", "/healthz", 405, "GET, HEAD"),
    ("OPTIONS", "/v1/messages", 405, "POST"), ("GET", "/v2/messages", 404, None), ("POST", "/v1", 404, None),
    ("POST", "/", 405, "GET, HEAD"),
    ("GET", "/v1/outbox/a/b/delivered", 404, None), ("GET", "/v1/%00", 404, None),
    ("PATCH", "/v1/messages", 405, "POST"),
])
async def test_a_wrong_path_or_method_is_a_problem(
    gate: Gateway, method: str, path: str, status: int, allowed: str | None,
) -> None:
    """Whatever is asked, the answer is a problem document; a wrong method is told which ones there are."""
    response = await gate.ask(method, path)
    assert response.status == status
    assert response.content_type == "application/problem+json"
    assert response.headers.get("Allow") == allowed
    assert (await response.json())["status"] == status


@pytest.mark.parametrize("sent", [
    b"what?\r\n\r\n", b"GET / HTTP/9.9\r\n\r\n", b"GET /v1/outbox HTTP/1.1\r\nHost: x\r\nBad Header\r\n\r\n",
    b"GET /v1/outbox HTTP/1.1\r\nHost: x\r\nExpect: cake\r\n\r\n", b"\x16\x03\x01\x02\x00\x01\x00\r\n\r\n",
    b"GET /" + b"x" * 20_000 + b" HTTP/1.1\r\nHost: x\r\n\r\n",
], ids=["words", "version", "header", "expectation", "another protocol", "a long line"])
async def test_what_is_no_http_is_a_problem_too(api: Api, sent: bytes) -> None:
    """What the parser can't read, or the server not expect, is a problem document and ends only its connection."""
    reader, writer = await asyncio.open_connection("127.0.0.1", api.port)
    writer.write(sent)
    head = await asyncio.wait_for(reader.readuntil(b"\r\n\r\n"), 10)
    writer.close()
    assert head.split()[1].startswith(b"4")
    assert b"application/problem+json" in head
    assert (await api.plain().ask("GET", "/healthz")).status == 200


async def test_a_fault_of_ours_shows_nothing_of_itself(
    api: Api, gate: Gateway, tmp_path: Path, caplog: pytest.LogCaptureFixture,
) -> None:
    """A mistake in the program is a 500 with one sentence; the next message is answered."""
    def mistaken(heard: Heard, desk: Any) -> Any:
        if heard.text == "fail":
            raise ArithmeticError("Ava Price")
        return turn.step(heard, desk)

    api.service._decide = mistaken
    response = await gate.send(gate.message("fail"))
    text = await response.text()
    assert (response.status, response.content_type) == (500, "application/problem+json")
    assert not any(word in text for word in ("Traceback", "ArithmeticError", "Ava"))
    assert await gate.says("help")


async def test_what_could_not_be_saved_may_be_sent_again(api: Api, gate: Gateway) -> None:
    """Where the store can't take a message the gateway hears so, and when to try again."""
    async def full(*_: object, **__: object) -> Any:
        raise Refused("That could not be saved just now. Please send it again in a moment.")

    hear, api.service.hear = api.service.hear, full      # type: ignore[method-assign]
    message = gate.message("start tuesday")
    response = await gate.send(message)
    assert (response.status, response.headers["Retry-After"]) == (503, "1")
    api.service.hear = hear                              # type: ignore[method-assign]
    assert (await gate.send(message)).status == 200
