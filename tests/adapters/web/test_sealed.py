"""Every route there is: what its answers say to a browser, how large a body it takes, whom it listens to.

The routes are those of the running program, so one that is added is looked at too.
"""
from __future__ import annotations

import asyncio
import gzip
from collections.abc import AsyncIterator
from typing import Any

import pytest
import pytest_asyncio
from aiohttp import ClientResponse

from adapters.http import app as program
from adapters.http import desk, doors
from adapters.http.desk import LARGEST_BODY
from adapters.http.limits import Limits, Rate
from tests.adapters.web.conftest import Hall, running
from tests.adapters.web.test_pages import ATTEMPT, Browser

FREE = Rate(1e9, 10**9)
LINKS = ("/calendar/", "/v1/files/", "/web/files/")     # whose secret is in the path: without it there is nothing there
PUBLIC = {"/healthz", "/readyz", "/metrics", "/v1/openapi.json"}


def routes(hall: Hall) -> list[tuple[str, str]]:
    """Every method and path of the running program."""
    resources = hall.served._runner.app.router.resources()
    return sorted({
        (route.method, resource.canonical.replace("{id}", "m_1_0")) for resource in resources for route in resource
    })


@pytest_asyncio.fixture()
async def free(hall_file: Any, tmp_path: Any) -> AsyncIterator[Hall]:
    """The program without limits."""
    async with running(hall_file, tmp_path, limits=Limits(FREE, FREE, FREE, FREE, FREE, FREE, all_codes=FREE)) as made:
        yield made


@pytest_asyncio.fixture()
async def signed_in(free: Hall) -> AsyncIterator[Browser]:
    """A phone of Jo's on it."""
    made = Browser(free)
    assert (await made.join()).status == 204
    yield made
    await made.session.close()


def sealed(response: ClientResponse, *, kept: bool = False) -> None:
    """It is shown in no frame, loads nothing from elsewhere, is what it says it is, and says nothing of the program."""
    headers = response.headers
    policy = headers["Content-Security-Policy"]
    assert "default-src 'none'" in policy
    assert "frame-ancestors 'none'" in policy
    assert "unsafe" not in policy
    assert "*" not in policy
    assert headers["X-Frame-Options"] == "DENY"
    assert headers["X-Content-Type-Options"] == "nosniff"
    assert headers["Referrer-Policy"] == "no-referrer"
    assert headers["Cross-Origin-Resource-Policy"] == "same-origin"
    assert headers["Cache-Control"] == ("no-cache" if kept else "no-store")
    assert headers["Server"] == "sprung"
    assert not any(word in str(headers).lower() for word in ("python", "aiohttp"))
    assert "Access-Control-Allow-Origin" not in headers


def test_there_are_routes_to_look_at(hall: Hall) -> None:
    """The router is where these tests look for it."""
    assert len(routes(hall)) > 40
    assert {("POST", "/v1/messages"), ("GET", "/"), ("POST", "/v1/outbox/m_1_0/delivered")} <= set(routes(hall))


async def test_every_answer_is_sealed(free: Hall, signed_in: Browser) -> None:
    """Of every route, to whoever is known and whoever is not, right or wrong, a stream too."""
    gate = await free.gateway()
    stranger = Browser(free)
    for method, path in routes(free):
        for who in (signed_in, stranger):
            key = gate.key if who is signed_in else "x"
            sent = None if method in ("GET", "HEAD") else {}
            response = await who.ask(method, path, sent, Authorization=f"Bearer {key}")
            file = path in program.pages.files()
            sealed(response, kept=file and response.status == 200)
            assert response.status < 500
            if who is stranger and not file and path not in PUBLIC:
                assert response.status in ((404,) if path.startswith(LINKS) else (401, 403, 422)), path
    await stranger.session.close()


@pytest.mark.parametrize(("method", "path", "status"), [
    ("GET", "/nothing", 404), ("DELETE", "/v1/messages", 405), ("GET", "/v1/outbox?x=1", 422), ("GET", "/%00", 404),
])
async def test_every_problem_is_sealed(free: Hall, method: str, path: str, status: int) -> None:
    """What the router or a handler refuses is sealed as well."""
    response = await (await free.gateway()).ask(method, path)
    assert response.status == status
    sealed(response)


