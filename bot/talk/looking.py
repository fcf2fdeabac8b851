"""What a step can look at: its desk, with what the step itself changed so far.

What lives here: reading alone, and nothing about words. What changes is in `draft.py`.
"""
from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime, timedelta
from functools import cached_property
from typing import Any

from bot.lesson.book import Child, ClassBook
from bot.lesson.lesson import Lesson
from bot.lesson.line import Line
from bot.lesson.timetable import day_in_zone
from bot.marks.standing import UNTRIED, Rules, Standing, View, view
from bot.people.model import Club, ClubClass, Person
from bot.scheme.model import Scheme, Skill
from bot.step import Desk
from bot.talk.state import Talk

CLOCKS_DIFFER = timedelta(seconds=30)       # those of two phones
NOTHING: Mapping[str, Standing] = {}


class Looking:
    """The desk of one step under way."""

    def __init__(self, desk: Desk, now: datetime, sent_at: datetime) -> None:
        self.desk = desk
        self.now = now
        self.sent_at = sent_at
        self.talk: Talk = desk.talk
        self._books: dict[str, ClassBook] = dict(desk.books)
        self._not_in_books: dict[str, Mapping[str, Standing]] = {}  # child → all her standings, where one changed
        self._rules: dict[tuple[int, str], Rules] = self.kept("rules")
        self._views: dict[tuple[str, str], tuple[Standing, View]] = {}
        mine = desk.me.children if desk.me is not None and desk.me.role == "parent" else None
        self._class_of: dict[str, str] = {      # a parent knows no other child, though a whole book lies there
            child: class_id for class_id, book in desk.books.items() for child in book.children
            if mine is None or child in mine
        }

    # --- who and what ------------------------------------------------------------------------------

    @cached_property
    def club(self) -> Club:
        """The club of whoever speaks. Only for people of a club."""
        assert self.desk.club is not None
        return self.desk.club

    @cached_property
    def me(self) -> Person:
        """Whoever speaks. Only for people of a club."""
        assert self.desk.me is not None
        return self.desk.me

    @cached_property
    def scheme(self) -> Scheme:
        """The scheme in force."""
        return self.desk.scheme

    @property
    def books(self) -> dict[str, ClassBook]:
        """The books of this person's classes, with what this step changed."""
        if self._not_in_books:      # one new book for all the marks of a message
            of_class: dict[str, dict[str, Mapping[str, Standing]]] = {}
            for child, standings in self._not_in_books.items():
                of_class.setdefault(self._class_of[child], {})[child] = standings
            for class_id, changed in of_class.items():
                self._books[class_id] = self._books[class_id].with_standings(changed)
            self._not_in_books = {}
        return self._books

    @property
    def own(self) -> tuple[ClubClass, ...]:
        """The classes that whoever speaks is given today."""
        return tuple(one for one in self.club.classes if one.id in self._books)

    def kept(self, name: str) -> dict[Any, Any]:
        """What this person's steps keep for each other under a name; each comes to the same without it."""
        kept = self.desk.memo.setdefault(name, {})
        assert isinstance(kept, dict)
        return kept

    def class_(self, class_id: str) -> ClubClass:
        """A class of the club."""
        return self.club.by_class[class_id]

    def book_of(self, child: str) -> ClassBook:
        """The book of a child's class."""
        return self.books[self._class_of[child]]

    def knows(self, child: str) -> bool:
        """Is that a child whom this person may see?"""
        return child in self._class_of

    def child(self, child: str) -> Child:
        """A child of one of the books."""
        return self.book_of(child).children[child]

    def called(self, child: str) -> str:
        """What we call a child: first name, and as much more as tells two apart."""
        return self.book_of(child).called[child]

    def skill(self, skill: str) -> Skill:
        """A skill of the scheme in force."""
        return self.scheme.skills[skill]

    def award_name(self, award: str) -> str:
        """What an award is called; one that the scheme has no more, by its id."""
        found = self.scheme.award_by_id(award)
        return found.name if found is not None else award

    def scheme_of(self, version: int) -> Scheme:
        """A version of the scheme; one that was not kept is taken as it is now."""
        return self.desk.schemes.get(version, self.scheme)

    def rules(self, version: int, skill: str) -> Rules:
        """What a skill asked under a version; a skill that came later is taken as it is now."""
        known = self._rules.get((version, skill))
        if known is not None:
            return known
        asked = version, skill
        scheme = self.scheme_of(version)
        if skill not in scheme.skills:
            scheme, version = self.scheme, self.desk.version
        return self._rules.setdefault(asked, Rules(version, scheme.skills[skill], scheme, self.club.tz))

    def local(self, instant: datetime) -> datetime:
        """An instant on the club's clock."""
        return instant.astimezone(self.club.tz)

    # --- lessons -----------------------------------------------------------------------------------

    def lesson(self, lesson: str | None) -> Lesson | None:
        """A lesson as it is now, or None."""
        if lesson is None:
            return None
        book = self._books.get(lesson.rsplit("/", 1)[0])
        return None if book is None else book.lessons.get(lesson)

    def open_lesson(self) -> Lesson | None:
        """The lesson this person is in, or the one open lesson of their classes; None where that is unclear."""
        mine = self.lesson(self.talk.lesson)
        if mine is not None and mine.is_open:
            return mine
        found = [one for book in self._books.values() for one in book.lessons.values() if one.is_open]
        return found[0] if len(found) == 1 else None

    def lesson_then(self) -> Lesson | None:
        """The lesson that a word which names none is about: the open one, or the one that this person was in last.

        What was sent before that was opened, and came late, is about the one before it on that day.
        """
        lesson = self.open_lesson() or self.lesson(self.talk.lesson)
        if lesson is None or self._sent_by(lesson) >= lesson.opened_at:
            return lesson
        earlier = [
            one for book in self._books.values() for one in book.lessons.values()
            if one.day == lesson.day and one.opened_at <= self.sent_at
        ]
        return max(earlier, key=lambda one: one.opened_at, default=lesson)

    def _sent_by(self, lesson: Lesson) -> datetime:
        """When this message was sent, by the clock of whoever opened that lesson, as far as can be known."""
        return self.sent_at if lesson.runner == self.me.id else self.sent_at + CLOCKS_DIFFER

    def stood(self, line: Line) -> bool:
        """Had that line been put up when this message was sent?"""
        return line.asked_at <= self.sent_at + CLOCKS_DIFFER

    def lesson_for(self, child: str, judged_at: datetime) -> Lesson | None:
        """The lesson in which a judgement of that child at that time belongs, or None."""
        day = day_in_zone(self.club, judged_at)
        found = [
            one for one in self.book_of(child).lessons.values() if one.day == day and one.holds(judged_at)
        ]
        return found[0] if found else None

    # --- standings ---------------------------------------------------------------------------------

    def standing(self, child: str, skill: str) -> Standing:
        """Where a child is with a skill now."""
        return self.standings_of(child).get(skill, UNTRIED)

    def standings_of(self, child: str) -> Mapping[str, Standing]:
        """Skill id → standing, for the skills that anything was said of."""
        changed = self._not_in_books.get(child)
        return changed if changed is not None else self._books[self._class_of[child]].standings.get(child, NOTHING)

    def view(self, child: str, skill: str) -> View:
        """What that means at this moment."""
        standing = self.standing(child, skill)
        whose = ("" if standing is UNTRIED else child, skill)       # nobody's first try differs from another's
        known = self._views.get(whose)
        if known is not None and known[0] is standing:
            return known[1]
        seen_as = view(
            standing, self.now, self.rules(self.desk.version, skill), lambda version: self.rules(version, skill),
        )
        self._views[whose] = standing, seen_as
        return seen_as
