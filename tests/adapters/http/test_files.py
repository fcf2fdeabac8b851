"""Files of messages over real HTTP: where they are told of, who gets them, and for how long."""
from __future__ import annotations

import json
import os
import wave
from collections.abc import Callable, Mapping
from dataclasses import replace
from importlib.util import find_spec
from io import BytesIO
from pathlib import Path
from typing import Any, NamedTuple
from urllib.parse import urlsplit

import pytest
from yarl import URL

from adapters.files import kinds
from adapters.files.fetch import KEPT
from adapters.halls import DEMO_HALL, read_folder
from adapters.http.limits import Limits, Rate
from bot.out.export import export
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


# --- pictures of children -----------------------------------------------------------------------------------

def needs_drawing() -> None:
    """Leave a test out where nothing makes a PNG; where nothing may be left out it fails."""
    if find_spec("resvg_py") is None:
        assert not os.environ.get("SPRUNG_REQUIRE_ALL"), "resvg-py is missing: pip install 'sprung[pictures]'"
        pytest.skip("resvg-py is missing: pip install 'sprung[pictures]'")


async def pictured(gate: Gateway, text: str, person: str = "jo") -> dict[str, Any]:
    """Somebody asks for a picture on a channel that carries pictures and no other files; the answer."""
    (answer,) = await gate.says(text, person)
    return answer


@pytest.mark.parametrize(("text", "name"), [("grid", "class.png"), ("progress ava", "child.png")])
async def test_a_picture_goes_where_pictures_go(api: Api, gate: Gateway, text: str, name: str) -> None:
    """A messenger that shows pictures is given one that it can show, and none of the words in its place."""
    needs_drawing()
    answer = await pictured(gate, text)
    (one,) = answer["attachments"]
    assert (one["name"], one["media_type"]) == (name, "image/png")
    assert "Owed:" not in answer["text"]
    response = await fetched(api, one["url"])
    assert (response.status, response.body[:8]) == (200, b"\x89PNG\r\n\x1a\n")


async def test_where_none_can_be_made_it_is_said(api: Api, gate: Gateway, monkeypatch: pytest.MonkeyPatch) -> None:
    """Without the extra the words go instead of the picture, and all else is answered as ever."""
    monkeypatch.setattr(kinds, "_installed", lambda module: False)
    answer = await pictured(gate, "grid")
    assert answer["attachments"] == []
    assert "Owed: shoulder stand" in answer["text"]


async def test_a_picture_goes_with_the_class(api: Api, gate: Gateway) -> None:
    """Who is given the class no more sees its children no more, by an address that they were given before either."""
    needs_drawing()
    urls = [(await pictured(gate, text, "sam"))["attachments"][0]["url"] for text in ("grid", "progress ava")]
    assert [(await fetched(api, url)).status for url in urls] == [200, 200]
    hall = read_folder(DEMO_HALL)
    left = tuple(one.model_copy(update={"assistant": ()}) for one in hall.club.classes)
    club = hall.club.model_copy(update={"classes": left, "covers": ()})
    await api.store.load(replace(hall, club=club), api.clock.now())
    assert [(await fetched(api, url)).status for url in urls] == [404, 404]


async def test_a_picture_is_gone_with_the_child(api: Api, gate: Gateway) -> None:
    """Once a child is forgotten no address shows her: hers is no file, and the class is without her."""
    needs_drawing()
    (club,) = await api.store.clubs()
    urls = [(await pictured(gate, text))["attachments"][0]["url"] for text in ("progress ava", "grid")]
    child = next(one["id"] for one in export(await api.store.snapshot(club.id), api.clock.now())["children"]
                 if one["name"] == "Ava Price")
    await api.store.forget(club.id, child)
    assert [(await fetched(api, url)).status for url in urls] == [404, 200]


