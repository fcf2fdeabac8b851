"""Messages on their way out: as they are written, when one that failed is tried again, when it is given up.

What lives here: what taking out (`outbox.py`) and pushing (`push.py`) have in common, and the round that lets go on
what waited.
"""
from __future__ import annotations

import asyncio
import logging
from collections.abc import Callable
from datetime import datetime, timedelta

from adapters.carries import carries_of, is_known
from adapters.channel import Attached, attached, fit
from adapters.clock import Clock
from adapters.http import CARRIES
from adapters.http.bell import Bell
from adapters.http.log import event
from adapters.http.metrics import Metrics
from adapters.http.shapes import Attachment, Choice, Outgoing
from bot.frozen import replace
from bot.port import Letter, Store
from bot.step import Refused, Said

LOOK_S = 1.0                        # how soon what another process on the same database said is seen here
TOO_OLD = timedelta(hours=24)       # a message that could not be delivered for so long is dropped
FIRST_WAIT, LONGEST_WAIT = timedelta(seconds=5), timedelta(minutes=15)
LOG = logging.getLogger("sprung.http")


def outgoing(said: Said, channel: str, to: str, address: str) -> Outgoing:
    """A message as the API writes it. `address`: where we are found from outside, for whoever fetches its files.

    On a channel without buttons the text names the choices by the numbers that can be typed for them; they are listed
    all the same. So are the files of a message on a channel that we do not know; where it is known to carry none, and
    where it is not known, words say what would be in them.
    """
    carries = carries_of(channel)
    known = replace(CARRIES, pictures=carries.pictures, svg=carries.svg, files=carries.files)
    fitted = fit(said, known)
    texts = fitted.texts if carries.choices else fit(said, carries).texts
    choices = tuple(Choice.model_construct(id=one.id, label=one.label) for one in fitted.buttons)
    files = fitted.files if is_known(channel) else attached(said, CARRIES)
    return Outgoing.model_construct(
        id=fitted.id, seq=said.seq, channel=channel, to=to, text="\n".join(texts), choices=choices,
        attachments=tuple(_attachment(said, one, address) for one in files), in_reply_to=said.in_reply_to,
    )


def _attachment(said: Said, one: Attached, address: str) -> Attachment:
    return Attachment.model_construct(
        name=one.form.name, media_type=one.form.media_type,
        url=f"{address}/v1/files/{said.secret}/{one.place}/{one.form.name}",
    )


def letter(one: Letter, address: str) -> Outgoing:
    """An unasked message as the API writes it."""
    return outgoing(one.said, one.channel, one.address, address)


def retry_at(now: datetime, tries: int, jitter: Callable[[], float]) -> datetime:
    """When a message that failed so often before is tried again: twice as late each time, give or take a half."""
    wait: timedelta = min(FIRST_WAIT * 2 ** min(tries, 20), LONGEST_WAIT)
    return now + wait * (0.5 + jitter())


class Rounds:
    """Lets go on what waited, and gives up what is too old, again and again."""

    def __init__(self, store: Store, clock: Clock, bell: Bell, metrics: Metrics) -> None:
        self._store, self._clock, self._bell, self._metrics = store, clock, bell, metrics

    async def run(self) -> None:
        """Until cancelled."""
        while True:
            try:
                await self.once()
            except Refused as busy:     # the next round comes soon
                LOG.warning("what waits could not be looked at", exc_info=busy)
            await asyncio.sleep(LOOK_S)

    async def once(self) -> None:
        """One round, to its end."""
        now = self._clock.now()
        while True:
            released, dropped = await self._store.release(now, now - TOO_OLD)
            self._metrics.settled.labels("dropped").inc(dropped)
            if dropped:
                event("too old", messages=dropped)
            if released:
                self._bell.ring()
            if not released and not dropped:
                return
