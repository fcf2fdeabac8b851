"""A pasted list of children for a class, and ticks that a child held before we knew of her: a coach says so.

A list is shown as it was understood, whole, so that forgetting a child finds it; only a tap adds it. What was held
before counts like any tick; it is kept with its day and who said it, and no family is told.
"""
from __future__ import annotations

from bot.facts import ChildAdded, TickBrought
from bot.fold import fold
from bot.lesson.book import Child
from bot.lesson.timetable import day_in_zone
from bot.people.enrol import day_in_words, like
from bot.talk import requests, words
from bot.talk.draft import Draft
from bot.talk.register import new_id, usual_award
from bot.talk.taps import Enrol, Relist, Undo
from bot.talk.watching import by_a_coach, of_place

FOR_A_COACH = "That is for a coach of the class to say."


def listed(draft: Draft, request: requests.AddTo) -> None:
    """`add to tuesday: …`: what was understood, and the question."""
    if not by_a_coach(draft, FOR_A_COACH):
        return
    of = draft.class_(request.class_id).name
    here, fresh = _sorted(draft, request.class_id, request.names)
    if not fresh:
        draft.say(f"All of them are in {of} already.", *of_place(draft), question=draft.talk.question)
        return
    award = usual_award(draft, request.class_id)
    said = [f"For {of}, {words.count(len(fresh), 'new child', 'new children')} on {draft.award_name(award)}: "
            f"{', '.join(fresh)}."]
    if here:
        said.append(f"There already: {', '.join(here)}.")
    said += [f"{name} is like {near}, who is here. Added, they are two." for name, near in _alike(draft, fresh)]
    draft.say("\n".join(said), (f"Add {len(fresh)}", Enrol(request.class_id, fresh, award)),
              ("Change", Relist(request.class_id)), question=draft.talk.question)


def _sorted(draft: Draft, class_id: str, names: tuple[str, ...]) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """Who is in the class already, as we write them, and who is not, as typed; each once."""
    known = {fold(child.name): child.name for child in draft.books[class_id].children.values()}
    once = {fold(name): name for name in reversed(names)}
    typed = list(reversed(once))
    return tuple(known[one] for one in typed if one in known), tuple(once[one] for one in typed if one not in known)


def _alike(draft: Draft, names: tuple[str, ...]) -> list[tuple[str, str]]:
    """New names that could be a child whom this coach has already."""
    ours = [child for book in draft.books.values() for child in book.children.values()]
    pairs = ((name, next(like(name, ours), None)) for name in names)
    return [(name, near.name) for name, near in pairs if near is not None]


def enrol(draft: Draft, tap: Enrol) -> None:
    """The choice Add: exactly these, but for who came into the class meanwhile."""
    if tap.class_id not in draft.books:
        draft.say("That class is not yours any more.", *of_place(draft))
        return
    if not by_a_coach(draft, FOR_A_COACH):
        return
    _, fresh = _sorted(draft, tap.class_id, tap.names)
    of = draft.class_(tap.class_id).name
    if not fresh:
        draft.say(f"All of them are in {of} already.", *of_place(draft), question=draft.talk.question)
        return
    for name in fresh:
        child = Child(new_id(draft, name), name, tap.class_id, tap.award)
        draft.record(ChildAdded(child.id, name, tap.class_id, tap.award))
        draft.put_child(child.id, child)
    lesson = draft.books[tap.class_id].open_lesson
    draft.lesson_of_message = lesson.id if lesson is not None else None
    count = words.count(len(draft.books[tap.class_id].children), "child", "children")
    draft.say(f"{words.count(len(fresh), 'child', 'children')} added. {of} has {count} now.",
              ("Undo", Undo(draft.message)), *of_place(draft), question=draft.talk.question)


def relist(draft: Draft, tap: Relist) -> None:
    """The choice Change."""
    name = draft.class_(tap.class_id).name.lower() if tap.class_id in draft.books else "the class"
    draft.say(f"Nothing was added. Send the list once more as it should be: add to {name}: and the names, with commas "
              "or on lines of their own.", *of_place(draft), question=draft.talk.question)


def held(draft: Draft, request: requests.Held) -> None:
    """`ava has shoulder stand since may`: a tick that she brought along."""
    if not by_a_coach(draft, FOR_A_COACH):
        return
    today = day_in_zone(draft.club, draft.now)
    first = not draft.club.timezone.startswith("America/")
    on = day_in_words(request.since, today, day_first=first) if request.since else today
    if on is None or on > today:
        draft.say(f"I don't know the day “{request.since[:20]}”, so nothing was recorded. Type it like May 2026, "
                  "or 24.5.2026.", *of_place(draft), question=draft.talk.question)
        return
    name = draft.called(request.child)
    fresh = [one for one in dict.fromkeys(request.skills) if not draft.standing(request.child, one).ticked]
    had = [one for one in dict.fromkeys(request.skills) if one not in fresh]
    draft.record(*(TickBrought(request.child, skill, on, draft.me.id) for skill in fresh))
    draft.refold((request.child, skill) for skill in fresh)
    lesson = draft.book_of(request.child).open_lesson
    draft.lesson_of_message = lesson.id if lesson is not None and fresh else draft.lesson_of_message
    since = f" since {words.date_in_full(on)}" if request.since else ""
    said = [f"{name} has held {_skills(draft, fresh)}{since}. Ticked; no family is told of that."] if fresh else []
    said += [f"{name} had {_skills(draft, had)} ticked already."] if had else []
    undo = [("Undo", Undo(draft.message))] if fresh else []
    draft.say(" ".join(said), *undo, *of_place(draft), question=draft.talk.question)


def _skills(draft: Draft, skills: list[str]) -> str:
    return words.names(words.inside(draft.skill(one).name) for one in skills)
