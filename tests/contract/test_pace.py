"""The hall's pace is kept like all of a book: whole or not at all, class by class, over a restart."""
from __future__ import annotations

from datetime import timedelta

import pytest

from bot.facts import PaceReset
from bot.lesson.book import Changes
from bot.lesson.lesson import Lesson
from bot.lesson.pace import Pace, Timed, Watched
from bot.step import Want
from tests.contract.club import LESSON, NOW, heard, never, refusing, saying, stepped


def line(message: str = "sms:m1", seconds: int = 30, **more: int) -> Timed:
    return Timed(message, NOW, 1, seconds, 20, **more)


HOPS = Pace((line(), line("sms:m2", 35, change=30)), since=NOW - timedelta(days=7))
STANDS = Pace((line("sms:m3", 25),))


def setting(**paces: Pace | None):
    """A decision that sets these of the Tuesday class."""
    return saying("ok", changes=Changes(pace={("tue", skill): pace for skill, pace in paces.items()}))


async def pace_of(store, class_id: str = "tue", club: str = "bench"):
    return dict((await store.snapshot(club)).books[class_id].pace)


async def test_what_was_timed_is_kept(store):
    """It is in the book of its class at once, after a restart, and in no other class's."""
    await store.step(heard("m1"), setting(hop=HOPS, stand=STANDS))
    for _ in range(2):
        assert await pace_of(store) == {"hop": HOPS, "stand": STANDS}
        assert await pace_of(store, "fri") == {}
        await store.restart()


async def test_the_last_word_on_a_skill_holds(store):
    """A skill's lines are replaced whole, None takes them away, and the other skills keep theirs."""
    await store.step(heard("m1"), setting(hop=HOPS, stand=STANDS))
    await store.step(heard("m2"), setting(hop=STANDS))
    await store.step(heard("m3"), setting(stand=None, wheel=None))
    await store.restart()
    assert await pace_of(store) == {"hop": STANDS}


async def test_a_step_finds_what_the_one_before_it_kept(store):
    """The next step has it on its desk, whoever of the class it is for."""
    await store.step(heard("m1"), setting(hop=HOPS))

    def look(message, desk):
        assert desk.books["tue"].pace == {"hop": HOPS}
        return stepped(desk, "seen")

    await store.step(heard("m2", sender="sam"), look)
    await store.restart()
    await store.step(heard("m3", sender="jo"), look)


async def test_a_step_that_fails_keeps_nothing(store):
    """A mistake leaves the pace as it was, and a message that comes again adds nothing."""
    await store.step(heard("m1"), setting(hop=HOPS))
    with pytest.raises(ArithmeticError):
        await store.step(heard("m2"), refusing)
    await store.step(heard("m1"), never)
    assert await pace_of(store) == {"hop": HOPS}


async def test_a_class_whose_children_go_keeps_its_pace(store):
    """It belongs to the hall: whoever is forgotten was never in it."""
    await store.step(heard("m1"), setting(hop=HOPS))
    for child in ("ava", "ben"):
        await store.forget("bench", child)
    await store.restart()
    assert await pace_of(store) == {"hop": HOPS}


async def test_who_answered_last_is_kept_with_the_lesson(store):
    """The next line's time depends on it, so a restart in the middle of a lesson loses no line."""
    watched = {"jo": (Watched("sms:m1", "hop", 1, NOW, NOW, NOW + timedelta(seconds=1)),)}
    lesson = Lesson(LESSON, "tue", NOW.date(), "jo", NOW, watched=watched)
    await store.step(heard("m1"), saying("ok", changes=Changes(lessons={LESSON: lesson})))
    await store.restart()
    assert (await store.snapshot("bench")).books["tue"].lessons[LESSON] == lesson


async def test_a_new_beginning_is_found_by_its_class(store):
    """The fact is in the record under its class, so an undo finds the one before it."""
    await store.step(heard("m1"), saying("ok", facts=(PaceReset("tue", NOW), PaceReset("fri", NOW))))
    await store.restart()

    def look(message, desk):
        (found,) = desk.facts(Want(class_id="tue", kind="pace"))
        assert [one.fact for one in found] == [PaceReset("tue", NOW)]
        return stepped(desk, "seen")

    await store.step(heard("m2"), look)
