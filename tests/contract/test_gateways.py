"""Gateways: their keys, and what goes out through them, once settled never again and until then never lost."""
from __future__ import annotations

from datetime import timedelta

import pytest

from bot.port import Gateway, Key, Queue, Waits
from bot.step import Invitation, Refused
from storage.memory import MemoryStore
from tests.contract.club import NOW, heard, queueing, reminder, saying, waking
from tests.contract.test_people import joining

LONG_AGO = NOW - timedelta(days=1)
PUSHED = Gateway("gate", "https://gate.example/hook", "whsec_x")


async def speak(store, person: str, via: str = "gate", channel: str = "sms", sender: str = "", n: int = 0) -> None:
    """Somebody says something, so that they are reached there."""
    await store.step(heard(f"{person}{n}{channel}", sender=sender or person, via=via, channel=channel), saying("ok"))


async def fire(store, *reminders, after: float = 100) -> None:
    """These fall due."""
    await store.step(heard(f"q{reminders[0].key}{after}", sender="ines", via="desk"), queueing())
    await store.step(heard(f"r{reminders[0].key}{after}", sender="jo", via="gate"), queueing(*reminders))
    await store.wake(NOW + timedelta(seconds=after), waking())


def texts(letters) -> list[tuple[str, str]]:
    """Whom and what."""
    return [(one.address, one.said.text) for one in letters]


# --- keys ---------------------------------------------------------------------------------------------

async def test_a_key_is_kept_until_it_is_ended(store):
    """A gateway has as many keys as it was given; ending one leaves the others, over a restart too."""
    for n in (1, 2, 3):
        await store.keep_key(Gateway("gate"), Key(f"digest-{n}", f"k{n}", "gate"))
    assert await store.end_keys("gate", "k2") == 1
    await store.restart()
    assert await store.key("digest-1") == Key("digest-1", "k1", "gate")
    assert await store.key("digest-2") == Key("digest-2", "k2", "gate", ended=True)
    assert await store.key("digest-9") is None
    assert await store.end_keys("gate") == 2
    assert await store.end_keys("gate") == 0
    assert (await store.key("digest-1")).ended


async def test_gateways_are_those_with_a_key(store):
    """A gateway is there as it was last given, and no longer once its last key is ended."""
    await store.keep_key(Gateway("gate"), Key("d1", "k1", "gate"))
    await store.keep_key(PUSHED, Key("d2", "k2", "gate"))
    await store.keep_key(Gateway("other"), Key("d3", "k3", "other"))
    await store.restart()
    assert await store.gateways() == (PUSHED, Gateway("other"))
    await store.end_keys("gate")
    assert await store.gateways() == (Gateway("other"),)


async def test_what_is_not_there_cannot_be_ended(store):
    """An unknown gateway, an unknown key of it, and a key that was given out before get a sentence."""
    await store.keep_key(Gateway("gate"), Key("d1", "k1", "gate"))
    for ask in (lambda: store.end_keys("nowhere"), lambda: store.end_keys("gate", "k7"),
                lambda: store.keep_key(Gateway("gate"), Key("d1", "k9", "gate"))):
        with pytest.raises(Refused):
            await ask()
    assert await store.key("d1") == Key("d1", "k1", "gate")


# --- where it goes ------------------------------------------------------------------------------------

async def test_an_unasked_message_goes_where_its_person_was_last_heard(store):
    """Of several addresses the last one counts, at the time when it is said; other gateways never see it."""
    await store.meet("chat", "jo-2", "bench", "jo")
    await speak(store, "jo", channel="chat", sender="jo-2", via="other")
    await fire(store, reminder("a"))                                    # jo is heard at `gate` by sms
    await store.restart()
    await speak(store, "jo", channel="chat", sender="jo-2", via="other", n=1)
    await store.step(heard("again", sender="jo-2", channel="chat", via="other"), queueing(reminder("b", after=200)))
    await store.wake(NOW + timedelta(seconds=300), waking())
    assert texts(await store.letters("gate", 0)) == [("jo", "due: a")]
    (letter,) = await store.letters("other", 0)
    assert (letter.channel, letter.address, letter.said.text) == ("chat", "jo-2", "due: b")


