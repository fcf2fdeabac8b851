"""Files of messages over real HTTP: where they are told of, who gets them, and for how long."""
from __future__ import annotations

import json
import wave
from collections.abc import Callable, Mapping
from io import BytesIO
from pathlib import Path
from typing import Any, NamedTuple
from urllib.parse import urlsplit

import pytest
from yarl import URL

from adapters.files.fetch import KEPT
from adapters.http.limits import Limits, Rate
from tests.adapters.http.api import Api, Gateway


async def clicked(api: Api, gate: Gateway, channel: str = "telegram") -> dict[str, Any]:
    """Jo asks for a click by that channel; the answer."""
    (club,) = await api.store.clubs()
    await api.store.meet(channel, "jo", club.id, "jo")
    (answer,) = await gate.says("click 120 4 eights", "jo", channel=channel, sender="jo")
    return answer


class Fetched(NamedTuple):
    """What came."""

    status: int
    headers: Mapping[str, str]
    body: bytes


async def fetched(api: Api, url: str, **headers: str) -> Fetched:
    """Fetch it as anybody may who knows the address."""
    here = f"http://127.0.0.1:{api.port}{urlsplit(url).path}"
    async with api.session.get(URL(here, encoded=True), headers=headers) as response:
        return Fetched(response.status, response.headers, await response.read())


async def test_a_file_comes_with_its_message(api: Api, gate: Gateway) -> None:
    """A channel that carries files is told where the file is, and whoever has the address gets it, without a key."""
    answer = await clicked(api, gate)
    (one,) = answer["attachments"]
    assert (one["name"], one["media_type"]) == ("click.wav", "audio/wav")
    assert one["url"].startswith(f"http://127.0.0.1:{api.port}/v1/files/")
    assert "No sound" not in answer["text"]
    response = await fetched(api, one["url"])
    assert (response.status, response.headers["Content-Type"]) == (200, "audio/wav")
    assert "no-store" in response.headers["Cache-Control"]
    with wave.open(BytesIO(response.body)) as sound:
        assert sound.getnframes() == 20 * sound.getframerate()


async def test_words_go_where_no_file_can(api: Api, gate: Gateway) -> None:
    """A channel that carries none gets words; one that nobody knows gets both."""
    answer = await clicked(api, gate, "xmpp")
    assert answer["attachments"] == []
    assert "120 beats a minute, 4 counts of eight" in answer["text"]
    assert "No sound can be sent here" in answer["text"]
    unknown = await clicked(api, gate, "carrier-pigeon")
    assert len(unknown["attachments"]) == 1
    assert "No sound can be sent here" in unknown["text"]


async def test_the_same_message_has_the_same_file(api: Api, gate: Gateway) -> None:
    """A gateway that asks again is given the same address."""
    (club,) = await api.store.clubs()
    await api.store.meet("telegram", "jo", club.id, "jo")
    message = gate.message("click 120", channel="telegram", sender="jo")
    first = await (await gate.send(message)).json()
    await api.restart()
    assert await (await gate.send(message)).json() == first


@pytest.mark.parametrize("spoil", [
    lambda path: path.replace("/v1/files/", "/v1/files/x"), lambda path: path.replace("/0/", "/1/"),
    lambda path: path.replace("click.wav", "class.svg"), lambda path: path.replace("/0/", "/-1/"),
    lambda path: path.replace("click.wav", "..%2f..%2fetc"),
])
async def test_another_address_is_no_file(api: Api, gate: Gateway, spoil: Callable[[str], str]) -> None:
    """A secret, a place or a name that is not quite the one is a 404 that says what to do."""
    (one,) = (await clicked(api, gate))["attachments"]
    response = await fetched(api, "http://x" + spoil(urlsplit(one["url"]).path))
    assert response.status == 404
    assert "ask for it again" in json.loads(response.body)["detail"]


async def test_a_file_is_there_for_two_days(api: Api, gate: Gateway) -> None:
    """After that it is gone, and not a moment earlier."""
    (one,) = (await clicked(api, gate))["attachments"]
    await api.pass_time(KEPT.total_seconds())
    assert (await fetched(api, one["url"])).status == 200
    await api.pass_time(1)
    assert (await fetched(api, one["url"])).status == 404


async def test_a_phone_plays_it_in_parts(api: Api, gate: Gateway) -> None:
    """A part that is asked for comes as such (RFC 9110, 14): its bytes, and where they lie in the whole."""
    (one,) = (await clicked(api, gate))["attachments"]
    whole = (await fetched(api, one["url"])).body
    for asked, part in (("bytes=0-1", whole[:2]), ("bytes=-4", whole[-4:]), ("bytes=100-", whole[100:])):
        response = await fetched(api, one["url"], Range=asked)
        assert (response.status, response.body) == (206, part)
        assert response.headers["Content-Range"].endswith(f"/{len(whole)}")
    beyond = await fetched(api, one["url"], Range=f"bytes={len(whole)}-")
    assert (beyond.status, beyond.headers["Content-Range"]) == (416, f"bytes */{len(whole)}")
    assert (await fetched(api, one["url"], Range="lines=1-2")).status == 200


async def test_nobody_guesses_for_long(filled: Path) -> None:
    """Who asks for what is not there again and again is told to wait, and so is who fetches one file too often."""
    running = Api(filled, limits=Limits(wrong_keys=Rate(1, 3), files=Rate(1, 5)))
    await running.start()
    statuses = [(await running.plain().ask("GET", f"/v1/files/guess-{n}/0/click.wav")).status for n in range(5)]
    (one,) = (await clicked(running, await running.gateway()))["attachments"]
    often = [(await fetched(running, one["url"])).status for _ in range(6)]
    await running.stop()
    await running.session.close()
    assert statuses == [404, 404, 404, 429, 429]
    assert often == [200] * 5 + [429]


async def test_the_address_is_the_one_that_the_club_says(filled: Path) -> None:
    """Behind a server with TLS a file is where SPRUNG_ADDRESS says."""
    running = Api(filled, address="https://hall.example")
    await running.start()
    (one,) = (await clicked(running, await running.gateway()))["attachments"]
    await running.stop()
    await running.session.close()
    assert one["url"].startswith("https://hall.example/v1/files/")
