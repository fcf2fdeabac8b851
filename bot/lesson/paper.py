"""The class sheet on paper: what the plan would watch of a lesson to come, as plain rows with a box for each piece.

What lives here: which skills, in which order, which children in which line, and what each still owes. Pure. All are
taken to be there. How the page looks is the business of `adapters/paper/`.
"""
from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, datetime, timedelta

from bot.lesson.ahead import Ahead, thought
from bot.lesson.book import Changes, ClassBook
from bot.lesson.hall import Hall, hall_of
from bot.lesson.lesson import Lesson
from bot.lesson.next import open_to, working_on
from bot.lesson.plan.rule import by_rule
from bot.lesson.timetable import day_in_zone, ends_at, lesson_id, next_lesson, starts_at
from bot.people.model import Club, ClubClass
from bot.scheme.model import Scheme


@dataclass(frozen=True, slots=True)
class Row:
    """A child with what she owes: for each show of the skill the pieces of it, none where it is seen already."""

    child: str
    owes: tuple[tuple[str, ...], ...]


@dataclass(frozen=True, slots=True)
class Block:
    """A skill with its lines. `planned`: does it fit into the minutes that there are?"""

    skill: str
    planned: bool
    lines: tuple[tuple[Row, ...], ...]


def class_sheet(
    book: ClassBook, club: Club, one: ClubClass, schemes: Mapping[int, Scheme], day: date,
) -> tuple[Block, ...]:
    """What is to be watched in a class's lesson of that day: as it would be watched, then what does not fit."""
    hall = _hall(book, club, one, schemes, day)
    ahead = _ahead(hall, club)
    planned: dict[str, list[tuple[str, ...]]] = {}
    for turn in ahead.turns if ahead is not None else ():
        met = {child for line in planned.get(turn.skill, ()) for child in line}
        fresh = tuple(child for child in turn.children if child not in met)
        if fresh:
            planned.setdefault(turn.skill, []).append(fresh)
    owing = _owing(hall)
    rest = {skill: [child for child in children if not any(child in line for line in planned.get(skill, ()))]
            for skill, children in owing.items()}
    blocks = [Block(skill, True, tuple(_rows(hall, skill, line) for line in lines)) for skill, lines in planned.items()]
    later = sorted(((skill, children) for skill, children in rest.items() if children), key=lambda pair: -len(pair[1]))
    return (*blocks, *(Block(skill, False, _lines(hall, skill, children)) for skill, children in later))


def day_of_sheet(book: ClassBook, club: Club, one: ClubClass, now: datetime) -> date:
    """The lesson that a sheet is for: today's, where it is not over yet, else the next one."""
    today = day_in_zone(club, now)
    day = next_lesson(club, one, today - timedelta(days=1))
    held = book.lessons.get(lesson_id(one.id, day))
    over = not held.is_open if held is not None else ends_at(club, one, day) <= now
    return next_lesson(club, one, today) if over else day


def example(scheme: Scheme, book: ClassBook, one: ClubClass, block: Block) -> list[str]:
    """How the first line of the sheet is typed in afterwards: its shows, one after the other."""
    skill = scheme.skills[block.skill]
    names = [book.called[row.child].lower() for row in block.lines[0]]
    seen, missed = (names[:-1], names[-1:]) if len(names) > 1 else (names, [])
    not_yet = f", {missed[0]} not yet" if missed else ""
    hour, what = one.start.hour, skill.name.lower()
    rows = [f"on {one.day} at {hour}:10: {what}: {', '.join(seen)} seen{not_yet}"]
    if len(skill.shows) == 2:
        rows.append(f"at {hour}:15: {what}: {', '.join(seen)} seen")
    return rows


def _hall(book: ClassBook, club: Club, one: ClubClass, schemes: Mapping[int, Scheme], day: date) -> Hall:
    start = starts_at(club, one, day)
    runner = next(iter(club.coaches(one, day)), "?")
    lesson = book.lessons.get(lesson_id(one.id, day)) or Lesson(lesson_id(one.id, day), one.id, day, runner, start)
    return hall_of(book.with_changes(Changes(lessons={lesson.id: lesson})), lesson, club, schemes, start)


def _ahead(hall: Hall, club: Club) -> Ahead | None:
    """The lesson as the simple rule has it: on paper nobody can follow a plan by the second."""
    known = thought(hall, club, (hall.lesson.runner,))
    if known is None:
        return None
    ruled = by_rule(known.problem)
    return known.ahead(ruled, ruled)


def _owing(hall: Hall) -> dict[str, list[str]]:
    """Skill → who may show it in this lesson, in the order of the class."""
    found: dict[str, list[str]] = {}
    for child in hall.book.children:
        for skill in working_on(hall, child).values():
            if open_to(hall, child, skill.id) is not None:
                found.setdefault(skill.id, []).append(child)
    return found


def _lines(hall: Hall, skill: str, children: list[str]) -> tuple[tuple[Row, ...], ...]:
    size = hall.size(hall.scheme.skills[skill])
    return tuple(_rows(hall, skill, tuple(children[at:at + size])) for at in range(0, len(children), size))


def _rows(hall: Hall, skill: str, children: tuple[str, ...]) -> tuple[Row, ...]:
    entry = hall.scheme.skills[skill]
    rows = []
    for child in children:
        seen_as = hall.view(child, skill)
        left = seen_as.owed_pieces or entry.pieces
        shows = range(1, len(entry.shows) + 1)
        rows.append(Row(child, tuple(
            () if show < seen_as.show else left if show == seen_as.show else entry.pieces for show in shows
        )))
    return tuple(rows)
