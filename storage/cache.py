"""What a store remembers decoded between transactions, so that a message need not read a whole class.

What lives here: a bounded memory for each kind of thing. It holds nothing that the tables do not hold:
it is emptied whenever a transaction is rolled back or somebody else may have written.
"""
from __future__ import annotations

from typing import Generic, TypeVar

from bot.lesson.book import ClassBook
from bot.step import Said
from bot.talk.state import Talk
from storage.shelf import Home, Memo, Reach

LESSONS = 500       # one on each of them is more than any one hall has; a setting says otherwise
PEOPLE = 4          # in a lesson, who write in it

K = TypeVar("K")
V = TypeVar("V")


class Recent(Generic[K, V]):
    """A mapping that lets go of what was used longest ago."""

    def __init__(self, size: int) -> None:
        self._size = size
        self._kept: dict[K, V] = {}

    def get(self, key: K) -> V | None:
        """What is remembered under a key."""
        value = self._kept.pop(key, None)
        if value is not None:
            self._kept[key] = value         # the latest last
        return value

    def put(self, key: K, value: V) -> V:
        """Remember it, and let go of the oldest where there are too many."""
        self._kept.pop(key, None)
        self._kept[key] = value
        if len(self._kept) > self._size:
            del self._kept[next(iter(self._kept))]
        return value

    def drop(self, key: K) -> None:
        """Forget one."""
        self._kept.pop(key, None)

    def clear(self) -> None:
        """Forget all."""
        self._kept.clear()


class Cache:
    """Everything remembered, each kind by its own key. `lessons`: of so many all that those who are in one need.

    What weighs most are books and the words of a person's classes, a tenth of a megabyte or two each after a term.
    """

    def __init__(self, lessons: int = LESSONS) -> None:
        some, many = PEOPLE * lessons, 40 * lessons
        self.known: Recent[tuple[str, str], tuple[str, str]] = Recent(many)
        self.homes: Recent[str, Home] = Recent(lessons)
        self.books: Recent[tuple[str, str], ClassBook] = Recent(lessons)
        self.memos: Recent[tuple[str, str], tuple[Home, Memo]] = Recent(lessons)
        self.talks: Recent[tuple[str, str], Talk] = Recent(some)
        self.said: Recent[tuple[str, str], tuple[Said, ...]] = Recent(some)
        self.last_fact: Recent[str, int] = Recent(some)
        self.counters: Recent[str, int] = Recent(100)
        self.reaches: Recent[tuple[str, str], Reach] = Recent(some)
        self.free: Recent[tuple[str, str, str], bool] = Recent(some)        # nothing is held

    def memo(self, home: Home, person: str) -> Memo:
        """What steps keep for somebody, while the club is as it was."""
        key = home.club.id, person
        known = self.memos.get(key)
        return (known if known is not None and known[0] is home else self.memos.put(key, (home, {})))[1]

    def clear(self) -> None:
        """Forget everything."""
        for kind in vars(self).values():
            kind.clear()

