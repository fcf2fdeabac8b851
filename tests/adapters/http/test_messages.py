"""Messages over real HTTP: a lesson, the same message again, and what is no message."""
from __future__ import annotations

import asyncio
import json
from collections.abc import Awaitable, Callable
from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest

from adapters.clock import Clock
from adapters.http.limits import Limits, Rate
from adapters.service import Service
from bot.export import export
from bot.step import Heard, Refused, Store
from bot.talk import turn
from tests.adapters.http.api import PHONES, START, Api, Gateway, soon


async def marks(api: Api) -> list[tuple[str, str]]:
    """Child and verdict of every mark of the club."""
    (club,) = await api.store.clubs()
    found = export(await api.store.snapshot(club.id), START)["marks"]
    return [(one["child"], one["verdict"]) for one in found]


# --- a lesson -------------------------------------------------------------------------------------------

async def test_a_lesson_by_message_and_tap(api: Api, gate: Gateway) -> None:
    """A class is opened by a word and marked by a tap; each answer says to whom it goes and what it answers."""
    opened = await gate.says("start tuesday")
    assert opened[-1]["text"].startswith("Everyone here?")
    assert {one["label"] for one in opened[-1]["choices"]} >= {"Everyone", "Some missing"}
    first = await gate.taps("Everyone", opened)
    watching = await gate.taps("Go", first)
    seen = await gate.taps("All seen", watching)
    assert (seen[0]["channel"], seen[0]["to"], seen[0]["attachments"]) == ("whatsapp", "+447700900001", [])
    assert seen[0]["in_reply_to"] == f"m-{gate._count}"
    assert len(await marks(api)) == 4
    every = [*opened, *first, *watching, *seen]
    assert [one["seq"] for one in every] == list(range(1, len(every) + 1))
    assert len({one["id"] for one in every}) == len(every)


async def test_an_unknown_choice_is_answered_in_the_talk(gate: Gateway) -> None:
    """A tap on what is not there is no error of the gateway's: the person is told, with what to do next."""
    replies = await gate.says("start tuesday")
    response = await gate.send(gate.message(choice="c_9_000000000000"))
    assert response.status == 200
    told = (await response.json())["replies"]
    assert told[0]["text"]
    assert told[0]["seq"] == replies[-1]["seq"] + 1


@pytest.mark.parametrize("at", ["0001-01-01T00:00:00+14:00", "9999-12-31T23:59:59-14:00", "2026-11-24T18:00:00Z"])
async def test_a_time_that_can_not_be_meant_is_answered_in_the_talk(api: Api, gate: Gateway, at: str) -> None:
    """A phone whose clock is wrong by an hour or by an age is told so, and nothing is recorded."""
    await gate.says("start tuesday")
    await gate.says("everyone")
    assert await gate.says("ava seen cartwheel", sent_at=at)
    assert await marks(api) == []


async def test_a_phone_is_one_sender_however_it_is_written(gate: Gateway) -> None:
    """Blanks, hyphens and `tel:` make no other person; another channel does."""
    await gate.says("start tuesday")
    (known,) = await gate.says("help", "+44 7700 900-001")
    assert known["to"] == "+447700900001"
    assert known["seq"] > 1
    (stranger,) = await gate.says("help", channel="telegram")
    assert (stranger["to"], stranger["seq"]) == ("+447700900001", 1)


# --- the same message again -----------------------------------------------------------------------------

async def test_the_same_message_gets_the_same_answer(api: Api, gate: Gateway) -> None:
    """Delivered again, at once and after a restart, with another time too, it is answered alike and counts once."""
    await gate.says("start tuesday")
    await gate.says("everyone")
    message = gate.message("ava seen cartwheel")
    first = await (await gate.send(message)).json()
    assert await (await gate.send(message)).json() == first
    later = {**message, "sent_at": (START + timedelta(minutes=3)).isoformat(), "sender": "+44 7700 900001"}
    assert await (await gate.send(later)).json() == first
    await api.restart()
    assert await (await gate.send(message)).json() == first
    assert len(await marks(api)) == 1


async def test_many_deliveries_at_once_are_one_message(api: Api, gate: Gateway) -> None:
    """Deliveries that overlap are answered alike, and the mark is there once."""
    await gate.says("start tuesday")
    await gate.says("everyone")
    message = gate.message("ava seen cartwheel")
    answers = await asyncio.gather(*(gate.send(message) for _ in range(12)))
    assert {one.status for one in answers} == {200}
    assert len({await one.text() for one in answers}) == 1
    assert len(await marks(api)) == 1


