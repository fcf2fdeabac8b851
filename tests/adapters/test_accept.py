"""Accepting what came: only what does not fit is written anew."""
from __future__ import annotations

from collections.abc import Awaitable, Callable
from typing import Any

import pytest

from adapters.play.accept import accepted

Play = Callable[..., Awaitable[Any]]
HEAD = "hall harbour-lane\nclock 2026-11-24 16:58\n"

CASES = {
    "a bare message": ("jo: hi\n", "jo: hi\n  < heard hi\n"),
    "what fits stays, with its wildcards": (
        "jo: say One / Two\n  # why\n  < O...\n  < 2\n", "jo: say One / Two\n  # why\n  < O...\n  < Two\n",
    ),
    "choices alone": (
        "jo: say Well? [Yes] [No]\n   < Well...\n   [Yes]\n\n# on\n",
        "jo: say Well? [Yes] [No]\n   < Well...\n  [Yes] [No]\n\n# on\n",
    ),
    "choices nobody asked about": ("jo: say Well? [Yes]\n  < Bad\n", "jo: say Well? [Yes]\n  < Well?\n"),
    "one too many": ("jo: hi\n  < heard hi\n  sam < Hello\njo: hush\n", "jo: hi\n  < heard hi\njo: hush\n"),
    "one in the middle": ("jo: say A / B / C\n  < A\n  < C\n", "jo: say A / B / C\n  < A\n  < B\n  < C\n"),
    "anything stays": ("jo: say A / B\n  < X\n  ...\n", "jo: say A / B\n  < A\n  ...\n"),
    "to another": (
        "jo: later 0 sam\n", "jo: later 0 sam\n  < will do\n  sam < due 0\n",
    ),
    "more lines": ("jo: say A\\nB\n  < B\n", "jo: say A\\nB\n  < A\n  | B\n"),
    "a standing": (
        "expect Ava Price / award lantern: earned\n", "expect Ava Price / award lantern: working\n",
    ),
    "nobody hears": ("jo: later 5 jo\n  < will do\nclock +5s\nnobody hears anything\n",
                     "jo: later 5 jo\n  < will do\nclock +5s\n  < due 5\n"),
}


@pytest.mark.parametrize("name", CASES)
async def test_accepting(play: Play, name: str) -> None:
    """What came stands in the script afterwards; comments and lines that fit are as they were."""
    before, after = CASES[name]
    played = await play(before)
    assert accepted(played.played, played.player.same) == HEAD + after


@pytest.mark.parametrize("name", CASES)
async def test_an_accepted_script_fits(play: Play, name: str) -> None:
    """What was accepted plays without a mismatch, and accepting it again changes nothing."""
    played = await play(CASES[name][1])
    assert not played.wrong
    assert accepted(played.played, played.player.same) == HEAD + CASES[name][1]
