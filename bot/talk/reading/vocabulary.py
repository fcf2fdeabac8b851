"""The words that one person's messages are read by: those of the children, classes and people of a club, of its
scheme, and our own, each in a tree of phrases.

Built once and kept; reading a text only walks it.
"""
from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator
from dataclasses import dataclass
from functools import cached_property

from bot.fold import atoms, fold
from bot.people.model import DAYS, ClubClass
from bot.scheme.model import Scheme
from bot.talk.reading.items import Item, Node, Spelled, spellings
from bot.talk.reading.scheme_words import words_of
from bot.talk.reading.words import SMALL, own_tree, own_words

LABEL = 20      # the longest label that every channel carries


@dataclass(frozen=True, eq=False)
class Vocabulary:
    """Children as (id, whole name), a scheme, the classes. A child outside `children` is an unknown word."""

    children: tuple[tuple[str, str], ...]
    scheme: Scheme
    classes: tuple[ClubClass, ...] = ()
    judges: tuple[tuple[str, str], ...] = ()        # who else judges in these classes, as (id, whole name)

    @cached_property
    def names(self) -> dict[str, str]:
        """Child id → whole name."""
        return dict(self.children)

    @cached_property
    def trees(self) -> tuple[Node, ...]:
        """Every phrase that stands for something: the club's, our own, the scheme's."""
        return Node.of(self._of_the_club()), own_tree(), words_of(self.scheme).tree

    def _of_the_club(self) -> Iterator[tuple[Spelled, Item]]:
        for words, ids in self._designations().items():
            yield words, Item("child", " ".join(words), tuple(ids))
        for words, ids in _class_words(self.classes).items():
            yield words, Item("class", ids=tuple(ids))
        for words, people in self._people.items():
            yield words, Item("person", ids=tuple(people))

    @cached_property
    def first_names(self) -> frozenset[Spelled]:
        """What designates a child by the first name alone."""
        return frozenset(words for _, name in self.children for words in spellings(_first(name)))

    @cached_property
    def first_words(self) -> frozenset[str]:
        """The words of first names: each may stand for a child without another beside it."""
        return frozenset(word for words in self.first_names for word in words)

    @cached_property
    def own_words(self) -> tuple[str, ...]:
        """The words in which a small slip is forgiven: ours, the skills', the classes', those of who judges."""
        of_the_club = (*_class_words(self.classes), *self._people)
        return tuple(sorted(own_words() | words_of(self.scheme).words | {word for one in of_the_club for word in one}))

    @cached_property
    def name_words(self) -> tuple[str, ...]:
        """The words of the names: a slip in one of these is asked about."""
        return tuple(sorted({
            word for _, name in self.children for part in (name, _first(name))
            for words in spellings(part) for word in words
        }))

    def _designations(self) -> dict[Spelled, dict[str, None]]:
        """What may be typed for a child → the children it fits, in the order of the class."""
        found: dict[Spelled, dict[str, None]] = defaultdict(dict)
        for child, name in self.children:
            for words in _designate(name):
                found[words][child] = None
        return found

    @cached_property
    def _people(self) -> dict[Spelled, dict[str, None]]:
        """What may be typed for somebody who judges: the first name, or the whole one."""
        found: dict[Spelled, dict[str, None]] = defaultdict(dict)
        for person, name in self.judges:
            for words in (*spellings(_first(name)), *spellings(name)):
                found[words][person] = None
        return found

    @cached_property
    def short_names(self) -> dict[str, str]:
        """Child id → the shortest name that tells her from the others: Ana C, or Ana Co beside Ana Cr."""
        firsts: dict[str, list[str]] = defaultdict(list)
        for child, name in self.children:
            firsts[fold(_first(name))].append(child)
        labels: dict[str, str] = {}
        for same in firsts.values():
            labels.update(_tell_apart({child: self.names[child] for child in same}))
        return labels


def _first(name: str) -> str:
    return name.split()[0] if name.split() else name


def _designate(name: str) -> Iterator[Spelled]:
    """First name, first name with initials (or the beginning of the surname), the whole name."""
    parts = name.split()
    if not parts:
        return
    yield from spellings(name)
    firsts = tuple(spellings(parts[0]))
    yield from firsts
    rest = [words for words in map(atoms, parts[1:]) if words]
    if not rest:
        return
    by_part = tuple(words[0][0] for words in rest)
    by_atom = tuple(word[0] for words in rest for word in words)
    surname = "".join(rest[0])
    endings: set[Spelled] = {(surname[:size],) for size in range(1, min(len(surname), LABEL) + 1)}
    for initials in (by_part, by_atom):
        for size in range(1, len(initials) + 1):
            endings |= {initials[:size], ("".join(initials[:size]),)}
    for first in firsts:
        for ending in endings:
            yield first + ending


def _tell_apart(names: dict[str, str]) -> dict[str, str]:
    """Labels for children of one first name."""
    for size in range(LABEL):
        labels = {child: _cut(name, size) for child, name in names.items()}
        if len(set(map(fold, labels.values()))) == len(labels):
            return labels
    return {child: f"{name[:LABEL - 3].strip()} {at}" for at, (child, name) in enumerate(names.items(), 1)}


def _cut(name: str, size: int) -> str:
    first, *rest = name.split() or [name]
    tail = " ".join(rest)[:size]
    return f"{first[:LABEL - len(tail) - 1 if tail else LABEL]} {tail}".strip()


def _class_words(classes: tuple[ClubClass, ...]) -> dict[Spelled, dict[str, None]]:
    found: dict[Spelled, dict[str, None]] = defaultdict(dict)
    for one in classes:
        for text in (one.id, one.name):
            for words in spellings(text):
                found[words][one.id] = None
        for word in atoms(one.name):
            if len(word) > 2 and word not in SMALL:
                found[(word,)][one.id] = None
        for word in day_words(one.day):
            found[(word,)][one.id] = None
    return found


_SHORT_DAYS = {"tuesday": ("tues",), "wednesday": ("weds",), "thursday": ("thur", "thurs")}


def day_words(day: str) -> tuple[str, ...]:
    """What people type for a day of the week."""
    return (day, day[:3], day + "s", *_SHORT_DAYS.get(day, ()))


DAY_OF = {word: number for number, day in enumerate(DAYS) for word in day_words(day)}
