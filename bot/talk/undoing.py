"""Taking back: a message is as if it had never come."""
from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace
from datetime import date, datetime

from bot.facts import (
    AwardMoved,
    ChildAdded,
    ChildNoted,
    CupboardChanged,
    GroupNamed,
    HelperShowed,
    LessonClosed,
    LessonOpened,
    LessonPaused,
    LookAsked,
    Mark,
    NamePrinted,
    NewsReleased,
    PaceReset,
    ReasonGiven,
    Recorded,
    RegisterTaken,
    RetestMoved,
    Ruling,
    TickBrought,
    Voided,
    in_force,
)
from bot.lesson import lesson as lessons
from bot.lesson.book import AwardWay
from bot.lesson.lesson import Lesson
from bot.lesson.line import Line
from bot.lesson.looks import still_told
from bot.lesson.timetable import day_in_zone
from bot.step import Want
from bot.talk import pacing, words
from bot.talk.draft import LATEST, Draft
from bot.talk.marking import RECORDED
from bot.talk.places import Move, moved
from bot.talk.state import Place
from bot.talk.taps import Undo
from bot.talk.watching import carry_on, of_place, suggest

TAKEN_BACK = (Mark, RegisterTaken, ChildNoted, LessonClosed, AwardMoved, GroupNamed, ChildAdded, RetestMoved,
              HelperShowed, NewsReleased, PaceReset, CupboardChanged, NamePrinted, Ruling, LookAsked, TickBrought)
SENT = " Some of it was sent already: where that was a slip, take the mark back too, and the family is told so."


def last(draft: Draft) -> None:
    """`undo`: the sender's last message of this lesson that is not taken back yet."""
    if draft.talk.just_skipped and draft.talk.skipped:
        _skip_not(draft)
        return
    kept = [one for one in in_force(_mine(draft)) if isinstance(one.fact, TAKEN_BACK) and _by_hand(one)]
    risen = _risen(draft, kept)
    standing = [one for one in kept if (not _aside(one) or one.message in risen) and not _later(one, draft.sent_at)]
    if not standing:
        draft.say("There is nothing of yours to take back in this lesson.", *of_place(draft))
        return
    target = max(standing, key=lambda one: one.seq).message
    day = _day_of(draft, [one for one in kept if one.message == target])
    if day is not None and day < day_in_zone(draft.club, draft.sent_at):
        _ask_first(draft, target, day)
        return
    _take_back(draft, target)


def _mine(draft: Draft) -> tuple[Recorded, ...]:
    """What the sender recorded in the lesson that they are in, and in the one of which their last message was."""
    lesson = draft.lesson_then()
    where = lesson.id if lesson is not None else draft.talk.lesson
    of = dict.fromkeys(one for one in (where, draft.talk.marked_in) if one)     # on paper, that of another day
    wants = [Want(by=draft.me.id, lesson=one) for one in of] or [Want(by=draft.me.id)]
    found = {one.seq: one for record in draft.desk.facts(*wants) for one in record}
    return tuple(found[seq] for seq in sorted(found))


def _day_of(draft: Draft, mine: Iterable[Recorded]) -> date | None:
    """When a message was sent, as far as what it recorded says so."""
    times = [at for one in mine if (at := getattr(one.fact, "sent_at", None) or getattr(one.fact, "at", None))]
    days = [one.fact.on for one in mine if isinstance(one.fact, AwardMoved)]
    return max((*(day_in_zone(draft.club, at) for at in times), *days), default=None)


def _ask_first(draft: Draft, target: str, day: date) -> None:
    """Nobody who types `undo` thinks of what was days ago."""
    (record,) = draft.desk.facts(Want(message=target))
    what = words.names(dict.fromkeys(_what(draft, [one for one in record if one.message == target])))
    said = f": {what}" if what else ""
    draft.say(f"The last of yours was on {words.date_in_full(day)}{said}. Take that back?",
              ("Take it back", Undo(target)), *of_place(draft), question=draft.talk.question)


