"""The lesson in the talk: opening it, who is here, groups, silence, closing it."""
from __future__ import annotations

from dataclasses import replace
from datetime import UTC, date, datetime, timedelta

from bot.facts import (
    AwardMoved,
    Fact,
    LessonClosed,
    LessonOpened,
    LessonPaused,
    Mark,
    RetestMoved,
    in_force,
)
from bot.lesson.book import AwardWay
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
from bot.step import Want
from bot.talk import requests, telling, words
from bot.talk.draft import Draft
from bot.talk.marking import typed
from bot.talk.places import Move, moved
from bot.talk.state import Place, Question
from bot.talk.taps import Leave, Open, Order, Quiet, Tap, Undo
from bot.talk.watching import carry_on, come_in, done, of_place, register_choices, suggest

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
    own = draft.club.classes_of(draft.me.id)
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
    choices: Choices = [(words.label(one.name), Open(one.id)) for one in (found or own)[:8]]
    text = "Which class?" if found else "None of your classes is on now. Which one do you take?"
    draft.say(text, *choices, question=Question("class", draft.next_seq()))


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
        _let_lapse(draft, lesson, shut)
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


# --- closing ---------------------------------------------------------------------------------------

def close(
    draft: Draft, lesson_id_: str | None, *, by: str | None = None, at: datetime | None = None, head: str = ""
) -> None:
    """Close a lesson at once, and say what it came to. `by` is empty where it closes by itself."""
    lesson = draft.lesson(lesson_id_) if lesson_id_ is not None else draft.open_lesson()
    if lesson is None or not lesson.is_open:
        draft.say("No lesson of yours is open.", *of_place(draft))
        return
    shut = LessonClosed(lesson.id, draft.me.id if by is None else by, at or draft.sent_at)
    apply(draft, shut, lesson.id)
    _let_lapse(draft, lesson, shut)
    draft.change_talk(lesson=lesson.id, lines=(), suggested=None, turned=None)
    draft.talk = moved(draft.talk, Move.CLOSED)
    text, won = _summary(draft, lesson)
    text = head + text
    undo: Choices = [("Undo", Undo(draft.message))] if shut.by else []
    if not won:
        draft.say(text, *undo)
        return
    who = words.names(f"{draft.called(child)} has earned {_award_name(draft, award)}" for child, award in won)
    draft.say(f"{text}\n{who}. Put {'it' if len(won) == 1 else 'them'} on the order?", ("Yes", Order(won)),
              ("Not now", Leave((), "not now")), *undo, question=Question("order", draft.next_seq()))


def _let_lapse(draft: Draft, lesson: Lesson, shut: LessonClosed) -> None:
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


def _summary(draft: Draft, lesson: Lesson) -> tuple[str, tuple[tuple[str, str], ...]]:
    """What a lesson came to, and the awards that were earned in it and are on no order yet."""
    (record,) = draft.desk.facts(Want(lesson=lesson.id, kind="mark"))
    looks = sum(isinstance(one.fact, Mark) and not one.fact.aside for one in in_force(record))
    ticked, again = 0, 0
    second: list[str] = []      # first shown, and not again
    begun: list[str] = []       # one leg or part seen, and not the other
    won: list[tuple[str, str]] = []
    book = draft.books[lesson.class_id]
    for child, of_child in book.standings.items():
        mine = {key: one for key, one in of_child.items() if one.lesson == lesson.id}
        ticked += sum(one.ticked for one in mine.values())
        again += sum(one.retest_from is not None and not one.ticked for one in mine.values())
        for key, lost in mine.items():
            if lost.lapsed and not lost.ticked:
                (second if len(draft.skill(key).shows) == 2 else begun).append(child)
        award = book.children[child].award
        if any(one.ticked for one in mine.values()) and done(draft, child) and award not in book.awards.get(child, {}):
            won.append((child, award))
    one = draft.class_(lesson.class_id)
    on = words.day(next_lesson(draft.club, one, lesson.day), lesson.day)
    text = f"{words.count(looks, 'look')}, {words.count(ticked, 'tick')}, {words.count(again, 'retest')} for {on}."
    for head, children in (("Second show not seen", second), ("Begun and not finished", begun)):
        if children:
            text += f" {head}: {words.names(dict.fromkeys(map(draft.called, children)))}."
    return text, tuple(won)


def _award_name(draft: Draft, award: str) -> str:
    found = draft.scheme.award_by_id(award)
    return found.name if found is not None else award


def order(draft: Draft, tap: Order) -> None:
    """Put awards on the order."""
    today = day_in_zone(draft.club, draft.now)
    put = []
    for child, award in tap.awards:
        if not draft.knows(child) or award in draft.book_of(child).awards.get(child, {}):
            continue
        draft.record(AwardMoved(child, award, "ordered", today))
        draft.put_award(child, award, AwardWay("ordered", today))
        put.append(f"{_award_name(draft, award)} for {draft.called(child)}")
    draft.lesson_of_message = draft.talk.lesson
    if put:
        draft.say(f"On the order: {words.names(put)}.", ("Undo", Undo(draft.message)), *of_place(draft))
    else:
        draft.say("That is on the order already.", *of_place(draft))