async def test_a_fault_of_ours_and_what_is_no_http_are_sealed(free: Hall) -> None:
    """Also where something broke, and where there is no request to begin with."""
    gate = await free.gateway()

    async def broken(*_: object, **__: object) -> Any:
        raise ArithmeticError

    free.service.hear = broken      # type: ignore[method-assign]
    response = await gate.send(gate.message("help"))
    assert response.status == 500
    sealed(response)
    reader, writer = await asyncio.open_connection("127.0.0.1", free.port)
    writer.write(b"what?\r\n\r\n")
    head = (await asyncio.wait_for(reader.readuntil(b"\r\n\r\n"), 10)).decode()
    writer.close()
    assert "Server: sprung" in head
    assert "X-Frame-Options: DENY" in head


async def test_by_tls_a_browser_is_told_to_come_by_tls_alone(free: Hall, signed_in: Browser) -> None:
    """Where a server in front of us ended TLS, every answer says so; where nobody did, none does (RFC 6797, 7.2)."""
    for path in ("/", "/web/sheet", "/healthz", "/nothing"):
        by_tls = await signed_in.ask("GET", path, **{"X-Forwarded-Proto": "https"})
        assert int(by_tls.headers["Strict-Transport-Security"].removeprefix("max-age=")) >= 31_536_000
        assert "Strict-Transport-Security" not in (await signed_in.ask("GET", path)).headers


async def test_no_other_sites_page_can_call(free: Hall, signed_in: Browser) -> None:
    """Whatever a page can do that changes something is refused to another site's, with the cookie or without it."""
    changing = [one for one in routes(free) if one[1].startswith("/web/") and one[0] not in ("GET", "HEAD")]
    assert len(changing) >= 5
    for method, path in changing:
        for headers in ({"Origin": "https://elsewhere.example"}, {"Origin": "null"}, {"Sec-Fetch-Site": "same-site"}):
            assert (await signed_in.ask(method, path, {}, **headers)).status == 403, path
    assert (await signed_in.ask("GET", "/web/sheet")).status == 200


# --- how large, how slow, how many ----------------------------------------------------------------------

async def trickled(body: bytes) -> AsyncIterator[bytes]:
    """With no length said beforehand."""
    for start in range(0, len(body), 16_384):
        yield body[start:start + 16_384]


async def test_no_body_is_read_that_is_too_large(free: Hall, signed_in: Browser) -> None:
    """Every route that takes a body looks at its size before anything else in it, whether its length is said or not."""
    gate = await free.gateway()
    headers = {"Authorization": f"Bearer {gate.key}", "Origin": free.address, "Content-Type": "application/json"}
    huge = b'{"id": "' + b"x" * LARGEST_BODY + b'"}'
    posted = [path for method, path in routes(free) if method == "POST"]
    assert len(posted) >= 8
    for path in posted:
        for body in (huge, trickled(huge)):
            async with signed_in.session.post(free.address + path, data=body, headers=headers) as response:
                assert response.status == 413, path
                assert "64 KiB" in await response.text()


async def test_nothing_small_unpacks_to_something_huge(free: Hall) -> None:
    """A packed body is no JSON: it is not unpacked."""
    gate = await free.gateway()
    headers = {"Content-Encoding": "gzip", "Content-Type": "application/json"}
    response = await gate.ask("POST", "/v1/messages", data=gzip.compress(b" " * 20_000_000), headers=headers)
    assert response.status == 400


async def gone(reader: asyncio.StreamReader) -> bytes:
    """What comes until the connection is closed."""
    try:
        return await asyncio.wait_for(reader.read(), 20)
    except ConnectionError:
        return b""


@pytest.mark.parametrize("sent", [b"", b"GET / HTTP/1.1\r\nHost: x\r\n", b"GET / HTTP/1.1\r\nHost: x\r\n\r\nGET /"],
                         ids=["nothing", "half a head", "half a second one"])
async def test_a_head_that_never_ends_is_not_waited_for(
    hall_file: Any, tmp_path: Any, monkeypatch: pytest.MonkeyPatch, sent: bytes,
) -> None:
    """A connection that brings no whole request is closed after a while."""
    monkeypatch.setattr(program, "HEAD_WITHIN_S", 0.3)
    async with running(hall_file, tmp_path) as hall:
        reader, writer = await asyncio.open_connection("127.0.0.1", hall.port)
        writer.write(sent)
        found = await gone(reader)
        assert found.count(b"HTTP/1.1 200") == (b"\r\n\r\n" in sent)
        writer.close()
    assert doors.HEAD_WITHIN_S <= 60


