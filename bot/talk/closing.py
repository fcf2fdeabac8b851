"""Closing a lesson: what it came to, the awards won in it, and the news that families may hear of it."""
from __future__ import annotations

from datetime import date, datetime

from bot.facts import LessonClosed, Mark, in_force
from bot.lesson.lesson import Lesson
from bot.lesson.timetable import next_lesson
from bot.step import Want
from bot.talk import news, words
from bot.talk.draft import Draft
from bot.talk.lessons import apply, let_lapse
from bot.talk.places import Move, moved
from bot.talk.state import Question
from bot.talk.taps import Leave, Order, Tap, Undo
from bot.talk.watching import done, due, of_place

Choices = list[tuple[str, Tap]]


def close(
    draft: Draft, lesson_id_: str | None, *, by: str | None = None, at: datetime | None = None, head: str = ""
) -> None:
    """Close a lesson at once, and say what it came to. `by` is empty where it closes by itself."""
    lesson = draft.lesson(lesson_id_) if lesson_id_ is not None else draft.lesson_then()
    if lesson is None or not lesson.is_open:
        late = lesson is not None and draft.open_lesson() is not None
        draft.say("That lesson is closed already." if late else "No lesson of yours is open.", *of_place(draft))
        return
    shut = LessonClosed(lesson.id, draft.me.id if by is None else by, at or draft.sent_at)
    apply(draft, shut, lesson.id)
    let_lapse(draft, lesson, shut)
    mine = draft.lesson(draft.talk.lesson)
    if mine is None or not mine.is_open:        # else they are in another lesson by now, and stay there
        draft.change_talk(lesson=lesson.id, lines=(), suggested=None, turned=None)
        draft.talk = moved(draft.talk, Move.CLOSED)
    text, won = _summary(draft, lesson)
    after = draft.lesson(lesson.id)
    assert after is not None
    heard_of, asked = news.at_close(draft, after)
    undo: Choices = [("Undo", Undo(draft.message))] if shut.by else []
    if not won:
        draft.say("\n".join(part for part in (head + text, heard_of) if part), *asked, *undo)
        return
    who = words.names(f"{draft.called(child)} has earned {draft.award_name(award)}" for child, award in won)
    order = f"{who}. Put {'it' if len(won) == 1 else 'them'} on the order?"
    draft.say("\n".join(part for part in (head + text, order, heard_of) if part), ("Yes", Order(won)),
              ("Not now", Leave((), "not now")), *asked, *undo, question=Question("order", draft.next_seq()))


def _summary(draft: Draft, lesson: Lesson) -> tuple[str, tuple[tuple[str, str], ...]]:
    """What a lesson came to, and the awards that were earned in it and are on no order yet."""
    (record,) = draft.desk.facts(Want(lesson=lesson.id, kind="mark"))
    looks = sum(isinstance(one.fact, Mark) and not one.fact.aside for one in in_force(record))
    ticked = 0
    again: list[date | None] = []
    second: list[str] = []      # first shown, and not again
    begun: list[str] = []       # one leg or part seen, and not the other
    won: list[tuple[str, str]] = []
    book = draft.books[lesson.class_id]
    for child, of_child in book.in_order():
        mine = {key: one for key, one in of_child.items() if one.lesson == lesson.id}
        ticked += sum(one.ticked for one in mine.values())
        again += [due(draft, child, key) for key, one in of_child.items()       # and those of before, not shown today
                  if one.retest_from is not None and not one.ticked and key in draft.scheme.skills]
        for key, lost in mine.items():
            if lost.lapsed and not lost.ticked:
                (second if len(draft.skill(key).shows) == 2 else begun).append(child)
        award = book.children[child].award
        if any(one.ticked for one in mine.values()) and done(draft, child) and award not in book.awards.get(child, {}):
            won.append((child, award))
    one = draft.class_(lesson.class_id)
    following = next_lesson(draft.club, one, lesson.day)
    later = sum(on is not None and on > following for on in again)
    text = (f"{words.count(looks, 'look')}, {words.count(ticked, 'tick')}, "
            f"{words.count(len(again) - later, 'retest')} for {words.day(following, lesson.day)}"
            f"{f', {later} later' if later else ''}.")
    for head, children in (("Second show not seen", second), ("Begun and not finished", begun)):
        if children:
            text += f" {head}: {words.names(dict.fromkeys(map(draft.called, children)))}."
    return text, tuple(won)
