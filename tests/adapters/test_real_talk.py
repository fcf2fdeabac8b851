"""Scripts on the real dialogue and on both stores: the contract's own example, codes, late messages."""
from __future__ import annotations

from collections.abc import Awaitable, Callable
from typing import Any

import pytest

Play = Callable[..., Awaitable[Any]]
BOTH = pytest.mark.parametrize("sqlite", [False, True], ids=["memory", "sqlite"])


@BOTH
async def test_two_shows_with_a_rest_between(play: Play, sqlite: bool) -> None:
    """The first show is seen, the rest is timed, and both phones hear when it is over."""
    played = await play("""
jo: start tuesday
  < Everyone here? ...
  [Everyone] [...]
jo: [Everyone]
  ...
jo: ava, ben seen shoulder stand
  < ...Rest to...
  ...
expect Ava Price / shoulder-stand: resting
clock +46s
  sam < Rested: Ava...Ben...
  ...
expect Ava Price / shoulder-stand: ready
expect Ava Price / award lantern: working
""", real=True, sqlite=sqlite)
    assert not played.wrong


@BOTH
async def test_late_and_twice_and_after_a_restart(play: Play, sqlite: bool) -> None:
    """A tap out of reach counts when it was made, once however often it is delivered, over a restart too."""
    played = await play("""
jo: start tuesday
  ...
jo: [Everyone]
  ...
jo: ava seen cartwheel
  ...
jo: undo
  ...
expect Ava Price / cartwheel: untried
offline jo
jo: ava seen cartwheel
clock +3m
  ...
expect Ava Price / cartwheel: untried
restart
online jo
  ...
expect Ava Price / cartwheel: ticked
again
  ...
expect Ava Price / cartwheel: ticked
""", real=True, sqlite=sqlite)
    assert not played.wrong


@BOTH
async def test_somebody_new_comes_in_with_a_code(play: Play, sqlite: bool) -> None:
    """A code makes its bearer a parent, or one of the club's people on another phone; it works once."""
    played = await play("""
invite --parent "Ava Price" as ann
ann: join CODE
  < ...
  [Yes] [...]
ann: [Yes]
  < ...
bob: join CODE
  < ...not valid...
invite sam as sam2
sam2: join CODE
  < Welcome, Sam...
""", real=True, sqlite=sqlite)
    assert not played.wrong


BEGUN = "jo: start tuesday\n  ...\njo: [Everyone]\n  ...\n"

VERBS = {
    "a hall again": "hall harbour-lane\nhall harbour-lane/\njo: start\n  < Everyone here?...\n",
    "a time, spans, a date": (
        "clock 16:59\nclock +30s\nclock +1m\nclock +1h 30m\n  ...\nclock +7d\n  ...\nclock 2026-12-08 16:00\n  ...\n"
    ),
    "a plain text and its choices": "jo: start\n  < Everyone here? ...\n  [Everyone] [Some missing] [Ask me later]\n",
    "further choices, or none": (
        "jo: start\n  < Everyone...\n  [Everyone] [...]\njo: start\n  < ...\n  [...]\n"
        "jo: [Everyone]\n  < ...\n  [Go] [...]\n"
    ),
    "choices that are not listed": "jo: start\n  < Everyone here? ...\n",
    "a text of several lines": "jo: start\n  < Everyone here? ...\njo: [Everyone]\n  < 12 here.\n  | First: ...\n",
    "dots span lines": "jo: start\n  ...\njo: [Everyone]\n  < 12...rests...\n",
    "dots alone are nothing too": "nobody hears anything\nclock +1s\n  ...\n",
    "a message of two lines": (
        BEGUN + "jo: ava seen cartwheel\n  | ben seen cartwheel\n  ...\nexpect Ben Okafor / cartwheel: ticked\n"
    ),
    "a tap two before": (
        BEGUN + "jo: undo\n  ...\njo: [Everyone] @ -0\n  ...\njo: ava seen cartwheel\n  ...\njo: [Undo]\n  ...\n"
        "expect Ava Price / cartwheel: untried\n"
    ),
    "sent earlier": (
        BEGUN + "clock +10m\n  ...\njo (sent 17:01): ava seen shoulder stand\n  ...\n"
        "expect Ava Price / shoulder-stand: ready\n"
    ),
    "sent by a fast clock": (
        BEGUN + "jo (sent 17:30): ava seen cartwheel\n  < ...ahead...\nexpect Ava Price / cartwheel: untried\n"
    ),
    "again": BEGUN + "jo: ava seen cartwheel\n  < Cartwheel: Ava seen...\nagain\n  < Cartwheel: Ava seen...\n",
    "out of reach": (
        BEGUN + "offline sam\nsam: ava seen cartwheel\nclock +5m\n  ...\nexpect Ava Price / cartwheel: untried\n"
        "online sam\n  < Cartwheel: Ava seen...\nexpect Ava Price / cartwheel: ticked\n"
    ),
    "a restart": BEGUN + "jo: ava seen shoulder stand\n  ...\nrestart\nclock +46s\n  sam < Rested: Ava. ...\n  ...\n",
    "nobody": BEGUN + "jo: ava seen shoulder stand\n  ...\nclock +20s\nnobody hears anything\n",
    "an award": "expect Ava Price / award lantern: working\nexpect ava price / award Lantern: working\n",
}


@BOTH
@pytest.mark.parametrize("name", VERBS)
async def test_each_word_of_a_script(play: Play, name: str, sqlite: bool) -> None:
    """Every word of a script does on the real dialogue what the contract says, on both stores."""
    played = await play(VERBS[name], real=True, sqlite=sqlite)
    assert not played.wrong, played.printed


@BOTH
async def test_reminders_fire_at_their_own_times(play: Play, sqlite: bool) -> None:
    """What falls due while a clock line passes comes in order, each stamped with its own time."""
    played = await play(
        "hall harbour-lane\nclock 2026-11-24 16:00\nclock 18:20\n  ...\n", head="", real=True, sqlite=sqlite,
    )
    times = [line[:5] for line in played.printed.splitlines() if " < " in line]
    assert not played.wrong
    assert times[0] == "16:30"
    assert times == sorted(times)


@BOTH
@pytest.mark.parametrize(("text", "shows"), [
    ("jo: start\n", ["+        < Everyone here?", "+        [Everyone] [Some missing]"]),
    ("jo: start\n  < Nobody here?\n", ["-    4   < Nobody here?", "+        < Everyone here?"]),
    ("jo: start\n  < Everyone here? ...\n  [Everyone]\n", ["-    4   [Everyone]", "+        [Everyone] [Some"]),
    ("jo: start\n  < Everyone here? ...\n  < And more\n", ["     4   < Everyone here? ...", "-    5   < And more"]),
    ("jo: start\n  sam < Everyone here? ...\n", ["-    4   sam < Everyone here?", "+        < Everyone here?"]),
    ("expect Ava Price / cartwheel: ticked\n", ["cartwheel is untried, not ticked"]),
    ("jo: [Nowhere]\n", ["no message to jo carries [Nowhere]"]),
])
async def test_a_mismatch_can_be_read(play: Play, text: str, shows: list[str], sqlite: bool) -> None:
    """What does not fit is shown under its line: what the script says with `-`, what came with `+`."""
    played = await play(text, real=True, sqlite=sqlite)
    assert played.wrong
    assert f"one.talk:{played.wrong[0][0]}: " in played.printed
    assert all(row in played.printed for row in shows), played.printed
