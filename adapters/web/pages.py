"""What a page asks for over plain HTTP: to come in and go out, to say something, to see what was said, the class sheet.

What lives here: one handler for each path. Nothing is answered with a name of a child before it is known who asks.
"""
from __future__ import annotations

import asyncio
import json
from collections.abc import Sequence
from contextlib import nullcontext
from datetime import date
from time import perf_counter

from aiohttp import web

from adapters.http.desk import Desk, body, only
from adapters.http.files import served
from adapters.http.incoming import EARLIEST, LATEST
from adapters.http.problems import Problem, wrong
from adapters.http.underway import under_way
from adapters.web import CHANNEL
from adapters.web.files import files, serve_file
from adapters.web.phones import Here, Phones, out, same_site
from adapters.web.shapes import End, Join, Json, Message, Out, Subscribe, shown
from adapters.web.stream import LOOK_S, PAGE, Stream
from bot import step
from bot.lesson.timetable import day_in_zone
from bot.people.model import Club
from bot.port import Subscription
from bot.step import Said
from bot.talk.rulings import RULINGS
from bot.talk.sheet import cards, instant, sheet

LONGEST_WAIT_S = 30


def routes(desk: Desk) -> list[web.RouteDef]:
    """The paths of the page."""
    pages = Pages(desk)
    return [
        *(web.get(path, serve_file) for path in files()),
        web.post("/web/join", pages.join),
        web.post("/web/out", pages.out),
        web.get("/web/phones", pages.phones),
        web.post("/web/phones/end", pages.end),
        web.post("/web/phones/subscribe", pages.subscribe),
        web.post("/web/messages", pages.say),
        web.get("/web/said", pages.said),
        web.get("/web/files/{secret}/{place}/{name}", pages.file),
        web.get("/web/sheet", pages.sheet),
        web.get("/web/cards", pages.cards),
        web.get("/web/stream", Stream(desk, pages.who).run),
    ]


