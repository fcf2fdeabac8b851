"""Who is at a page: phones that have come in with a code, and the cookie by which they are known again.

What lives here: the secret leaves the program once, in a cookie that no script can read; only its digest is kept.
Nothing that changes anything is taken from another site's page.
"""
from __future__ import annotations

import secrets
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, replace
from hashlib import sha256
from urllib.parse import urlsplit

from aiohttp import web

from adapters.http.desk import Desk, where_from
from adapters.http.keys import TRUSTED_S, digest_of
from adapters.http.problems import Problem, too_many
from adapters.http.sealed import by_tls
from adapters.web import CHANNEL
from adapters.web.shapes import Join
from bot.port import Phone
from bot.step import SignedOut

COOKIE = "sprung"
LISTENS_AGAIN_S = 15           # by then a line that broke is noticed
KEPT_S = 400 * 24 * 3600        # no browser keeps a cookie for longer
COME_IN = "You are not signed in on this phone. Ask your club for a code, and come in with it."


@dataclass(frozen=True, slots=True)
class Here:
    """Whoever asks."""

    phone: Phone

    def message(self, id_: str) -> str:
        """The id of a message of this phone: no two phones share one."""
        return f"{self.phone.id}.{id_}"


class Phones:
    """Lets phones in, knows them again, and signs them out."""

    def __init__(self, desk: Desk) -> None:
        self._desk = desk
        self._store = desk.service.store
        self._trusted: dict[str, tuple[Phone, float]] = {}

    async def here(self, request: web.Request) -> Here:
        """Who asks. Raises Problem: 401 where this browser is not signed in, 403 where another site asks, 429."""
        if request.method != "GET":
            same_site(request)
        secret = request.cookies.get(COOKIE)
        phone = None if not secret else await self._known(digest_of(secret))
        if phone is None:
            raise Problem(401, COME_IN)
        if wait := self._desk.pages.take(phone.id):
            raise too_many(wait, "by this phone")
        return Here(phone)

    @contextmanager
    def listening(self, here: Here) -> Iterator[None]:
        """While something is told as it comes. Raises Problem 429 where that phone listens too often already."""
        with self._desk.listening.one(here.phone.id) as room:
            if not room:
                raise too_many(LISTENS_AGAIN_S, "that wait, by this phone")
            yield

    async def still(self, here: Here) -> bool:
        """Is that phone still signed in?"""
        return await self._known(here.phone.digest) is not None

    async def _known(self, digest: str) -> Phone | None:
        now = self._desk.seconds()
        known = self._trusted.get(digest)
        if known is not None and now < known[1]:
            return known[0]
        self._trusted.pop(digest, None)
        phone = await self._store.phone(digest)
        if phone is None or phone.ended:
            return None
        self._trusted[digest] = (phone, now + TRUSTED_S)
        return phone

    # --- in and out ---

    async def join(self, request: web.Request, asked: Join) -> web.Response:
        """Come in with a code: the answer sets the cookie. Raises Problem 403 with the sentence where it opens nothing.

        The same attempt with the same code is the same phone: one whose answer was lost comes in all the same, until
        it is signed out. With another code the attempt is another phone's, so it opens nothing by itself.
        """
        id_ = "p" + sha256(f"phone {asked.attempt} {asked.code}".encode()).hexdigest()[:24]
        async with self._desk.tries.one(CHANNEL, id_, where_from(request)):
            said = await self._desk.service.hear(CHANNEL, id_, text=f"join {asked.code}", id=f"{id_}.join")
        desk = await self._desk.service.desk(CHANNEL, id_)
        if desk.me is None or desk.club is None:
            raise Problem(403, said[-1].text if said else "That code opens nothing.")
        return await self._let_in(request, Phone("", id_, desk.club.id, desk.me.id, self._desk.service.clock.now()))

    async def _let_in(self, request: web.Request, phone: Phone) -> web.Response:
        """With a new secret. Raises Problem 403 where that phone was signed out."""
        await self._end_this(request, but=phone.id)
        secret = secrets.token_urlsafe(32)
        try:
            await self._store.keep_phone(replace(phone, digest=digest_of(secret)))
        except SignedOut as out_of_it:
            raise Problem(403, str(out_of_it)) from None
        response = web.Response(status=204)
        response.set_cookie(
            COOKIE, secret, max_age=KEPT_S, path="/", httponly=True, samesite="Strict", secure=by_tls(request),
        )
        return response

    async def _end_this(self, request: web.Request, but: str) -> None:
        """Whoever was signed in on this browser is not any more, unless it is that phone again."""
        try:
            here = await self.here(request)
        except Problem:
            return
        if here.phone.id != but:
            await self.end(here, here.phone.id)

    async def end(self, here: Here, phone: str | None) -> None:
        """Sign out one phone of this person, or all."""
        await self._store.end_phones(here.phone.club, here.phone.person, phone)
        self._trusted.clear()


def out(request: web.Request) -> web.Response:
    """An answer that takes the cookie away."""
    response = web.Response(status=204)
    response.del_cookie(COOKIE, path="/", httponly=True, samesite="Strict", secure=by_tls(request))
    return response


def same_site(request: web.Request) -> None:
    """Only our own page may ask. Raises Problem 403."""
    origin, site = request.headers.get("Origin"), request.headers.get("Sec-Fetch-Site", "same-origin")
    if origin is None or urlsplit(origin).netloc != request.host or site != "same-origin":
        raise Problem(403, "That is for this program's own page alone; open it, and try there.")

