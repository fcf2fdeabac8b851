"""A class's book: its children with their standings, its lessons, its groups, what is due. A frozen snapshot.

The store keeps it and hands it to every step; a step returns what changed in it (`Changes`), and
`ClassBook.with_changes` gives the next one. Copies are shallow: what did not change is shared.
"""
from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from datetime import date, datetime
from functools import cached_property
from typing import Literal

from bot.lesson.lesson import Lesson
from bot.lesson.pace import Estimate, Pace
from bot.marks.standing import UNTRIED, Standing


@dataclass(frozen=True, slots=True)
class Child:
    """A child of a class. No birthday, no notes: a name and what she works on."""

    id: str
    name: str
    class_id: str
    award: str
    left_on: date | None = None         # the first day on which the roster named her no more

    @property
    def first(self) -> str:
        """Her first name."""
        return self.name.split()[0] if self.name.split() else self.name


@dataclass(frozen=True, slots=True)
class AwardWay:
    """How far an earned award has come on its way to the child: `ordered` is on the order, `sent` is sent for."""

    to: Literal["ordered", "sent", "arrived", "presented"]
    on: date


@dataclass(frozen=True, slots=True)
class Contact:
    """A parent who said yes to news of a child, and what they were told since."""

    since: datetime
    told: tuple[str, ...] = ()          # skill ids, and `award:ID`
    told_on: date | None = None         # the club's day of the last news


@dataclass(frozen=True, slots=True)
class Agreed:
    """What was agreed for a child, for longer than a lesson. No reason is kept."""

    ways: Mapping[str, str] = field(default_factory=dict)       # skill → how she shows it
    spared: Mapping[str, date] = field(default_factory=dict)    # load → the last day

    def spared_on(self, day: date) -> frozenset[str]:
        """The loads that she is spared on a day."""
        return frozenset(load for load, until in self.spared.items() if day <= until)


NOTHING_AGREED = Agreed()


@dataclass(frozen=True, slots=True)
class Reminder:
    """Something that is due to one person at one time. The key says what it is about, so it is queued once."""

    key: str
    person: str
    kind: Literal[
        "before", "eve", "awards", "rest", "left open", "closes itself", "last minutes", "shown", "news", "renewal",
        "look", "no look", "compared",
    ]
    due_at: datetime
    lesson: str                         # empty for what is about no lesson
    child: str | None = None
    skill: str | None = None
    show: int | None = None
    children: tuple[str, ...] = ()
    at: datetime | None = None          # when a helper's children showed it; when a second look was asked for


@dataclass(frozen=True)
class ClassBook:
    """All that the talk needs to know of one class."""

    class_id: str
    children: Mapping[str, Child]
    standings: Mapping[str, Mapping[str, Standing]] = field(default_factory=dict)
    lessons: Mapping[str, Lesson] = field(default_factory=dict)
    groups: Mapping[str, tuple[str, ...]] = field(default_factory=dict)
    awards: Mapping[str, Mapping[str, AwardWay]] = field(default_factory=dict)
    pending: Mapping[str, Reminder] = field(default_factory=dict)   # reminders queued
    fired: frozenset[str] = frozenset()                             # keys of those sent, while still derived
    contacts: Mapping[str, Mapping[str, Contact]] = field(default_factory=dict)     # child → parent
    agreed: Mapping[str, Agreed] = field(default_factory=dict)
    pace: Mapping[str, Pace] = field(default_factory=dict)          # skill → its lines timed lately

    def agreed_for(self, child: str) -> Agreed:
        """What was agreed for a child."""
        return self.agreed.get(child, NOTHING_AGREED)

    def standing(self, child: str, skill: str) -> Standing:
        """Where that child is with that skill."""
        of_child = self.standings.get(child)
        return UNTRIED if of_child is None else of_child.get(skill, UNTRIED)

    def in_order(self) -> Iterator[tuple[str, Mapping[str, Standing]]]:
        """Child → skill → standing, by the order of the class and of the skills' ids, however they were read."""
        for child in self.children:
            of_child = self.standings.get(child)
            if of_child:
                yield child, {skill: of_child[skill] for skill in sorted(of_child)}

    @property
    def open_lesson(self) -> Lesson | None:
        """The lesson that is open, the latest if several are."""
        return max((one for one in self.lessons.values() if one.is_open), key=lambda one: one.day, default=None)

    @cached_property
    def estimate(self) -> Estimate:
        """What the timed lines amount to: see `bot/lesson/pace.py`."""
        return Estimate(self.pace)

    @cached_property
    def called(self) -> dict[str, str]:
        """Child id → what we call her: the first name, with as much of the rest as tells two apart."""
        return call_apart({child.id: child.name for child in self.children.values()})

    def with_changes(self, changes: Changes) -> ClassBook:
        """The book after a step."""
        return self._with(
            children=_children(self, changes),
            standings=_standings(self, changes),
            lessons={**self.lessons, **_own(changes.lessons, self.class_id)} if changes.lessons else self.lessons,
            groups=_groups(self, changes),
            awards=_awards(self, changes),
            pending=self.pending if changes.pending is None else changes.pending.get(self.class_id, self.pending),
            fired=self.fired if changes.fired is None else changes.fired.get(self.class_id, self.fired),
            contacts=_contacts(self, changes),
            agreed=_agreed(self, changes),
            pace=_pace(self, changes),
        )

    def with_standings(self, changed: Mapping[str, Mapping[str, Standing]]) -> ClassBook:
        """The book with these children's standings: child → all of hers."""
        return self._with(standings={**self.standings, **changed})

    def with_reminders(self, pending: Mapping[str, Reminder], fired: frozenset[str]) -> ClassBook:
        """The book with these reminders queued, and these sent."""
        return self._with(pending=pending, fired=fired)

    def _with(self, **changed: object) -> ClassBook:
        """A copy. What was worked out goes along where what it is made of is the same: that takes long."""
        after = object.__new__(ClassBook)
        after.__dict__.update(self.__dict__, **changed)
        if after.children is not self.children:
            after.__dict__.pop("called", None)
        if after.pace is not self.pace:
            after.__dict__.pop("estimate", None)
        return after


