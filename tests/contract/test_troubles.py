"""A fault of ours in one step: it is tried three times at most, put aside, and nobody else waits for it."""
from __future__ import annotations

import asyncio
from datetime import timedelta
from typing import Any

import pytest

from bot.lesson.book import Changes
from bot.port import NotFired
from bot.step import Desk, Heard, Refused, Stepped, Woken
from bot.talk.putaside import MESSAGE, REMINDER
from storage.trouble import TRIES
from tests.contract.club import (
    NOW,
    heard,
    marking,
    never,
    queueing,
    refusing,
    reminder,
    saying,
    stepped,
    waking,
)

NAME = "Zuleika"        # what the error says, and nobody may read


class Faulty:
    """A decision with a mistake in it, that counts how often it was asked."""

    def __init__(self) -> None:
        self.asked = 0

    def __call__(self, heard: Heard, desk: Desk) -> Stepped:
        self.asked += 1
        raise KeyError(NAME)


async def poisoned(store: Any, message: Heard, decide: Any, *, restarts: bool = False) -> Any:
    """Send it until it is answered; the answer, and what was raised before it."""
    raised = []
    for _ in range(TRIES - 1):
        with pytest.raises(KeyError) as error:
            await store.step(message, decide)
        raised.append(error.value)
        if restarts:
            await store.restart()
    return await store.step(message, decide), raised


@pytest.mark.parametrize("restarts", [False, True])
@pytest.mark.parametrize("sender", ["jo", "nobody"])
async def test_a_message_with_a_fault_is_tried_three_times(store, sender, restarts):
    """Twice its sender hears that it failed; the third time it is answered with a sentence, and never tried again."""
    decide = Faulty()
    said, _ = await poisoned(store, heard("m1", sender=sender), decide, restarts=restarts)
    assert [(one.text, one.choices, one.in_reply_to) for one in said] == [(MESSAGE, (), "m1")]
    assert decide.asked == TRIES == 3
    await store.restart()
    assert await store.step(heard("m1", sender=sender), never) == said
    assert (await store.step(heard("m2", sender=sender), saying("next")))[0].seq == said[0].seq + 1


async def test_what_was_put_aside_can_be_listed(store):
    """Whoever looks after the program finds which message it was and where the fault is, and no word or name."""
    await poisoned(store, heard("m1", f"{NAME} seen", via="gate"), Faulty())
    with pytest.raises(ArithmeticError):
        await store.step(heard("m2"), refusing)             # not for the third time yet
    await store.restart()
    (one,) = await store.troubles()
    assert (one.id, one.club, one.what, one.tries, one.kind, one.at) == (
        "gate:m1", "bench", "message", 3, "KeyError", NOW,
    )
    assert one.place.startswith("__call__ (test_troubles.py:")
    assert NAME not in repr(one)


async def test_a_fault_that_goes_away_costs_nothing(store):
    """What works the second or the third time is answered as if nothing had been, and nothing is put aside."""
    for n in range(TRIES):
        for _ in range(n):
            with pytest.raises(ArithmeticError):
                await store.step(heard(f"m{n}"), refusing)
        assert (await store.step(heard(f"m{n}"), marking()))[0].seq == n + 1
    assert await store.troubles() == ()


async def test_what_the_store_refuses_is_no_fault(store):
    """A refusal is an answer: it is not counted, however often it comes."""
    def busy(heard: Heard, desk: Desk) -> Stepped:
        raise Refused("Not now.")

    for _ in range(TRIES + 1):
        with pytest.raises(Refused, match="Not now"):
            await store.step(heard("m1"), busy)
    assert (await store.step(heard("m1"), saying("now")))[0].text == "now"
    assert await store.troubles() == ()


async def test_others_are_answered_meanwhile(store):
    """A message that fails and fails holds up nobody: not its own sender's next, not the others'."""
    faulty = Faulty()
    answers = await asyncio.gather(*(
        store.step(heard("bad" if n % 4 == 0 else f"m{n}", sender=("jo", "sam")[n % 4 > 1]), faulty if n % 4 == 0
                   else marking()) for n in range(24)
    ), return_exceptions=True)
    assert faulty.asked == TRIES
    failed = [n for n, one in enumerate(answers) if isinstance(one, KeyError)]
    assert failed == [0, 4]
    assert {one[0].text for n, one in enumerate(answers) if n % 4 == 0 and n > 4} == {MESSAGE}
    marks = [one for one in (await store.snapshot("bench")).record if one.fact.kind == "mark"]
    assert len(marks) == 18


