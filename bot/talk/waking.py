"""Reminders that have come due, put into words. Each was derived once more before it gets here."""
from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import datetime, timedelta

from bot.lesson.book import Reminder
from bot.lesson.lesson import Lesson
from bot.lesson.line import Line
from bot.lesson.pace import paced
from bot.lesson.timetable import class_and_day
from bot.people.quiet import quiet_until
from bot.reminders import BY_TIMETABLE, derive
from bot.talk import awards, briefs, compared, family, looks, news, words
from bot.talk.closing import close
from bot.talk.draft import Draft
from bot.talk.marking import left_of
from bot.talk.state import Place
from bot.talk.taps import Shut
from bot.talk.watching import answers

TO_FAMILIES = ("news", "renewal")
WAIT = ("rest", "look", "no look", "compared")      # until nobody is buzzed in the middle of a line
SILENCE = timedelta(seconds=30)     # who marked a line so recently is not buzzed in the middle of the next


def fire(draft: Draft, due: Sequence[Reminder]) -> None:
    """Say what is due to one person; what makes no sense any more is dropped, what comes too soon waits."""
    still = _still_called_for(draft, due)
    quiet = quiet_until(draft.club, draft.now)
    if quiet is not None and any(one.kind in TO_FAMILIES for one in still):
        _put_off(draft, [one for one in still if one.kind in TO_FAMILIES], quiet)
        still = [one for one in still if one.kind not in TO_FAMILIES]
    watches = _watches_until(draft)
    if watches is not None and draft.now < watches and any(one.kind in WAIT for one in still):
        _put_off(draft, [one for one in still if one.kind in WAIT], watches)
        still = [one for one in still if one.kind not in WAIT]
    rests = [one for one in still if one.kind == "rest"]
    _mark_fired(draft, still)
    for group in _by_line(rests):
        _rest_over(draft, group)
    for one in still:
        if not one.lesson:
            _to_family(draft, one)
            continue
        if one.kind in BY_TIMETABLE:
            _by_timetable(draft, one)
            continue
        lesson = draft.lesson(one.lesson)
        if lesson is not None and lesson.is_open and one.kind != "rest":
            _other(draft, one, lesson)


def _still_called_for(draft: Draft, due: Sequence[Reminder]) -> list[Reminder]:
    derived: dict[str, Reminder] = {}
    for class_id, book in draft.books.items():
        derived.update(derive(book, draft.club, draft.now, draft.kept(f"due {class_id}")))
    return [one for one in due if one.key in derived and derived[one.key].due_at <= draft.now]


def _watches_until(draft: Draft) -> datetime | None:
    """Until when whoever is in the middle of a line is left in peace: as long as its show takes, 30 s at least."""
    heard = draft.talk.heard_at
    lines = [line for line in draft.talk.lines if left_of(draft, line)]
    if draft.talk.place is not Place.WATCHING or not lines or heard is None:
        return None
    line = lines[0]
    book, skill = draft.books[class_and_day(line.lesson)[0]], draft.skill(line.skill)
    return heard + max(SILENCE, timedelta(seconds=paced(book, skill, min(line.show, len(skill.shows)))))


def _put_off(draft: Draft, several: Sequence[Reminder], until: datetime) -> None:
    for class_id, book in list(draft.books.items()):
        later = {one.key: replace(one, due_at=until) for one in several if one.key in book.pending}
        if later:
            draft.put_reminders(class_id, {**book.pending, **later}, book.fired)


def _mark_fired(draft: Draft, fired: Sequence[Reminder]) -> None:
    keys = {one.key for one in fired}
    for class_id, book in list(draft.books.items()):
        mine = keys & set(book.pending)
        if mine:
            left = {key: one for key, one in book.pending.items() if key not in mine}
            draft.put_reminders(class_id, left, book.fired | mine)


def _by_line(rests: Sequence[Reminder]) -> list[list[Reminder]]:
    groups: dict[tuple[str, str | None, int | None], list[Reminder]] = {}
    for one in rests:
        groups.setdefault((one.lesson, one.skill, one.show), []).append(one)
    return list(groups.values())