async def test_who_was_never_heard_through_a_gateway_is_not_written_to(store):
    """Somebody who only spoke here, or not at all, has nothing waiting at any gateway."""
    await store.step(heard("m1", sender="jo"), queueing(reminder("a"), reminder("b", "sam")))
    await store.wake(NOW + timedelta(seconds=100), waking())
    assert await store.letters("gate", 0) == ()
    assert await store.letters("", 0) == ()
    assert len(await store.outbox(0)) == 2


async def test_an_address_that_is_somebody_elses_gets_nothing_more(store):
    """What waits for an address that was handed on to somebody else is not sent there, nor what comes later."""
    await speak(store, "sam")
    await fire(store, reminder("a", "sam"))
    await store.meet("sms", "sam", "bench", "ines")
    assert await store.letters("gate", 0) == ()
    await fire(store, reminder("b", "sam", after=200), after=300)
    await store.restart()
    assert await store.letters("gate", 0) == ()


async def test_whoever_joins_is_reached_there(store):
    """An address that comes in with a code is where that person is written to from then on."""
    people = {one.id: one for one in await store.people("bench")}
    await store.invite(Invitation("bench", people["sam"], None, NOW + timedelta(days=1), False), "code")
    await store.step(heard("j", sender="new", via="gate"), joining("code"))
    await fire(store, reminder("a", "sam"))
    assert texts(await store.letters("gate", 0)) == [("new", "due: a")]


# --- until it is settled ------------------------------------------------------------------------------

async def three(store) -> list[str]:
    """Two messages for jo and one for sam wait at the gateway; their ids."""
    await speak(store, "sam")
    await fire(store, reminder("a"), reminder("b", "sam", after=61), reminder("c", after=62))
    return [one.said.id for one in await store.letters("gate", 0)]


async def test_what_waits_comes_again_until_it_is_settled(store):
    """Without a cursor all that is not settled comes, behind one what came later, over a restart too."""
    first, second, third = await three(store)
    assert await store.settle("gate", second)
    await store.restart()
    left = await store.letters("gate", 0)
    assert [one.said.id for one in left] == [first, third]
    assert [one.said.id for one in await store.letters("gate", left[0].cursor)] == [third]
    assert [one.said.id for one in await store.letters("gate", 0, 1)] == [first]
    assert await store.letters("gate", left[-1].cursor) == ()


async def test_settling_is_said_as_often_as_one_likes(store):
    """A settled message stays so, whatever is said of it later; another gateway's is unknown, like none at all."""
    first, *_ = await three(store)
    assert await store.settle("gate", first)
    assert await store.settle("gate", first)
    assert await store.settle("gate", first, NOW + timedelta(seconds=1))
    assert not await store.settle("other", first)
    assert not await store.settle("gate", "m_1_nothing")
    await store.release(NOW + timedelta(hours=1), LONG_AGO)
    assert first not in [one.said.id for one in await store.letters("gate", 0)]


async def test_a_failing_message_holds_back_only_its_person(store):
    """What comes after it for the same person waits with it; others go on; later all come behind the cursor."""
    first, second, third = await three(store)
    last = (await store.letters("gate", 0))[-1].cursor
    until = NOW + timedelta(minutes=5)
    assert await store.settle("gate", first, until)
    assert [one.said.id for one in await store.letters("gate", 0)] == [second]
    await fire(store, reminder("d", after=120), after=130)
    assert [one.said.id for one in await store.letters("gate", 0)] == [second]
    await store.restart()
    assert await store.release(until - timedelta(seconds=1), LONG_AGO) == (0, 0)
    assert await store.release(until, LONG_AGO) == (3, 0)
    again = await store.letters("gate", last)
    assert [(one.said.id, one.tries) for one in again[:2]] == [(first, 1), (third, 0)]
    assert again[2].said.text == "due: d"


