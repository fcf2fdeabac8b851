"""News for families, in words; and the coach's word at the close, without which none goes.

What lives here: counting up what would go, showing it, holding it, composing it. When it goes and what it may hold is
decided in `bot/news.py`.
"""
from __future__ import annotations

from collections.abc import Iterable
from datetime import date

from bot.facts import NewsReleased, NewsTold
from bot.frozen import replace
from bot.lesson.book import Changes, ClassBook, Contact
from bot.lesson.lesson import Lesson
from bot.lesson.timetable import day_in_zone
from bot.marks.awards import earned
from bot.news import AFTER_CLOSE, AWARD, TOO_OLD, News, news
from bot.people.model import Person
from bot.people.quiet import not_in_quiet
from bot.scheme.home import all_loads, home_rule
from bot.talk import words
from bot.talk.draft import Draft
from bot.talk.lessons import apply
from bot.talk.state import Question
from bot.talk.taps import Hold, Release, ShowNews, Tap, Undo, WhomToHold
from bot.talk.watching import of_place

Choices = list[tuple[str, Tap]]
SHOWN = 8       # families whose news is shown in one message


# --- the coach's word --------------------------------------------------------------------------------------

def at_close(draft: Draft, lesson: Lesson) -> tuple[str, Choices]:
    """What is said of news when a lesson is closed, and the choices; nothing where no family would hear."""
    going = _going(draft, lesson)
    waiting = _waiting(draft, lesson)
    if not going and not waiting:
        return "", []
    text = ""
    if going:
        text = f"News for {_families(going)} {_when(draft, going)}."
    if waiting:
        text = f"{text} {waiting}".strip()
    return text, _choices(lesson, bool(going))


def _choices(lesson: Lesson, going: bool) -> Choices:
    first: Choices = [("Send as usual", Release(lesson.id)), ("Show me", ShowNews(lesson.id))] if going else []
    return [*first, ("Hold some", WhomToHold(lesson.id))]


def release(draft: Draft, tap: Release) -> None:
    """Send as usual: what is held stays held."""
    lesson = draft.lesson(tap.lesson)
    if lesson is None:
        draft.say("That lesson is not yours any more.", *of_place(draft))
        return
    _say_of(draft, lesson, lesson.held, lesson.freed, word=True)


def _say_of(
    draft: Draft, lesson: Lesson, held: Iterable[str], freed: Iterable[str], *, word: bool
) -> None:
    """Record whose news waits, and with `word` that the others' goes; say what comes of it."""
    said = NewsReleased(lesson.id, draft.me.id, draft.sent_at, tuple(sorted(held)), tuple(sorted(freed)), word)
    after = apply(draft, said, lesson.id)
    going = _going(draft, after)
    if after.released_at is not None:
        text = f"News goes to {_families(going)} {_when(draft, going)}." if going else "There is no other news."
        choices: Choices = [("Hold some", WhomToHold(lesson.id))] if going else []
    elif after.is_open:
        text, choices = "You are asked about the other news when the lesson is closed.", []
    elif going:
        text, choices = f"News for {_families(going)} still waits for your word.", _choices(after, going=True)
    else:
        text, choices = "No other news waits.", []
    draft.say(f"{_waiting(draft, after)} {text}".strip(), *choices, ("Undo", Undo(draft.message)), *of_place(draft))


def show(draft: Draft, tap: ShowNews) -> None:
    """What each family would read, a child once however many hear of her."""
    lesson = draft.lesson(tap.lesson)
    going = _going(draft, lesson) if lesson is not None else []
    if lesson is None or not going:
        draft.say("There is no news of that lesson.", *of_place(draft))
        return
    texts = {child: compose(draft, child, contact, fresh) for child, _, contact, fresh in going}
    draft.shows("news", list(texts)[:SHOWN])
    more = f"\nAnd {len(texts) - SHOWN} more." if len(texts) > SHOWN else ""
    draft.say("\n".join(list(texts.values())[:SHOWN]) + more, ("Send as usual", Release(lesson.id)),
              ("Hold some", WhomToHold(lesson.id)))


