"""What is old goes by itself, and nothing that anybody could still need."""
from __future__ import annotations

from datetime import timedelta

from bot.port import Gateway, Key
from tests.contract.club import NOW, hall, heard, mark, queueing, reminder, saying, stepped, waking

OLD = NOW + timedelta(days=1)


async def talk(store, person: str, times: int, *, at=NOW, head: str = "") -> None:
    """Somebody says something so often, and is answered."""
    for n in range(times):
        await store.step(heard(f"{head}{person}{n}", sender=person, at=at), saying(f"{head}answer {n}"))


async def texts(store, person: str) -> list[str]:
    """What is kept of what was said to somebody."""
    return [one.text for one in await store.said("bench", person, 0, 1000)]


async def test_the_last_few_answers_stay(store):
    """Whatever their age: what they offer can still be tapped. All before them go, over a restart too."""
    await talk(store, "jo", 9)
    assert await store.tidy("bench", OLD) == 3
    assert await store.tidy("bench", OLD) == 0
    await store.restart()
    assert await texts(store, "jo") == [f"answer {n}" for n in range(3, 9)]


async def test_what_is_younger_stays(store):
    """Only what was said before that instant goes."""
    await talk(store, "jo", 5)
    await talk(store, "jo", 9, at=OLD, head="new ")
    assert await store.tidy("bench", OLD) == 5
    assert await texts(store, "jo") == [f"new answer {n}" for n in range(9)]


async def test_a_message_that_comes_again_is_still_known(store):
    """Its id is remembered though its answer went: nothing is done twice."""
    await talk(store, "jo", 9)
    await store.tidy("bench", OLD)
    assert await store.step(heard("jo0"), saying("again?")) == ()
    assert await texts(store, "jo") == [f"answer {n}" for n in range(3, 9)]


async def test_other_clubs_and_numbers_are_left_alone(store):
    """An unknown club has nothing; numbers go on from where they were."""
    await talk(store, "jo", 9)
    assert await store.tidy("elsewhere", OLD) == 0
    before = (await store.said("bench", "jo", 0))[-1].seq
    await store.tidy("bench", OLD)
    await talk(store, "jo", 1, head="more ")
    assert (await store.said("bench", "jo", 0))[-1].seq == before + 1


async def test_what_is_on_its_way_stays_until_it_is_out(store):
    """A reminder that a gateway has not taken yet is kept, however old; settled, it goes, out of the outbox too."""
    await store.keep_key(Gateway("gate"), Key("digest", "k1", "gate"))
    await store.step(heard("q", via="gate"), queueing(reminder("r")))
    (sent,) = await store.wake(NOW + timedelta(seconds=100), waking())
    await talk(store, "jo", 7)
    assert await store.tidy("bench", OLD) == 2
    assert [one.said.id for one in await store.letters("gate", 0)] == [sent.id]
    await store.settle("gate", sent.id)
    assert await store.tidy("bench", OLD) == 1
    assert await store.outbox(0) == ()
    assert sent.text not in await texts(store, "jo")


async def test_who_left_long_ago_is_told(store):
    """Who left before a day and was not marked since; not who was marked, or left later. A restart changes nothing."""
    await store.load(hall(roster="child,class,award,has,id\nZuleika Canary,fri,one,,zu\n"), NOW)
    tomorrow = NOW.date() + timedelta(days=1)
    assert await store.outlived("bench", NOW.date()) == ()
    assert await store.outlived("bench", tomorrow) == ("ava", "ben")
    late = mark("late", "ben", at=NOW + timedelta(days=3))
    await store.step(heard("late"), lambda heard, desk: stepped(desk, "ok", facts=(late,)))
    await store.restart()
    assert await store.outlived("bench", tomorrow) == ("ava",)
    assert await store.outlived("elsewhere", tomorrow) == ()