def _skip_not(draft: Draft) -> None:
    """The skill that was put off just now is not put off."""
    *others, skill = draft.talk.skipped
    draft.change_talk(skipped=tuple(others), just_skipped=False, lines=(), suggested=None)
    suggest(draft, f"{draft.skill(skill).name} is not put off any more.", only=skill)


def _aside(one: Recorded) -> bool:
    return isinstance(one.fact, Mark) and one.fact.aside


def _later(one: Recorded, sent_at: datetime) -> bool:
    """Was it sent after that? An undo that comes late is about none of it."""
    sent = one.fact.sent_at if isinstance(one.fact, Mark) else getattr(one.fact, "at", None)
    return sent is not None and sent > sent_at


def sent_later(draft: Draft, target: str) -> bool:
    """Was that message sent after this one, which came late?"""
    (record,) = draft.desk.facts(Want(message=target))
    return any(_later(one, draft.sent_at) for one in record if one.message == target)


def _risen(draft: Draft, kept: Iterable[Recorded]) -> set[str]:
    """The messages of marks that changed nothing when they came, and do since another came before them."""
    asides = {one.fact.id: one for one in kept if isinstance(one.fact, Mark) and one.fact.aside}
    pairs = [(one.fact.child, one.fact.skill) for one in asides.values() if isinstance(one.fact, Mark)]
    outcomes = draft.refold(pairs) if pairs else {}
    return {one.message for key, one in asides.items() if outcomes.get(key) in RECORDED}


def _by_hand(one: Recorded) -> bool:
    return not (isinstance(one.fact, LessonClosed) and not one.fact.by)


def message(draft: Draft, target: str) -> None:
    """The choice Undo: exactly that message."""
    (record,) = draft.desk.facts(Want(message=target))
    if not any(isinstance(one.fact, TAKEN_BACK) for one in in_force(record)):
        draft.say("That was taken back already.", *of_place(draft))
        return
    _take_back(draft, target)


def _take_back(draft: Draft, target: str) -> None:
    (record,) = draft.desk.facts(Want(message=target))
    mine = [one for one in record if one.message == target]
    refused = _cannot(draft, mine)
    if refused:
        draft.say(refused, *of_place(draft))
        return
    before = draft.lesson(_lesson_of(mine))
    draft.record(Voided(target, undo=True))
    draft.lesson_of_message = _lesson_of(mine) or draft.talk.lesson
    touched = _lessons(draft, mine)
    _pairs(draft, mine, touched)
    pacing.untime(draft, mine, target)
    for one in mine:
        _others(draft, one)
    _back_in(draft, before)
    _stands_again(draft, mine)
    spoken_of = [one for one in mine if not _aside(one)] or mine
    what = words.names(dict.fromkeys(_what(draft, spoken_of)))
    told = any(isinstance(one.fact, NewsReleased) and _was_told(draft, one.fact.lesson) for one in mine)
    carry_on(draft, (f"Taken back: {what}." if what else "Taken back.") + (SENT if told else ""))


def _was_told(draft: Draft, lesson: str) -> bool:
    """Did a family hear of a tick of that lesson?"""
    known = draft.lesson(lesson)
    book = draft.books[known.class_id] if known is not None else None
    return book is not None and any(
        book.standing(child, key).lesson == lesson
        for child, contacts in book.contacts.items() for one in contacts.values() for key in one.told
    )


def _cannot(draft: Draft, mine: Iterable[Recorded]) -> str | None:
    for one in mine:
        fact = one.fact
        if isinstance(fact, ChildAdded) and draft.knows(fact.child) and draft.standings_of(fact.child):
            return f"{draft.called(fact.child)} has marks; take those back first."
    return None


def _lesson_of(mine: Iterable[Recorded]) -> str | None:
    return next((found for one in mine if (found := getattr(one.fact, "lesson", None)) is not None), None)


