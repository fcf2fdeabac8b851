"""What is no message: a wrong field, a wrong body; each is named with what would do."""
from __future__ import annotations

import json
from typing import Any

import pytest

from tests.adapters.http.api import Api, Gateway

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
    "a channel of ours": ({"channel": "console", "sender": "harbour-lane-hall/jo"}, "channel", "hears for itself"),
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
