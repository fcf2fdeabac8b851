"""The lesson in the talk: opening it, going on in it, silence, retests moved. Closing it is next door."""
from __future__ import annotations

from dataclasses import replace
from datetime import UTC, date, datetime, timedelta

from bot.facts import (
    Fact,
    LessonClosed,
    LessonOpened,
    LessonPaused,
    RetestMoved,
)
from bot.lesson.lesson import Lesson, advance
from bot.lesson.timetable import (
    CLOSES_ITSELF,
    day_in_zone,
    ends_at,
    lesson_id,
    next_lesson,
    on_now,
    scheduled_on,
    starts_at,
)
from bot.marks.standing import advance as advance_standing
from bot.people.model import DAYS, ClubClass
from bot.talk import requests, telling, words
from bot.talk.draft import Draft
from bot.talk.marking import typed
from bot.talk.places import Move, moved
from bot.talk.state import Place, Question
from bot.talk.taps import Leave, Open, Quiet, Tap, Undo
from bot.talk.watching import carry_on, come_in, of_place, register_choices, suggest

JUST_NOW = timedelta(minutes=10)
Choices = list[tuple[str, Tap]]


def apply(draft: Draft, fact: Fact, lesson_id_: str) -> Lesson:
    """Record a fact of a lesson and move the lesson on by it."""
    draft.record(fact)
    draft.lesson_of_message = lesson_id_
    after = advance(draft.lesson(lesson_id_), fact)
    assert after is not None
    draft.put_lesson(after)
    return after


# --- opening ---------------------------------------------------------------------------------------

def start(draft: Draft, request: requests.Start) -> None:
    """`start`, `start tuesday`."""
    own = draft.own
    if not own:
        draft.say("No class is given to you yet. Ask whoever looks after the club's list.")
        return
    named = tuple(one for one in own if one.id in request.classes) if request.classes else ()
    found = named or on_now(draft.club, own, draft.now)
    if len(found) > 1 and request.classes:
        found = on_now(draft.club, found, draft.now)[:1] or found
    if len(found) > 1 and not request.classes:
        found = found[:1]
    if len(found) == 1:
        _start_one(draft, found[0])
        return
    held = None if request.classes else _held_just_now(draft)
    if held is not None:
        open_lesson(draft, held)
        return
    choices: Choices = [(words.label(one.name), Open(one.id)) for one in (found or own)[:8]]
    text = "Which class?" if found else "None of your classes is on now. Which one do you take?"
    draft.say(text, *choices, question=Question("class", draft.next_seq()))


def _held_just_now(draft: Draft) -> Open | None:
    """The lesson that marks wait for, where something was said to them since: a typed `start` is about those."""
    said = (draft.desk.said(offer.seq) for offer in draft.talk.offers)
    lately = (one for one in said if one is not None and one.at >= draft.sent_at - JUST_NOW)
    return next((choice.tap for one in lately for choice in one.choices
                 if isinstance(choice.tap, Open) and choice.tap.held), None)


def _start_one(draft: Draft, one: ClubClass) -> None:
    today = day_in_zone(draft.club, draft.now)
    known = draft.books[one.id].open_lesson
    if scheduled_on(one, today) or (known is not None and known.day == today):
        open_lesson(draft, Open(one.id))
        return
    back = (today.weekday() - DAYS.index(one.day)) % 7
    last = today - timedelta(days=back)
    draft.say(
        f"{one.name} is on {one.day.capitalize()}s, and today is {words.weekday(today)}. Start it today all the same, "
        f"or enter what you saw on {words.weekday(last)} {last.day}?",
        ("Start", Open(one.id)), (words.label(f"Enter {words.weekday(last)}"), Open(one.id, last)),
        ("Not now", Leave((), "not now")), question=Question("class", draft.next_seq()),
    )


def open_lesson(draft: Draft, tap: Open) -> None:
    """Open a lesson, and then enter what was held for it."""
    if tap.class_id not in draft.books:
        draft.say("That class is not given to you.", *of_place(draft))
        return
    today = day_in_zone(draft.club, draft.now)
    day = tap.day or today
    lesson = draft.books[tap.class_id].lessons.get(lesson_id(tap.class_id, day))
    was_open = lesson is not None and lesson.is_open
    if not was_open:
        lesson = _opened(draft, tap, day, today)
    assert lesson is not None
    if day == today:
        _enter(draft, lesson)
    if tap.held:
        _enter_held(draft, tap, lesson, day == today)
        return
    _greet(draft, lesson, day, today, was_open)


def _opened(draft: Draft, tap: Open, day: date, today: date) -> Lesson:
    """Record that it was opened. One of another day was opened at its own time, and closed by itself since."""
    one = draft.class_(tap.class_id)
    at = draft.sent_at if day == today else starts_at(draft.club, one, day)
    key = lesson_id(tap.class_id, day)
    lesson = apply(draft, LessonOpened(key, draft.me.id, at), key)
    ended = ends_at(draft.club, one, day) + CLOSES_ITSELF
    if day < today:
        midnight = datetime.combine(day + timedelta(days=1), datetime.min.time(), draft.club.tz).astimezone(UTC)
        shut = LessonClosed(key, "", max(ended, midnight - timedelta(seconds=1)))
        lesson = apply(draft, shut, key)
        let_lapse(draft, lesson, shut)
    return lesson


