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
