"""Pictures of the page at the main moments of a lesson: `python -m tests.adapters.web.pictures [FOLDER]`

In a real Chromium, in front of the running program with the demo hall. Look at them after any change of the page; the
README shows two.
"""
from __future__ import annotations

import asyncio
import sys
import tempfile
from collections.abc import Callable
from datetime import timedelta
from pathlib import Path
from typing import Any

from tests.adapters.http.api import fill
from tests.adapters.web.conftest import Phone, phones_in, running
from tests.adapters.web.test_lesson import judge

README = Path(__file__).parents[3] / "demo_conversations" / "pictures"


async def main(folder: Path) -> None:
    """All of them, into that folder."""
    folder.mkdir(parents=True, exist_ok=True)
    with tempfile.TemporaryDirectory() as room:
        hall_file = Path(room) / "hall.sqlite"
        await fill(hall_file)
        async with running(hall_file, Path(room) / "served") as hall, phones_in(hall) as make:
            await lesson(await make(device_scale_factor=2), taking(folder))


def taking(folder: Path) -> Callable[..., Any]:
    """Takes a picture of a phone under a name."""
    async def take(phone: Phone, name: str) -> None:
        await asyncio.sleep(1.7)        # what has just come under a thumb can be tapped by now
        await phone.page.screenshot(path=folder / f"{name}.png")
        print(folder / f"{name}.png")

    return take


async def lesson(phone: Phone, take: Callable[..., Any]) -> None:
    """The moments, in their order."""
    await phone.open("/#join=7M4Q-X2KD")
    await take(phone, "coming-in")
    await phone.page.close()
    await phone.come_in("jo")
    await phone.says("start tuesday")
    await phone.dock("Everyone").wait_for()
    await take(phone, "who-is-here")
    await phone.taps("Everyone")
    await phone.dock("Go").wait_for()
    await take(phone, "first-skill")
    await phone.taps("Go")
    await phone.dock("All seen").wait_for()
    await judge(phone)
    await phone.taken()
    await phone.hall.wait(40)
    await phone.page.get_by_role("button", name="Finn not yet").tap()
    await take(phone, "a-line")
    await phone.taps("Save: 1 not yet")
    await phone.taken()
    await take(phone, "after-a-miss")
    await sheets(phone, take)
    await phone.hall.wait(100)
    await take(phone, "rested")
    await without_signal(phone, take)
    await dark(phone, take)


async def sheets(phone: Phone, take: Callable[..., Any]) -> None:
    """What lies over the page."""
    for name in ("sheet", "card", "settings"):
        await phone.page.click(f"#open-{name}")
        await take(phone, name)
        await phone.page.locator(f"#{name}").get_by_role("button", name="Close", exact=True).tap()


async def without_signal(phone: Phone, take: Callable[..., Any]) -> None:
    """Cut off, and marking on."""
    await phone.offline(True)
    for _ in range(2):
        await phone.be_at(phone.now + timedelta(seconds=30))
        await phone.dock("None yet").wait_for()
        await judge(phone)
    await phone.dock("None yet").wait_for()
    await take(phone, "no-signal")
    await phone.hall.wait(60)
    await phone.offline(False)
    await phone.linked()


async def dark(phone: Phone, take: Callable[..., Any]) -> None:
    """In the dark, by the left hand, with large text; and what a count of eight looks like."""
    await phone.page.emulate_media(color_scheme="dark")
    await phone.page.evaluate("document.documentElement.dataset.hand = 'left'")
    await phone.says("waltz turn")
    await phone.taken()
    if await phone.dock("Go").count():
        await phone.taps("Go")
        await phone.taken()
    await take(phone, "dark-left-hand")
    await phone.page.evaluate("document.documentElement.style.fontSize = '200%'")
    await take(phone, "large-text")


if __name__ == "__main__":
    asyncio.run(main(Path(sys.argv[1]) if len(sys.argv) > 1 else README))
