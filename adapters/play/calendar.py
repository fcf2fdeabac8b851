"""When things happen in a script: from what a clock line says to an instant. Pure."""
from __future__ import annotations

from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

from adapters.clock import local_instant
from adapters.play.script import At, Later, Moment

FAST = timedelta(hours=3)       # a clock may be so far ahead


def moved(base: datetime, to: Moment, zone: ZoneInfo) -> datetime:
    """The instant (UTC) to which a clock line moves. A time alone is the next one to come, today or tomorrow.

    Seconds, minutes and hours are elapsed time; days are the calendar's, at the same time on the wall.
    """
    if isinstance(to, At):
        then = _instant(base, to, zone)
        return then if to.day is not None or then >= base else moved(then, Later(timedelta(), 1), zone)
    there = base + to.span
    if not to.days:
        return there
    wall = there.astimezone(zone).replace(tzinfo=None) + timedelta(days=to.days)
    return wall.replace(tzinfo=zone).astimezone(UTC)


def sent_then(now: datetime, base: datetime, sent: At, zone: ZoneInfo) -> datetime:
    """When a message was sent that says `(sent 17:03)`: at that time of this day.

    Where that is hours ahead it was the day before: a phone that was off overnight. A little ahead stays
    ahead, as with a phone whose clock is fast.

    `now` is `base` with the message's own microseconds, and keeps them: the sender's order stays.
    """
    then = _instant(base, sent, zone)
    if sent.day is None and then - base > FAST:
        then = moved(then, Later(timedelta(), -1), zone)
    return then + (now - base)


def backwards(base: datetime, zone: ZoneInfo) -> str:
    """The sentence about a clock line that would move back."""
    return f"the clock never goes back; it is {base.astimezone(zone):%A %Y-%m-%d %H:%M:%S} here"


def _instant(base: datetime, at: At, zone: ZoneInfo) -> datetime:
    day = at.day or f"{base.astimezone(zone):%Y-%m-%d}"
    return local_instant(f"{day} {at.time:%H:%M:%S}", zone)