class Pages:
    """The handlers."""

    def __init__(self, desk: Desk) -> None:
        self._desk = desk
        self.who = Phones(desk)
        self._looks: set[tuple[str, str, str, date]] = set()       # who looked at which sheet, today

    # --- in and out ---

    async def join(self, request: web.Request) -> web.StreamResponse:
        """Come in with a code."""
        same_site(request)
        only(request)
        return await self.who.join(request, await body(request, Join))

    async def out(self, request: web.Request) -> web.StreamResponse:
        """Sign out here, or everywhere."""
        here = await self.who.here(request)
        asked = await body(request, Out, empty=Out())
        await self.who.end(here, None if asked.everywhere else here.phone.id)
        return out(request)

    async def phones(self, request: web.Request) -> web.StreamResponse:
        """The phones on which this person is signed in. `key`: with which one may subscribe, if it can be done."""
        here = await self.who.here(request)
        found = await self._desk.service.store.phones(here.phone.club, here.phone.person)
        return answer({"key": self._desk.webpush and self._desk.webpush.public, "phones": [{
            "id": one.id, "since": instant(one.since), "here": one.id == here.phone.id,
            "subscribed": one.subscription is not None,
        } for one in found]})

    async def end(self, request: web.Request) -> web.StreamResponse:
        """Sign out another phone."""
        here = await self.who.here(request)
        await self.who.end(here, (await body(request, End)).id)
        return web.Response(status=204)

    async def subscribe(self, request: web.Request) -> web.StreamResponse:
        """Where this phone is told of something while its page is closed."""
        here = await self.who.here(request)
        only(request)
        asked = (await body(request, Subscribe)).to
        to = None if asked is None else Subscription(asked.endpoint, asked.p256dh, asked.auth)
        if to is not None:
            if self._desk.webpush is None:
                raise Problem(409, "This club's program tells no phone whose page is closed; leave the page open.")
            if fault := self._desk.webpush.fault(to):
                raise wrong("to", fault)
        await self._desk.service.store.subscribe(here.phone.club, here.phone.person, here.phone.id, to)
        return web.Response(status=204)

    # --- the talk ---

    async def say(self, request: web.Request) -> web.StreamResponse:
        """Something was typed or tapped; answered only once all that it caused is durable."""
        began = perf_counter()
        here = await self.who.here(request)
        with under_way(self._desk.metrics, CHANNEL, began) as one:
            only(request)
            message = await body(request, Message)
            one.message = here.message(message.id)
            self._desk.person(CHANNEL, here.phone.id)
            said = await self._desk.hear(
                CHANNEL, here.phone.id, text=message.text, choice=message.choice, id=here.message(message.id),
                sent_at=min(max(message.sent_at, EARLIEST), LATEST),
            )
            return answer(self._shown(here, said))

    async def said(self, request: web.Request) -> web.StreamResponse:
        """What was said to this person behind a number; with `wait`, once there is something."""
        here = await self.who.here(request)
        only(request, "after", "wait")
        after, wait = _number(request, "after", 2**53), _number(request, "wait", LONGEST_WAIT_S)
        with self.who.listening(here) if wait else nullcontext():
            return answer(self._shown(here, await self._behind(here, after, wait)))

    async def _behind(self, here: Here, after: int, wait: float) -> Sequence[Said]:
        loop, bell, store = asyncio.get_running_loop(), self._desk.page_bell, self._desk.service.store
        until = loop.time() + wait
        while True:
            ringing = bell.ringing()
            found = await store.said(here.phone.club, here.phone.person, after, PAGE)
            left = until - loop.time()
            if found or left <= 0 or bell.stopped or not await self.who.still(here):
                return found
            await bell.wait(ringing, min(left, LOOK_S))

    def _shown(self, here: Here, said: Sequence[Said]) -> Json:
        now = instant(self._desk.service.clock.now())
        return {"said": [shown(one, here.phone.id) for one in said], "now": now}

    async def file(self, request: web.Request) -> web.StreamResponse:
        """A file of a message to this person."""
        here = await self.who.here(request)
        return await served(self._desk, request, (here.phone.club, here.phone.person))

    # --- the class ---

    async def sheet(self, request: web.Request) -> web.StreamResponse:
        """The class sheet, as this person may see it."""
        here = await self.who.here(request)
        only(request)
        desk = await self._desk.service.desk(CHANNEL, here.phone.id)
        found = sheet(desk, self._desk.service.clock.now())
        if found["class"] is not None:
            await self._seen(here, desk, found["class"]["id"])
        return answer(found)

    async def _seen(self, here: Here, desk: step.Desk, class_id: str) -> None:
        """Keep that they saw it, before they do: once a day, for a page asks for its sheet again and again."""
        now, person, club = self._desk.service.clock.now(), here.phone.person, desk.club
        assert club is not None
        look = (club.id, person, class_id, day_in_zone(club, now))
        if look in self._looks:
            return
        await self._desk.service.store.saw(club.id, person, _looked(club, person, class_id), now)
        self._looks = {one for one in self._looks if one[3] >= look[3]} | {look}

    async def cards(self, request: web.Request) -> web.StreamResponse:
        """The standard cards of the class's skills."""
        here = await self.who.here(request)
        only(request)
        desk = await self._desk.service.desk(CHANNEL, here.phone.id, RULINGS)
        seen = sheet(desk, self._desk.service.clock.now())
        return answer({"cards": cards(desk, [one["id"] for one in seen["skills"]])})


def _looked(club: Club, person: str, class_id: str) -> tuple[step.Shown, ...]:
    own = class_id in club.by_class and person in club.by_class[class_id].people
    return (step.Shown("page", class_id=class_id), *(() if own else (step.Shown("cover", class_id=class_id),)))


def answer(value: Json) -> web.Response:
    """Plain data as a response that nobody keeps."""
    response = web.Response(
        body=json.dumps(value, ensure_ascii=False, separators=(",", ":")).encode(), content_type="application/json",
    )
    response.enable_compression()
    return response


def _number(request: web.Request, name: str, most: int) -> int:
    text = request.query.get(name, "0")
    if not (text.isascii() and text.isdigit()) or len(text) > 16 or int(text) > most:
        raise wrong(name, f"it is a number from 0 to {most}")
    return int(text)