async def test_nobody_else_is_given_a_picture(api: Api, gate: Gateway) -> None:
    """A helper who asks gets the lines; a child of another class is as unknown in a picture as anywhere."""
    (club,) = await api.store.clubs()
    await api.store.meet("whatsapp", "+447700900009", club.id, "kit")
    for text in ("grid", "progress ava"):
        (answer,) = await gate.says(text, "+447700900009")
        assert answer["attachments"] == []
        assert "Ava" not in answer["text"]
    (other,) = await gate.says("progress oskar", "sam")        # a child of Saturday's class, which Sam is not given
    (unknown,) = await gate.says("progress zoltan", "sam")
    assert (other["attachments"], other["text"].replace("oskar", "zoltan")) == ([], unknown["text"])


# --- the class sheet ------------------------------------------------------------------------------------------

def needs_printing() -> None:
    """The same, where nothing sets a page."""
    for module in ("typst", "pypdfium2"):
        if find_spec(module) is None:
            assert not os.environ.get("SPRUNG_REQUIRE_ALL"), f"{module} is missing: pip install -e '.[test]'"
            pytest.skip(f"{module} is missing: pip install -e '.[test]'")


async def sheet(api: Api, gate: Gateway, person: str = "jo") -> dict[str, Any]:
    """Somebody asks for the class sheet on a channel that carries files; the answer."""
    (club,) = await api.store.clubs()
    await api.store.meet("telegram", person, club.id, person)
    (answer,) = await gate.says("paper", person, channel="telegram", sender=person)
    return answer


async def test_the_class_sheet_comes_as_a_file(api: Api, gate: Gateway) -> None:
    """The PDF holds the lesson's day, a child of the class, and how it is typed in; PDFium reads it."""
    needs_printing()
    import pypdfium2

    (one,) = (await sheet(api, gate))["attachments"]
    assert (one["name"], one["media_type"]) == ("class.pdf", "application/pdf")
    response = await fetched(api, one["url"])
    assert (response.status, response.headers["Content-Type"]) == (200, "application/pdf")
    text = "".join(page.get_textpage().get_text_range() for page in pypdfium2.PdfDocument(response.body))
    assert "Tuesday Lanterns, Tuesday 24 November" in text
    assert "Chidi" in text
    assert "on tuesday at 17:10: shoulder stand:" in " ".join(text.split())


async def test_a_sheet_that_cannot_be_made_any_more_says_why(api: Api, gate: Gateway) -> None:
    """When nothing is owed by the time that somebody fetches it, a sentence comes in its place, not a fault."""
    needs_printing()
    (one,) = (await sheet(api, gate))["attachments"]
    whole = read_folder(DEMO_HALL)
    skills = list(whole.scheme.skills)
    done = tuple(line.model_copy(update={"has": tuple(skills)}) for line in whole.roster)
    await api.store.load(replace(whole, roster=done), api.clock.now())
    response = await fetched(api, one["url"])
    assert response.status == 404
    assert json.loads(response.body)["detail"] == "Nothing is owed in Tuesday Lanterns, so there is nothing to print."


async def test_where_no_page_can_be_set_the_sheet_is_said(
    api: Api, gate: Gateway, monkeypatch: pytest.MonkeyPatch,
) -> None:
    """Without the extra the sheet comes in words, with how it is typed in."""
    monkeypatch.setattr(kinds, "_installed", lambda module: False)
    answer = await sheet(api, gate)
    assert answer["attachments"] == []
    assert "Shoulder stand: Ava, Ben, Chidi, Dara; Efa" in answer["text"]
    assert "at 17:15: shoulder stand: ava, ben, chidi seen" in answer["text"]


async def test_it_is_kept_who_looked_at_a_class_or_a_child(api: Api, gate: Gateway) -> None:
    """A picture and a sheet show as much as words do, and are in the trail as well."""
    (club,) = await api.store.clubs()
    for text in ("grid", "progress ava"):
        await gate.says(text, "sam")
    await sheet(api, gate)
    trail = await api.store.trail(club.id)
    seen = {(one.person, one.shown.what, one.shown.class_id or one.shown.child.split("-")[1]) for one in trail.sights}
    assert seen == {("sam", "class", "tuesday"), ("sam", "record", "ava"), ("jo", "class", "tuesday")}
