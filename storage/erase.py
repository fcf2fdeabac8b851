"""Forgetting a child: what goes, and how what stays is rewritten so that it names her no more.

What lives here: pure functions from all that is kept of a club to an `Erasure`. A message that mentions
her, by her whole name or her first, is replaced whole; better one sentence too many than her name left.
"""
from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import replace

from bot.facts import (
    Counted,
    Fact,
    Filed,
    GroupNamed,
    HelperShowed,
    LookAsked,
    Mark,
    NewsReleased,
    ReasonGiven,
    Recorded,
    RegisterTaken,
    Voided,
    in_force,
)
from bot.lesson.book import Changes, Child, ClassBook, Reminder
from bot.lesson.lesson import Lesson
from bot.lesson.line import Line
from bot.lesson.looks import Looks
from bot.people.model import Person
from bot.port import FORGOTTEN
from bot.step import Refused, Said
from bot.talk.state import Talk
from storage import queue
from storage.codec import ATTACHED, CHOICES, dump
from storage.filing import child_of
from storage.shelf import Erasure, Everything


def erasure(whole: Everything, child_id: str) -> Erasure:
    """All that forgetting this child takes away or rewrites. Raises Refused where there is no such child."""
    child = next((one for book in whole.books.values() if (one := book.children.get(child_id))), None)
    if child is None:
        raise Refused("There is no such child.")
    books = {key: _book(book, child_id) for key, book in whole.books.items()}
    people = _people(whole.home.people, child_id)
    gone = {key for key, person in people.items() if person is None}
    said = tuple(_said(one) for one in whole.said if one.person not in gone and _names(one, child))
    return Erasure(
        child_id,
        _changes(whole.books, books, child_id),
        books,
        queue.difference(whole.books, books),
        people,
        _record(whole.record, child_id, counted=whole.home.club.forgotten == "counted"),
        said,
        _talks(whole.talks, child_id, gone, said),
    )


def _people(people: Mapping[str, Person], child: str) -> dict[str, Person | None]:
    """A parent of other children stays; one of hers alone goes with her."""
    changed: dict[str, Person | None] = {}
    for key, person in people.items():
        if child in person.children:
            others = tuple(one for one in person.children if one != child)
            changed[key] = person.model_copy(update={"children": others}) if others else None
    return changed


# --- the book -------------------------------------------------------------------------------------------

def _changes(before: Mapping[str, ClassBook], after: Mapping[str, ClassBook], child: str) -> Changes:
    lessons: dict[str, Lesson] = {}
    groups: dict[tuple[str, str], tuple[str, ...] | None] = {}
    for class_id, book in after.items():
        old = before[class_id]
        lessons |= {key: one for key, one in book.lessons.items() if one != old.lessons[key]}
        groups |= {
            (class_id, name): book.groups.get(name) for name in old.groups
            if book.groups.get(name) != old.groups[name]
        }
    return Changes(children={child: None}, lessons=lessons, groups=groups)


def _book(book: ClassBook, child: str) -> ClassBook:
    groups = {name: _others(children, child) for name, children in book.groups.items()}
    pending = {key: _reminder(one, child) for key, one in book.pending.items() if not _about(one, child)}
    return replace(
        book,
        children={key: one for key, one in book.children.items() if key != child},
        standings={key: one for key, one in book.standings.items() if key != child},
        awards={key: one for key, one in book.awards.items() if key != child},
        contacts={key: one for key, one in book.contacts.items() if key != child},
        agreed={key: one for key, one in book.agreed.items() if key != child},
        lessons={key: _lesson(one, child) for key, one in book.lessons.items()},
        groups={name: children for name, children in groups.items() if children},
        pending=pending,
        fired=frozenset(key for key in book.fired if not _in_key(child, key)),
    )


def _lesson(lesson: Lesson, child: str) -> Lesson:
    return replace(
        lesson,
        away=lesson.away - {child}, sits=lesson.sits - {child}, looked_after=lesson.looked_after - {child},
        held=lesson.held - {child}, freed=lesson.freed - {child},
        leaves={key: at for key, at in lesson.leaves.items() if key != child},
        spared={key: loads for key, loads in lesson.spared.items() if key != child},
        lines={key: line for key, one in lesson.lines.items() if (line := _line(one, child)) is not None},
        looks=tuple(look for one in lesson.looks if (look := _looks(one, child)) is not None),
        shown=tuple(
            replace(one, children=others) for one in lesson.shown if (others := _others(one.children, child))
        ),
    )


def _looks(looks: Looks, child: str) -> Looks | None:
    others = _others(looks.asked.children, child)
    saw = {person: {key: one for key, one in of.items() if key != child} for person, of in looks.saw.items()}
    return replace(looks, asked=replace(looks.asked, children=others), saw=saw) if others else None


def _about(reminder: Reminder, child: str) -> bool:
    return reminder.child == child or reminder.children == (child,) or _in_key(child, reminder.key)


