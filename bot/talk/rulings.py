"""Rulings: what the coaches of the club say of a point, dated, so that all judge it alike. Not a change of the scheme.

The last one on a point stands, on everyone's card; an empty one takes it away. The club's other judges are told once,
before their next class.
"""
from __future__ import annotations

from datetime import date, datetime, timedelta

from bot.facts import Ruling, in_force
from bot.fold import fold
from bot.lesson.timetable import day_in_zone, scheduled_on, starts_at
from bot.people.model import ClubClass
from bot.reminders import BEFORE
from bot.step import Desk, Want
from bot.talk import requests, words
from bot.talk.draft import Draft
from bot.talk.taps import EndRuling, Tap
from bot.talk.watching import by_a_coach, of_place

Choices = list[tuple[str, Tap]]
RULINGS = Want(kind="ruling")
FOR_A_COACH = "A ruling is for a coach of the club to make."
MOST = 8                            # in one message
WORDS_TOO = frozenset([             # first names that a ruling may need as words (common practice, no source)
    "will", "mark", "may", "grace", "hope", "joy", "rose", "faith", "dawn", "art", "drew", "pat", "bill", "rob", "sky",
    "summer", "star", "angel", "max", "ray", "chase", "harmony", "melody", "carol", "miles", "pace", "sunny", "reed",
])
LOOKS_BACK = timedelta(days=90)     # for the class before which somebody was told last: longer than any holiday


def standing(desk: Desk) -> list[Ruling]:
    """The rulings that stand, the latest first."""
    (record,) = desk.facts(RULINGS)
    last = {(one.fact.skill, one.fact.point): one.fact for one in in_force(record) if isinstance(one.fact, Ruling)}
    known = desk.scheme.skills
    found = [one for one in last.values() if one.words and one.skill in known and known[one.skill].point(one.point)]
    return sorted(found, key=lambda one: one.at, reverse=True)


def ruled(draft: Draft) -> list[Ruling]:
    """The rulings that stand, as a step finds them."""
    return standing(draft.desk)


def on_cards(desk: Desk, skill: str) -> dict[str, str]:
    """Point → what was ruled on it, with its date, as it stands on the card of a skill."""
    assert desk.club is not None
    return {
        one.point: f"{one.words} ({_by(desk, one)}{_dated(one.at.astimezone(desk.club.tz).date())})"
        for one in standing(desk) if one.skill == skill
    }


def _by(desk: Desk, one: Ruling) -> str:
    person = desk.people.get(one.by)
    return f"{person.first_name}, " if person is not None else ""


def _dated(day: date) -> str:
    """`24 November 2026`: a ruling may stand for years."""
    return f"{words.date_in_full(day).split(' ', 1)[1]} {day.year}"


def rule(draft: Draft, request: requests.Rule) -> None:
    """`ruling shoulder stand hips: a slight bend of the knee is fine`."""
    if not by_a_coach(draft, FOR_A_COACH):
        return
    if not request.words:
        end(draft, EndRuling(request.skill, request.point))
        return
    named = _child_named(draft, request.words)
    if named:
        draft.say(f"A ruling is about every child, so it names none. Say it without {named}; nothing was recorded.",
                  *of_place(draft), question=draft.talk.question)
        return
    before = next((one for one in ruled(draft) if (one.skill, one.point) == (request.skill, request.point)), None)
    draft.record(Ruling(request.skill, request.point, request.words, draft.me.id, draft.sent_at))
    instead = f" It takes the place of: {before.words}." if before is not None else ""
    draft.say(f"Ruled on {_named(draft, request.skill, request.point)}: {request.words}.{instead} It stands on "
              "everyone's card, and the others who judge here are told before their next class.",
              ("Take it away", EndRuling(request.skill, request.point)), *of_place(draft),
              question=draft.talk.question)


def _child_named(draft: Draft, text: str) -> str:
    """A child's first name in the words; one that is a word too (`will do`) is a name only with its capital."""
    typed = [word.strip(".,;:!?'\"()") for word in text.split()]
    said = {fold(word) for word in typed if word not in WORDS_TOO}
    names = (child.first for book in draft.books.values() for child in book.children.values())
    return next((name for name in names if fold(name) in said), "")


def end(draft: Draft, tap: EndRuling) -> None:
    """The choice Take it away: the point is as it is written again."""
    if not by_a_coach(draft, FOR_A_COACH):
        return
    if tap.skill not in draft.scheme.skills or draft.skill(tap.skill).point(tap.point) is None:
        draft.say("That point is in the scheme no more.", *of_place(draft), question=draft.talk.question)
        return
    draft.record(Ruling(tap.skill, tap.point, "", draft.me.id, draft.sent_at))
    draft.say(f"No ruling on {_named(draft, tap.skill, tap.point)} any more: it is judged as it is written.",
              *of_place(draft), question=draft.talk.question)


def rulings(draft: Draft) -> None:
    """`rulings`: those that stand, each with the choice that takes it away."""
    found = ruled(draft)[:MOST]
    rows = [f"{n}. {_row(draft, one)}" for n, one in enumerate(found, start=1)]
    mine = found if draft.me.role == "coach" else []
    choices: Choices = [
        (words.label(f"Take away {n}"), EndRuling(one.skill, one.point)) for n, one in enumerate(mine, start=1)
    ]
    none = "There is no ruling. A coach makes one like this: ruling cartwheel legs: a soft knee is fine."
    text = "\n".join(rows) or none
    draft.say(text, *choices, *of_place(draft), question=draft.talk.question)


def _named(draft: Draft, skill: str, point: str) -> str:
    which = draft.skill(skill)
    return f"{words.inside(which.name)}, {words.points(which, [point])}"


def _row(draft: Draft, one: Ruling) -> str:
    day = draft.local(one.at).date()
    return f"{draft.skill(one.skill).name}, {words.points(draft.skill(one.skill), [one.point])}: {one.words} " \
           f"({_by(draft.desk, one)}{_dated(day)})."


# --- told once ---------------------------------------------------------------------------------------------

def fresh(draft: Draft, class_id: str, day: date) -> list[str]:
    """Before that class on that day: what others ruled since this person was last told before one."""
    since = _told_last(draft, (class_id, day))
    found = [one for one in ruled(draft) if one.at > since and one.by != draft.me.id]
    return [f"New ruling: {_row(draft, one)}" for one in reversed(found[:3])]


def _told_last(draft: Draft, told_now: tuple[str, date]) -> datetime:
    """Half an hour before the last class of theirs, as far as one was held; not the one before which they are told."""
    today, times = day_in_zone(draft.club, draft.now), [draft.now - LOOKS_BACK]
    for one in draft.own:
        day = today
        while day >= today - LOOKS_BACK:
            before = starts_at(draft.club, one, day) - BEFORE
            if before < draft.now and (one.id, day) != told_now and _is_told(draft, one, day):
                times.append(before)
                break
            day -= timedelta(days=1)
    return max(times)


def _is_told(draft: Draft, one: ClubClass, day: date) -> bool:
    club = draft.club
    if not scheduled_on(one, day) or club.is_closed(day):
        return False
    return draft.me.id in (*club.there(one, "coach", day), *club.there(one, "assistant", day))