def _lessons(draft: Draft, mine: list[Recorded]) -> set[str]:
    """Fold the lessons anew that the message said something of. Returns those whose close was taken back."""
    kinds = (RegisterTaken, ChildNoted, LessonClosed, LessonOpened, LessonPaused, HelperShowed, NewsReleased, Mark,
             LookAsked)
    ids = dict.fromkeys(one.fact.lesson for one in mine if isinstance(one.fact, kinds))
    wanted = [one for one in ids if draft.lesson(one) is not None]
    records = draft.desk.facts(*(Want(lesson=one) for one in wanted))
    reopened: set[str] = set()
    for lesson_id, record in zip(wanted, records, strict=True):
        void = Recorded(LATEST, draft.message, draft.facts[-1])
        after = lessons.fold((*record, void))
        known = draft.lesson(lesson_id)
        assert known is not None
        if after is not None:
            looks = still_told(after.looks, known.looks)
            draft.put_lesson(replace(after, lines=known.lines, watched=known.watched, looks=looks))
        if any(isinstance(one.fact, LessonClosed) and one.fact.lesson == lesson_id for one in mine):
            reopened.add(lesson_id)
    return reopened


def _pairs(draft: Draft, mine: list[Recorded], reopened: set[str]) -> None:
    """Fold anew what the message's marks touched, and what a close that is taken back had ended."""
    kinds = (Mark, ReasonGiven, RetestMoved, TickBrought)
    pairs = [(one.fact.child, one.fact.skill) for one in mine if isinstance(one.fact, kinds)]
    for book in draft.books.values():
        for child, of_child in book.standings.items():
            pairs += [(child, skill) for skill, one in of_child.items() if one.lesson in reopened and not one.ticked]
    if pairs:
        draft.refold(pairs)


def _others(draft: Draft, one: Recorded) -> None:
    """Groups, awards and children of the message go back to what they were before."""
    fact = one.fact
    void = Recorded(LATEST, draft.message, draft.facts[-1])
    if isinstance(fact, GroupNamed) and fact.class_id in draft.books:
        (record,) = draft.desk.facts(Want(class_id=fact.class_id, kind="group"))
        kept = [r.fact for r in in_force((*record, void))]
        named = [known for known in kept if isinstance(known, GroupNamed) and known.name == fact.name]
        draft.put_group(fact.class_id, fact.name, named[-1].children if named else None)
    elif isinstance(fact, AwardMoved) and draft.knows(fact.child):
        (record,) = draft.desk.facts(Want(child=fact.child, kind="award"))
        kept = [r.fact for r in in_force((*record, void))]
        ways = [known for known in kept if isinstance(known, AwardMoved) and known.award == fact.award]
        draft.put_award(fact.child, fact.award, _way(ways[-1]) if ways else None)
    elif isinstance(fact, ChildAdded) and draft.knows(fact.child):
        draft.put_child(fact.child, None)
    elif isinstance(fact, PaceReset) and fact.class_id in draft.books:
        (record,) = draft.desk.facts(Want(class_id=fact.class_id, kind="pace"))
        pacing.count_since(draft, fact.class_id, in_force((*record, void)))


def _way(moved_to: AwardMoved) -> AwardWay | None:
    return None if moved_to.to == "dropped" else AwardWay(moved_to.to, moved_to.on)


def _back_in(draft: Draft, before: Lesson | None) -> None:
    """The talk goes back into a lesson whose close, or whose register, was taken back."""
    lesson = draft.lesson(before.id) if before is not None else None
    if lesson is None or not lesson.is_open:
        return
    mine = draft.lesson(draft.talk.lesson)
    if mine is not None and mine.is_open and mine.opened_at > draft.sent_at:
        return                      # it came late: they are in another lesson since
    if before is not None and not before.is_open:
        draft.change_talk(lesson=lesson.id)
        draft.talk = moved(draft.talk, Move.EMPTIED)
    if before is not None and before.registered and not lesson.registered:
        draft.change_talk(lesson=lesson.id, suggested=None, lines=())
        draft.talk = moved(draft.talk, Move.OPENED)
    elif draft.talk.place is Place.GAP:
        draft.change_talk(suggested=None)


