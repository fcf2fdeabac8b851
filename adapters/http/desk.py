"""What every handler of the API needs at hand, and the small things that all of them do.

What lives here: who is asking, what they sent, how it is answered. No path.
"""
from __future__ import annotations

import asyncio
import random
from collections.abc import Callable
from dataclasses import dataclass, field
from ipaddress import IPv6Address, ip_address, ip_network
from time import monotonic
from typing import Any, TypeVar

from aiohttp import web
from pydantic import BaseModel, ValidationError

from adapters.addresses import NoAddress, normal
from adapters.files.fetch import GONE, File, fetch
from adapters.files.kinds import Unmade
from adapters.http.bell import Bell
from adapters.http.codes import Tries
from adapters.http.keys import Keyring
from adapters.http.limits import AtOnce, Buckets, Limits
from adapters.http.metrics import Metrics
from adapters.http.problems import Problem, of_shape, too_many, wrong
from adapters.service import Service
from adapters.web.webpush import WebPush
from bot.step import Said
from bot.talk.reading.openings import tries_code

LARGEST_BODY = 64 * 1024
JSON = "application/json"
BODY_WITHIN_S = 20.0        # so long a body may take to come
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
    address: str = ""                                   # where we are found from outside: before the path of a file

    def __post_init__(self) -> None:
        clock = self.service.clock
        self.keys = Keyring(self.service.store, self.seconds)
        self._by_key = Buckets(self.limits.key, clock)
        self._by_person = Buckets(self.limits.person, clock)
        self.tries = Tries(self.service, self.limits)
        self.pages = Buckets(self.limits.pages, clock)
        self.listening = AtOnce(self.limits.listening)
        self._files = Buckets(self.limits.files, clock)
        self._strangers = Buckets(self.limits.wrong_keys, clock)

    async def gateway(self, request: web.Request) -> str:
        """Who is asking. Raises Problem: 401, 403, or 429 where they ask too often."""
        try:
            gateway = await self.keys.gateway(request.headers.get("Authorization"))
        except Problem:
            self.wrong(request, "with a wrong key from this address")
            raise
        if wait := self._by_key.take(gateway):
            raise too_many(wait, "with this key")
        return gateway

    async def file(
        self, request: web.Request, secret: str, place: int, name: str, whose: tuple[str, str] | None = None,
    ) -> File:
        """A file of a message. Raises Problem: 404 where there is none for whoever asks, 429 where it is too often."""
        if wait := self._files.take(secret):
            raise too_many(wait, "for the files of one message")
        try:
            found = await fetch(self.service.store, self.service.clock.now(), secret, place, name, whose)
        except Unmade as why:
            raise Problem(404, str(why)) from None
        if found is not None:
            return found
        self.wrong(request, "for files that are not there from this address")
        raise Problem(404, GONE)

    def wrong(self, request: web.Request, what: str) -> None:
        """A secret was not right. Raises Problem 429 where too many from that address were not."""
        if wait := self._strangers.take(where_from(request)):
            raise too_many(wait, what) from None

    def person(self, channel: str, sender: str) -> str:
        """The sender's address in its one form. Raises Problem: 422, or 429 where they write too often."""
        try:
            address = normal(channel, sender)
        except NoAddress as fault:
            raise wrong("sender", str(fault)) from None
        if wait := self._by_person.take((channel, address)):
            raise too_many(wait, "by this sender")
        return address

    async def hear(self, channel: str, address: str, *, text: str | None, **more: Any) -> tuple[Said, ...]:
        """`Service.hear`. Raises Problem 429 where a code is tried too often, by this sender or by all."""
        if text is None or not tries_code(text):
            return await self.service.hear(channel, address, text=text, **more)
        async with self.tries.one(channel, address):
            return await self.service.hear(channel, address, text=text, **more)


async def body(request: web.Request, shape: type[S], *, empty: S | None = None) -> S:
    """What was sent, as its shape. Raises Problem. `empty`: what it means where nothing was sent."""
    declared = request.headers.get("Content-Length", "")
    if declared.isdecimal() and int(declared) > LARGEST_BODY:
        raise Problem(413, "The body is larger than 64 KiB; send less.")
    try:
        async with asyncio.timeout(BODY_WITHIN_S):
            sent = await request.read()
    except TimeoutError:
        raise Problem(408, f"The body did not come within {BODY_WITHIN_S:.0f} s; send it again.",
                      headers={"Connection": "close"}) from None
    if not sent and empty is not None:
        return empty
    if "Content-Type" in request.headers and request.content_type != JSON:
        raise Problem(415, f"The body is {request.content_type[:60]}; send {JSON}.")
    try:
        return shape.model_validate_json(sent)
    except ValidationError as error:
        raise of_shape(error, shape.model_fields) from None


def where_from(request: web.Request) -> str:
    """The address that asks, as one name: what a server in front of us on this machine says, else what we see.

    Whoever has one address of IPv6 has a whole network of them (RFC 6177: 64 bits at least), so that counts as one.
    """
    seen = request.remote or ""
    if _here(seen) and (told := request.headers.get("X-Forwarded-For")):
        seen = told.rpartition(",")[2].strip()      # the last is what that server saw; others are anybody's word
    try:
        address = ip_address(seen)
    except ValueError:
        return seen[:60]
    if isinstance(address, IPv6Address) and address.ipv4_mapped is None:
        return str(ip_network((address, 64), strict=False))
    return str(getattr(address, "ipv4_mapped", None) or address)


def _here(address: str) -> bool:
    try:
        return ip_address(address).is_loopback
    except ValueError:
        return False


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