def whom(draft: Draft, tap: WhomToHold) -> None:
    """Hold some: whose?"""
    lesson = draft.lesson(tap.lesson)
    if lesson is None:
        draft.say("That lesson is not yours any more.", *of_place(draft))
        return
    children = _concerned(draft, lesson)
    choices: Choices = [
        (words.label(f"{'Release' if child in lesson.news_waits else 'Hold'} {draft.called(child)}"),
         Hold(lesson.id, child, child not in lesson.news_waits))
        for child in children
    ]
    draft.say("Whose news waits? Type the names, or tap one after the other; the others go as usual.", *choices,
              ("Send as usual", Release(lesson.id)), question=Question("hold", draft.next_seq(), lesson=lesson.id))


def _concerned(draft: Draft, lesson: Lesson) -> list[str]:
    """The children of whom there is news of this lesson, or whose news waits."""
    return list(dict.fromkeys([*(child for child, *_ in _going(draft, lesson)), *_held(draft, lesson)]))


def hold(draft: Draft, lesson_id: str, children: tuple[str, ...], *, held: bool) -> None:
    """The answer to whose news waits: theirs does, or does no more, and the others' goes as usual."""
    lesson = draft.lesson(lesson_id)
    if lesson is None:
        draft.say("That lesson is not yours any more.", *of_place(draft))
        return
    without = [child for child in children if child not in _concerned(draft, lesson)]
    if without:
        draft.say(f"There is no news of {words.names(map(draft.called, without))}, so nothing was changed.",
                  *_choices(lesson, going=True), question=draft.talk.question)
        return
    _say_of(draft, lesson, *_held_then(lesson, children, held=held), word=True)


def _held_then(lesson: Lesson, children: Iterable[str], *, held: bool) -> tuple[frozenset[str], frozenset[str]]:
    """Who is held, and who is freed, once these are."""
    these = frozenset(children)
    return (lesson.held | these, lesson.freed - these) if held else (lesson.held - these, lesson.freed | these)


def typed(draft: Draft, children: tuple[str, ...], *, held: bool) -> None:
    """`hold news ava`, `release ava`: of the class's last lesson. That is no word on the others."""
    by_lesson: dict[str, list[str]] = {}
    for child in children:
        lessons = draft.book_of(child).lessons
        concerned = [one for one in lessons.values() if held or child in one.news_waits] or list(lessons.values())
        if concerned:
            by_lesson.setdefault(max(concerned, key=lambda one: one.day).id, []).append(child)
    if not by_lesson:
        draft.say("There was no lesson yet, so there is no news to hold.", *of_place(draft))
        return
    for lesson_id, some in by_lesson.items():
        lesson = draft.lesson(lesson_id)
        assert lesson is not None
        _say_of(draft, lesson, *_held_then(lesson, some, held=held), word=False)
    if len(by_lesson) > 1:
        draft.say_once()


def _last_closed(draft: Draft, books: Iterable[ClassBook]) -> Lesson | None:
    """The last lesson that is closed, and no older than news may be; of that day's, the one this person was in."""
    since = day_in_zone(draft.club, draft.now) - TOO_OLD
    lessons = (one for book in books for one in book.lessons.values())
    closed = [one for one in lessons if not one.is_open and one.day >= since]
    return max(closed, key=lambda one: (one.day, one.id == draft.talk.lesson), default=None)


def asked_for(draft: Draft, what: str) -> None:
    """`news`, `send as usual`, `hold some`, typed whenever."""
    lesson = _last_closed(draft, draft.books.values())
    if lesson is None:
        draft.say("No lesson is closed of which there could be news.", *of_place(draft), question=draft.talk.question)
    elif what == "send news":
        release(draft, Release(lesson.id))
    elif what == "hold some":
        whom(draft, WhomToHold(lesson.id))
    else:
        show(draft, ShowNews(lesson.id))


