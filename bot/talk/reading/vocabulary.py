"""The words of one club: its children, its skills, its classes, and our own, in one tree of phrases.

Built once for a club's class and kept; reading a text only walks it.
"""
from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator
from dataclasses import dataclass
from functools import cached_property

from bot.fold import atoms, fold
from bot.people.model import DAYS, ClubClass
from bot.scheme.model import Scheme, Skill
from bot.talk.reading.items import Item, Node, Sense, SenseKind, spellings
from bot.talk.reading.words import SMALL, own_phrases

LABEL = 20      # the longest label that every channel carries
Spelled = tuple[str, ...]
USUAL_LOADS = ("back", "landing", "neck", "wrists")     # a child can be spared these whatever the scheme says of them


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
    def tree(self) -> Node:
        """Every phrase that stands for something."""
        root = Node()
        for words, ids in self._designations.items():
            root.add(words, Item("child", " ".join(words), tuple(ids)))
        for phrase, item in own_phrases():
            for words in _own_spellings(phrase):
                root.add(words, item)
        for words, items in self._others.items():
            for item in items:
                root.add(words, item)
        return root

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
        """The words in which a small slip is forgiven: ours, the skills', the classes'."""
        words = {word for phrase, _ in own_phrases() for words in _own_spellings(phrase) for word in words}
        words |= {word for spelled in self._others for word in spelled}
        return tuple(sorted(words))

    @cached_property
    def name_words(self) -> tuple[str, ...]:
        """The words of the names: a slip in one of these is asked about."""
        return tuple(sorted({
            word for _, name in self.children for part in (name, _first(name))
            for words in spellings(part) for word in words
        }))

    @cached_property
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
    def _others(self) -> dict[Spelled, list[Item]]:
        """The phrases of the scheme and of the timetable."""
        found: dict[Spelled, list[Item]] = defaultdict(list)
        for skill in self._spoken_skills:
            for text in (skill.id, skill.name, *skill.words):
                for words in spellings(text):
                    found[words].append(Item("skill", skill.id))
        for words, senses in _attributes(self.scheme).items():
            found[words].append(Item("attr", " ".join(words), senses=senses))
        for words in _small_words(self.scheme):
            if words not in found:      # `down` may be a point of its own
                found[words].append(Item("loose"))
        for words, item in _loads(self.scheme):
            found[words].append(item)
        for words, ids in _class_words(self.classes).items():
            found[words].append(Item("class", ids=tuple(ids)))
        for words, people in self._people.items():
            found[words].append(Item("person", ids=tuple(people)))
        return found

    @cached_property
    def _spoken_skills(self) -> tuple[Skill, ...]:
        """All skills, a retired one only where no other takes its words."""
        skills = tuple(self.scheme.skills.values())
        taken = {fold(text) for skill in skills if not skill.retired for text in (skill.name, *skill.words)}
        return tuple(skill for skill in skills if not skill.retired or fold(skill.name) not in taken)

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


def _own_spellings(phrase: str) -> Iterator[Spelled]:
    words = tuple(phrase.split())
    yield words
    # `notyet`, `carryon`; never a two-letter word out of two words, which would hide a name.
    if len(words) == 2 and len(phrase) > 5:
        yield ("".join(words),)


def _attributes(scheme: Scheme) -> dict[Spelled, dict[str, tuple[Sense, ...]]]:
    """What may be typed for a point, a part or a way → skill → what it means there."""
    found: dict[Spelled, dict[str, dict[tuple[SenseKind, str], int]]] = defaultdict(lambda: defaultdict(dict))

    def put(words: Spelled, skill: str, kind: SenseKind, which: str, rank: int) -> None:
        ranks = found[words][skill]
        ranks[kind, which] = min(rank, ranks.get((kind, which), rank))

    for skill in scheme.skills.values():
        for point in skill.points:
            kind: SenseKind = "aim" if point.need == "aim" else "point"
            for words in (*spellings(point.id), *spellings(point.label)):
                put(words, skill.id, kind, point.id, 0)
            for word in atoms(point.label):
                if word not in SMALL and len(word) > 1:
                    put((word,), skill.id, kind, point.id, 1)
        for kind, named in (("part", skill.parts), ("way", skill.ways)):
            for one in named:
                for text in (one.id, one.label, *one.words):
                    for words in spellings(text):
                        put(words, skill.id, kind, one.id, 0)
    return {
        words: {skill: _best(ranks) for skill, ranks in by_skill.items()} for words, by_skill in found.items()
    }


def _best(ranks: dict[tuple[SenseKind, str], int]) -> tuple[Sense, ...]:
    """Of the points that a word fits, those that it names best: an id says more than a word of a label."""
    best = min((rank for (kind, _), rank in ranks.items() if kind in ("point", "aim")), default=0)
    return tuple(
        Sense(kind, which, rank) for (kind, which), rank in ranks.items()
        if kind in ("part", "way") or rank == best
    )


def _small_words(scheme: Scheme) -> Iterator[Spelled]:
    labels = (point.label for skill in scheme.skills.values() for point in skill.points)
    words = {word for label in labels for word in atoms(label)}
    return ((word,) for word in sorted(words & SMALL))


def _loads(scheme: Scheme) -> Iterator[tuple[Spelled, Item]]:
    """`no landings`, `no back`: what a child is spared, one or many."""
    seen: set[Spelled] = set()
    for load in sorted({*USUAL_LOADS, *(load for skill in scheme.skills.values() for load in skill.loads)}):
        words = atoms(load)
        if not words:
            continue
        last = words[-1]
        for form in {last, last + "s", last + "es", last.removesuffix("s")}:
            for no in ("no", "without"):
                spelled = (no, *words[:-1], form)
                if form and spelled not in seen:
                    seen.add(spelled)
                    yield spelled, Item("spared", load)


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
