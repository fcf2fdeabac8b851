"""The console: what it shows, in a terminal's columns, and how a talk goes in a plain pipe."""
from __future__ import annotations

import io
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from pathlib import Path
from types import SimpleNamespace
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from adapters.channel import fit
from adapters.clock import Clock, ShiftedClock, SimulatedClock
from adapters.console.chat import BAD_DAY, CARRIES, CHANNEL, Console, address
from adapters.console.keyboard import Keyboard
from adapters.console.layout import ROUND, body, boxed, clean, columns, stamped, wrap
from adapters.console.layout import words as layout_words
from adapters.console.saved import Saved
from adapters.console.screen import Screen
from adapters.files.click import track
from adapters.halls import DEMO_HALL, read_folder
from adapters.service import Service
from bot.attached import Click
from bot.port import Store
from bot.step import Said
from storage import open_store

LONDON = ZoneInfo("Europe/London")
START = datetime(2026, 11, 24, 16, 58, tzinfo=UTC)
MakeService = Callable[[Store, Clock], Service]


class Terminal(io.StringIO):
    """A terminal, as far as a screen looks."""

    encoding = "utf-8"

    def isatty(self) -> bool:
        """It is one."""
        return True


# --- layout ----------------------------------------------------------------------------------------

WORDS = st.lists(st.text(st.characters(exclude_categories=("Cs", "Cc", "Zs", "Zl", "Zp")), max_size=60))


@given(WORDS, st.integers(10, 100))
def test_nothing_is_wider_than_the_terminal(words: list[str], width: int) -> None:
    """Wrapped words fit the columns, wide letters too, and none is lost."""
    lines = wrap(words, width)
    assert all(columns(line) <= width for line in lines)
    assert "".join(lines).replace(" ", "") == "".join(words).replace(" ", "")


@settings(deadline=None)
@given(st.text(max_size=200), st.integers(40, 100))
def test_a_box_is_a_rectangle(text: str, width: int) -> None:
    """Whatever a message says, its box is as wide as it was asked to be, in every line."""
    rows, buttons = body((text,), ("All seen", "Some not yet"), width - 11)
    box = boxed("Sam's phone", stamped("17:04", rows + buttons), width, ROUND)
    assert {columns(line) for line in box} == {width}


@pytest.mark.parametrize(("line", "width", "lines"), [
    ("First show: 1 Ava  2 Ben  3 Chidi", 40, ["First show: 1 Ava  2 Ben  3 Chidi"]),
    ("First show: 1 Ava  2 Ben  3 Chidi", 26, ["First show: 1 Ava  2 Ben", "3 Chidi"]),
    ("  Rest to 17:06.   Next: 8 owe it", 22, ["Rest to 17:06.  Next:", "8 owe it"]),
])
def test_a_number_stays_with_its_name(line: str, width: int, lines: list[str]) -> None:
    """A line is never broken between a number and what it counts, and a gap between names stays a gap."""
    assert wrap(layout_words(line), width) == lines


def test_nothing_in_a_message_steers_the_terminal() -> None:
    """Control characters in what people wrote are never passed on."""
    assert "\x1b" not in clean("Ava\x1b[2J\x07Price\u202e")
    assert "\n" in clean("One\nTwo")


# --- screen ----------------------------------------------------------------------------------------

def shown(out: io.StringIO, said: Said, **env: str) -> str:
    screen = Screen(out, LONDON, env)
    screen.mine(said.at, fit(said, CARRIES))
    return out.getvalue()


def test_numbers_and_times(make_said: Callable[..., Said]) -> None:
    """A message has its time before it, and each choice the number that is typed for it."""
    said = make_said("Shoulder stand, first show", ["All seen", "None yet"], first=4)
    assert shown(io.StringIO(), said) == "12:00  Shoulder stand, first show\n       [4 All seen] [5 None yet]\n"


@pytest.mark.parametrize(("env", "coloured"), [({}, True), ({"NO_COLOR": "1"}, False), ({"TERM": "dumb"}, False)])
def test_colours_where_they_are_wanted(make_said: Callable[..., Said], env: dict[str, str], coloured: bool) -> None:
    """There are colours on a terminal alone, and none where NO_COLOR or a dumb terminal says so."""
    said = make_said("Well?", ["Yes"])
    assert ("\x1b[" in shown(Terminal(), said, **env)) is coloured
    assert "\x1b[" not in shown(io.StringIO(), said, **env)


@pytest.mark.parametrize(("columns_", "width"), [("20", 40), ("72", 72), ("300", 100)])
def test_the_width_is_the_terminals(monkeypatch: pytest.MonkeyPatch, columns_: str, width: int) -> None:
    """The screen is as wide as the terminal, between 40 and 100 columns."""
    monkeypatch.setenv("COLUMNS", columns_)
    assert Screen(io.StringIO(), LONDON).width == width


# --- talk ------------------------------------------------------------------------------------------

