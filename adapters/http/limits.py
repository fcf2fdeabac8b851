"""How often and how many at once: token buckets for keys, people, codes that are tried, keys that are wrong.

What lives here: the buckets and how large they are. Time comes from the clock that is handed in.
"""
from __future__ import annotations

from collections import Counter, OrderedDict
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import datetime

from adapters.clock import Clock

REMEMBERED = 50_000     # so many buckets of a kind; the one used longest ago was full again long before


@dataclass(frozen=True, slots=True)
class Rate:
    """So many a second in the long run, and so many at once."""

    a_second: float
    at_once: int


@dataclass(frozen=True, slots=True)
class Limits:
    """What is allowed. A phone that was out of reach sends a whole lesson at once; a code is typed a few times."""

    key: Rate = Rate(1_000, 5_000)
    person: Rate = Rate(20, 600)
    codes: Rate = Rate(1 / 360, 10)
    wrong_keys: Rate = Rate(1, 20)
    pages: Rate = Rate(20, 400)         # whatever one phone's page asks for
    files: Rate = Rate(1, 30)           # files of one message: each is made anew
    joins: Rate = Rate(1 / 20, 30)      # codes tried at the page, from one address
    listening: int = 8                  # streams and waits of one phone at once; each looks every second
    all_codes: Rate = Rate(1 / 4, 1_000)    # wrong codes in all, whoever tries them and however


class Buckets:
    """One bucket for each name, full at first."""

    def __init__(self, rate: Rate, clock: Clock) -> None:
        self._rate = rate
        self._clock = clock
        self._kept: OrderedDict[object, tuple[float, datetime]] = OrderedDict()

    def take(self, name: object) -> float:
        """Take one: 0 where there was one, else so many seconds until there will be."""
        now = self._clock.now()
        left, since = self._kept.pop(name, (float(self._rate.at_once), now))
        passed = max(0.0, (now - since).total_seconds())
        left = min(float(self._rate.at_once), left + passed * self._rate.a_second)
        wait = 0.0 if left >= 1 else (1 - left) / self._rate.a_second
        self._kept[name] = (left - 1 if wait == 0 else left, now)
        if len(self._kept) > REMEMBERED:
            self._kept.popitem(last=False)
        return wait

    def give(self, name: object) -> None:
        """Put back what was taken: it need not have been."""
        left, since = self._kept.get(name, (float(self._rate.at_once), self._clock.now()))
        self._kept[name] = (min(float(self._rate.at_once), left + 1), since)


class AtOnce:
    """So many for each name at the same time."""

    def __init__(self, most: int) -> None:
        self._most = most
        self._held: Counter[object] = Counter()

    @contextmanager
    def one(self, name: object) -> Iterator[bool]:
        """For as long as it takes; False where there are as many already."""
        room = self._held[name] < self._most
        self._held[name] += room
        try:
            yield room
        finally:
            self._held[name] -= room
            if not self._held[name]:
                del self._held[name]
