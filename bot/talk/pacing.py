"""The hall's pace in the talk: lines are timed as they are answered, and it can be looked at and begun anew.

What lives here: which answers are timed, and what is said of it. What they amount to is in `bot/lesson/pace.py`.
"""
from __future__ import annotations

from collections.abc import Iterable, Iterator

from bot.facts import Mark, PaceReset, Recorded
from bot.frozen import replace
from bot.lesson.book import ClassBook
from bot.lesson.line import Line
from bot.lesson.pace import (
    NOT_TIMED,
    Estimate,
    Watched,
    paced,
    timed,
    with_answer,
    with_line,
    without_answer,
    without_message,
)
from bot.scheme.model import Skill
from bot.talk import words
from bot.talk.draft import Draft
from bot.talk.taps import BeginAnew, Tap, Undo
from bot.talk.watching import of_place

Choices = list[tuple[str, Tap]]
NOTICEABLE = 0.1        # of what the scheme says
MOST = 8                # skills of one class that a message lists


# --- timing ----------------------------------------------------------------------------------------

def time_line(draft: Draft, line: Line) -> None:
    """A line was answered now, by whoever speaks."""
    lesson = draft.lesson(line.lesson)
    if lesson is None or line.shown_at is not None:
        return
    answered = Watched(draft.message, line.skill, line.show, line.asked_at, draft.sent_at, draft.now)
    before = lesson.watched.get(draft.me.id, ())
    draft.put_lesson(replace(lesson, watched=with_answer(lesson.watched, draft.me.id, answered)))
    one = timed(line, draft.skill(line.skill), answered, before)
    if one is not None:
        known = draft.books[lesson.class_id].pace.get(line.skill, NOT_TIMED)
        draft.put_pace(lesson.class_id, line.skill, with_line(known, one))


def untime(draft: Draft, mine: Iterable[Recorded], message: str) -> None:
    """The lines of a message that is taken back were not timed."""
    marks = (one.fact for one in mine if isinstance(one.fact, Mark) and one.fact.asked_at is not None)
    for lesson_id, skill in dict.fromkeys((mark.lesson, mark.skill) for mark in marks):
        lesson = draft.lesson(lesson_id)
        if lesson is None:
            continue
        draft.put_lesson(replace(lesson, watched=without_answer(lesson.watched, message)))
        pace = draft.books[lesson.class_id].pace.get(skill)
        if pace is not None:
            draft.put_pace(lesson.class_id, skill, without_message(pace, message))


# --- what is said ----------------------------------------------------------------------------------

def pace(draft: Draft) -> None:
    """`pace`: what takes noticeably longer or shorter here than the scheme says."""
    lesson = draft.open_lesson()
    classes = (lesson.class_id,) if lesson is not None else tuple(one.id for one in draft.own)
    books = [draft.books[class_id] for class_id in classes]
    found = [(book, rows) for book in books if (rows := list(_rows(draft, book)))]
    text = "\n".join(
        "\n".join([*([f"{draft.class_(book.class_id).name}:"] if len(books) > 1 else []), *rows])
        for book, rows in found
    )
    several = sum(len(one.counted) for book in books for one in book.pace.values())
    draft.say(text or f"Nothing differs yet ({words.count(several, 'line')} timed).", *_anew(draft, books),
              *of_place(draft), question=draft.talk.question)


def _rows(draft: Draft, book: ClassBook) -> Iterator[str]:
    estimate = book.estimate
    differing = [
        skill for key in sorted(book.pace)
        if (skill := draft.scheme.skills.get(key)) is not None and _noticeable(estimate.show(skill))
    ]
    differing.sort(key=lambda skill: -abs(estimate.show(skill) - 1))
    for skill in differing[:MOST]:
        yield _row(book, estimate, skill)
    if len(differing) > MOST:
        yield f"And {len(differing) - MOST} more."
    if _noticeable(estimate.changeover):
        yield (f"Changeovers: {round(10 * estimate.changeover)} s here for every 10 s by the scheme "
               f"({words.count(estimate.changeovers, 'line')}).")


def _noticeable(factor: float) -> bool:
    return round(abs(factor - 1), 6) >= NOTICEABLE


def _row(book: ClassBook, estimate: Estimate, skill: Skill) -> str:
    both = {show.seconds: paced(book, skill, n) for n, show in enumerate(skill.shows, start=1)}
    here, asked = (" and ".join(map(words.seconds, several)) for several in (both.values(), both))
    lines = words.count(len(estimate.lines(skill)), "line")
    return f"{skill.name}: {here} a line here, {asked} by the scheme ({lines})."


def _anew(draft: Draft, books: Iterable[ClassBook]) -> Choices:
    """A coach may begin anew, class by class where several have something to forget."""
    if draft.me.role != "coach":
        return []
    known = [book.class_id for book in books if any(one.counted for one in book.pace.values())]
    if len(known) == 1:
        return [("Begin anew", BeginAnew(known[0]))]
    return [(words.label(f"Anew: {draft.class_(one).name}"), BeginAnew(one)) for one in known]


# --- beginning anew --------------------------------------------------------------------------------

def begin_anew(draft: Draft, tap: BeginAnew) -> None:
    """The choice Begin anew: what was timed until now does not count."""
    book = draft.books.get(tap.class_id)
    if book is None:
        draft.say("That class is not yours any more.", *of_place(draft), question=draft.talk.question)
        return
    if draft.me.role != "coach":
        draft.say("A pace is for a coach to begin anew.", *of_place(draft), question=draft.talk.question)
        return
    if not any(one.counted for one in book.pace.values()):
        draft.say("No line was timed since it began anew.", *of_place(draft), question=draft.talk.question)
        return
    fact = PaceReset(tap.class_id, draft.now)
    draft.record(fact)
    _since(draft, fact.class_id, fact)
    draft.say(f"The pace of {draft.class_(tap.class_id).name} begins anew, as the scheme says.",
              ("Undo", Undo(draft.message)), *of_place(draft), question=draft.talk.question)


def count_since(draft: Draft, class_id: str, kept: Iterable[Recorded]) -> None:
    """A new beginning was taken back: lines count since the one before it. `kept`: those still in force."""
    resets = [one.fact for one in kept if isinstance(one.fact, PaceReset)]
    _since(draft, class_id, resets[-1] if resets else None)


def _since(draft: Draft, class_id: str, reset: PaceReset | None) -> None:
    for skill, one in draft.books[class_id].pace.items():
        draft.put_pace(class_id, skill, replace(one, since=None if reset is None else reset.at))