@dataclass(frozen=True)
class Changes:
    """What a step changed in the books of its classes. Keys not named stay as they are; None removes."""

    children: Mapping[str, Child | None] = field(default_factory=dict)
    standings: Mapping[tuple[str, str], Standing] = field(default_factory=dict)     # (child, skill)
    lessons: Mapping[str, Lesson] = field(default_factory=dict)
    groups: Mapping[tuple[str, str], tuple[str, ...] | None] = field(default_factory=dict)  # (class, name)
    awards: Mapping[tuple[str, str], AwardWay | None] = field(default_factory=dict)         # (child, award)
    pending: Mapping[str, Mapping[str, Reminder]] | None = None     # class → all its queued reminders
    fired: Mapping[str, frozenset[str]] | None = None               # class → keys sent and still derived
    contacts: Mapping[tuple[str, str], Contact | None] = field(default_factory=dict)    # (child, parent)
    agreed: Mapping[str, Agreed] = field(default_factory=dict)
    pace: Mapping[tuple[str, str], Pace | None] = field(default_factory=dict)               # (class, skill)

    def __bool__(self) -> bool:
        return bool(self.children or self.standings or self.lessons or self.groups or self.awards
                    or self.contacts or self.agreed or self.pace or self.pending is not None or self.fired is not None)


def _own(lessons: Mapping[str, Lesson], class_id: str) -> dict[str, Lesson]:
    return {key: lesson for key, lesson in lessons.items() if lesson.class_id == class_id}


def _children(book: ClassBook, changes: Changes) -> Mapping[str, Child]:
    if not changes.children:
        return book.children
    mixed = {**book.children, **changes.children}
    return {key: child for key, child in mixed.items() if child is not None and child.class_id == book.class_id}


def _standings(book: ClassBook, changes: Changes) -> Mapping[str, Mapping[str, Standing]]:
    if not changes.standings:
        return book.standings
    touched: dict[str, dict[str, Standing]] = {}
    for (child, skill), standing in changes.standings.items():
        if child in book.children or child in changes.children:
            touched.setdefault(child, dict(book.standings.get(child, {})))[skill] = standing
    return {**book.standings, **touched}


def _groups(book: ClassBook, changes: Changes) -> Mapping[str, tuple[str, ...]]:
    own = {name: children for (class_id, name), children in changes.groups.items() if class_id == book.class_id}
    return {k: v for k, v in {**book.groups, **own}.items() if v is not None} if own else book.groups


def _awards(book: ClassBook, changes: Changes) -> Mapping[str, Mapping[str, AwardWay]]:
    if not changes.awards:
        return book.awards
    awards = {child: dict(ways) for child, ways in book.awards.items()}
    for (child, award), way in changes.awards.items():
        if way is None:
            awards.get(child, {}).pop(award, None)
        elif child in book.children:
            awards.setdefault(child, {})[award] = way
    return awards


def _contacts(book: ClassBook, changes: Changes) -> Mapping[str, Mapping[str, Contact]]:
    own = {key: one for key, one in changes.contacts.items() if key[0] in book.children or key[0] in changes.children}
    if not own:
        return book.contacts
    contacts = {child: dict(of_child) for child, of_child in book.contacts.items()}
    for (child, parent), contact in own.items():
        if contact is None:
            contacts.get(child, {}).pop(parent, None)
        else:
            contacts.setdefault(child, {})[parent] = contact
    return {child: of_child for child, of_child in contacts.items() if of_child}


def _agreed(book: ClassBook, changes: Changes) -> Mapping[str, Agreed]:
    own = {key: one for key, one in changes.agreed.items() if key in book.children or key in changes.children}
    return {**book.agreed, **own} if own else book.agreed


def _pace(book: ClassBook, changes: Changes) -> Mapping[str, Pace]:
    own = {skill: pace for (class_id, skill), pace in changes.pace.items() if class_id == book.class_id}
    return {k: v for k, v in {**book.pace, **own}.items() if v is not None} if own else book.pace


def call_apart(names: Mapping[str, str]) -> dict[str, str]:
    """The shortest way to call each: first name, then with initials, then the whole name."""
    forms = {key: tuple(dict.fromkeys(_forms(name))) for key, name in names.items()}
    fits = Counter(form for several in forms.values() for form in several)
    return {key: next((form for form in several if fits[form] == 1), names[key]) for key, several in forms.items()}


def _forms(name: str) -> Iterator[str]:
    words = name.split() or [name]
    yield words[0]
    for upto in range(1, len(words)):
        yield " ".join([words[0], *(word[0] for word in words[1:upto + 1])])
    if len(words) > 1:
        yield name
