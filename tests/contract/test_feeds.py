"""Links for calendars: one for each person, ended at once, and what is found behind one."""
from __future__ import annotations

import pytest

from bot.port import Feed
from bot.step import Refused
from tests.contract.club import NOW

JOS = Feed("digest-1", "bench", "jo")


async def test_a_link_is_kept_until_another_takes_its_place(store):
    """There is one for each person, over a restart too; a new one ends the one before, and nobody else's."""
    await store.keep_feed(JOS)
    await store.keep_feed(Feed("digest-2", "bench", "sam"))
    await store.restart()
    assert await store.feed("digest-1") == JOS
    await store.keep_feed(Feed("digest-3", "bench", "jo"))
    assert await store.feed("digest-1") is None
    assert await store.feed("digest-3") == Feed("digest-3", "bench", "jo")
    assert await store.feed("digest-2") == Feed("digest-2", "bench", "sam")


async def test_a_link_is_ended(store):
    """An ended link leads nowhere; to end what is not there is no fault."""
    await store.keep_feed(JOS)
    assert await store.end_feed("bench", "jo") is True
    assert await store.feed("digest-1") is None
    await store.restart()
    assert await store.end_feed("bench", "jo") is False


async def test_a_link_is_of_somebody_who_is_there(store):
    """Of nobody no link can be kept, and no desk looked at."""
    with pytest.raises(Refused):
        await store.keep_feed(Feed("digest-1", "bench", "nobody"))
    with pytest.raises(Refused):
        await store.desk_of("bench", "nobody", NOW)
    with pytest.raises(Refused):
        await store.desk_of("nowhere", "jo", NOW)


async def test_what_somebody_may_look_at_is_what_their_message_finds(store):
    """The desk is that of a message from them, but for the address."""
    found, said = await store.desk_of("bench", "jo", NOW), await store.desk("sms", "jo", NOW)
    assert (found.me, found.books, found.club) == (said.me, said.books, said.club)
    assert found.people == said.people
