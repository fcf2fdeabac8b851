"""The calendar over real HTTP: who gets it, what is in it, what is not."""
from __future__ import annotations

import re
from datetime import UTC, datetime, timedelta

import icalendar

from adapters.http.calendars import new_link
from tests.adapters.http.api import Api, Gateway

CLUB = "harbour-lane-hall"


async def link(api: Api, person: str = "jo") -> str:
    """A new link, whole."""
    return f"http://127.0.0.1:{api.port}{await new_link(api.store, CLUB, person)}"


async def get(api: Api, url: str) -> tuple[int, str, str]:
    """Status, media type and body."""
    async with api.session.get(url) as response:
        return response.status, response.headers["Content-Type"], await response.text()


async def missed(api: Api, gate: Gateway) -> None:
    """A lesson in which Ava was not yet there, closed."""
    await gate.says("start")
    await gate.says("everyone")
    await gate.says("ava not yet cartwheel")
    await gate.says("ben not yet ribbon snakes")
    await gate.says("close")


async def test_lessons_come_with_how_many_retests_are_due(api: Api, gate: Gateway) -> None:
    """The next lesson says how many retests are due; no lesson says of whom, nor of what."""
    await missed(api, gate)
    status, kind, body = await get(api, await link(api))
    assert (status, kind) == (200, "text/calendar; charset=utf-8")
    events = {one["DTSTART"].dt: one for one in icalendar.Calendar.from_ical(body).walk("VEVENT")}
    due = events[datetime(2026, 12, 1, 17, tzinfo=UTC)]
    assert (str(due["SUMMARY"]), str(due["DESCRIPTION"])) == ("Tuesday Lanterns", "2 retests due.")
    assert "DESCRIPTION" not in events[datetime(2026, 12, 15, 17, tzinfo=UTC)]
    assert datetime(2026, 12, 22, 17, tzinfo=UTC) not in events                 # the winter break
    whole = await api.store.snapshot(CLUB)
    names = {word for book in whole.books.values() for child in book.children.values() for word in child.name.split()}
    said = set(re.findall(r"\w+", body))
    assert not names & said
    assert not {"cartwheel", "ribbon"} & said


async def test_a_retest_that_nobody_looked_at_is_due_at_the_next_lesson(api: Api, gate: Gateway) -> None:
    """A week in which it was left out moves it on, so that a calendar never says it of the past."""
    await missed(api, gate)
    url = await link(api)
    api.clock.move_to(api.clock.now() + timedelta(days=9))
    events = {one["DTSTART"].dt: one for one in icalendar.Calendar.from_ical((await get(api, url))[2]).walk("VEVENT")}
    assert str(events[datetime(2026, 12, 8, 17, tzinfo=UTC)]["DESCRIPTION"]) == "2 retests due."
    assert "DESCRIPTION" not in events[datetime(2026, 12, 1, 17, tzinfo=UTC)]


async def test_a_helper_sees_when_and_no_more(api: Api, gate: Gateway) -> None:
    """Who may be young learns nothing of how the children are."""
    await missed(api, gate)
    body = (await get(api, await link(api, "kit")))[2]
    assert "Tuesday Lanterns" in body
    assert "retest" not in body


async def test_each_has_their_own_lessons(api: Api) -> None:
    """A calendar has the classes of its person."""
    body = (await get(api, await link(api, "ines")))[2]
    assert "Saturday Candles" in body
    assert body.count("SUMMARY:Tuesday Lanterns") == 1                          # Inês stands in once


async def test_a_link_ends(api: Api) -> None:
    """An ended link, one that was replaced and one that never was are answered alike, and soon not at all."""
    first, made = await link(api), await link(api)
    assert (await get(api, first))[0] == 404
    assert (await get(api, made))[0] == 200
    await api.store.end_feed(CLUB, "jo")
    status, kind, body = await get(api, made)
    assert (status, kind) == (404, "application/problem+json")
    assert body == (await get(api, first))[2]
    answers = [(await get(api, f"{made[:-6]}{n}.ics"))[0] for n in range(40)]
    assert set(answers) == {404, 429}


async def test_only_a_digest_is_kept(api: Api) -> None:
    """What is in the database opens nothing."""
    url = await link(api)
    secret = url.rsplit("/", 1)[1].removesuffix(".ics")
    await api.restart()
    with open(api.database, "rb") as file:
        assert secret.encode() not in file.read()
    assert (await get(api, url))[0] == 200
