"""The words of a scheme: its skills, their points, parts and ways, what a child can be spared.

Made once for a scheme, whichever clubs and people have it: of all that a reader knows they are the most.
"""
from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator
from dataclasses import dataclass
from functools import cached_property, lru_cache

from bot.fold import atoms, fold
from bot.scheme.model import Scheme, Skill
from bot.talk.reading.items import Item, Node, Sense, SenseKind, Spelled, spellings
from bot.talk.reading.words import SMALL

SCHEMES = 64        # of so many schemes the words are kept at a time, those used last
USUAL_LOADS = ("back", "landing", "neck", "wrists")     # a child can be spared these whatever the scheme says of them


@dataclass(frozen=True, eq=False)
class SchemeWords:
    """What may be typed for what a scheme speaks of."""

    scheme: Scheme

    @cached_property
    def tree(self) -> Node:
        """Every phrase of the scheme."""
        return Node.of((words, item) for words, items in self.phrases.items() for item in items)

    @cached_property
    def words(self) -> frozenset[str]:
        """The words of these phrases."""
        return frozenset(word for spelled in self.phrases for word in spelled)

    @cached_property
    def phrases(self) -> dict[Spelled, list[Item]]:
        """What may be typed → what it stands for."""
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
        return found

    @cached_property
    def _spoken_skills(self) -> tuple[Skill, ...]:
        """All skills, a retired one only where no other takes its words."""
        skills = tuple(self.scheme.skills.values())
        taken = {fold(text) for skill in skills if not skill.retired for text in (skill.name, *skill.words)}
        return tuple(skill for skill in skills if not skill.retired or fold(skill.name) not in taken)


class _Very:
    """This very scheme: to find out whether another is equal takes as long as to gather its words anew."""

    def __init__(self, scheme: Scheme) -> None:
        self.scheme = scheme

    def __hash__(self) -> int:
        return id(self.scheme)

    def __eq__(self, other: object) -> bool:
        return isinstance(other, _Very) and other.scheme is self.scheme


def words_of(scheme: Scheme) -> SchemeWords:
    """The words of a scheme; of the one that was asked for before, the same."""
    return _kept(_Very(scheme))


@lru_cache(maxsize=SCHEMES)
def _kept(very: _Very) -> SchemeWords:
    return SchemeWords(very.scheme)


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