async def talk(make_service: MakeService, lines: str, clock: Clock, *, beside: bool = True) -> str:
    """What a pipe prints when these lines come through it."""
    store = open_store("memory:")
    hall = read_folder(DEMO_HALL)
    await store.load(hall, clock.now())
    jo = next(one for one in hall.people if one.id == "jo")
    (club,) = await store.clubs()
    await store.meet(CHANNEL, address(club.id, jo.id), club.id, jo.id)
    out = io.StringIO()
    console = Console(
        make_service(store, clock), Screen(out, LONDON, {}), Keyboard(io.StringIO(lines)), club, "jo", beside=beside,
    )
    try:
        await console.run()
    finally:
        await store.close()
    return out.getvalue()


def still() -> ShiftedClock:
    """A clock that skips and does not run."""
    return ShiftedClock(START, SimulatedClock(START))


async def test_a_pipe_reads_as_the_whole_talk(make_service: MakeService) -> None:
    """In a pipe each line is repeated before its answer; an empty one is no message."""
    assert await talk(make_service, "hi\n\nho\n", still()) == "jo> hi\n16:58  heard hi\njo>\njo> ho\n16:58  heard ho\n"


async def test_time_can_be_let_pass(make_service: MakeService) -> None:
    """`wait 45s` moves the clock; what falls due on the way shows at its own time, on the phone whose it is."""
    printed = await talk(make_service, "later 30 jo sam\nwait 45s\n", still())
    assert "16:58  due 30\n" in printed
    assert "Sam's phone" in printed
    assert "It is 16:58." in printed
    assert "It is 17:03." in await talk(make_service, "wait 5m\n", still())
    assert "heard wait for it" in await talk(make_service, "wait for it\n", still())


async def test_other_phones_show_only_where_they_are_wanted(make_service: MakeService) -> None:
    """Who talks for herself does not see what others are told."""
    assert "Sam" not in await talk(make_service, "later 0 sam\n", still(), beside=False)


async def test_a_bad_day_is_one_sentence(make_service: MakeService) -> None:
    """A fault in a step is told in a sentence, and the talk goes on."""
    printed = await talk(make_service, "fail\nhi\n", still())
    assert BAD_DAY in " ".join(printed.split())
    assert "heard hi" in printed
    assert "Traceback" not in printed


async def test_huge_waits_are_bounded(make_service: MakeService) -> None:
    """A wait of a thousand years is a year's."""
    assert "It is" in await talk(make_service, "wait 999999d\n", still())
    assert timedelta(days=999999) > timedelta(days=366)


async def reminded(make_service: MakeService, typed: str) -> str:
    """What a terminal of 40 columns gets when a reminder comes while that is typed."""
    store, out, keyboard = open_store("memory:"), Terminal(), Keyboard(io.StringIO())
    hall = read_folder(DEMO_HALL)
    loaded = await store.load(hall, START)
    await store.meet(CHANNEL, address(loaded.club, "jo"), loaded.club, "jo")
    service = make_service(store, still())
    console = Console(service, Screen(out, LONDON, {"NO_COLOR": "1"}), keyboard, hall.club, "jo")
    await service.hear(CHANNEL, address(loaded.club, "jo"), text="later 0 jo")
    await service.wake()
    keyboard.waiting = True
    keyboard._readline = SimpleNamespace(get_line_buffer=lambda: typed)     # type: ignore[assignment]
    await console.look()
    await console.look()
    await store.close()
    return out.getvalue()


async def test_a_reminder_at_the_prompt_keeps_what_was_typed(make_service: MakeService) -> None:
    """What falls due while somebody is typing shows above the prompt, once, and the prompt is put back."""
    assert await reminded(make_service, "ava se") == "\r\x1b[J16:58  due 0\n> ava se"


async def test_a_long_line_at_the_prompt_is_cleared_whole(
    make_service: MakeService, monkeypatch: pytest.MonkeyPatch,
) -> None:
    """A line that was typed over two rows of the terminal leaves none of them behind."""
    monkeypatch.setenv("COLUMNS", "40")
    typed = "ava, ben, chidi and dara seen shoulder stand"
    assert await reminded(make_service, typed) == f"\x1b[1A\r\x1b[J16:58  due 0\n> {typed}"


async def test_a_sound_is_saved_and_a_picture_told(monkeypatch: pytest.MonkeyPatch) -> None:
    """In a terminal a click is a file whose place is said, gone when one leaves; a picture is told in words."""
    kept: list[tuple[Path, bytes]] = []
    close = Saved.close

    def look_and_close(saved: Saved) -> None:
        kept.extend((one, one.read_bytes()) for one in Path(saved._folder.name).iterdir())
        close(saved)

    monkeypatch.setattr(Saved, "close", look_and_close)
    printed = await talk(Service, "click 120 4 eights\ngrid\n", still(), beside=False)
    ((path, body_),) = kept
    assert f"Saved until you leave: {path}" in printed
    assert body_ == track(Click(120, 4))
    assert not path.exists()
    assert "Owed: shoulder stand 8" in printed
