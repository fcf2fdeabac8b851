"""Reminders: queued, moved and withdrawn with the step that calls for them, and fired once."""
from __future__ import annotations

from dataclasses import replace
from datetime import timedelta

import pytest

from bot.lesson.book import Changes
from bot.port import NotFired
from tests.contract.club import CLUB, NOW, hall, heard, queueing, reminder, saying, stepped, waking


def after(seconds: float):
    """So long after the lesson began."""
    return NOW + timedelta(seconds=seconds)


async def test_a_wake_is_told_the_real_time(store):
    """Who wakes late is told what time it is now, not when it was due."""
    await store.step(heard("m1"), queueing(reminder(after=60)))
    wake = waking()
    said = await store.wake(after(600), wake)
    assert wake.woken == [(after(600), ("rest/ava",))]
    assert [(one.at, one.in_reply_to) for one in said] == [(after(600), None)]


async def test_nothing_fires_before_its_time(store):
    """A reminder fires from its own instant on, once, and a restart between changes nothing of that."""
    await store.step(heard("m1"), queueing(reminder(after=60)))
    await store.restart()
    assert await store.next_due() == after(60)
    wake = waking()
    assert await store.wake(after(59.999), wake) == ()
    await store.restart()
    assert len(await store.wake(after(60), wake)) == 1
    await store.restart()
    assert await store.wake(after(3600), wake) == ()


async def test_what_fired_is_not_queued_again_under_its_key(store):
    """A step that still calls for a reminder that was sent does not have it sent again, over a restart too."""
    wake = waking()
    await store.step(heard("m1"), queueing(reminder(after=60)))
    await store.wake(after(60), wake)
    await store.restart()
    await store.step(heard("m2"), queueing(reminder(after=90)))
    assert await store.wake(after(120), wake) == ()


async def test_a_reminder_is_moved_and_withdrawn_by_a_step(store):
    """The next step's word holds: another time is the only time, and what is not called for is not sent."""
    await store.step(heard("m1"), queueing(reminder(after=60), reminder("rest/ben", after=70)))
    await store.step(heard("m2"), queueing(reminder(after=90)))
    await store.restart()
    assert await store.next_due() == after(90)
    wake = waking()
    await store.wake(after(3600), wake)
    assert [keys for _, keys in wake.woken] == [("rest/ava",)]


async def test_a_step_that_fails_moves_nothing(store):
    """Reminders belong to the step that they come from: where it fails they stay as they were."""
    await store.step(heard("m1"), queueing(reminder(after=60)))

    def failing(message, desk):
        done = queueing()(message, desk)
        return replace(done, talk=replace(done.talk, said=done.talk.said + 5))

    with pytest.raises(RuntimeError):
        await store.step(heard("m2"), failing)
    assert await store.next_due() == after(60)


async def test_what_is_due_together_fires_together(store):
    """What is due to one person at one instant is one message; other people and other times have their own."""
    await store.step(heard("m1"), queueing(
        reminder("b", after=60), reminder("a", after=60), reminder("c", "sam", after=60), reminder("d", after=30),
    ))
    wake = waking()
    said = await store.wake(after(60), wake)
    assert [keys for _, keys in wake.woken] == [("d",), ("a", "b"), ("c",)]
    assert [(one.person, one.seq) for one in said] == [("jo", 2), ("jo", 3), ("sam", 1)]


async def test_a_wake_that_fails_keeps_nobody_else_waiting(store):
    """Where one can't be fired the others are; it stays due, and fires once the fault is gone."""
    await store.step(heard("m1"), queueing(reminder("a", after=10), reminder("b", "sam", after=20)))
    faulty = waking(fails_for="jo")
    with pytest.raises(NotFired) as failed:
        await store.wake(after(60), faulty)
    assert isinstance(failed.value.__cause__, ArithmeticError)
    assert [keys for _, keys in faulty.woken] == [("b",)]
    await store.restart()
    good = waking()
    await store.wake(after(60), good)
    assert [keys for _, keys in good.woken] == [("a",)]


