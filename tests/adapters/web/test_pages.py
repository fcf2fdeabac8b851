"""Coming in and going out, and what a page is told: over real HTTP, without a browser."""
from __future__ import annotations

import asyncio
import re
from collections.abc import AsyncIterator
from pathlib import Path
from typing import Any

import pytest
import pytest_asyncio
from aiohttp import ClientResponse, ClientSession, CookieJar, WSMsgType

from adapters.web.files import files
from bot.step import Refused
from tests.adapters.web.conftest import Hall

ATTEMPT = "0b1f0a52-9d5e-4a53-8f66-000000000001"


class Browser:
    """Something with a cookie jar."""

    def __init__(self, hall: Hall) -> None:
        self.hall, self.count = hall, 0
        self.session = ClientSession(cookie_jar=CookieJar(unsafe=True))

    async def ask(self, method: str, path: str, body: Any = None, **headers: str) -> ClientResponse:
        """One request, read to its end, as our own page makes it."""
        sent = {"Origin": self.hall.address, **headers}
        async with self.session.request(method, self.hall.address + path, json=body, headers=sent) as response:
            await response.read()
        return response

    async def join(self, person: str = "jo", attempt: str = ATTEMPT) -> ClientResponse:
        """Come in with a new code."""
        return await self.ask("POST", "/web/join", {"code": await self.hall.code(person), "attempt": attempt})

    async def says(self, text: str | None = None, **more: Any) -> ClientResponse:
        """Say something."""
        self.count += 1
        body = {"id": f"m{self.count}", "sent_at": self.hall.clock.now().isoformat(), **more}
        return await self.ask("POST", "/web/messages", body if text is None else {**body, "text": text})


@pytest_asyncio.fixture()
async def browser(hall: Hall) -> AsyncIterator[Browser]:
    """One that has not come in."""
    made = Browser(hall)
    yield made
    await made.session.close()


@pytest_asyncio.fixture()
async def other(hall: Hall) -> AsyncIterator[Browser]:
    """Another one."""
    made = Browser(hall)
    yield made
    await made.session.close()


def sentence(text: str) -> bool:
    return text.endswith((".", "?")) and text[0].isupper()


# --- in -----------------------------------------------------------------------------------------------

async def test_a_code_lets_one_phone_in_once(hall: Hall, browser: Browser, other: Browser) -> None:
    """The cookie can't be read by scripts, goes to our own pages alone and lasts; the code opens nothing again."""
    code = await hall.code("jo")
    came = await browser.ask("POST", "/web/join", {"code": code, "attempt": ATTEMPT})
    assert came.status == 204
    cookie = came.cookies["sprung"]
    assert cookie["httponly"]
    assert (cookie["samesite"], cookie["path"], int(cookie["max-age"]) > 300 * 86400) == ("Strict", "/", True)
    assert (await browser.ask("GET", "/web/sheet")).status == 200
    again = await other.ask("POST", "/web/join", {"code": code, "attempt": ATTEMPT.replace("1", "2")})
    assert again.status == 403
    assert sentence((await again.json())["detail"])
    assert (await other.ask("GET", "/web/sheet")).status == 401


async def test_only_a_digest_of_the_secret_is_kept(browser: Browser, filled_file: Path) -> None:
    """What lets a phone in is nowhere in the database."""
    secret = (await browser.join()).cookies["sprung"].value
    assert len(secret) > 40
    for path in filled_file.parent.glob("club.sqlite*"):
        assert secret.encode() not in path.read_bytes()


@pytest.fixture
def filled_file(tmp_path: Path) -> Path:
    """The database of the running program."""
    return tmp_path / "club.sqlite"


async def test_a_lost_answer_keeps_nobody_out(hall: Hall, browser: Browser, other: Browser) -> None:
    """The same code with the same secret of the phone's own is the same attempt, and no use to anybody else."""
    code = await hall.code("jo")
    asked = {"code": code, "attempt": ATTEMPT}
    assert (await browser.ask("POST", "/web/join", asked)).status == 204
    assert (await other.ask("POST", "/web/join", asked)).status == 204
    assert (await (await other.ask("GET", "/web/sheet")).json())["me"]["name"] == "Jo"


