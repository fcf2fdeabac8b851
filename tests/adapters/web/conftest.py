"""A coach's phone: the page in a real Chromium, in front of a running program on a real SQLite file.

Nothing here is a test.
"""
from __future__ import annotations

import asyncio
import os
import shutil
from collections.abc import AsyncIterator, Callable
from contextlib import asynccontextmanager
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any

import pytest
import pytest_asyncio

from adapters.codes import invitation, new_code
from adapters.service import Service
from adapters.thinking import AtOnce
from bot.out.export import export
from tests.adapters.http.api import START, Api, fill

CHROMIUM = shutil.which("chromium") or shutil.which("chromium-browser")
FLAGS = ["--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run", "--disable-background-networking",
         "--disable-component-update", "--disable-sync"]
SIZE = {"width": 360, "height": 740}


@pytest.fixture(scope="session")
def hall_file(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A database with the demo hall, made once."""
    path = tmp_path_factory.mktemp("hall") / "hall.sqlite"
    asyncio.run(fill(path))
    return path


class Hall(Api):
    """The program, with people who have phones. Its clock and theirs move together, and only by hand."""

    def __init__(self, path: Path, **more: Any) -> None:
        thinking = AtOnce()
        super().__init__(path, lambda store, clock: Service(
            store, clock, thinking.decide, thinking.wake, with_plans=thinking.with_plans,
        ), **more)
        self.phones: list[Phone] = []

    @property
    def address(self) -> str:
        """Where the page is."""
        return f"http://127.0.0.1:{self.port}"

    async def code(self, person: str) -> str:
        """A new code for somebody."""
        (club,) = await self.store.clubs()
        (found,) = [one for one in await self.store.people(club.id) if one.id == person]
        code = new_code()
        await self.store.invite(invitation(club.id, self.clock.now(), person=found), code)
        return code

    async def export(self) -> dict[str, Any]:
        """What is kept of the club, but for the time at which it was asked."""
        (club,) = await self.store.clubs()
        found = export(await self.store.snapshot(club.id), self.clock.now())
        found.pop("as_of")
        return found

    async def wait(self, seconds: float) -> None:
        """Time passes in the hall and on every phone in it."""
        for phone in self.phones:
            await phone.be_at(self.clock.now() + timedelta(seconds=seconds))
        await self.pass_time(seconds)
        self.served.desk.page_bell.ring()


class Phone:
    """A page on somebody's phone."""

    def __init__(self, hall: Hall, context: Any) -> None:
        self.hall, self.context = hall, context
        self.asked: list[str] = []      # every address that the page asked for
        self.faults: list[str] = []
        context.on("request", lambda request: self.asked.append(request.url))

    async def open(self, where: str = "/", at: datetime | None = None) -> None:
        """Open the page."""
        self.page = await self.context.new_page()
        self.page.on("pageerror", lambda error: self.faults.append(str(error)))
        await self.be_at(at or self.hall.clock.now())
        await self.page.goto(self.hall.address + where)
        await self.page.wait_for_selector("html[data-ready=yes]")

    async def be_at(self, at: datetime) -> None:
        """The phone's clock stands at that time; whatever waits on it goes on waiting in real seconds."""
        self.now = at
        await self.page.clock.set_fixed_time(at)

    async def come_in(self, person: str) -> None:
        """Come in by the link that somebody was given."""
        await self.open(f"/#join={await self.hall.code(person)}")
        await self.page.get_by_role("button", name="Come in").click()
        await self.page.wait_for_selector("#say:not([hidden])")
        await self.linked()

    async def linked(self) -> None:
        """Wait until the signal is there and nothing waits."""
        await self.becomes(lambda: self.page.inner_text("#link"), lambda words: words == "● Connected")

    async def told(self, person: str) -> None:
        """Wait until the record shows all that was said to somebody."""
        (club,) = await self.hall.store.clubs()
        said = await self.hall.store.said(club.id, person, 0, 1000)
        await self.becomes(self.page.locator("#record .said").count, lambda rows: rows >= len(said))

    async def taken(self) -> None:
        """Wait until what was tapped is kept, sent and answered."""
        await self.page.locator("#dock:not([aria-busy=true])").wait_for(state="attached")
        await self.linked()

    async def becomes(self, ask: Callable[[], Any], so: Callable[[Any], bool], longest_s: float = 60) -> Any:
        """Ask again and again until what is answered is so. (The page allows no script that waits in it.)"""
        async with asyncio.timeout(longest_s):
            while not so(found := await ask()):
                await asyncio.sleep(0.02)
        return found

    async def says(self, text: str) -> None:
        """Type something and send it."""
        await self.page.fill("#typed", text)
        await self.page.click("#send")

    def dock(self, label: str) -> Any:
        """What is docked under that label, once what was tapped before is taken."""
        return self.page.locator("#dock:not([aria-busy=true])").get_by_role("button", name=label, exact=True)

    async def taps(self, label: str) -> None:
        """Tap what is docked."""
        await self.dock(label).click()

    async def until(self, text: str, times: int = 1) -> None:
        """Wait until the record says that, so often."""
        await self.becomes(self.record, lambda record: record.count(text) >= times)

    async def record(self) -> str:
        """What the record says, in sight or not."""
        return "\n".join(await self.page.locator("#record > li").all_text_contents())

    async def offline(self, off: bool) -> None:
        """Cut the signal, or give it back."""
        await self.context.set_offline(off)


@asynccontextmanager
async def running(hall_file: Path, folder: Path, **more: Any) -> AsyncIterator[Hall]:
    """The program on a copy of that database. `more`: what it is served with."""
    folder.mkdir(exist_ok=True)
    made = Hall(Path(shutil.copy(hall_file, folder / "club.sqlite")), **more)
    await made.start()
    try:
        yield made
    finally:
        await made.stop()
        await made.session.close()


@pytest_asyncio.fixture()
async def hall(hall_file: Path, tmp_path: Path) -> AsyncIterator[Hall]:
    """The program with the demo hall, two minutes before its class."""
    async with running(hall_file, tmp_path) as made:
        yield made


@pytest_asyncio.fixture()
async def hall_two(hall_file: Path, tmp_path: Path) -> AsyncIterator[Hall]:
    """Another one, with nothing in it that was done in the first."""
    async with running(hall_file, tmp_path / "two") as made:
        yield made


@asynccontextmanager
async def phones_in(hall: Hall) -> AsyncIterator[Callable[..., Any]]:
    """Makes phones; at the end no page of them had a fault, and none asked anybody but us."""
    if CHROMIUM is None:
        assert not os.environ.get("SPRUNG_REQUIRE_ALL"), "chromium is missing"
        pytest.skip("chromium is missing")
    from playwright.async_api import async_playwright

    async with async_playwright() as playwright:
        browser = await playwright.chromium.launch(executable_path=CHROMIUM, args=FLAGS)

        async def make(**more: Any) -> Phone:
            usual: dict[str, Any] = {"viewport": SIZE, "has_touch": True, "is_mobile": True, "locale": "en-GB"}
            phone = Phone(hall, await browser.new_context(**{**usual, **more}))
            hall.phones.append(phone)
            return phone

        try:
            yield make
        finally:
            await browser.close()
        assert not [fault for phone in hall.phones for fault in phone.faults]
        assert not {url for phone in hall.phones for url in phone.asked if not url.startswith(hall.address)}


@pytest_asyncio.fixture()
async def new_phone(hall: Hall) -> AsyncIterator[Callable[..., Any]]:
    """Makes a phone in the hall."""
    async with phones_in(hall) as make:
        yield make


@pytest_asyncio.fixture()
async def phone_two(hall_two: Hall) -> AsyncIterator[Callable[..., Any]]:
    """Makes a phone in the other hall."""
    async with phones_in(hall_two) as make:
        yield make


__all__ = ["START"]