def _rest_over(draft: Draft, group: Sequence[Reminder]) -> None:
    first = group[0]
    if first.skill is None or first.show is None or first.skill in draft.talk.skipped:
        return
    children = tuple(one.child for one in group if one.child is not None and draft.knows(one.child))
    in_line = {
        child for line in draft.talk.lines
        if (line.skill, line.show) == (first.skill, first.show) for child in line.children
    }
    children = tuple(child for child in children if child not in in_line and not _to_look_at(draft, child, first.skill))
    line = Line(first.lesson, first.skill, first.show, children, draft.now)
    children = left_of(draft, line)
    if not children:
        return
    skill = draft.skill(first.skill)
    size = min(skill.line, draft.talk.most or skill.line)
    lines = [replace(line, children=children[at:at + size]) for at in range(0, len(children), size)]
    draft.change_talk(lines=(*draft.talk.lines, *lines))    # they keep the numbers of their first show
    who = "; then ".join(", ".join(map(draft.called, one.children)) for one in lines)
    text = f"Rested: {who}. {words.skill_and_show(skill, first.show)}."
    demand = skill.shows[first.show - 1].text
    demand = demand[:1].upper() + demand[1:]
    draft.say(f"{text} {demand}".strip(), *answers(lines[0]), question=draft.talk.question)


def _to_look_at(draft: Draft, child: str, skill: str) -> bool:
    """Is a second look at her still asked of this person? That she rests would say what the other saw."""
    return any(
        one.asked.skill == skill and one.waits_for(draft.me.id, child) for one in compared.of_me(draft)
    )


def _other(draft: Draft, one: Reminder, lesson: Lesson) -> None:
    name = draft.class_(lesson.class_id).name
    match one.kind:
        case "left open":
            draft.say(f"{name} is still open. Close it?", ("Close", Shut(lesson.id)), question=draft.talk.question)
        case "closes itself":
            close(draft, lesson.id, by="", at=one.due_at, head=f"{name} closed by itself.\n")
        case "last minutes":
            _last_minutes(draft, lesson)
        case "shown":
            _shown(draft, one, lesson)
        case "look":
            looks.put(draft, one, lesson)
        case "no look":
            looks.declined(draft, one, lesson)
        case "compared":
            looks.came_of(draft, one, lesson)
        case _:
            pass


def _to_family(draft: Draft, one: Reminder) -> None:
    if one.child is None or draft.me.role != "parent":
        return
    if one.kind == "news":
        news.tell(draft, one.child)
    else:
        family.renew(draft, one.child)


def _by_timetable(draft: Draft, one: Reminder) -> None:
    class_id, day = class_and_day(one.lesson)
    if class_id not in draft.books:         # somebody else's class by now
        return
    if one.kind == "awards":
        awards.to_see_to(draft, class_id)
    elif one.kind == "before":
        briefs.before(draft, class_id, day)
    elif draft.talk.eve:
        briefs.eve(draft, class_id, day)


def _last_minutes(draft: Draft, lesson: Lesson) -> None:
    """Second shows that can still be made before the end."""
    waiting: dict[str, list[str]] = {}
    for child, of_child in draft.books[lesson.class_id].in_order():
        for skill, standing in of_child.items():
            if standing.lesson == lesson.id and standing.show == 2 and not standing.ticked:
                seen_as = draft.view(child, skill)
                if seen_as.label in ("resting", "ready", "owed") and lesson.here(child, draft.now):
                    waiting.setdefault(skill, []).append(child)
    if not waiting:
        return
    said = [
        f"{', '.join(map(draft.called, who))} ({draft.skill(skill).name.lower()})" for skill, who in waiting.items()
    ]
    count = sum(len(who) for who in waiting.values())
    verb = "owes" if count == 1 else "owe"
    draft.say(f"{count} still {verb} a second show, 5 minutes left: {', '.join(said)}.", ("Close", Shut(lesson.id)),
              question=draft.talk.question)


def _shown(draft: Draft, one: Reminder, lesson: Lesson) -> None:
    """A helper says that children have shown something: a grown-up decides."""
    if one.skill is None or one.at is None:
        return
    children = tuple(child for child in one.children if draft.knows(child))
    first = next((child for child in children), None)
    if first is None:
        return
    show = draft.view(first, one.skill).show
    same = tuple(child for child in children if draft.view(child, one.skill).show == show)
    line = Line(lesson.id, one.skill, show, same, draft.now, shown_at=one.at)
    others = tuple(old for old in draft.talk.lines if (old.skill, old.show, old.children) != (one.skill, show, same))
    draft.change_talk(lines=(*others, line))
    skill = draft.skill(one.skill)
    who = words.names(map(draft.called, same))
    at = words.clock(one.at, draft.club.tz)
    draft.say(f"A helper says that {who} showed {words.skill_and_show(skill, show).lower()} at {at}. Did you see it?",
              *answers(line), question=draft.talk.question)


