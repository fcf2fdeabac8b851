"""Letting time pass at the console: `wait 45s`, `wait for 2 minutes`, `wait until 17:06`. Pure."""
from __future__ import annotations

import re
from datetime import datetime, timedelta
from zoneinfo import ZoneInfo

from adapters.clock import local_instant, span_of

LONGEST = timedelta(days=366)
HOW = "Say how long, as in wait 45s or wait 2m, or until when, as in wait 17:06."

_WAIT = re.compile(r"wait\s+(?:(?:for|until|till|to)\s+)?(?P<what>(?:an?\s|[\d+]).*)", re.IGNORECASE)


class NotSoLong(Exception):
    """That is no time to wait; the text says what would do."""


def wait_of(line: str, now: datetime, zone: ZoneInfo) -> datetime | None:
    """Until when a line asks to wait; None where it asks no such thing. Raises NotSoLong."""
    found = _WAIT.fullmatch(line.strip())
    if found is None:
        return None
    what = re.sub(r"^an?\s", "1 ", found["what"].strip(), flags=re.IGNORECASE)
    if re.fullmatch(r"\d\d?:\d\d(:\d\d)?", what):
        return _next(what, now, zone)
    span = span_of(what.removeprefix("+").strip())
    if span is None:
        raise NotSoLong(HOW)
    return now + min(span, LONGEST)


def _next(wall: str, now: datetime, zone: ZoneInfo) -> datetime:
    """The next time that the clock on the wall shows this."""
    today = now.astimezone(zone).date()
    try:
        there = local_instant(f"{today} {wall}", zone)
        return there if there >= now else local_instant(f"{today + timedelta(days=1)} {wall}", zone)
    except ValueError:
        raise NotSoLong(HOW) from None
