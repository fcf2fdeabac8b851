"""What comes unasked to a phone, also by another process, and letting time pass."""
from __future__ import annotations

import io
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest

from adapters.clock import Clock, ShiftedClock, SimulatedClock
from adapters.console.chat import CHANNEL, Console, address
from adapters.console.keyboard import Keyboard
from adapters.console.post import Post
from adapters.console.screen import Screen
from adapters.console.waiting import NotSoLong, wait_of
from adapters.halls import DEMO_HALL, read_folder
from adapters.service import Service
from bot.port import Store
from storage import open_store

LONDON = ZoneInfo("Europe/London")
START = datetime(2026, 11, 24, 16, 58, tzinfo=UTC)
MakeService = Callable[[Store, Clock], Service]


def still() -> ShiftedClock:
    """A clock that skips and does not run."""
    return ShiftedClock(START, SimulatedClock(START))


# --- several processes -----------------------------------------------------------------------------

async def test_post_is_what_comes_after_the_beginning(make_service: MakeService) -> None:
    """A phone shows what came unasked since it began, each message once, and knows what came shortly before."""
    store = open_store("memory:")
    loaded = await store.load(read_folder(DEMO_HALL), START)
    jo = (CHANNEL, address(loaded.club, "jo"))
    await store.meet(*jo, loaded.club, "jo")
    service = make_service(store, still())

    async def remind(times: int) -> None:
        for n in range(times):
            await service.hear(*jo, text=f"later 0 {'jo' if n % 2 else 'sam'}")
            await service.wake()

    await remind(7)
    post = Post(store)
    await post.begin()
    assert await post.new() == ()
    assert [one[1].person for one in await post.lately(START - timedelta(hours=1), jo)] == ["jo"] * 3
    assert await post.lately(START + timedelta(seconds=1), jo) == ()
    await remind(3)
    assert [one[1].person for one in await post.new()] == ["sam", "jo", "sam"]
    assert await post.new() == ()
    await store.close()


async def test_another_process_may_let_it_fall_due(make_service: MakeService, tmp_path: Path) -> None:
    """What one process let fall due shows on the phone of another on the same file."""
    url = f"sqlite:///{tmp_path / 'club.sqlite'}"
    mine, other = open_store(url), open_store(url)
    hall = read_folder(DEMO_HALL)
    loaded = await other.load(hall, START)
    for person in ("jo", "sam"):
        await other.meet(CHANNEL, address(loaded.club, person), loaded.club, person)
    out = io.StringIO()
    console = Console(make_service(mine, still()), Screen(out, LONDON, {}), Keyboard(io.StringIO()), hall.club, "sam")
    service = make_service(other, still())
    await service.hear(CHANNEL, address(loaded.club, "jo"), text="later 0 jo sam")
    assert len(await service.wake()) == 2
    await console.look()
    assert out.getvalue() == "16:58  due 0\n"
    await mine.close()
    await other.close()


async def test_what_came_before_the_last_answer_is_not_told_again(make_service: MakeService) -> None:
    """Who comes in again is shown what came meanwhile; once they were answered after it, no more."""
    store, clock = open_store("memory:"), still()
    hall = read_folder(DEMO_HALL)
    loaded = await store.load(hall, START)
    for person in ("jo", "sam"):
        await store.meet(CHANNEL, address(loaded.club, person), loaded.club, person)
    service = make_service(store, clock)
    await service.hear(CHANNEL, address(loaded.club, "jo"), text="later 0 jo sam")
    await service.wake()

    async def come_in(lines: str) -> str:
        out = io.StringIO()
        await Console(service, Screen(out, LONDON, {}), Keyboard(io.StringIO(lines)), hall.club, "sam").run()
        return out.getvalue()

    assert (await come_in("")).count("due 0") == 1
    clock.skip(timedelta(minutes=1))
    assert (await come_in("hello\n")).count("due 0") == 1
    assert "due 0" not in await come_in("")
    await store.close()


# --- waiting ---------------------------------------------------------------------------------------

@pytest.mark.parametrize(("line", "until"), [
    ("wait 45s", START + timedelta(seconds=45)), ("Wait 1m", START + timedelta(minutes=1)),
    ("wait 45 s", START + timedelta(seconds=45)), ("wait for 2 minutes", START + timedelta(minutes=2)),
    ("wait a minute", START + timedelta(minutes=1)), ("wait +1h 30m", START + timedelta(minutes=90)),
    ("wait 17:06", START + timedelta(minutes=8)), ("wait until 16:57", START + timedelta(days=1, minutes=-1)),
    ("wait", None), ("wait for it", None), ("waits 2m", None), ("ava seen", None), ("", None),
])
def test_how_long_to_wait(line: str, until: datetime | None) -> None:
    """`wait` takes a span or a time of the day, in the words that come to mind; anything else is for the bot."""
    assert wait_of(line, START, LONDON) == until


@pytest.mark.parametrize("line", ["wait 45", "wait 2 bananas", "wait 25:00", "wait a bit"])
def test_what_is_no_time_to_wait(line: str) -> None:
    """A wait that can't be read is answered with how it is said."""
    with pytest.raises(NotSoLong, match="wait 45s"):
        wait_of(line, START, LONDON)
