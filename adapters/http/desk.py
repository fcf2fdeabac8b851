"""What every handler of the API needs at hand, and the small things that all of them do.

What lives here: who is asking, what they sent, how it is answered. No path.
"""
from __future__ import annotations

import random
import re
from collections.abc import Callable
from dataclasses import dataclass, field
from time import monotonic
from typing import TypeVar

from aiohttp import web
from pydantic import BaseModel, ValidationError

from adapters.addresses import NoAddress, normal
from adapters.http.bell import Bell
from adapters.http.keys import Keyring
from adapters.http.limits import Buckets, Limits
from adapters.http.metrics import Metrics
from adapters.http.problems import Problem, of_shape, too_many, wrong
from adapters.service import Service
from adapters.web.webpush import WebPush

LARGEST_BODY = 64 * 1024
JSON = "application/json"
_CODE = re.compile(r"\W*join\b", re.IGNORECASE)
S = TypeVar("S", bound=BaseModel)


@dataclass
class Desk:
    """The service, and what belongs to the door in front of it."""

    service: Service
    limits: Limits = field(default_factory=Limits)
    jitter: Callable[[], float] = random.random
    metrics: Metrics = field(default_factory=Metrics)
    bell: Bell = field(default_factory=Bell)
    page_bell: Bell = field(default_factory=Bell)       # rings for pages, after every step
    seconds: Callable[[], float] = monotonic
    webpush: WebPush | None = None                      # where the club has a key for it

    def __post_init__(self) -> None:
        clock = self.service.clock
        self.keys = Keyring(self.service.store, self.seconds)
        self._by_key = Buckets(self.limits.key, clock)
        self._by_person = Buckets(self.limits.person, clock)
        self._codes = Buckets(self.limits.codes, clock)
        self.pages = Buckets(self.limits.pages, clock)
        self.joins = Buckets(self.limits.joins, clock)
        self.wrong_links = Buckets(self.limits.wrong_keys, clock)
        self._strangers = Buckets(self.limits.wrong_keys, clock)

    async def gateway(self, request: web.Request) -> str:
        """Who is asking. Raises Problem: 401, 403, or 429 where they ask too often."""
        try:
            gateway = await self.keys.gateway(request.headers.get("Authorization"))
        except Problem:
            if wait := self._strangers.take(request.remote):
                raise too_many(wait, "with a wrong key from this address") from None
            raise
        if wait := self._by_key.take(gateway):
            raise too_many(wait, "with this key")
        return gateway

    def person(self, channel: str, sender: str, text: str | None) -> str:
        """The sender's address in its one form. Raises Problem: 422, or 429 where they write too often."""
        try:
            address = normal(channel, sender)
        except NoAddress as fault:
            raise wrong("sender", str(fault)) from None
        if wait := self._by_person.take((channel, address)):
            raise too_many(wait, "by this sender")
        if text is not None and _CODE.match(text) and (wait := self._codes.take((channel, address))):
            raise too_many(wait, "to join by this sender")
        return address


async def body(request: web.Request, shape: type[S], *, empty: S | None = None) -> S:
    """What was sent, as its shape. Raises Problem. `empty`: what it means where nothing was sent."""
    declared = request.headers.get("Content-Length", "")
    if declared.isdecimal() and int(declared) > LARGEST_BODY:
        raise Problem(413, "The body is larger than 64 KiB; send less.")
    sent = await request.read()
    if not sent and empty is not None:
        return empty
    if "Content-Type" in request.headers and request.content_type != JSON:
        raise Problem(415, f"The body is {request.content_type[:60]}; send {JSON}.")
    try:
        return shape.model_validate_json(sent)
    except ValidationError as error:
        raise of_shape(error, shape.model_fields) from None


def only(request: web.Request, *names: str) -> None:
    """No other parameters than these, and each once. Raises Problem."""
    for name in request.query:
        if name not in names:
            known = f"there are {', '.join(names)}" if names else "there are none here"
            raise Problem(422, f"{name[:60]}: there is no such parameter; leave it out, {known}.",
                          errors=((name[:60], "leave it out"),))
        if len(request.query.getall(name)) > 1:
            raise Problem(422, f"{name}: give it once.", errors=((name, "give it once"),))


def answer(shape: BaseModel) -> web.Response:
    """A shape as a response."""
    return web.Response(body=shape.model_dump_json().encode(), content_type=JSON)