async def test_behind_https_the_cookie_is_for_https(browser: Browser, hall: Hall) -> None:
    """Where the page came by https the cookie goes nowhere else."""
    asked = {"code": await hall.code("jo"), "attempt": ATTEMPT}
    came = await browser.ask("POST", "/web/join", asked, **{"X-Forwarded-Proto": "https"})
    assert came.cookies["sprung"]["secure"]


async def test_codes_are_not_guessed_for_long(browser: Browser) -> None:
    """After some tries from one address the door is shut for a while, with a sentence."""
    asked = {"code": "AAAA BBBB", "attempt": ATTEMPT}
    tries = [await browser.ask("POST", "/web/join", {**asked, "code": f"AAAA{n:04}"}) for n in range(40)]
    assert {one.status for one in tries} == {403, 429}
    assert "Retry-After" in tries[-1].headers


# --- out ----------------------------------------------------------------------------------------------

async def test_signing_out_everywhere(browser: Browser, other: Browser) -> None:
    """Every phone of that person is signed out, at once."""
    await browser.join()
    await other.join(attempt=ATTEMPT.replace("1", "2"))
    assert (await browser.ask("POST", "/web/out", {"everywhere": True})).status == 204
    for one in (browser, other):
        assert (await one.ask("GET", "/web/sheet")).status == 401


async def test_a_lost_phone_is_signed_out_from_another(hall: Hall, browser: Browser, other: Browser) -> None:
    """The phones are listed, and one of them can be ended; the others go on. So can the store's owner."""
    await browser.join()
    await other.join(attempt=ATTEMPT.replace("1", "2"))
    phones = (await (await browser.ask("GET", "/web/phones")).json())["phones"]
    (lost,) = (one for one in phones if not one["here"])
    assert len(phones) == 2
    assert (await browser.ask("POST", "/web/phones/end", {"id": lost["id"]})).status == 204
    assert (await other.ask("GET", "/web/sheet")).status == 401
    assert (await browser.ask("GET", "/web/sheet")).status == 200
    await hall.store.end_phones("harbour-lane-hall", "jo")
    await asyncio.sleep(2.1)        # so long a phone that worked is not looked up again
    assert (await browser.ask("GET", "/web/sheet")).status == 401


async def test_another_sites_page_can_do_nothing(browser: Browser) -> None:
    """With another origin, or none, nothing that changes something is done, and no stream is opened."""
    await browser.join()
    for headers in ({"Origin": "https://elsewhere.example"}, {"Origin": ""}, {"Sec-Fetch-Site": "cross-site"}):
        for path in ("/web/messages", "/web/out", "/web/join", "/web/phones/end"):
            assert (await browser.ask("POST", path, {}, **headers)).status == 403
        assert (await browser.ask("GET", "/web/stream", **headers)).status == 403


async def test_nobody_is_told_anything_before_coming_in(browser: Browser) -> None:
    """Without a cookie, or with a wrong one, every path but the page's own files is shut."""
    for _ in range(2):
        for path in ("/web/sheet", "/web/cards", "/web/said", "/web/phones", "/web/stream"):
            refused = await browser.ask("GET", path)
            assert refused.status == 401
            assert sentence((await refused.json())["detail"])
        assert (await browser.says("ava seen")).status == 401
        browser.session.cookie_jar.update_cookies({"sprung": "x" * 43})


# --- the talk -------------------------------------------------------------------------------------------

async def test_the_same_id_is_answered_the_same(browser: Browser, hall: Hall) -> None:
    """A doubled delivery is harmless; the id for something else is refused, and the sentence says so."""
    await browser.join()
    await browser.says("start tuesday")
    first = await (await browser.says("owed", id="one")).json()
    assert await (await browser.says("owed", id="one")).json() == first
    other = await browser.says("resting", id="one")
    assert other.status == 409
    assert sentence((await other.json())["detail"])


async def test_what_a_page_says_is_counted(browser: Browser) -> None:
    """Its messages are counted and timed like any other's, and nobody is named."""
    await browser.join()
    await browser.says("start tuesday")
    counted = await (await browser.ask("GET", "/metrics")).text()
    assert 'sprung_messages_total{gateway="web",outcome="answered"} 1.0' in counted
    assert "sprung_message_seconds_count 1.0" in counted
    assert "sprung_reminder_late_seconds_count" in counted
    assert "jo" not in counted


