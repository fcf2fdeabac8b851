"""What a word can stand for (`Item`), and the tree in which phrases are found word by word (`Node`)."""
from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from itertools import product
from typing import Literal, NamedTuple

from bot.fold import atoms

Kind = Literal[
    "child", "group", "person", "skill", "attr", "side", "show", "class",   # what is spoken of
    "verdict", "note", "ask", "say", "spared",                      # what is said of it
    "all", "but", "not", "filler", "loose", "days", "time", "music",
]
Spelled = tuple[str, ...]       # a phrase, word by word
SenseKind = Literal["point", "aim", "part", "way"]


class Sense(NamedTuple):
    """What a word means within one skill. `rank` 0: by id or whole label, 1: by a word of the label."""

    kind: SenseKind
    id: str
    rank: int = 0


class Item(NamedTuple):
    """One meaning of a phrase."""

    kind: Kind
    word: str = ""                                      # a verdict, a skill id, a load …
    ids: tuple[str, ...] = ()                           # a child's candidates, a group's children, classes
    number: int = 0
    senses: Mapping[str, tuple[Sense, ...]] | None = None    # for `attr`: skill id → meanings


_NOTHING: dict[str, Node] = {}      # goes on from most places; never filled


class Node:
    """A place in the tree of phrases: what ends here, and which words go on."""

    __slots__ = ("items", "next")

    def __init__(self) -> None:
        self.items: tuple[Item, ...] = ()
        self.next = _NOTHING

    @classmethod
    def of(cls, phrases: Iterable[tuple[Spelled, Item]]) -> Node:
        """The tree of these phrases."""
        root = cls()
        for words, item in phrases:
            root.add(words, item)
        return root

    def add(self, words: Spelled, item: Item) -> None:
        """Let a phrase stand for an item."""
        node = self
        for word in words:
            known = node.next.get(word)
            if known is None:
                known = Node()
                if node.next is _NOTHING:
                    node.next = {}
                node.next[word] = known
            node = known
        if item not in node.items:
            node.items = (*node.items, item)


JOINED_UP_TO = 5    # a name of more atoms than this is only taken apart whole or not at all


def spellings(text: str) -> Iterator[Spelled]:
    """The ways to type a name with or without its spaces, hyphens and apostrophes."""
    words = atoms(text)
    if not words:
        return
    if len(words) > JOINED_UP_TO:
        yield words
        yield ("".join(words),)
        return
    for gaps in product((True, False), repeat=len(words) - 1):
        out = [words[0]]
        for gap, word in zip(gaps, words[1:], strict=True):
            if gap:
                out.append(word)
            else:
                out[-1] += word
        yield tuple(out)
