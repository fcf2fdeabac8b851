"""A dialogue that only echoes, on a real store, and what plays a script on it."""
from __future__ import annotations

import io
import os
import re
from collections.abc import Awaitable, Callable, Sequence
from dataclasses import dataclass, replace
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from adapters.cli import main
from adapters.play.match import Came
from adapters.play.parse import parse
from adapters.play.player import Player
from adapters.play.printed import Printed
from adapters.play.result import Played
from adapters.service import Service
from bot.lesson.book import Changes, Reminder
from bot.port import Store
from bot.step import Choice, Desk, Heard, Said, Say, Stepped, Woken
from bot.talk.taps import Help
from storage import open_store

NOON = datetime(2026, 11, 24, 12, tzinfo=UTC)


def said(text: str, labels: Sequence[str] = (), *, person: str = "jo", seq: int = 1, first: int = 1) -> Said:
    """A message as a store gives it back."""
    choices = tuple(Choice(label, Help(), first + n) for n, label in enumerate(labels))
    return Said("club", person, seq, NOON, text, choices, None)


def came(to: str, text: str, *labels: str) -> Came:
    """A message that came back."""
    return Came(to, said(text, labels, person=to))


# --- the echo --------------------------------------------------------------------------------------

def echo(heard: Heard, desk: Desk) -> Stepped:
    """Says what it heard. `say A / B [x] [y]`: those messages; `later 45 sam`: due so much later; `fail` fails."""
    if heard.choice is not None:
        picked = desk.tapped.pick(heard.choice) if desk.tapped else None
        return _stepped(desk, f"tapped {picked.label if picked else 'nothing'}")
    text = heard.text or ""
    if text == "fail":
        raise RuntimeError("a bad day")
    if text == "hush":
        return _stepped(desk)
    if text == "times":
        return _stepped(desk, f"sent {heard.sent_at:%H:%M:%S} received {heard.received_at:%H:%M:%S}")
    if text.startswith("later "):
        return _later(heard, desk, text)
    return _stepped(desk, *(text.removeprefix("say ").split(" / ") if text.startswith("say ") else [f"heard {text}"]))


def _stepped(desk: Desk, *texts: str, changes: Changes | None = None) -> Stepped:
    says = tuple(
        Say(
            re.sub(r"\s*\[[^\]]*\]", "", text).replace("\\n", "\n"),
            tuple(Choice(label, Help(), n) for n, label in enumerate(re.findall(r"\[([^\]]*)\]", text), 1)),
        )
        for text in texts
    )
    talk = replace(desk.talk, said=desk.talk.said + len(says))
    return Stepped(talk, says, changes=changes or Changes())


def _later(heard: Heard, desk: Desk, text: str) -> Stepped:
    _, seconds, *people = text.split()
    due = heard.received_at + timedelta(seconds=int(seconds))
    class_id = next(iter(desk.books))
    rows = [Reminder(f"{seconds}/{person}", person, "rest", due, f"{class_id}/x") for person in people]
    keys = {one.key: one for one in rows}
    pending = {class_id: {**desk.books[class_id].pending, **keys}}
    return _stepped(desk, "will do", changes=Changes(pending=pending))


def echo_wake(woken: Woken, desk: Desk) -> Stepped:
    """Says what is due, and forgets it."""
    keys = {one.key for one in woken.due}
    pending = {
        class_id: {key: one for key, one in book.pending.items() if key not in keys}
        for class_id, book in desk.books.items()
    }
    return _stepped(desk, *(f"due {one.key.split('/')[0]}" for one in woken.due), changes=Changes(pending=pending))


def echoing(store: Store, clock: object, _: object = None) -> Service:
    """A service whose dialogue only echoes."""
    return Service(store, clock, echo, echo_wake)       # type: ignore[arg-type]


# --- playing ---------------------------------------------------------------------------------------

@dataclass
class Playing:
    """A script that was played, with what was printed."""

    played: Played
    printed: str
    player: Player

    @property
    def wrong(self) -> list[tuple[int, str]]:
        """Lines and words of what did not fit."""
        return [(one.at, one.says + "".join(f"\n{row}" for row in one.diff)) for one in self.played.wrong]


Play = Callable[..., Awaitable[Playing]]
HEAD = "hall harbour-lane\nclock 2026-11-24 16:58\n"


@pytest.fixture
def play(tmp_path: Path) -> Play:
    """Plays a script's text; on the echo unless `real`, on an SQLite file where `sqlite`."""

    async def run(text: str, *, real: bool = False, sqlite: bool = False, head: str = HEAD) -> Playing:
        script = parse(tmp_path / "one.talk", head + text)
        url = f"sqlite:///{tmp_path / 'one.sqlite'}" if sqlite else "memory:"

        async def restart(store: Store) -> Store:
            if not sqlite:
                return store
            await store.close()
            return open_store(url)

        out = io.StringIO()
        ways = {} if real else {"serve": echoing}
        player = Player(script, open_store(url), restart, Printed(out, "one.talk"), **ways)
        try:
            return Playing(await player.play(), out.getvalue(), player)
        finally:
            await player.store.close()

    return run


@pytest.fixture
def make_said() -> Callable[..., Said]:
    """Makes a message as a store gives it back."""
    return said


@pytest.fixture
def make_came() -> Callable[..., Came]:
    """Makes a message that came back."""
    return came


@pytest.fixture
def make_service() -> Callable[[Store, object], Service]:
    """Makes a service whose dialogue only echoes."""
    return echoing


@pytest.fixture
def environment(tmp_path: Path) -> dict[str, str]:
    """Variables for a program of ours: nothing of the machine's own settings, a home of its own."""
    kept = {key: value for key, value in os.environ.items() if key in ("PATH", "LANG", "PYTHONPATH", "SYSTEMROOT")}
    return {**kept, "HOME": str(tmp_path), "XDG_DATA_HOME": str(tmp_path / "data"), "PYTHONUTF8": "1"}


@pytest.fixture
def run(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Callable[..., Result]:
    """Runs a command in an empty folder, on a database in it."""
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path / "data"))
    monkeypatch.setenv("COLUMNS", "80")
    monkeypatch.delenv("SPRUNG_DB", raising=False)
    monkeypatch.delenv("SPRUNG_DEBUG", raising=False)

    def command(*words: object, typed: str = "") -> Result:
        return CliRunner().invoke(main, [str(word) for word in words], input=typed)

    return command
