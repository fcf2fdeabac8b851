"""Quiet hours: when a family is not to be written to. Read off the club's own clock, over midnight too.

What lives here: the hours as instants. Which messages keep them is decided where messages are made.

The hours are half-open: from their first minute until before their last. The same time twice means none. On the two
nights a year on which the clock is changed they keep what they promise, that nothing comes while the clock shows a
quiet time: an hour that is shown twice counts from the first time it shows the beginning to the last time it shows
the end, without a break, and a beginning or an end that is skipped is the moment of the jump.
"""
from __future__ import annotations

from bisect import bisect_left
from datetime import UTC, date, datetime, time, timedelta
from zoneinfo import ZoneInfo

from bot.people.model import Club

_DAY = timedelta(days=1)


def quiet_until(club: Club, at: datetime) -> datetime | None:
    """None where a family may be written to at that instant; else the first instant (UTC) at which it may."""
    begins, ends = club.quiet
    if begins == ends:
        return None
    today = at.astimezone(club.tz).date()
    for day in (today - _DAY, today):
        over = day if begins < ends else day + _DAY
        first, last = _shown(club.tz, day, begins)[0], _shown(club.tz, over, ends)[1]
        if first <= at < last:
            return quiet_until(club, last) or last      # a jump may lead from one night into the next
    return None


def not_in_quiet(club: Club, at: datetime) -> datetime:
    """The instant itself where it is not quiet then, else the first one (UTC) after it."""
    return quiet_until(club, at) or at


def _shown(tz: ZoneInfo, day: date, wall: time) -> tuple[datetime, datetime]:
    """The first and the last instant at which the clock shows that time; both the jump where it never does."""
    local = datetime.combine(day, wall)
    early, late = sorted(local.replace(fold=fold, tzinfo=tz).astimezone(UTC) for fold in (0, 1))
    if early == late or early.astimezone(tz).replace(tzinfo=None) == local:
        return early, late
    jump = _jump(tz, early, late)
    return jump, jump


def _jump(tz: ZoneInfo, before: datetime, after: datetime) -> datetime:
    """The instant, to the second, at which the zone's offset becomes what it is after."""
    offset = after.astimezone(tz).utcoffset()

    def changed(second: int) -> bool:
        return (before + timedelta(seconds=second)).astimezone(tz).utcoffset() == offset

    length = int((after - before).total_seconds())
    return before + timedelta(seconds=bisect_left(range(length), True, key=changed))
