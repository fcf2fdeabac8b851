"""`GET /calendar/SECRET.ics`: somebody's lessons for a calendar program, behind a link that only they have.

What lives here: making such a link, and the handler. Only a digest of the secret is kept, as of keys.
"""
from __future__ import annotations

import secrets

from aiohttp import web

from adapters.http.desk import Desk, only
from adapters.http.keys import digest_of
from adapters.http.problems import Problem, too_many
from bot.port import Feed, Store
from bot.step import Refused
from bot.talk.calendar import lessons

PATH = "/calendar/{secret}.ics"
HEADERS = {
    "Cache-Control": "private, max-age=300", "X-Robots-Tag": "noindex", "Referrer-Policy": "no-referrer",
    "X-Content-Type-Options": "nosniff",
}


async def new_link(store: Store, club: str, person: str) -> str:
    """The path of somebody's new link, shown once; the one before ends."""
    secret = secrets.token_urlsafe(32)
    await store.keep_feed(Feed(digest_of(secret), club, person))
    return PATH.format(secret=secret)


class Calendars:
    """The handler."""

    def __init__(self, desk: Desk) -> None:
        self._desk = desk

    async def get(self, request: web.Request) -> web.StreamResponse:
        """The calendar. A wrong link and an ended one are answered alike."""
        only(request)
        store, now = self._desk.service.store, self._desk.service.clock.now()
        feed = await store.feed(digest_of(request.match_info["secret"]))
        if feed is None:
            self._desk.wrong(request, "with a wrong link from this address")
            raise Problem(404, "There is no such calendar, or its link was ended. A new one: sprung calendar PERSON")
        if wait := self._desk.pages.take(("calendar", feed.club, feed.person)):
            raise too_many(wait, "with this link")
        try:
            found = await store.desk_of(feed.club, feed.person, now)
        except Refused:
            raise Problem(404, "Whose calendar this was is not in the club any more.") from None
        return web.Response(
            text=lessons(found, now), content_type="text/calendar", charset="utf-8", headers=HEADERS,
        )
