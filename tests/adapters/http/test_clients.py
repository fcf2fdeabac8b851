"""Clients that hang up, read slowly or write slowly."""
from __future__ import annotations

import asyncio
import json

from tests.adapters.http.api import Api, Gateway, marks


async def test_a_client_that_vanishes_loses_nothing(api: Api, gate: Gateway) -> None:
    """Who hangs up before the answer and sends it again gets it; the mark is there once."""
    await gate.says("start tuesday")
    await gate.says("everyone")
    message = gate.message("ava seen cartwheel")
    body = json.dumps(message).encode()
    head = (f"POST /v1/messages HTTP/1.1\r\nHost: x\r\nAuthorization: Bearer {gate.key}\r\n"
            f"Content-Type: application/json\r\nContent-Length: {len(body)}\r\n\r\n").encode()
    for cut in (len(body) // 2, len(body)):
        _, writer = await asyncio.open_connection("127.0.0.1", api.port)
        writer.write(head + body[:cut])
        await writer.drain()
        writer.transport.abort()
    response = await gate.send(message)
    assert response.status == 200
    assert await marks(api) == [("tuesday-ava-price", "seen")]


async def test_a_slow_reader_holds_up_nobody(api: Api, gate: Gateway) -> None:
    """Who asks much and reads nothing keeps only its own connection busy."""
    _, writer = await asyncio.open_connection("127.0.0.1", api.port)
    ask = b"GET /v1/openapi.json HTTP/1.1\r\nHost: x\r\n\r\n"
    writer.write(ask * 2000)        # some 30 MB of answers
    for _ in range(20):
        assert (await asyncio.wait_for(gate.send(gate.message("help")), 10)).status == 200
    writer.transport.abort()


async def test_a_slow_writer_holds_up_nobody(api: Api, gate: Gateway) -> None:
    """Whoever sends a body letter by letter is waited for, and others are answered meanwhile."""
    reader, writer = await asyncio.open_connection("127.0.0.1", api.port)
    body = json.dumps(gate.message("help")).encode()
    writer.write((f"POST /v1/messages HTTP/1.1\r\nHost: x\r\nAuthorization: Bearer {gate.key}\r\n"
                  f"Content-Type: application/json\r\nContent-Length: {len(body)}\r\n\r\n").encode())
    for letter in body:
        assert (await gate.ask("GET", "/healthz")).status == 200
        writer.write(bytes([letter]))
    assert b"200 OK" in await asyncio.wait_for(reader.readline(), 10)
    writer.close()