def still_unsaid(draft: Draft) -> tuple[str, Choices]:
    """The news on which a word is still to be said after another question of the close was answered."""
    lesson = draft.lesson(draft.talk.lesson)
    today = day_in_zone(draft.club, draft.now)
    if lesson is None or lesson.is_open or lesson.released_at is not None or lesson.day != today:
        return "", []
    return at_close(draft, lesson)


def unsaid(draft: Draft, class_id: str) -> tuple[str, Choices]:
    """News of a class's last lesson on which no coach said a word yet, while it can still go; else nothing."""
    lesson = _last_closed(draft, [draft.books[class_id]])
    going = _going(draft, lesson) if lesson is not None and lesson.released_at is None else []
    if lesson is None or not going:
        return "", []
    text = f"News for {_families(going)} of {words.date_in_full(lesson.day)} waits for your word."
    return text, [("Send as usual", Release(lesson.id)), ("Show me", ShowNews(lesson.id))]


# --- what would go -------------------------------------------------------------------------------------------

Going = list[tuple[str, str, Contact, News]]       # child, parent, contact, what is new


def _going(draft: Draft, lesson: Lesson) -> Going:
    """What would go were this lesson released now. What puts an error right goes without a word, and is not counted."""
    book = draft.books[lesson.class_id]
    shut = lesson if lesson.released_at is not None else replace(lesson, released_at=draft.now)
    supposed = book.with_changes(Changes(lessons={lesson.id: shut}))
    found = (
        (child, parent, contact, news(supposed, child, contact, draft.club, draft.now))
        for child, contacts in book.contacts.items() for parent, contact in contacts.items()
    )
    return [
        (child, parent, contact, fresh)
        for child, parent, contact, fresh in found if fresh is not None and (fresh.skills or fresh.awards)
    ]


def _held(draft: Draft, lesson: Lesson) -> list[str]:
    """The children of this lesson whose families would hear, but that somebody is to say so first."""
    contacts = draft.books[lesson.class_id].contacts
    return [child for child in contacts if child in lesson.news_waits]


def _waiting(draft: Draft, lesson: Lesson) -> str:
    held = _held(draft, lesson)
    if not held:
        return ""
    names = words.names(map(draft.called, held))
    return f"Nothing of {names} goes until you release it."


def _families(going: Going) -> str:
    return words.count(len({(child, parent) for child, parent, *_ in going}), "family", "families")


def _when(draft: Draft, going: Going) -> str:
    first = not_in_quiet(draft.club, max(min(fresh.due_at for *_, fresh in going), draft.now + AFTER_CLOSE))
    local, today = draft.local(first), day_in_zone(draft.club, draft.now)
    day = "" if local.date() == today else f"on {words.day(local.date(), today)} "
    return f"{day}at {local:%H:%M}"


# --- what a family reads ---------------------------------------------------------------------------------------

def compose(draft: Draft, child: str, contact: Contact, fresh: News) -> str:
    """News of one child: what a coach saw; never what is missing, never another child."""
    name = draft.child(child).first
    said = [*_seen(draft, child, name, fresh.skills), *_awards(draft, child, name, fresh)]
    said += [f"A correction: we wrote that {name} had shown {_the(draft, wrong)}, and that was a slip of ours. "
             f"{name} is still working on it." for wrong in fresh.wrong if not wrong.startswith(AWARD)]
    said += [f"A correction: we wrote that {name} was given {draft.award_name(wrong.removeprefix(AWARD))}, "
             "and that was a slip of ours. Your coach can tell you more."
             for wrong in fresh.wrong if wrong.startswith(AWARD)]
    said += _at_home(draft, child, fresh.skills)
    if not contact.told:
        said.append("Write STOP and nothing more is sent.")
    return " ".join(said)


