"""News for families, in words; and the coach's word at the close, without which none goes.

What lives here: counting up what would go, showing it, holding it, composing it. When it goes and what it may hold is
decided in `bot/news.py`.
"""
from __future__ import annotations

from collections.abc import Iterable
from datetime import date

from bot.facts import NewsReleased, NewsTold
from bot.frozen import replace
from bot.lesson.book import Changes, Contact
from bot.lesson.lesson import Lesson
from bot.lesson.timetable import day_in_zone
from bot.marks.awards import earned
from bot.news import AFTER_CLOSE, AWARD, TOO_OLD, News, news
from bot.people.model import Person
from bot.scheme.home import all_loads, home_rule
from bot.scheme.model import Award, Scheme
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
    _released(draft, lesson, tuple(lesson.held), tuple(lesson.freed))


def _released(draft: Draft, lesson: Lesson, held: tuple[str, ...], freed: tuple[str, ...]) -> None:
    word = NewsReleased(lesson.id, draft.me.id, draft.sent_at, tuple(sorted(held)), tuple(sorted(freed)))
    after = apply(draft, word, lesson.id)
    going = _going(draft, after)
    text = f"News goes to {_families(going)} {_when(draft, going)}." if going else "Then no news goes."
    draft.say(f"{text} {_waiting(draft, after)}".strip(), ("Undo", Undo(draft.message)),
              ("Hold some", WhomToHold(lesson.id)), *of_place(draft))


def show(draft: Draft, tap: ShowNews) -> None:
    """What each family would read, a child once however many hear of her."""
    lesson = draft.lesson(tap.lesson)
    going = _going(draft, lesson) if lesson is not None else []
    if lesson is None or not going:
        draft.say("There is no news of that lesson.", *of_place(draft))
        return
    texts = {child: compose(draft, child, contact, fresh) for child, _, contact, fresh in going}
    more = f"\nAnd {len(texts) - SHOWN} more." if len(texts) > SHOWN else ""
    draft.say("\n".join(list(texts.values())[:SHOWN]) + more, ("Send as usual", Release(lesson.id)),
              ("Hold some", WhomToHold(lesson.id)))


def whom(draft: Draft, tap: WhomToHold) -> None:
    """Hold some: whose?"""
    lesson = draft.lesson(tap.lesson)
    if lesson is None:
        draft.say("That lesson is not yours any more.", *of_place(draft))
        return
    children = dict.fromkeys([*(child for child, *_ in _going(draft, lesson)), *_held(draft, lesson)])
    choices: Choices = [
        (words.label(f"{'Release' if child in lesson.news_waits else 'Hold'} {draft.called(child)}"),
         Hold(lesson.id, child, child not in lesson.news_waits))
        for child in children
    ]
    draft.say("Whose news waits? Type the names, or tap one after the other; the others go as usual.", *choices,
              question=Question("hold", draft.next_seq(), lesson=lesson.id))


def hold(draft: Draft, lesson_id: str, children: tuple[str, ...], *, held: bool) -> None:
    """The news of these children waits, or waits no more; the others' goes as usual."""
    lesson = draft.lesson(lesson_id)
    if lesson is None:
        draft.say("That lesson is not yours any more.", *of_place(draft))
        return
    now_held = {*lesson.held, *children} if held else lesson.held - set(children)
    freed = lesson.freed - set(children) if held else {*lesson.freed, *children}
    _released(draft, lesson, tuple(now_held), tuple(freed))


def typed(draft: Draft, children: tuple[str, ...], *, held: bool) -> None:
    """`hold news ava`, `release ava`: of the class's last lesson."""
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
        hold(draft, lesson_id, tuple(some), held=held)
    if len(by_lesson) > 1:
        draft.say_once()


def unsaid(draft: Draft, class_id: str) -> tuple[str, Choices] | None:
    """News of a class's last lesson on which no coach said a word yet, while it can still go."""
    since = day_in_zone(draft.club, draft.now) - TOO_OLD
    shut = [one for one in draft.books[class_id].lessons.values() if not one.is_open and one.day >= since]
    last = max(shut, key=lambda one: one.day, default=None)
    going = _going(draft, last) if last is not None and last.released_at is None else []
    if last is None or not going:
        return None
    text = f"News for {_families(going)} of {words.date_in_full(last.day)} waits for your word."
    return text, [("Send as usual", Release(last.id)), ("Show me", ShowNews(last.id))]


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
    first = max(min(fresh.due_at for *_, fresh in going), draft.now + AFTER_CLOSE)
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
    said += [f"A correction: we wrote that {name} was given {_award_name(draft, wrong)}, and that was a slip of ours. "
             "Your coach can tell you more." for wrong in fresh.wrong if wrong.startswith(AWARD)]
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
        yield f"{name} was given the {_award_name(draft, award)} award{on}. Well done!"
    if draft.club.tell_awards == "earned":
        for won in won_with(draft, child, fresh.skills):
            yield f"With that {name} has earned {won.name}. Well done!"


def won_with(draft: Draft, child: str, skills: Iterable[str]) -> list[Award]:
    """The awards that these ticks completed."""
    standings = draft.standings_of(child)
    without = {skill: one for skill, one in standings.items() if skill not in set(skills)}

    def schemes(version: int) -> Scheme:
        return draft.desk.schemes.get(version, draft.scheme)

    before = earned(without, draft.scheme, schemes)
    return [
        award for key in earned(standings, draft.scheme, schemes)
        if key not in before and (award := draft.scheme.award_by_id(key)) is not None
    ]


def _at_home(draft: Draft, child: str, skills: Iterable[str]) -> Iterable[str]:
    """What is safe at home: conditions are always said, and nothing that loads what the child was spared."""
    spared = _spared(draft, child)
    rules: dict[str, list[str]] = {}
    for skill_id in skills:
        skill = draft.skill(skill_id)
        rule = home_rule(draft.scheme, skill)
        if rule is not None or spared.intersection(all_loads(draft.scheme, skill)):
            rules.setdefault("no" if spared.intersection(all_loads(draft.scheme, skill)) else rule or "no", []).append(
                _the(draft, skill_id))
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
    name = known.name if known is not None else skill
    return f"the {name[:1].lower()}{name[1:]}"


def _award_name(draft: Draft, award: str) -> str:
    key = award.removeprefix(AWARD)
    found = draft.scheme.award_by_id(key)
    return found.name if found is not None else key


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