async def test_a_body_that_never_ends_is_not_waited_for(free: Hall, monkeypatch: pytest.MonkeyPatch) -> None:
    """A body that is announced and does not come is a 408, and its connection ends."""
    monkeypatch.setattr(desk, "BODY_WITHIN_S", 0.2)
    gate = await free.gateway()
    reader, writer = await asyncio.open_connection("127.0.0.1", free.port)
    writer.write(f"POST /v1/messages HTTP/1.1\r\nHost: x\r\nAuthorization: Bearer {gate.key}\r\n"
                 "Content-Type: application/json\r\nContent-Length: 50\r\n\r\n{".encode())
    assert (await asyncio.wait_for(reader.readline(), 10)).split()[1] == b"408"
    writer.close()


async def test_an_answer_that_nobody_takes_is_let_go(free: Hall, monkeypatch: pytest.MonkeyPatch) -> None:
    """Whoever asks again and again and reads nothing is cut off, and the program goes on."""
    monkeypatch.setattr(doors, "ANSWER_WITHIN_S", 0.3)
    reader, writer = await asyncio.open_connection("127.0.0.1", free.port, limit=1024)
    reader._transport.pause_reading()       # type: ignore[attr-defined]

    async def ask_on() -> None:
        while True:
            writer.write(b"GET /js/main.js HTTP/1.1\r\nHost: x\r\n\r\n" * 50)
            await writer.drain()
            await asyncio.sleep(0.01)

    with pytest.raises(ConnectionError):
        await asyncio.wait_for(ask_on(), 20)
    assert (await free.plain().ask("GET", "/healthz")).status == 200


async def test_where_there_are_too_many_the_idle_one_goes(free: Hall) -> None:
    """Half-open connections keep nobody out: the one that has said nothing longest makes room."""
    free.served._runner.server.most = 5        # type: ignore[union-attr]
    idle = [await asyncio.open_connection("127.0.0.1", free.port) for _ in range(9)]
    assert (await free.plain().ask("GET", "/healthz")).status == 200
    assert await gone(idle[0][0]) == b""
    assert len(free.served._runner.server.connections) <= 6        # type: ignore[union-attr]
    for _, writer in idle:
        writer.close()


async def test_a_phone_listens_only_so_often_at_once(free: Hall, signed_in: Browser) -> None:
    """Streams and waits of one phone are few: each is looked at every second."""
    streams = [
        await signed_in.session.ws_connect(f"{free.address}/web/stream", headers={"Origin": free.address})
        for _ in range(Limits().listening)
    ]
    assert (await signed_in.ask("GET", "/web/stream")).status == 429
    assert (await signed_in.ask("GET", "/web/said?after=99&wait=20")).status == 429
    assert (await signed_in.ask("GET", "/web/said")).status == 200
    await streams[0].close()
    signed_in.hall.served.desk.page_bell.ring()
    for _ in range(200):
        if (again := await signed_in.ask("GET", "/web/said?after=0&wait=1")).status == 200:
            break
        await asyncio.sleep(0.05)
    assert again.status == 200
    for stream in streams:
        await stream.close()


async def test_signed_out_is_signed_out(free: Hall, signed_in: Browser) -> None:
    """What let a phone in does not do so again once it was signed out; nor does half of it, with any other code."""
    code, other = await free.code("sam"), Browser(free)
    asked = {"code": code, "attempt": ATTEMPT.replace("1", "3")}
    assert (await other.ask("POST", "/web/join", asked)).status == 204
    assert (await other.ask("POST", "/web/join", asked)).status == 204      # an answer that was lost
    assert (await other.ask("GET", "/web/sheet")).status == 200
    assert (await other.ask("POST", "/web/join", {**asked, "code": "AAAABBBB"})).status == 403
    assert (await other.ask("POST", "/web/out", {})).status == 204
    refused = await other.ask("POST", "/web/join", asked)
    assert refused.status == 403
    assert "signed out" in (await refused.json())["detail"]
    await other.session.close()


