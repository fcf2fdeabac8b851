"""Second looks that were asked for, in words: nothing of the other's before both are in, then both hear it.

What lives here: reading and wording; asking is in `looks.py`, what counts in `bot/lesson/looks.py`.
"""
from __future__ import annotations

from collections.abc import Iterator, Sequence

from bot.facts import Mark
from bot.frozen import replace
from bot.lesson.line import Line
from bot.lesson.looks import Looks, Saw
from bot.talk import words
from bot.talk.draft import Draft

NAMED = 3       # children on whom two part, in one message


def of_me(draft: Draft) -> Iterator[Looks]:
    """The second looks that are still asked of whoever speaks, in the lessons that are open."""
    for book in draft.books.values():
        for lesson in book.lessons.values():
            for one in lesson.looks if lesson.is_open else ():
                if any(one.waits_for(draft.me.id, child) and draft.knows(child) for child in one.asked.children):
                    yield one


def lines(draft: Draft) -> list[Line]:
    """The same as lines that can be answered."""
    return [line_of(one) for one in of_me(draft)]


def line_of(one: Looks) -> Line:
    """The line that an asking puts up for whoever is asked."""
    asked = one.asked
    return Line(asked.lesson, asked.skill, asked.show, asked.children, asked.at, look=True)


def as_asked(draft: Draft, mark: Mark) -> Mark:
    """A mark about a child of whom a second look is asked is that look, on the show that it was asked for."""
    for one in of_me(draft):
        if one.asked.lesson == mark.lesson and one.asked.skill == mark.skill and mark.judged_at >= one.asked.at \
                and one.waits_for(draft.me.id, mark.child):
            return replace(mark, look="second look", show=one.asked.show)
    return mark


def asking_for(draft: Draft, mark: Mark) -> Looks | None:
    """The asking that a second look answers."""
    lesson = draft.lesson(mark.lesson)
    return next((
        one for one in (lesson.looks if lesson is not None else ())
        if (saw := one.of(mark.by).get(mark.child)) is not None and saw.mark == mark.id and one.asked.of == mark.by
    ), None)


def kept(draft: Draft, marks: Sequence[Mark]) -> Iterator[str]:
    """What is answered to second looks that were asked for: that they are kept, and nothing of the other's."""
    by_asking: dict[tuple[str, str], list[Mark]] = {}
    for mark in marks:
        one = asking_for(draft, mark)
        if one is not None and not all_in(draft, one):
            by_asking.setdefault((one.asked.by, one.asked.skill), []).append(mark)
    for (asker, skill), group in by_asking.items():
        said = "; ".join(
            f"{words.names(draft.called(mark.child) for mark in group if mark.verdict == verdict)} {verdict}"
            for verdict in dict.fromkeys(mark.verdict for mark in group)
        )
        yield (f"Second look kept: {words.inside(draft.skill(skill).name)}, {said}. You both hear more once "
               f"{name(draft, asker)} and you have judged all.")


def name(draft: Draft, person: str) -> str:
    """What somebody who judges is called."""
    known = draft.desk.people.get(person)
    return known.first_name if known is not None else "the other coach"


def all_in(draft: Draft, one: Looks) -> dict[str, tuple[Saw, Saw]]:
    """Child → what both saw, once both have judged all who are here."""
    lesson = draft.lesson(one.asked.lesson)
    found = one.all_in(lesson.gone, draft.standing) if lesson is not None else {}
    return {child: both for child, both in found.items() if draft.knows(child)}


def hear(draft: Draft, lesson_id: str | None) -> str:
    """What came of the askings of a lesson that this message completed. Whoever speaks has heard it then."""
    lesson, said = draft.lesson(lesson_id), []
    for one in lesson.looks if lesson is not None else ():
        me, asked = draft.me.id, one.asked
        if me in (asked.by, asked.of) and me not in one.told and all_in(draft, one):
            said.append(in_words(draft, one))
            has_heard(draft, one)
    return " ".join(said)


def has_heard(draft: Draft, one: Looks) -> None:
    """Whoever speaks was told what came of an asking."""
    lesson = draft.lesson(one.asked.lesson)
    if lesson is not None:
        draft.put_lesson(replace(lesson, looks=tuple(
            replace(known, told=(*known.told, draft.me.id)) if known.asked == one.asked else known
            for known in lesson.looks
        )))


def in_words(draft: Draft, one: Looks) -> str:
    """`You and Sam saw 5 of 6 alike. You part on Gus: Sam seen, you not yet (hips over shoulders).`"""
    asked, found = one.asked, all_in(draft, one)
    mine = asked.by == draft.me.id
    other = name(draft, asked.of if mine else asked.by)
    parted = {child: both for child, both in found.items() if both[0].verdict != both[1].verdict}
    head = f"{draft.skill(asked.skill).name}: you and {other} saw "
    if not parted:
        all_ = {1: words.names(map(draft.called, found)), 2: "both"}.get(len(found), f"all {words.number(len(found))}")
        return f"{head}{all_} alike."
    rows = [
        f"{draft.called(child)}: you {_what(draft, asked.skill, both[not mine])}, "
        f"{other} {_what(draft, asked.skill, both[mine])}"
        for child, both in list(parted.items())[:NAMED]
    ]
    more = f"; and {len(parted) - NAMED} more" if len(parted) > NAMED else ""
    return f"{head}{len(found) - len(parted)} of {len(found)} alike. You part on {'; '.join(rows)}{more}."


def _what(draft: Draft, skill: str, saw: Saw) -> str:
    points = words.points(draft.skill(skill), saw.missed)
    return f"{saw.verdict} ({points})" if points else saw.verdict
