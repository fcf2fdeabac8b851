"""Phones: who has come in on which browser, what they find there, and how it ends."""
from __future__ import annotations

from datetime import timedelta

import pytest

from bot.facts import Ruling
from bot.port import Phone, Subscription
from bot.step import Refused, Want
from tests.contract.club import NOW, heard, saying

FIRST = Phone("digest-1", "one", "bench", "jo", NOW)
SECOND = Phone("digest-2", "two", "bench", "jo", NOW + timedelta(days=1))
SAMS = Phone("digest-3", "three", "bench", "sam", NOW)


async def test_a_phone_is_kept_until_it_is_ended(store):
    """Somebody has as many phones as they came in with; ending one leaves the others, over a restart too."""
    for one in (SECOND, FIRST, SAMS):
        await store.keep_phone(one)
    await store.restart()
    assert await store.phones("bench", "jo") == (FIRST, SECOND)
    assert await store.end_phones("bench", "jo", "one") == 1
    await store.restart()
    assert (await store.phone("digest-1")).ended
    assert await store.phone("digest-2") == SECOND
    assert await store.phone("digest-9") is None
    assert await store.phones("bench", "jo") == (SECOND,)


async def test_all_of_somebodys_phones_end_at_once(store):
    """Everywhere is everywhere, and nobody else's."""
    for one in (FIRST, SECOND, SAMS):
        await store.keep_phone(one)
    assert await store.end_phones("bench", "jo") == 2
    assert await store.end_phones("bench", "jo") == 0
    assert await store.phones("bench", "sam") == (SAMS,)


async def test_a_phone_is_subscribed_until_it_is_ended(store):
    """Where it is told while its page is closed is kept over a restart, let go when asked, and gone with the phone."""
    to = Subscription("https://push.example/1", "a-public-key", "a-secret")
    for one in (FIRST, SECOND, SAMS):
        await store.keep_phone(one)
    await store.subscribe("bench", "jo", "one", to)
    await store.subscribe("bench", "jo", "two", to)
    await store.subscribe("bench", "jo", "three", to)       # somebody else's: left alone
    await store.restart()
    assert [one.subscription for one in await store.phones("bench", "jo")] == [to, to]
    assert (await store.phone("digest-3")).subscription is None
    await store.subscribe("bench", "jo", "two", None)
    await store.end_phones("bench", "jo", "one")
    await store.subscribe("bench", "jo", "one", to)         # ended: left alone
    await store.restart()
    assert [(await store.phone(digest)).subscription for digest in ("digest-1", "digest-2")] == [None, None]


async def test_what_can_not_be_is_refused(store):
    """No phone is kept twice or for nobody, and none is ended that is somebody else's."""
    await store.keep_phone(FIRST)
    await store.keep_phone(SAMS)
    with pytest.raises(Refused, match="already"):
        await store.keep_phone(FIRST)
    with pytest.raises(Refused, match="nobody"):
        await store.keep_phone(Phone("digest-4", "four", "bench", "nina", NOW))
    with pytest.raises(Refused, match="no phone three"):
        await store.end_phones("bench", "jo", "three")
    assert not (await store.phone("digest-3")).ended


async def test_the_latest_messages_are_there_in_order(store):
    """What was said to somebody last can be read again behind any number, and nobody else's with it."""
    for n in range(4):
        await store.step(heard(f"m{n}", sender="jo"), saying(f"a{n}", f"b{n}"))
    await store.step(heard("s", sender="sam"), saying("mine"))
    await store.restart()
    assert [one.text for one in await store.said("bench", "jo", 0, 3)] == ["b2", "a3", "b3"]
    assert [one.seq for one in await store.said("bench", "jo", 5)] == [6, 7, 8]
    assert await store.said("bench", "jo", 8) == ()


async def test_a_desk_can_be_looked_at(store):
    """What a message would find is shown without one, and looking leaves nothing behind."""
    await store.step(heard("m", sender="jo"), saying("hello"))
    desk = await store.desk("sms", "jo", NOW)
    assert desk.me is not None
    assert (desk.club.id, desk.me.id, desk.talk.said) == ("bench", "jo", 1)
    assert (await store.desk("sms", "nobody", NOW)).me is None
    assert [one.seq for one in await store.said("bench", "jo", 0)] == [1]


async def test_facts_that_are_wanted_lie_on_the_desk(store):
    """Who looks at a desk may want facts on it; a stranger's has none."""
    ruling = Ruling("hop", "knees", "a hand is fine", "jo", NOW)
    await store.step(heard("m", sender="jo"), saying("ruled", facts=(ruling,)))
    want = Want(kind="ruling")
    desk = await store.desk("sms", "jo", NOW, (want,))
    assert [one.fact for one in desk.facts(want)[0]] == [ruling]
    assert want not in (await store.desk("sms", "nobody", NOW, (want,))).more