async def test_ids_are_each_phones_own(browser: Browser, other: Browser) -> None:
    """Two phones may give the same id to different messages."""
    await browser.join()
    await other.join("sam", ATTEMPT.replace("1", "2"))
    assert (await browser.says("help", id="one")).status == 200
    assert (await other.says("next", id="one")).status == 200


async def test_what_is_wrong_is_said(browser: Browser) -> None:
    """A message that is none is refused with a sentence that names the field."""
    await browser.join()
    naive = {"text": "a", "sent_at": "2026-11-24T17:00:00"}
    for wrong in ({"text": "a", "choice": "b"}, {}, naive, {"text": "a", "x": 1}):
        refused = await browser.says(**wrong)
        assert refused.status == 422, await refused.text()
        assert (await refused.json())["errors"]
    assert (await browser.ask("GET", "/web/said?after=x")).status == 422


async def test_what_comes_is_streamed(browser: Browser, hall: Hall) -> None:
    """What is said on one phone is on the person's stream at once, with the sheet as it has become."""
    await browser.join()
    headers = {"Origin": hall.address}
    async with browser.session.ws_connect(f"{hall.address}/web/stream", headers=headers) as stream:
        await stream.send_json({"after": 0})
        first = await stream.receive_json(timeout=5)
        assert first["sheet"]["class"]["open"] is False
        await browser.says("start tuesday")
        texts, opened = [], False
        while not (texts and opened):
            news = await stream.receive_json(timeout=5)
            texts += [one["text"] for one in news.get("said", [])]
            opened = opened or news.get("sheet", {}).get("class", {}).get("open", False)
        assert texts[-1].startswith("Everyone here?")
        await browser.ask("POST", "/web/out", {})
        end = await stream.receive(timeout=5)
        assert (end.type, stream.close_code) == (WSMsgType.CLOSE, 4401)


async def test_without_a_stream_one_can_wait(browser: Browser, hall: Hall) -> None:
    """Plain HTTP waits until there is something behind the number given."""
    await browser.join()
    last = (await (await browser.ask("GET", "/web/said?after=0")).json())["said"][-1]["seq"]
    waiting = asyncio.create_task(browser.ask("GET", f"/web/said?after={last}&wait=10"))
    await asyncio.sleep(0.2)
    assert not waiting.done()
    await browser.says("help")
    assert [one["seq"] for one in (await (await waiting).json())["said"]] == [last + 1]


async def test_a_page_that_says_nothing_is_let_go(browser: Browser, hall: Hall) -> None:
    """A stream that begins with anything but a number is closed."""
    await browser.join()
    for word in ('"after"', "[]", '{"after": -1}', '{"after": true}', "{", '{"after": "1"}', "[" * 1000):
        async with browser.session.ws_connect(f"{hall.address}/web/stream", headers={"Origin": hall.address}) as stream:
            await stream.send_str(word)
            assert (await stream.receive(timeout=5)).type is WSMsgType.CLOSE


async def test_it_stops_while_pages_listen(browser: Browser, hall: Hall) -> None:
    """Asked to stop the program lets go of every page at once; started again it is found again."""
    await browser.join()
    headers = {"Origin": hall.address}
    async with browser.session.ws_connect(f"{hall.address}/web/stream", headers=headers) as stream:
        await stream.send_json({"after": 0})
        await stream.receive_json(timeout=5)
        waiting = asyncio.create_task(browser.ask("GET", "/web/said?after=99&wait=20"))
        await asyncio.sleep(0.2)
        async with asyncio.timeout(5):
            await hall.stop()
            assert (await waiting).status == 200
        assert (await stream.receive(timeout=5)).type is WSMsgType.CLOSE
    await hall.start()
    assert (await browser.ask("GET", "/web/sheet")).status == 200


# --- who sees what -----------------------------------------------------------------------------------------

