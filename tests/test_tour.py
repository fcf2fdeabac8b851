"""The tour: every script in demo_conversations plays as it is written, and shows what a coach can tap."""
from __future__ import annotations

import asyncio
import io
import re
from collections.abc import Iterator
from functools import cache
from pathlib import Path

import pytest

from adapters.play.match import Came
from adapters.play.parse import read_script
from adapters.play.player import Player
from adapters.play.printed import Printed
from adapters.play.result import Played
from adapters.play.script import Prose, Speak
from tests.postgres import KINDS, FreshStores

TOUR = sorted((Path(__file__).resolve().parent.parent / "demo_conversations").glob("*.talk"))
TAPPED_TODAY = (
    "Start", "Everyone", "Some missing", "Go", "All seen", "Some not yet", "None yet", "Count it", "Wait", "Yes here",
    "Not here", "Second look", "Second show", "Close", "Undo", "Yes", "Not now",
)
LOOP = {"All seen", "Some not yet", "None yet", "Go", "Everyone"}     # what the prompts of the main loop carry
each_script = pytest.mark.parametrize("path", TOUR, ids=lambda path: path.stem)


@cache
def _play(path: Path, where: str) -> tuple[Played, str]:
    """A script played on a fresh store, as `sprung play` does it; and what is wrong with it, as it is printed."""

    async def play() -> tuple[Played, str]:
        script, stores, out = read_script(path), FreshStores(where), io.StringIO()
        async with stores.url() as url:
            player = Player(
                script, stores.open(url), lambda store: stores.restart(url, store), Printed(out, path.name, quiet=True),
            )
            try:
                return await player.play(), out.getvalue()
            finally:
                await player.store.close()

    return asyncio.run(play())


def _came(path: Path) -> Iterator[Came]:
    played, _ = _play(path, "memory:")
    for result in played.results:
        yield from result.came


@pytest.mark.parametrize("where", [f"{kind}:" for kind in KINDS])
@each_script
def test_a_script_comes_as_it_says(path: Path, where: str) -> None:
    """What every script of the tour says comes back, on every store alike."""
    played, printed = _play(path, where)
    assert played.ok, printed


@each_script
def test_a_script_begins_with_what_it_shows(path: Path) -> None:
    """The first lines of a script, one to three, say in a coach's words what it is about; a number gives its place."""
    lines = path.read_text("utf-8").splitlines()
    told = next(n for n, line in enumerate(lines) if not line.startswith("#"))
    assert 1 <= told <= 3
    assert re.fullmatch(r"\d\d-[a-z-]+", path.stem)
    assert sum(isinstance(move.action, Prose) for move in read_script(path).moves) > told


def test_the_tour_is_in_order() -> None:
    """The scripts are numbered from 01 without a gap, and there are enough of them for all that there is to show."""
    assert [path.stem[:2] for path in TOUR] == [f"{n:02}" for n in range(1, len(TOUR) + 1)]
    assert len(TOUR) >= 18


@pytest.mark.parametrize("label", TAPPED_TODAY)
def test_every_exact_label_is_tapped(label: str) -> None:
    """Whatever the contract calls by an exact label is tapped somewhere in the tour."""
    assert any(
        isinstance(move.action, Speak) and move.action.label == label
        for path in TOUR for move in read_script(path).moves
    )


@each_script
def test_what_is_said_fits_a_glance(path: Path) -> None:
    """No choice is longer than 20 characters, and no message of the main loop is longer than 600."""
    for came in _came(path):
        assert all(len(label) <= 20 for label in came.labels), came.labels
        if LOOP & set(came.labels):
            assert len(came.said.text) <= 600, came.said.text


@each_script
def test_no_two_choices_of_a_message_are_alike(path: Path) -> None:
    """Every message says something, and each of its choices can be told from the others."""
    for came in _came(path):
        assert came.said.text.strip()
        assert len(set(came.labels)) == len(came.labels), came.labels