@pytest.mark.parametrize("other", [
    {"text": "ben seen cartwheel"}, {"text": None, "choice": "c_1_0f2a"}, {"sender": "+447700900002"},
    {"channel": "signal"},
], ids=["text", "choice", "sender", "channel"])
async def test_the_same_id_for_another_message_is_refused(api: Api, gate: Gateway, other: dict[str, Any]) -> None:
    """An id that was used for something else is a conflict, and nothing of it is recorded."""
    await gate.says("start tuesday")
    await gate.says("everyone")
    message = gate.message("ava seen cartwheel")
    await gate.send(message)
    changed = {name: value for name, value in {**message, **other}.items() if value is not None}
    response = await gate.send(changed)
    assert response.status == 409
    problem = await response.json()
    assert problem["errors"][0]["pointer"] == "#/id"
    assert await marks(api) == [("tuesday-ava-price", "seen")]


async def test_ids_are_each_gateways_own(api: Api, gate: Gateway) -> None:
    """Two gateways may use the same id for different messages."""
    other = await api.gateway("other")
    await gate.send(gate.message("help", id="same"))
    response = await other.send(other.message("start tuesday", id="same"))
    assert response.status == 200


# --- what is no message ---------------------------------------------------------------------------------

WRONG = {
    "a naive time": ({"sent_at": "2026-11-24T17:03:11"}, "sent_at", "2026-11-24T17:03:11Z"),
    "no time at all": ({"sent_at": "yesterday"}, "sent_at", "2026-11-24T17:03:11Z"),
    "a number for a time": ({"sent_at": 1795539791}, "sent_at", "2026-11-24T17:03:11Z"),
    "an unknown field": ({"colour": "red"}, "colour", "leave it out"),
    "text and choice": ({"choice": "c_1_0f2a"}, "text", "leave the other out"),
    "a text that is null": ({"text": None}, "text", "ava seen"),
    "a number for a text": ({"text": 7}, "text", "ava seen"),
    "an empty id": ({"id": ""}, "id", "m-1"),
    "a long id": ({"id": "x" * 201}, "id", "m-1"),
    "an id with a blank": ({"id": "m 1"}, "id", "m-1"),
    "a loud channel": ({"channel": "SMS!"}, "channel", "sms"),
    "no phone number": ({"sender": "jo"}, "sender", "+447700900123"),
    "a number with no country": ({"sender": "07700 900123"}, "sender", "+447700900123"),
    "a number one digit short": ({"sender": "+44770090012"}, "sender", "+447700900123"),
    "a sender with a bell": ({"channel": "telegram", "sender": "j\x07o"}, "sender", "+447700900123"),
    "a sender of blanks": ({"channel": "telegram", "sender": "   "}, "sender", "+447700900123"),
    "a list for a sender": ({"sender": ["+447700900123"]}, "sender", "+447700900123"),
}


@pytest.mark.parametrize(("change", "field", "remedy"), WRONG.values(), ids=list(WRONG))
async def test_what_is_wrong_is_named_with_its_remedy(
    api: Api, gate: Gateway, change: dict[str, Any], field: str, remedy: str,
) -> None:
    """A field that is wrong is named, and what would do; nobody is answered."""
    response = await gate.send({**gate.message("help"), **change})
    assert response.status == 422
    assert response.content_type == "application/problem+json"
    problem = await response.json()
    assert problem["status"] == 422
    assert [one["pointer"] for one in problem["errors"]] == [f"#/{field}"]
    assert field in problem["detail"]
    assert remedy in problem["errors"][0]["detail"]
    assert len(await gate.says("help")) == 1


@pytest.mark.parametrize("missing", ["id", "channel", "sender", "sent_at", "text"])
async def test_what_is_missing_is_named(gate: Gateway, missing: str) -> None:
    """Each field is needed; of text and choice, one."""
    message = gate.message("help")
    del message[missing]
    problem = await (await gate.send(message)).json()
    assert (problem["status"], problem["errors"][0]["pointer"]) == (422, f"#/{missing}")


