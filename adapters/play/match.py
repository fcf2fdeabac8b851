"""Does what came back fit what the script says? Pure comparison, and how the two lie side by side.

`...` stands for anything inside a text or a label, `[...]` for any further choices, `...` alone for any
further messages. White space runs together, so that a text may be written on other lines than it came.
"""
from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from typing import TypeVar

from adapters.play.script import Anything, Expected, Item
from bot.step import Said

P = TypeVar("P")
T = TypeVar("T")

ANY_CHOICES = ("...", "…")
_WILD = re.compile(r"(?: ?(?:\.{3,}|…))+")        # an editor may have made one sign of the three dots
_PLAIN = str.maketrans("“”„’‘", "\"\"\"''")            # … and curly quotes of straight ones


@dataclass(frozen=True, slots=True)
class Came:
    """A message that came back, and to whom."""

    to: str
    said: Said

    @property
    def labels(self) -> tuple[str, ...]:
        """The labels of its choices."""
        return tuple(choice.label for choice in self.said.choices)


@dataclass(frozen=True, slots=True)
class Row:
    """What lies side by side: expected and come; either may be missing, `fits` where they are alike."""

    expected: Expected | None
    came: Came | None

    @property
    def fits(self) -> bool:
        """Did this come as the script says?"""
        return self.expected is not None and self.came is not None and message_fits(self.expected, self.came)


@dataclass(frozen=True, slots=True)
class Comparison:
    """What a move should bring back beside what came."""

    ok: bool
    rows: tuple[Row, ...]               # expected ones in the script's order, then what else came
    loose: bool                         # `...` alone: what else came may come


# --- one message -----------------------------------------------------------------------------------

def text_fits(pattern: str, text: str) -> bool:
    """Is the text what the pattern says?"""
    chunks = _WILD.split(_plain(pattern))
    text = _plain(text)
    if len(chunks) == 1:
        return chunks[0] == text
    if not chunks[0]:                   # a pattern that begins with `...` may begin in the middle of a line
        chunks[1] = chunks[1].lstrip()
    first, *middle, last = chunks
    return _in_order(first, middle, last, text)


def _plain(text: str) -> str:
    return " ".join(text.translate(_PLAIN).split())


def _in_order(first: str, middle: Iterable[str], last: str, text: str) -> bool:
    """Do the chunks stand in the text one after another, the first at its start and the last at its end?"""
    if not text.startswith(first):
        return False
    at = len(first)
    for chunk in middle:
        at = text.find(chunk, at)
        if at < 0:
            return False
        at += len(chunk)
    return len(text) - at >= len(last) and text.endswith(last)


def label_fits(pattern: str, label: str) -> bool:
    """Is this the label, in whatever letters?"""
    return text_fits(pattern.casefold(), label.casefold())


def choices_fit(patterns: Sequence[str], labels: Sequence[str]) -> bool:
    """Are these the choices, in this order?"""
    return in_sequence(patterns, labels, lambda one: one in ANY_CHOICES, label_fits)


def message_fits(expected: Expected, came: Came) -> bool:
    """Is this the message, whoever got it?"""
    if not text_fits(expected.text, came.said.text):
        return False
    return expected.choices is None or choices_fit(expected.choices, came.labels)


# --- in a row --------------------------------------------------------------------------------------

def in_sequence(
    patterns: Sequence[P], things: Sequence[T], wild: Callable[[P], bool], fits: Callable[[P, T], bool],
) -> bool:
    """Do the patterns cover the things, all and in order? A wild one covers any number, none too."""
    reached = {0}                       # how many things the patterns so far can have covered
    for pattern in patterns:
        if wild(pattern):
            reached = set(range(min(reached), len(things) + 1)) if reached else reached
        else:
            reached = {n + 1 for n in reached if n < len(things) and fits(pattern, things[n])}
    return len(things) in reached


# --- all that came ---------------------------------------------------------------------------------

def compare(items: Sequence[Item], came: Sequence[Came], speaker: str | None, same: Callable[[str], str]) -> Comparison:
    """What should have come back beside what came. Between people any order will do, for each person not.

    `same` tells which of several names of one person counts.
    """
    who = {id(item): same(item.to or speaker or "") for item in items if isinstance(item, Expected)}
    people = list(dict.fromkeys([*who.values(), *(same(one.to) for one in came)]))
    ok, paired, left = True, {}, []
    for person in people:
        wanted = [item for item in items if isinstance(item, Anything) or who[id(item)] == person]
        got = [one for one in came if same(one.to) == person]
        ok = ok and in_sequence(wanted, got, _is_anything, _fits)
        pairs, rest = _side_by_side([item for item in wanted if isinstance(item, Expected)], got)
        paired.update(pairs)
        left += rest
    rows = [Row(item, paired.get(id(item))) for item in items if isinstance(item, Expected)]
    rows += [Row(None, one) for one in came if any(one is other for other in left)]
    return Comparison(ok, tuple(rows), any(map(_is_anything, items)))


def _is_anything(item: Item) -> bool:
    return isinstance(item, Anything)


def _fits(item: Item, came: Came) -> bool:
    return isinstance(item, Expected) and message_fits(item, came)


def _side_by_side(wanted: Sequence[Expected], got: Sequence[Came]) -> tuple[dict[int, Came], list[Came]]:
    """As many as can be that fit, in order; between those, the others one by one. And what is left over."""
    pairs: dict[int, Came] = {}
    left: list[Came] = []
    at_wanted, at_got = 0, 0
    for n, m in [*_fitting(wanted, got), (len(wanted), len(got))]:
        between = list(zip(wanted[at_wanted:n], got[at_got:m], strict=False))
        pairs.update({id(item): one for item, one in between})
        left += got[at_got + len(between):m]
        if n < len(wanted):
            pairs[id(wanted[n])] = got[m]
        at_wanted, at_got = n + 1, m + 1
    return pairs, left


def _fitting(wanted: Sequence[Expected], got: Sequence[Came]) -> list[tuple[int, int]]:
    """The longest run of pairs that fit, in order: the common subsequence of the two."""
    best: list[list[list[tuple[int, int]]]] = [[[] for _ in range(len(got) + 1)] for _ in range(len(wanted) + 1)]
    for n in range(len(wanted) - 1, -1, -1):
        for m in range(len(got) - 1, -1, -1):
            if message_fits(wanted[n], got[m]):
                best[n][m] = [(n, m), *best[n + 1][m + 1]]
            else:
                best[n][m] = max(best[n + 1][m], best[n][m + 1], key=len)
    return best[0][0]
