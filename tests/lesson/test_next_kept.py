"""What a choice keeps for the next one changes no choice, whatever was said, taken back, or passed meanwhile."""
from __future__ import annotations

import random
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta

import pytest

from bot.lesson.book import Child, ClassBook
from bot.lesson.lesson import Lesson
from bot.lesson.next import Hall, Next, choose, working_on
from bot.marks.standing import Last, Rules, Standing, view
from bot.scheme.model import Award, Scheme, Show, Skill

LESSON = "tue/2026-11-24"
START = datetime(2026, 11, 24, 17, 0, tzinfo=UTC)
SKILLS = tuple(
    Skill(id=f"s{n}", name=f"S{n}", shows=(Show(), Show(rest_s=60)) if n % 2 else (Show(),), light=n == 3, line=2)
    for n in range(4)
)
SCHEME = Scheme(name="S", award=(Award(id="one", name="One", needs=3, skill=SKILLS),))
CHILDREN = ("ava", "ben", "chidi")
BOOK = ClassBook(
    "tue", {key: Child(key, key, "tue", "one") for key in CHILDREN},
    lessons={LESSON: Lesson(LESSON, "tue", date(2026, 11, 24), "jo", START, registered=True)},
)


def hall(book: ClassBook, now: datetime, kept: dict[str, object]) -> Hall:
    def seen_as(child: str, skill: str):
        rules = Rules(1, SCHEME.skills[skill], SCHEME, UTC)     # type: ignore[arg-type]
        return view(book.standing(child, skill), now, rules, lambda _: rules)

    def done(child: str) -> set[str]:
        ticked = {skill for skill, one in book.standings.get(child, {}).items() if one.ticked}
        return {"one"} if SCHEME.award[0].enough(ticked) else set()

    return Hall(book, book.lessons[LESSON], SCHEME, now, seen_as, lambda *_: None, done, turned="s1", kept=kept)


def chosen(book: ClassBook, now: datetime, kept: dict[str, object]) -> tuple[Next | None, list[list[str]]]:
    seen = hall(book, now, kept)
    return choose(seen), [list(working_on(seen, child)) for child in CHILDREN]


def standing(chance: random.Random, skill: str, now: datetime) -> Standing:
    last = Last("m", "jo", LESSON, now, "seen", 1, ("",))
    ticked = Standing(ticked_on=now.date(), lesson=LESSON, last=last)
    missed = Standing(retest_from=now.date(), lesson=LESSON, last=last)
    rests = Standing(show=2, began=now, rules=1, rested_at=now + timedelta(seconds=60), lesson=LESSON, last=last)
    return chance.choice((ticked, missed, rests if len(SCHEME.skills[skill].shows) == 2 else ticked))


@pytest.mark.parametrize("seed", range(30))
def test_the_same_with_and_without(seed: int) -> None:
    """Books go on, and now and then back to one of before: its step was not kept. Time passes on the way."""
    chance, kept, now = random.Random(seed), {}, START
    books = [BOOK]
    for _ in range(60):
        now += timedelta(seconds=chance.choice((0, 20, 65)))
        book = books[-1]
        if len(books) > 1 and chance.random() < 0.3:
            books.pop()
        else:
            child, skill = chance.choice(CHILDREN), chance.choice(SKILLS).id
            of_child = {**book.standings.get(child, {}), skill: standing(chance, skill, now)}
            books.append(replace(book, standings={**book.standings, child: of_child}))
        assert chosen(books[-1], now, kept) == chosen(books[-1], now, {})
