"""How often a child passed a skill and how often not, where what is long ago counts for less.

Two numbers, (seen, missed), each of a mark that counted, worth half as much so many weeks later. They are folded with a
standing (`standing.py`), as of its last mark that counted; what they make likely is said in `bot/lesson/likely.py`.
"""
from __future__ import annotations

from datetime import datetime, timedelta

Tally = tuple[float, float]
NOTHING: Tally = (0.0, 0.0)
HALVED_IN = timedelta(weeks=4)      # by tests/bench/reliability.py, where 2 to 8 weeks come to nearly the same


def faded(tally: Tally, since: datetime | None, to: datetime) -> Tally:
    """What a tally of one time is worth at a later one."""
    if since is None or to <= since or tally == NOTHING:
        return tally
    left = 0.5 ** ((to - since) / HALVED_IN)
    return tally[0] * left, tally[1] * left


def one_more(tally: Tally, since: datetime | None, at: datetime, *, seen: bool) -> Tally:
    """The tally after a mark that counted."""
    passed, failed = faded(tally, since, at)
    return (passed + 1, failed) if seen else (passed, failed + 1)