async def test_a_helper_gets_first_names_and_lines(browser: Browser, other: Browser) -> None:
    """No whole name, no standing, no card: today's first names and who stands in a line."""
    await browser.join()
    await other.join("kit", ATTEMPT.replace("1", "2"))
    assert (await (await other.ask("GET", "/web/sheet")).json())["children"] == []
    for text in ("start tuesday", "everyone", "go"):
        await browser.says(text)
    sheet = await (await other.ask("GET", "/web/sheet")).json()
    assert {"Ava", "Ivy"} <= {one["name"] for one in sheet["children"]}
    assert [one["children"] for one in sheet["lines"]]
    assert "Price" not in await (await other.ask("GET", "/web/sheet")).text()
    assert (sheet["marks"], sheet["plan"]) == ({}, [])
    assert (await (await other.ask("GET", "/web/cards")).json())["cards"] == {}


async def test_a_family_gets_no_sheet(browser: Browser, hall: Hall) -> None:
    """A parent's page is their conversation and nothing of the class."""
    from adapters.codes import invitation, new_code

    code = new_code()
    made = invitation("harbour-lane-hall", hall.clock.now(), child="tuesday-ava-price")
    await hall.store.invite(made, code)
    assert (await browser.ask("POST", "/web/join", {"code": code, "attempt": ATTEMPT})).status == 204
    sheet = await (await browser.ask("GET", "/web/sheet")).json()
    assert sheet["me"]["role"] == "parent"
    assert (sheet["class"], sheet["children"], sheet["marks"]) == (None, [], {})


# --- the files ---------------------------------------------------------------------------------------------

async def test_the_files_come_with_a_strict_policy(browser: Browser) -> None:
    """Nothing inline, nothing from elsewhere; and what has not changed is not sent again."""
    for path in files():
        response = await browser.ask("GET", path)
        assert response.status == 200
        policy = response.headers["Content-Security-Policy"]
        assert "default-src 'none'" in policy
        assert "unsafe" not in policy
        again = await browser.ask("GET", path, **{"If-None-Match": response.headers["ETag"]})
        assert again.status == 304


def test_the_page_is_light() -> None:
    """All that a phone fetches for the page is less than 150 kB, before it is packed."""
    assert sum(len(one.body) for one in files().values()) < 150_000


def test_no_file_names_another_place() -> None:
    """No address of anywhere else is in a file of the page."""
    for path, file in files().items():
        if file.media_type != "image/png":
            text = file.body.decode().replace("http://www.w3.org/2000/svg", "")
            assert "http://" not in text, path
            assert "https://" not in text, path




# --- who saw what -------------------------------------------------------------------------------------

async def test_a_look_at_the_sheet_is_kept_once_a_day(hall: Hall, browser: Browser) -> None:
    """It is kept who looked at which class's sheet before it is shown, and once a day however often the page asks."""
    await browser.join()
    (club,) = await hall.store.clubs()

    async def looks() -> list[tuple[str, str, str, int]]:
        found = (await hall.store.trail(club.id)).sights
        return [(one.person, one.shown.what, one.shown.class_id, one.day.day) for one in found]

    assert await looks() == []
    metrics = hall.served.desk.metrics
    for _ in range(3):
        assert (await browser.ask("GET", "/web/sheet")).status == 200
        commits = re.findall(r"sprung_commit_seconds_count (\S+)", metrics.text().decode())
    assert (await browser.ask("GET", "/web/sheet")).status == 200
    await looks()
    assert re.findall(r"sprung_commit_seconds_count (\S+)", metrics.text().decode()) == commits
    assert await looks() == [("jo", "page", "tuesday", 24)]
    await hall.pass_time(24 * 3600)
    assert (await browser.ask("GET", "/web/sheet")).status == 200
    assert [day for *_, day in await looks()] == [24, 25]


async def test_what_can_not_be_kept_is_not_shown(hall: Hall, browser: Browser, monkeypatch: pytest.MonkeyPatch) -> None:
    """Where it can't be written down that somebody looks, there is no sheet, and the page asks again."""
    await browser.join()

    async def full(*_: object) -> None:
        raise Refused("That could not be saved just now.")

    monkeypatch.setattr(hall.store, "saw", full)
    assert (await browser.ask("GET", "/web/sheet")).status == 503
    monkeypatch.undo()
    assert (await browser.ask("GET", "/web/sheet")).status == 200