@pytest.mark.parametrize(("sent", "status"), [
    (b"", 400), (b"{", 400), (b"\xff\xfe", 400), (b'{"id": "\\ud800"}', 400), (b"[]", 422), (b"null", 422), (b"7", 422),
], ids=str)
async def test_what_is_no_object_is_refused(gate: Gateway, sent: bytes, status: int) -> None:
    """A body that is no JSON, or no object, is a problem and not a fault."""
    response = await gate.ask("POST", "/v1/messages", data=sent, headers={"Content-Type": "application/json"})
    assert (response.status, response.content_type) == (status, "application/problem+json")


async def test_a_body_of_64_kib_is_taken_and_a_larger_one_is_not(gate: Gateway) -> None:
    """The limit is exact, and the same whether the length is said beforehand or not."""
    empty = json.dumps(gate.message(""))
    fits = json.dumps(gate.message("x" * (64 * 1024 - len(empty)), id="m-1"))
    assert len(fits) == 64 * 1024

    async def trickled(body: str) -> Any:
        for start in range(0, len(body), 8192):
            yield body[start:start + 8192].encode()

    headers = {"Content-Type": "application/json"}
    for body, status in ((fits, 200), (fits.replace("xx", "xxx", 1), 413)):
        for data in (body.encode(), trickled(body)):
            response = await gate.ask("POST", "/v1/messages", data=data, headers=headers)
            assert response.status == status
    problem = await response.json()
    assert "64 KiB" in problem["detail"]


async def test_another_media_type_is_refused(gate: Gateway) -> None:
    """A form is no message; the problem says what would be."""
    response = await gate.ask("POST", "/v1/messages", data={"id": "m-1"})
    assert response.status == 415
    assert "application/json" in (await response.json())["detail"]


async def test_parameters_are_refused_where_there_are_none(gate: Gateway) -> None:
    """An unknown parameter is named."""
    response = await gate.ask("POST", "/v1/messages?dry=1", json=gate.message("help"))
    assert response.status == 422
    assert "dry" in (await response.json())["detail"]


# --- paths, methods, faults -----------------------------------------------------------------------------

@pytest.mark.parametrize(("method", "path", "status", "allowed"), [
    ("GET", "/v1/messages", 405, "POST"), ("PUT", "/v1/outbox", 405, "GET"), ("TRACE", "/v1/outbox", 405, "GET"),
    ("GET", "/v1/outbox/m_1/delivered", 405, "POST"), ("DELETE", "/healthz", 405, "GET, HEAD"),
    ("OPTIONS", "/v1/messages", 405, "POST"), ("GET", "/v2/messages", 404, None), ("POST", "/", 404, None),
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
        raise Refused("That could not be saved just now. Please send it again.")

    hear, api.service.hear = api.service.hear, full      # type: ignore[method-assign]
    message = gate.message("start tuesday")
    response = await gate.send(message)
    assert (response.status, response.headers["Retry-After"]) == (503, "1")
    api.service.hear = hear                              # type: ignore[method-assign]
    assert (await gate.send(message)).status == 200


# --- clients that misbehave -----------------------------------------------------------------------------

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


# --- keys and limits ------------------------------------------------------------------------------------

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
    await api.store.backup(str(api._path) + ".copy")
    kept = Path(f"{api._path}.copy").read_bytes()
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


# --- about the program ----------------------------------------------------------------------------------

async def test_the_program_says_how_it_is(api: Api, gate: Gateway) -> None:
    """It is alive and ready, without a key; what is counted names nobody."""
    await gate.says("start tuesday")
    await gate.send({})
    open_to_all = api.plain()
    assert await (await open_to_all.ask("GET", "/healthz")).json() == {"status": "ok"}
    assert await (await open_to_all.ask("GET", "/readyz")).json() == {"status": "ready"}
    counted = await (await open_to_all.ask("GET", "/metrics")).text()
    assert 'sprung_messages_total{gateway="gate"} 1.0' in counted
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


async def test_a_channel_without_buttons_is_told_the_numbers(api: Api, gate: Gateway) -> None:
    """The text of an SMS names what can be typed for each choice; the choices are listed all the same."""
    club, = await api.store.clubs()
    await api.store.meet("sms", PHONES["jo"], club.id, "jo")
    opened = (await gate.says("start tuesday", channel="sms"))[-1]
    labels = [one["label"] for one in opened["choices"]]
    assert opened["text"].splitlines()[-len(labels):] == [f"{n} {label}" for n, label in enumerate(labels, start=1)]
    assert (await gate.says("1", channel="sms"))[-1]["text"].startswith("12 here.")