async def test_what_is_too_old_is_given_up(store):
    """A message that was said too long ago is not sent any more, whether it failed or nobody fetched it."""
    first, second, _ = await three(store)
    await store.settle("gate", first, NOW + timedelta(minutes=5))
    said = NOW + timedelta(seconds=100)
    assert await store.release(NOW + timedelta(minutes=4), said) == (0, 0)
    assert await store.release(NOW + timedelta(minutes=5), said + timedelta(seconds=1)) == (0, 3)
    await store.restart()
    assert await store.letters("gate", 0) == ()
    assert await store.settle("gate", second)


async def test_nothing_of_a_forgotten_child_waits(store):
    """A message that names a forgotten child is not sent any more."""
    await speak(store, "sam")
    await fire(store, reminder("Ava"), reminder("b", "sam"))
    named, other = await store.letters("gate", 0)
    await store.forget("bench", "ava")
    await store.restart()
    assert texts(await store.letters("gate", 0)) == [("sam", "due: b")]
    assert not await store.settle("gate", named.said.id)
    assert await store.settle("gate", other.said.id)


async def test_cursors_only_count_up(store):
    """No cursor is used again, however much was settled, over a restart too."""
    await three(store)
    cursors = [one.cursor for one in await store.letters("gate", 0)]
    for one in await store.letters("gate", 0):
        await store.settle("gate", one.said.id)
    await store.restart()
    await fire(store, reminder("e", after=120), after=130)
    (new,) = await store.letters("gate", cursors[-1])
    assert new.cursor > max(cursors)


async def test_the_order_is_the_persons_though_a_clock_went_back(store):
    """What was said later comes later, whatever the clock said: seq counts, not the time."""
    first, _, third = await three(store)
    until = NOW + timedelta(minutes=5)
    await store.settle("gate", first, until)
    await fire(store, reminder("d", after=40), after=50)
    await store.release(until, LONG_AGO)
    held = [one.said for one in await store.letters("gate", 0) if one.said.person == "jo"]
    assert [one.id for one in held[:2]] == [first, third]
    assert held[2].at < held[1].at
    assert [one.seq for one in held] == sorted(one.seq for one in held)


# --- what waits ---------------------------------------------------------------------------------------

async def test_what_waits_is_counted(store):
    """What is due and was not fired, and at each gateway what is not settled yet, held or not, and the oldest of it."""
    assert await store.waits(NOW) == Waits(0, None, {})
    await fire(store, reminder("a", after=10), reminder("b", after=20), after=30)
    await speak(store, "sam", via="other")
    sams = (reminder("c", "sam", 40), reminder("d", "sam", 70))
    await store.step(heard("q", sender="sam", via="other"), queueing(*sams))
    await store.wake(NOW + timedelta(seconds=40), waking())
    await store.restart()
    (first, _) = await store.letters("gate", 0)
    said = [NOW + timedelta(seconds=after) for after in (30, 40)]
    due = NOW + timedelta(seconds=70)
    assert await store.waits(due) == Waits(1, due, {"gate": Queue(2, said[0]), "other": Queue(1, said[1])})
    await store.settle("gate", first.said.id, NOW + timedelta(hours=1))       # held, and what follows it too
    assert (await store.waits(NOW)).letters["gate"] == Queue(2, said[0])
    await speak(store, "sam", n=1)                                            # and another's, who waits for nobody
    await store.wake(due, waking())
    assert (await store.waits(NOW)).letters["gate"] == Queue(3, said[0])
    await store.settle("gate", first.said.id)
    assert (await store.waits(NOW)).letters == {"gate": Queue(2, said[0]), "other": Queue(1, said[1])}
    assert (await store.waits(due)).due == 0


async def test_commits_are_measured(store):
    """Where there are commits, whoever asked hears of each of them how long it took."""
    heard_of: list[float] = []
    store.measured(heard_of.append)
    await speak(store, "jo")
    await speak(store, "jo", n=1)
    await store.desk("sms", "jo", NOW)          # a look writes nothing
    await store.wake(NOW, waking())
    assert all(0 < seconds < 60 for seconds in heard_of)
    if not isinstance(store.store, MemoryStore):
        assert len(heard_of) == 2