async def test_a_reminder_that_is_left_counts_as_sent(store):
    """A wake that leaves its reminder queued is not woken for ever."""
    await store.step(heard("m1"), queueing(reminder()))
    wake = waking(leaves=True)
    await store.wake(after(60), wake)
    await store.wake(after(61), wake)
    assert len(wake.woken) == 1


async def test_the_timetable_is_kept_when_it_changes(store):
    """What a class calls for by its timetable moves when a changed hall is loaded."""
    async def before_class() -> set:
        pending = (await store.snapshot("bench")).books["fri"].pending.values()
        return {one.due_at for one in pending if one.kind == "before"}

    was = await before_class()
    start = 'day = "friday"\nstart = "17:00"'
    assert start in CLUB
    await store.load(hall(club=CLUB.replace(start, start.replace("17:00", "18:00"))), NOW)
    assert await before_class() == {at + timedelta(hours=1) for at in was}


async def test_the_outbox_is_read_behind_a_cursor(store):
    """Unasked messages come in order, each behind a cursor that stays its own; answers are none of them."""
    await store.step(heard("m1"), queueing(*(reminder(str(n), after=n) for n in range(5))))
    await store.step(heard("m2"), saying("an answer", changes=Changes()))
    said = await store.wake(after(60), waking())
    all_of_it = await store.outbox(0)
    assert [one for _, one, _ in all_of_it] == list(said)
    assert {reach for _, _, reach in all_of_it} == {(("sms", "jo"),)}
    await store.restart()
    two = await store.outbox(all_of_it[1][0], limit=2)
    assert two == all_of_it[2:4]
    assert await store.outbox(all_of_it[-1][0]) == ()


async def test_a_hundred_due_to_one_person_at_one_instant_are_one_message(store):
    """However many they are, those of one person and instant stay together."""
    await store.step(heard("m1"), queueing(*(reminder(f"{n:03}", after=60) for n in range(100))))
    wake = waking()
    await store.wake(after(60), wake)
    assert [keys for _, keys in wake.woken] == [tuple(f"{n:03}" for n in range(100))]


async def test_nothing_overtakes_what_failed_for_the_same_person(store):
    """Where one of a person's can't be fired their later ones wait for it."""
    await store.step(heard("m1"), queueing(
        reminder("a", after=10), reminder("b", "sam", after=15), reminder("c", after=20),
    ))
    faulty = waking(fails_for="jo")
    with pytest.raises(NotFired) as failed:
        await store.wake(after(60), faulty)
    assert isinstance(failed.value.__cause__, ArithmeticError)
    good = waking()
    await store.wake(after(60), good)
    assert [keys for _, keys in good.woken] == [("a",), ("c",)]


async def test_what_an_earlier_firing_withdrew_is_not_sent(store):
    """What is due at once is looked up together, and fires as things are by then."""
    await store.step(heard("m1"), queueing(reminder("a", after=10), reminder("b", "sam", after=15)))
    fired = []

    def withdrawing(woken, desk):
        fired.extend(one.key for one in woken.due)
        return stepped(desk, "told", changes=Changes(pending={"tue": {}}))

    await store.wake(after(60), withdrawing)
    assert fired == ["a"]


async def test_waking_ends_where_it_is_told_to(store):
    """However much is due: what was said by then is said once, and the rest comes with the next waking, in order."""
    await store.step(heard("m1"), queueing(reminder(after=60), reminder("rest/ben", after=70)))
    wake, asked = waking(), []

    def once():
        asked.append(len(wake.woken))
        return len(asked) == 1

    await store.wake(after(3600), wake, once)
    assert [keys for _, keys in wake.woken] == [("rest/ava",)]
    assert asked == [0, 1]
    await store.restart()
    await store.wake(after(3600), wake)
    assert [keys for _, keys in wake.woken] == [("rest/ava",), ("rest/ben",)]
