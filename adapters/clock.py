"""Time is an adapter too: the system's clock, a shifted one that runs on, and one that is moved by hand.

All of them answer with aware instants in UTC. Wall-clock times are read in a zone here and nowhere else.
"""
from __future__ import annotations

import logging
import re
from collections.abc import Callable
from datetime import UTC, datetime, time, timedelta
from time import monotonic
from typing import Protocol
from zoneinfo import ZoneInfo

SLOWER = 0.9                        # as fast we go where the computer's clock was set back
NOTABLE = timedelta(seconds=10)     # what a time server puts right unasked is not worth a word
log = logging.getLogger(__name__)

_SPAN = re.compile(r"(\d{1,6})\s*(seconds?|secs?|s|minutes?|mins?|m|hours?|h|days?|d)\s*", re.IGNORECASE)
_UNITS = {"s": timedelta(seconds=1), "m": timedelta(minutes=1), "h": timedelta(hours=1), "d": timedelta(days=1)}


class Clock(Protocol):
    """Says what time it is."""

    def now(self) -> datetime:
        """The instant now, aware, in UTC. Never earlier than an answer before."""


def wall_clock() -> datetime:
    """What the computer's clock says, whatever it said before."""
    return datetime.now(UTC)


class SystemClock:
    """The computer's own clock, but that it never goes back.

    Where that is set forward this one is too: a computer that slept has to catch up. Where it is set back this one goes
    on from where it was, a tenth slower, until the other has caught up: a rest still ends, nothing is said earlier than
    what was said before, and marks keep their order. `wall` is what the computer says, `running` counts seconds.
    """

    def __init__(
        self, wall: Callable[[], datetime] = wall_clock, running: Callable[[], float] = monotonic,
    ) -> None:
        self._wall, self._running = wall, running
        self._last, self._at = wall(), running()
        self._told = False

    def now(self) -> datetime:
        """The instant now."""
        wall, at = self._wall(), self._running()
        steady = self._last + timedelta(seconds=at - self._at) * SLOWER
        self._tell(steady - wall)
        self._last, self._at = max(wall, steady), at
        return self._last

    def _tell(self, behind: timedelta) -> None:
        """Whoever looks after the program is told once."""
        if behind > NOTABLE and not self._told:
            log.warning("the clock of this computer was set back by %d s; we go on a tenth slower until it has caught "
                        "up, or by it at once when started anew", behind.total_seconds())
        self._told = behind > NOTABLE


class ShiftedClock:
    """A clock that was set to another time and runs on from there."""

    def __init__(self, start: datetime, behind: Clock | None = None) -> None:
        self._behind = behind or SystemClock()
        self._shift = start.astimezone(UTC) - self._behind.now()

    def now(self) -> datetime:
        """The shifted instant."""
        return self._behind.now() + self._shift

    def skip(self, span: timedelta) -> None:
        """Let that much time pass at once."""
        self._shift += max(span, timedelta())


class SimulatedClock:
    """A clock that stands still until it is moved."""

    def __init__(self, start: datetime) -> None:
        self._now = start.astimezone(UTC)

    def now(self) -> datetime:
        """The instant at which it stands."""
        return self._now

    def move_to(self, instant: datetime) -> None:
        """Move it on. Raises ValueError where that would be back."""
        instant = instant.astimezone(UTC)
        if instant < self._now:
            raise ValueError(f"a clock never goes back, from {self._now} to {instant}")
        self._now = instant


def local_instant(text: str, zone: ZoneInfo) -> datetime:
    """The instant (UTC) of a wall-clock `2026-11-24 16:58` in a zone; ValueError where it is none.

    A time that occurs twice is the first of the two, one that is skipped is the one an hour later.
    """
    if not re.fullmatch(r"\d{4}-\d\d-\d\d[ T]\d\d?:\d\d(:\d\d)?", text.strip()):
        raise ValueError(f'"{text}" is not a date and time such as 2026-11-24 16:58')
    day, clock = re.split(r"[ T]", text.strip())
    try:
        wall = datetime.combine(datetime.fromisoformat(day), wall_time(clock), zone)
    except ValueError:
        raise ValueError(f'"{text}" is not a date and time that exists') from None
    return wall.astimezone(UTC)


def wall_time(text: str) -> time:
    """The time of day that `17:04` or `9:30:15` says; ValueError where it is none."""
    found = re.fullmatch(r"(\d\d?):(\d\d)(?::(\d\d))?", text.strip())
    if found is None:
        raise ValueError(f'"{text}" is not a time such as 17:04')
    hours, minutes, seconds = (int(part or 0) for part in found.groups())
    try:
        return time(hours, minutes, seconds)
    except ValueError:
        raise ValueError(f'"{text}" is not a time of any day') from None


def span_of(text: str) -> timedelta | None:
    """How long `45s`, `2m` or `1h 30m` is; None where it is no such thing."""
    total, at = timedelta(), 0
    for found in _SPAN.finditer(text):
        if found.start() != at:
            return None
        total += int(found[1]) * _UNITS[found[2][0].lower()]
        at = found.end()
    return total if at and at == len(text) else None