def _stands_again(draft: Draft, mine: Iterable[Recorded]) -> None:
    """A line whose answer was taken back stands there again, in the place of whatever was put up since."""
    marks = [one.fact for one in mine if isinstance(one.fact, Mark) and one.fact.asked_at is not None]
    lesson = draft.lesson(draft.talk.lesson)
    if not marks or lesson is None or not lesson.is_open or marks[0].lesson != lesson.id or marks[0].show is None:
        return
    first = marks[0]
    asked_at, show = first.asked_at, first.show
    assert asked_at is not None
    assert show is not None
    children = tuple(mark.child for mark in marks if mark.skill == first.skill)
    line = Line(lesson.id, first.skill, show, children, asked_at)
    older = tuple(one for one in draft.talk.lines if one.asked_at < first.sent_at and one.asked_at != asked_at)
    unnumbered = tuple(child for child in children if child not in draft.talk.stood)     # it was answered unseen
    draft.change_talk(lines=(line, *older), suggested=None, turned=first.skill, stood=draft.talk.stood + unnumbered)
    if draft.talk.place is not Place.OUTSIDE:
        draft.talk = moved(draft.talk, Move.STOOD)


def _what(draft: Draft, mine: Iterable[Recorded]) -> Iterable[str]:
    marks: dict[tuple[str, str], list[str]] = {}
    for one in mine:
        if isinstance(one.fact, Mark) and draft.knows(one.fact.child):
            marks.setdefault((one.fact.skill, one.fact.verdict), []).append(draft.called(one.fact.child))
    for (skill, verdict), who in marks.items():
        yield f"{words.names(dict.fromkeys(who))} {verdict} ({draft.skill(skill).name.lower()})"
    from_cupboard = any(isinstance(one.fact, CupboardChanged) and one.fact.count < 0 for one in mine)
    for one in mine:
        fact = one.fact
        if isinstance(fact, RegisterTaken):
            yield "who is here"
        elif isinstance(fact, ChildNoted) and draft.knows(fact.child):
            yield f"{draft.called(fact.child)} {_NOTED[fact.what]}"
        elif isinstance(fact, LessonClosed):
            yield "the close"
        elif isinstance(fact, AwardMoved):
            yield _STEPS["sent" if from_cupboard else fact.to]
        elif isinstance(fact, CupboardChanged) and fact.counted:
            yield "the count of the cupboard"
        elif isinstance(fact, NamePrinted):
            yield "the printed names"
        elif isinstance(fact, GroupNamed):
            yield f"the group {fact.name}"
        elif isinstance(fact, ChildAdded):
            yield fact.name
        elif isinstance(fact, TickBrought) and draft.knows(fact.child):
            yield f"{draft.called(fact.child)} holding {words.inside(draft.skill(fact.skill).name)}"
        elif isinstance(fact, RetestMoved):
            yield "the later retest"
        elif isinstance(fact, HelperShowed):
            yield "what was shown"
        elif isinstance(fact, NewsReleased):
            yield "the word on the news"
        elif isinstance(fact, PaceReset):
            yield "the new beginning of the pace"
        elif isinstance(fact, Ruling):
            yield "the ruling"
        elif isinstance(fact, LookAsked):
            yield "the second look asked for"


_STEPS = {"ordered": "the order", "sent": "the ordering", "arrived": "what has come",
          "presented": "the handing over", "dropped": "the taking off"}
_NOTED = {"away": "away", "here": "here", "sits": "sits out", "back": "back", "leaves": "leaves early",
          "spared": "spared", "bump": "looked after"}
