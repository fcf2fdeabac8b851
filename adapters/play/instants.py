"""A script's own time. Every message has its own microsecond of it, so that what is sent at one clock time
keeps its order."""
from __future__ import annotations

from datetime import UTC, datetime, timedelta

from adapters.clock import SimulatedClock

MICROSECOND = timedelta(microseconds=1)


class Instants:
    """The clock line's own instant, and the microseconds behind it that were used."""

    def __init__(self) -> None:
        self.base = datetime.min.replace(tzinfo=UTC)
        self.begun = False
        self._clock: SimulatedClock | None = None
        self._ticks = 0

    @property
    def clock(self) -> SimulatedClock:
        """The clock that everything of this script goes by. It stands from the first clock line on."""
        assert self._clock is not None
        return self._clock

    def now(self) -> datetime:
        """The instant at which it stands."""
        return self.clock.now()

    def move(self, base: datetime) -> datetime:
        """A clock line: from now on it is that time. Returns until when what is due falls due."""
        self.base, self.begun = base, True
        if self._clock is None:
            self._clock = SimulatedClock(base)
        return base + (self._ticks + 1) * MICROSECOND

    def tick(self) -> datetime:
        """The next microsecond."""
        self._ticks += 1
        return self.stand(self.base + self._ticks * MICROSECOND)

    def stand(self, instant: datetime) -> datetime:
        """Let the clock stand at that instant, or where it stands if that is later."""
        self.clock.move_to(max(instant, self.clock.now()))
        return self.clock.now()