def _in_key(child: str, key: str) -> bool:
    """Is a reminder about her? Its key is ids between slashes; hers may begin another child's, or hold a slash."""
    return f"/{child}/" in f"/{key}/"


def _reminder(reminder: Reminder, child: str) -> Reminder:
    return replace(reminder, children=_others(reminder.children, child))


def _others(children: tuple[str, ...], child: str) -> tuple[str, ...]:
    return tuple(one for one in children if one != child)


# --- the record, what was said, the talks -----------------------------------------------------------------

def _record(record: tuple[Filed, ...], child: str, *, counted: bool) -> dict[int, Filed | None]:
    """Facts about her go, with the voids of her marks; those about several children lose her.

    `counted`: what her marks said is added to the counts of everybody who was forgotten.
    """
    marks = {
        one.recorded.fact.id for one in record
        if isinstance(one.recorded.fact, Mark) and one.recorded.fact.child == child
    }
    changed: dict[int, Filed | None] = {}
    for filed in record:
        fact = filed.recorded.fact
        after = _fact(fact, child, marks)
        if after is None:
            changed[filed.recorded.seq] = None
        elif after is not fact:
            changed[filed.recorded.seq] = replace(filed, recorded=replace(filed.recorded, fact=after))
    return changed | (_counts(record, child) if counted else {})


def _counts(record: tuple[Filed, ...], child: str) -> dict[int, Filed | None]:
    """Her marks as counts, a fact for each skill: the one that is there already, or one where the first of them was.

    By whom, when and in which lesson is gone with her.
    """
    kept = in_force(tuple(one.recorded for one in record))
    hers = [(one.seq, one.fact) for one in kept if isinstance(one.fact, Mark) and one.fact.child == child]
    found = {one.fact.skill: (one.seq, one.fact) for one in kept if isinstance(one.fact, Counted)}
    for seq, mark in hers:
        at, so_far = found.get(mark.skill, (seq, Counted(mark.skill, 0, 0)))
        seen = mark.verdict == "seen"
        found[mark.skill] = at, replace(so_far, seen=so_far.seen + seen, not_yet=so_far.not_yet + (not seen))
    return {found[mark.skill][0]: _nobodys(*found[mark.skill]) for _, mark in hers}


def _nobodys(seq: int, fact: Fact) -> Filed:
    return Filed(Recorded(seq, "", fact), "")


def _fact(fact: Fact, child: str, marks: set[str]) -> Fact | None:
    match fact:
        case Voided():
            return None if fact.target in marks else fact
        case RegisterTaken() if child in fact.away:
            return replace(fact, away=_others(fact.away, child))
        case GroupNamed() | HelperShowed() | LookAsked() if child in fact.children:
            others = _others(fact.children, child)
            return replace(fact, children=others) if others else None
        case NewsReleased() if child in (*fact.held, *fact.freed):
            return replace(fact, held=_others(fact.held, child), freed=_others(fact.freed, child))
        case ReasonGiven() if fact.mark in marks:
            return None
        case _:
            return None if child_of(fact) == child else fact


def _names(said: Said, child: Child) -> bool:
    """Does a message mention her, in its words or in what its choices ask for?"""
    asked = dump(CHOICES, said.choices) + dump(ATTACHED, said.attached)
    words = " ".join((said.text, *(choice.label for choice in said.choices), *(one.words for one in said.attached)))
    called = "|".join(re.escape(name) for name in {child.name, child.first} if name)
    return f'"{child.id}"' in asked or bool(called and re.search(rf"(?<!\w)(?:{called})(?!\w)", words))


def _said(said: Said) -> Said:
    return replace(said, text=FORGOTTEN, choices=(), attached=(), secret="")


def _talks(talks: Mapping[str, Talk], child: str, gone: set[str], said: tuple[Said, ...]) -> dict[str, Talk]:
    changed: dict[str, Talk] = {}
    for key, talk in talks.items():
        after = _talk(talk, child, {one.seq for one in said if one.person == key})
        if key not in gone and after != talk:
            changed[key] = after
    return changed


def _talk(talk: Talk, child: str, rewritten: set[int]) -> Talk:
    """A talk in which she stands nowhere. The others keep the numbers that they stood under.

    What a rewritten message offered can't be tapped any more, nor typed.
    """
    question = talk.question
    if question is not None and question.line is not None:
        question = replace(question, line=_line(question.line, child))
    lines = tuple(line for line in (_line(one, child) for one in talk.lines) if line is not None)
    return replace(
        talk,
        lines=lines,
        suggested=None if talk.suggested is None else _line(talk.suggested, child),
        question=question,
        stood=tuple("" if one == child else one for one in talk.stood),
        offers=tuple(offer for offer in talk.offers if offer.seq not in rewritten),
    )


def _line(line: Line, child: str) -> Line | None:
    others = _others(line.children, child)
    return replace(line, children=others) if others else None


