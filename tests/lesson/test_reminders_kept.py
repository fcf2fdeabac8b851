"""What deriving reminders keeps for the next time changes none of them, and does not grow with the lessons."""
from __future__ import annotations

import random
from dataclasses import replace
from datetime import datetime, timedelta
from typing import Any

import pytest

from bot.facts import ChildNoted, LessonClosed, LessonOpened, LessonPaused, NewsReleased
from bot.lesson.book import AwardWay, Child, ClassBook, Contact
from bot.lesson.lesson import Lesson, advance
from bot.marks.standing import Last, Standing
from bot.reminders import derive
from tests.lesson.test_reminder_rows import CLUB, at

CHILDREN = ("ava", "ben", "chidi")
BOOK = ClassBook("tue", {key: Child(key, key, "tue", "one") for key in CHILDREN})


def mark(chance: random.Random, book: ClassBook, lesson: Lesson, now: datetime) -> ClassBook:
    last = Last("m", "jo", lesson.id, now, "seen", 1, ("",))
    ends = now + timedelta(seconds=chance.choice((30, 40, 60)))
    made = chance.choice((
        Standing(ticked_on=now.date(), ticked_at=now, lesson=lesson.id, last=last),
        Standing(show=2, began=now, rules=1, rested_at=ends, lesson=lesson.id, last=last),
    ))
    child, skill = chance.choice(CHILDREN), chance.choice(("stand", "leap"))
    return replace(book, standings={**book.standings, child: {**book.standings.get(child, {}), skill: made}})


def note(chance: random.Random, book: ClassBook, lesson: Lesson, now: datetime) -> ClassBook:
    fact = chance.choice((
        LessonPaused(lesson.id, chance.random() < 0.5, now), LessonClosed(lesson.id, "jo", now),
        LessonOpened(lesson.id, "jo", now), NewsReleased(lesson.id, "jo", now),
        ChildNoted(lesson.id, chance.choice(CHILDREN), chance.choice(("away", "here", "sits", "back")), now),
        ChildNoted(lesson.id, chance.choice(CHILDREN), "leaves", now, now + timedelta(seconds=50)),
    ))
    return replace(book, lessons={**book.lessons, lesson.id: advance(lesson, fact)})


def tell(chance: random.Random, book: ClassBook, now: datetime) -> ClassBook:
    child = chance.choice(CHILDREN)
    if chance.random() < 0.5:
        return replace(book, awards={**book.awards, child: {"one": AwardWay("presented", now.date())}})
    told = chance.choice((Contact(now), Contact(at(1, "9:00"), ("stand",), now.date())))
    return replace(book, contacts={**book.contacts, child: {"pa": told}})


@pytest.mark.parametrize("seed", range(30))
def test_the_same_with_and_without(seed: int) -> None:
    """Books go on, and now and then back to one of before: its step was not kept."""
    chance, kept, now = random.Random(seed), {}, at(24, "17:00")
    books = [BOOK]
    for _ in range(80):
        now += timedelta(minutes=chance.choice((0, 1, 5, 60)))
        book = chance.choice(books[-3:])
        lesson = book.lessons.get(f"tue/{now:%Y-%m-%d}")
        if lesson is None:
            lesson = advance(None, LessonOpened(f"tue/{now:%Y-%m-%d}", "jo", now))
            book = replace(book, lessons={**book.lessons, lesson.id: lesson})
        match chance.choice(("mark", "mark", "note", "tell")):
            case "mark":
                book = mark(chance, book, lesson, now)
            case "note":
                book = note(chance, book, lesson, now)
            case _:
                book = tell(chance, book, now)
        books.append(book)
        assert derive(book, CLUB, now, kept) == derive(book, CLUB, now, {})


def test_lessons_that_are_over_leave_nothing_behind() -> None:
    """As much is kept after a year of lessons as after one."""
    kept: dict[object, Any] = {}
    chance, book, sizes = random.Random(0), BOOK, []
    for week in range(50):
        now = at(24, "17:00") + timedelta(weeks=week)
        lesson = advance(None, LessonOpened(f"tue/{now:%Y-%m-%d}", "jo", now))
        book = replace(book, lessons={**book.lessons, lesson.id: lesson})
        for _ in range(20):
            book = mark(chance, book, lesson, now)
            derive(book, CLUB, now, kept)
        book = replace(book, lessons={**book.lessons, lesson.id: advance(lesson, LessonClosed(lesson.id, "jo", now))})
        derive(book, CLUB, now, kept)
        sizes.append(sum(len(one) if isinstance(one, dict) else 1 for one in kept.values()))
    assert sizes[0] == sizes[-1]