def _enter(draft: Draft, lesson: Lesson) -> None:
    """The talk turns to this lesson: numbers begin again."""
    if draft.talk.lesson != lesson.id or draft.talk.place is Place.OUTSIDE:
        draft.change_talk(
            lesson=lesson.id, lines=(), suggested=None, stood=(), skipped=(), numbers=0, offers=(), turned=None,
        )
        draft.talk = moved(draft.talk, Move.OPENED)


def _greet(draft: Draft, lesson: Lesson, day: date, today: date, was_open: bool) -> None:
    one = draft.class_(lesson.class_id)
    if day != today:
        draft.say(f"{one.name} on {words.day(day, today)} is ready for what you saw. Type it with its time: "
                  f"on {words.weekday(day)} at {one.start:%H:%M}: ava seen …", question=None)
        return
    if was_open and lesson.registered:
        suggest(draft, f"{one.name} is open; {here(draft, lesson)} here.")
        return
    children = len(draft.books[lesson.class_id].children)
    draft.say(f"Everyone here? {one.name}, {words.count(children, 'child', 'children')}.", *register_choices(lesson))


def _enter_held(draft: Draft, tap: Open, lesson: Lesson, now: bool) -> None:
    marks = [request for request in tap.held if isinstance(request, requests.Mark)]
    if marks:
        draft.change_talk(turned=marks[-1].skill)
    judged = typed(draft, marks, tap.sent_at)
    text = telling.tell(draft, judged)
    undo: Choices = [("Undo", Undo(draft.message))] if judged.recorded else []
    asked = telling.questions(draft, judged)
    if asked:
        draft.say(text, *asked, *undo)
        return
    if now:
        carry_on(draft, text, *undo)
    else:
        draft.say(text, *(undo or of_place(draft)))


def suggest_or_go_on(draft: Draft, text: str, *also: tuple[str, Tap]) -> None:
    """Before the first line stands there, it is suggested; afterwards the loop goes on."""
    if draft.lesson_of_message is not None:
        come_in(draft, draft.lesson_of_message)
    lesson = draft.lesson(draft.talk.lesson)
    if lesson is not None and lesson.is_open and draft.talk.place in (Place.REGISTER, Place.SUGGESTED):
        suggest(draft, text, *also)
    else:
        carry_on(draft, text, *also)


def here(draft: Draft, lesson: Lesson) -> int:
    """How many of the class are here now."""
    return sum(lesson.here(child, draft.now) for child in draft.books[lesson.class_id].children)


# --- silence ---------------------------------------------------------------------------------------

def quiet(draft: Draft, lesson_id_: str | None, paused: bool, text: str | None = None) -> None:
    """Pause, or carry on."""
    lesson = draft.lesson(lesson_id_) if lesson_id_ is not None else draft.open_lesson()
    if lesson is None or not lesson.is_open:
        draft.say(text or "No lesson is open.", *of_place(draft))
        return
    if lesson.paused != paused:
        apply(draft, LessonPaused(lesson.id, paused, draft.sent_at), lesson.id)
    if paused:
        draft.talk = moved(draft.talk, Move.PAUSED)
        draft.say(text or "Paused. Nothing comes until you carry on.", ("Carry on", Quiet(lesson.id, paused=False)))
        return
    draft.change_talk(lesson=lesson.id)
    draft.talk = moved(draft.talk, Move.EMPTIED)
    carry_on(draft, "On we go.")


# --- later -----------------------------------------------------------------------------------------

def later(draft: Draft, request: requests.Later) -> None:
    """`later ben 3 weeks`: the retests of a child, or the one named, are not due before then."""
    book = draft.book_of(request.child)
    skills = [
        skill for skill in book.standings.get(request.child, {})
        if draft.view(request.child, skill).label == "retest" and request.skill in (None, skill)
    ]
    who = draft.called(request.child)
    if not skills:
        draft.say(f"{who} has no retest{' of that' if request.skill else ''} to move.", *of_place(draft))
        return
    to = day_in_zone(draft.club, draft.now) + timedelta(days=request.days)
    for skill in skills:
        draft.record(RetestMoved(request.child, skill, to, draft.sent_at))
        draft.put_standing(request.child, skill, replace(draft.standing(request.child, skill), moved_to=to))
    draft.lesson_of_message = draft.talk.lesson
    day = next_lesson(draft.club, draft.class_(book.class_id), to - timedelta(days=1))
    named = words.names(draft.skill(skill).name for skill in skills)
    draft.say(f"{named}: {who} shows it again on {words.day(day, day_in_zone(draft.club, draft.now))}.",
              *of_place(draft), ("Undo", Undo(draft.message)), question=draft.talk.question)


# --- what a close ends -----------------------------------------------------------------------------

def let_lapse(draft: Draft, lesson: Lesson, shut: LessonClosed) -> None:
    """Tries that had to be finished in this lesson are over."""
    again: list[tuple[str, str]] = []
    for child, of_child in draft.books[lesson.class_id].standings.items():
        for skill, standing in of_child.items():
            if standing.upto is not None and standing.upto >= shut.at:      # it acts before what was marked since
                again.append((child, skill))
                continue
            if standing.lesson != lesson.id or standing.began is None or standing.ticked:
                continue
            after, _ = advance_standing(standing, shut, lambda version, skill=skill: draft.rules(version, skill))  # type: ignore[misc]
            draft.put_standing(child, skill, after)
    if again:
        draft.refold(again)