async def test_what_a_step_remembered_is_no_trap(store):
    """Where the fault is in what steps keep for the next one, the second try does without it."""
    def decide(heard: Heard, desk: Desk) -> Stepped:
        if desk.memo.get("rotten"):
            raise KeyError(NAME)
        desk.memo["rotten"] = True
        return stepped(desk, "fine")

    await store.step(heard("m0"), saying("hello"))      # from the second message on a store remembers whom it hears
    await store.step(heard("m1"), decide)
    with pytest.raises(KeyError):
        await store.step(heard("m2"), decide)
    assert (await store.step(heard("m2"), decide))[0].text == "fine"


# --- reminders ------------------------------------------------------------------------------------------

def fails_for(key: str, wake: Any) -> Any:
    """A wake that is fine but for that reminder."""
    def decide(woken: Woken, desk: Desk) -> Stepped:
        if any(one.key == key for one in woken.due):
            raise KeyError(NAME)
        return wake(woken, desk)

    return decide


async def woken(store: Any, seconds: float, wake: Any) -> tuple[list[tuple[str, str]], bool]:
    """Who was told what, and whether something could not be."""
    try:
        said, failed = await store.wake(NOW + timedelta(seconds=seconds), wake), False
    except NotFired as error:
        said, failed = error.said, True
    return [(one.person, one.text) for one in said], failed


@pytest.mark.parametrize("restarts", [False, True])
async def test_a_reminder_with_a_fault_is_put_aside(store, restarts):
    """It is tried three times, others come meanwhile; then its person is told so, and their next ones come."""
    await store.step(heard("m1"), queueing(
        reminder("a", after=10), reminder("b", "sam", after=15), reminder("c", after=20),
    ))
    wake = fails_for("a", waking())
    came = []
    for n in range(TRIES):
        came.append(await woken(store, 60 + n, wake))
        if restarts:
            await store.restart()
    assert came == [([("sam", "due: b")], True), ([], True), ([("jo", REMINDER), ("jo", "due: c")], False)]
    assert await woken(store, 3600, waking()) == ([], False)
    (one,) = await store.troubles()
    assert (one.club, one.what, one.tries, one.kind) == ("bench", "reminder: rest", 3, "KeyError")
    assert one.id.startswith("wake:")
    assert not any(name in repr(one) for name in (NAME, "jo", "ava", "rest/"))


async def test_a_reminder_that_is_refused_is_no_fault(store):
    """Where the store itself can't just now, a reminder waits for as long as it takes, and then comes."""
    def busy(woken: Woken, desk: Desk) -> Stepped:
        raise Refused("Not now.")

    await store.step(heard("m1"), queueing(reminder("a", after=10)))
    for n in range(TRIES + 1):
        assert await woken(store, 60 + n, busy) == ([], True)
    assert await woken(store, 70, waking()) == ([("jo", "due: a")], False)
    assert await store.troubles() == ()


async def test_a_reminder_that_was_put_aside_is_not_queued_again(store):
    """A step that still calls for it does not bring it back."""
    await store.step(heard("m1"), queueing(reminder("a", after=10)))
    for n in range(TRIES):
        await woken(store, 60 + n, fails_for("a", waking()))
    await store.step(heard("m2"), queueing(reminder("a", after=90), reminder("b", after=90)))
    assert await woken(store, 200, waking()) == ([("jo", "due: b")], False)


async def test_what_a_put_aside_reminder_says_goes_out(store):
    """The sentence takes the way of every unasked message: through the gateway where its person was last heard."""
    await store.step(heard("m1", via="gate"), saying("hi", changes=Changes()))
    await store.step(heard("m2", via="gate"), queueing(reminder("a", after=10)))
    for n in range(TRIES):
        await woken(store, 60 + n, fails_for("a", waking()))
    assert [one.said.text for one in await store.letters("gate", 0)] == [REMINDER]
