"""What the last turns of a club touched, so that another process forgets that and not all that it remembers.

What lives here: the few rows of it that are kept beside a club's revision, and what they mean for a memory. Whoever was
away for longer than they reach back forgets everything.
"""
from __future__ import annotations

import json
from collections.abc import Sequence
from dataclasses import dataclass

from storage.cache import Cache
from storage.shelf import Written

KEPT = 16       # so many turns are kept: two processes that take turns need few, one that was idle reads anew anyway


@dataclass(frozen=True, slots=True)
class Touched:
    """What one turn wrote. `all`: more than the rest of this says."""

    revision: int
    person: str = ""                    # whose talk and answers
    classes: tuple[str, ...] = ()       # whose books
    last_fact: int = 0                  # the number of the last fact; 0: none was written
    held: bool = False                  # a letter, perhaps one that is held
    all: bool = False


def touched(revision: int, written: Written | None) -> Touched:
    """What a turn touches that writes this."""
    if written is None:
        return Touched(revision)
    far = (written.home, written.joined, written.met, written.erasure)
    return Touched(
        revision, written.person, tuple(written.books), written.record[-1].recorded.seq if written.record else 0,
        bool(written.posted or written.released), any(one is not None for one in far),
    )


def read(text: str) -> tuple[Touched, ...]:
    """What is kept, the oldest first."""
    return tuple(
        Touched(revision, person, tuple(classes), last_fact, held, all_)
        for revision, person, classes, last_fact, held, all_ in json.loads(text or "[]")
    )


def with_one_more(text: str, last: Touched) -> str:
    """What is kept from now on."""
    kept = json.loads(text or "[]")[1 - KEPT:]
    one = (last.revision, last.person, last.classes, last.last_fact, last.held, last.all)
    return json.dumps([*kept, one], ensure_ascii=False, separators=(",", ":"))


def forget(cache: Cache, club: str, since: int, until: int, lately: Sequence[Touched]) -> None:
    """Forget what was touched after one revision, up to another; everything where that can't be known."""
    missed = [one for one in lately if since < one.revision <= until]
    if len(missed) != until - since or any(one.all for one in missed):
        cache.clear()
        return
    for one in missed:
        whose = (club, one.person)
        cache.talks.drop(whose)
        cache.said.drop(whose)
        cache.reaches.drop(whose)
        for class_id in one.classes:
            cache.books.drop((club, class_id))
        if one.last_fact:
            cache.last_fact.put(club, one.last_fact)
        if one.held:
            cache.free.clear()
