"""Messages over real HTTP: a lesson, and the same message again."""
from __future__ import annotations

import asyncio
from datetime import timedelta
from typing import Any

import pytest

from tests.adapters.http.api import PHONES, START, Api, Gateway, marks

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


async def test_a_channel_without_buttons_is_told_the_numbers(api: Api, gate: Gateway) -> None:
    """The text of an SMS names what can be typed for each choice; the choices are listed all the same."""
    club, = await api.store.clubs()
    await api.store.meet("sms", PHONES["jo"], club.id, "jo")
    opened = (await gate.says("start tuesday", channel="sms"))[-1]
    labels = [one["label"] for one in opened["choices"]]
    assert opened["text"].splitlines()[-len(labels):] == [f"{n} {label}" for n, label in enumerate(labels, start=1)]
    assert (await gate.says("1", channel="sms"))[-1]["text"].startswith("12 here.")


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