def _seen(draft: Draft, child: str, name: str, skills: Iterable[str]) -> Iterable[str]:
    """`Jo saw Noor do the waltz turn today.`, one sentence for each coach and day."""
    together: dict[tuple[str, date], list[str]] = {}
    for skill in skills:
        standing = draft.standing(child, skill)
        if standing.last is not None and standing.ticked_on is not None:
            together.setdefault((standing.last.by, standing.ticked_on), []).append(skill)
    for (by, on), seen in together.items():
        coach = draft.desk.people.get(by)
        who = coach.first_name if coach is not None else "A coach"
        yield f"{who} saw {name} do {words.names(_the(draft, skill) for skill in seen)} {_day(draft, on)}."


def _awards(draft: Draft, child: str, name: str, fresh: News) -> Iterable[str]:
    for award in fresh.awards:
        way = draft.book_of(child).awards.get(child, {}).get(award)
        on = "" if way is None else f" {_day(draft, way.on)}"
        yield f"{name} was given the {draft.award_name(award)} award{on}. Well done!"
    if draft.club.tell_awards == "earned":
        for award in _won_with(draft, child, fresh.skills):
            yield f"With that {name} has earned {draft.award_name(award)}. Well done!"


def _won_with(draft: Draft, child: str, skills: Iterable[str]) -> list[str]:
    """The awards that these ticks completed."""
    standings, new = draft.standings_of(child), set(skills)
    without = {skill: one for skill, one in standings.items() if skill not in new}
    before = earned(without, draft.scheme, draft.scheme_of)
    return [award for award in earned(standings, draft.scheme, draft.scheme_of) if award not in before]


def _at_home(draft: Draft, child: str, skills: Iterable[str]) -> Iterable[str]:
    """What is safe at home: conditions are always said, and nothing that loads what the child was spared."""
    spared = _spared(draft, child)
    rules: dict[str, list[str]] = {}
    for skill in map(draft.skill, skills):
        rule = "no" if spared.intersection(all_loads(draft.scheme, skill)) else home_rule(draft.scheme, skill)
        if rule is not None:
            rules.setdefault(rule, []).append(_the(draft, skill.id))
    for rule, several in rules.items():
        if rule == "no":
            yield f"Please keep {words.names(several)} for the hall."
        else:
            yield f"At home {words.names(several)} only {rule.rstrip('.')}."


def _spared(draft: Draft, child: str) -> frozenset[str]:
    book = draft.book_of(child)
    today = day_in_zone(draft.club, draft.now)
    in_lessons = {
        load for lesson in book.lessons.values() if (today - lesson.day).days <= 7
        for load in lesson.spared.get(child, ())
    }
    return book.agreed_for(child).spared_on(today) | in_lessons


def _the(draft: Draft, skill: str) -> str:
    known = draft.scheme.skills.get(skill)
    return f"the {words.inside(known.name if known is not None else skill)}"


def _day(draft: Draft, on: date) -> str:
    today = day_in_zone(draft.club, draft.now)
    if on == today:
        return "today"
    return f"on {words.weekday(on)}" if (today - on).days < 7 else f"on {words.date_in_full(on)}"


# --- telling -----------------------------------------------------------------------------------------------------

def tell(draft: Draft, child: str) -> None:
    """Send a parent what is new of one child now, and remember that it was."""
    me: Person = draft.me
    contact = draft.book_of(child).contacts.get(child, {}).get(me.id) if draft.knows(child) else None
    fresh = news(draft.book_of(child), child, contact, draft.club, draft.now) if contact is not None else None
    if contact is None or fresh is None or not (fresh.skills or fresh.awards or fresh.wrong):
        return
    draft.say(compose(draft, child, contact, fresh), question=draft.talk.question)
    new = (*fresh.skills, *(AWARD + award for award in fresh.awards))
    today = day_in_zone(draft.club, draft.now)
    draft.record(NewsTold(child, me.id, today, new, fresh.wrong))
    told = tuple(key for key in dict.fromkeys((*contact.told, *new)) if key not in fresh.wrong)
    draft.put_contact(child, me.id, replace(contact, told=told, told_on=today))
