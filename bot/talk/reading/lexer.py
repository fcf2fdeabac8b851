"""Which phrases begin at a token, and what each can stand for: exactly, or with a small slip."""
from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from typing import Final, NamedTuple

from rapidfuzz import process
from rapidfuzz.distance import DamerauLevenshtein

from bot.talk.reading.context import Context
from bot.talk.reading.items import Item, Kind, Node
from bot.talk.reading.music import of_music
from bot.talk.reading.slips import asked, forgiven, of_the_thumb
from bot.talk.reading.tokens import Token
from bot.talk.reading.when import clocks, prefix
from bot.talk.reading.words import COUNTS, MOST_DAYS, UNITS

MOST_SLIPS: Final = 6       # a message with more unknown words than this is not a slip of the thumb
LONGEST: Final = 40         # no word of ours is longer
MOST_NEAR: Final = 8
GROUP_WORDS: Final = 3
GUEST: Final = "?"           # no child has such an id
_BEFORE_AN_HOUR: Final = frozenset({"at", "leaves", "leaving", "until", "goes", "left"})
NAME_KINDS: Final = frozenset({"child", "group"})


class Near(NamedTuple):
    """A word that was perhaps meant: one of a name, the first of a name (which can stand alone), one of ours."""

    word: str
    distance: int
    name: bool
    first: bool
    own: bool
    thumb: bool             # a thumb does that: letters swapped, one too many or too few, the key beside


class Slip(NamedTuple):
    """A token read as another word, and what the phrase that it stands in turned out to be."""

    at: int
    near: Near
    kind: Kind = "filler"

    @property
    def name(self) -> bool:
        """Is a child meant?"""
        return self.kind in NAME_KINDS


class Found(NamedTuple):
    """A phrase found: where the next begins, what it stands for, and what had to be forgiven."""

    end: int
    item: Item
    slips: tuple[Slip, ...] = ()


class Lexer:
    """Finds phrases in the tokens of one message."""

    def __init__(
        self,
        tokens: Sequence[Token],
        context: Context,
        near: Mapping[int, tuple[Near, ...]] | None = None,
        guests: frozenset[int] = frozenset(),
    ) -> None:
        self.guests = guests        # words taken for the name of a child whom we don't know
        self.tokens = tokens
        self.context = context
        self.near = near or {}
        self.trees = context.vocabulary.trees

    def at(self, start: int) -> list[Found]:
        """Everything that can begin at a token."""
        found: list[Found] = []
        tokens = self.tokens
        walk = self._walk if self.near else self._walk_exact
        for tree in self.trees:
            walk(tree, start, found)
        kind = tokens[start].kind
        if kind != "word":
            found.extend(self._figures(start, kind))
        elif tokens[start].word in COUNTS:
            found.extend(self._days(start))
        found.extend(Found(end, item) for end, item in of_music(tokens, start))
        if start in self.guests:
            found.append(Found(start + 1, Item("child", ids=(GUEST,))))
        if self.context.groups:
            found.extend(self._groups(start))
        return found

    def unknown(self) -> list[int]:
        """The words that are part of no phrase."""
        reach, strange = 0, []
        for place, token in enumerate(self.tokens):
            if token.kind not in ("comma", "sep"):
                when = prefix(self.tokens, place, self.context.now)
                reach = max([reach, when.end if when else 0, *(found.end for found in self.at(place))])
                if reach <= place:
                    strange.append(place)
        return strange

    def _walk_exact(self, tree: Node, start: int, found: list[Found]) -> None:
        """The common case: one way through the tree."""
        tokens, node, place = self.tokens, tree, start
        last = len(tokens)
        while place < last:
            token = tokens[place]
            if token.run or token.stem:
                self._walk(tree, start, found)
                return
            step = node.next.get(token.word)
            if step is None:
                return
            node, place = step, place + 1
            for item in node.items:
                found.append(Found(place, item))

    def _walk(self, tree: Node, start: int, found: list[Found]) -> None:
        """Every way through the tree: hyphens tied or not, `mia's` as mia, words nearly right."""
        seen: set[tuple[int, int, tuple[Slip, ...]]] = set()
        todo = [(tree, start, _NO_SLIPS)]
        while todo:
            node, place, slips = todo.pop()
            key = (id(node), place, slips)
            if key in seen:
                continue
            seen.add(key)
            for item in node.items:
                fitting = _fitting(item, slips)
                if fitting is not None and not any(f.end == place and f.item is item for f in found):
                    found.append(Found(place, item, fitting))
            for word, end, slip in self._words(place):
                step = node.next.get(word)
                if step is not None:
                    todo.append((step, end, slips if slip is None else (*slips, slip)))

    def _words(self, place: int) -> Iterator[tuple[str, int, Slip | None]]:
        if place >= len(self.tokens):
            return
        token = self.tokens[place]
        yield token.word, place + 1, None
        if token.run:
            yield "".join(one.word for one in self.tokens[place:place + token.run]), place + token.run, None
        if token.stem:
            yield token.stem, place + 1, None
        for near in self.near.get(place, ()):
            # Which of the two it was is known once the phrase is complete.
            yield near.word, place + 1, Slip(place, near)

    def _figures(self, start: int, kind: str) -> Iterator[Found]:
        token, numbers = self.tokens[start], self.context.numbers
        if kind == "number" and len(token.word) < 7:
            if int(token.word) in numbers:
                yield Found(start + 1, Item("child", token.word, (numbers[int(token.word)],)))
            yield from self._days(start)
            if len(token.word) < 3 and start and self.tokens[start - 1].word in _BEFORE_AN_HOUR:
                yield from self._time(start)
        elif kind == "range":
            first, last = (int(part) for part in token.word.replace("to", "-").split("-"))
            span = range(first, last + 1)
            if 0 < len(span) <= len(numbers) and all(number in numbers for number in span):
                yield Found(start + 1, Item("group", token.word, tuple(numbers[number] for number in span)))
        elif kind == "time":
            yield from self._time(start)

    def _time(self, start: int) -> Iterator[Found]:
        """`17:30`, and `5.30` or `5` for the next one to come."""
        minutes = [hour.hour * 60 + hour.minute for hour in clocks(self.tokens[start].word)]
        now = self.context.now.hour * 60 + self.context.now.minute
        if minutes:
            chosen = next((one for one in minutes if one >= now), minutes[-1])
            yield Found(start + 1, Item("time", number=chosen))

    def _days(self, start: int) -> Iterator[Found]:
        """`3 weeks`, `a week`."""
        if start + 1 < len(self.tokens):
            word = self.tokens[start].word
            size = UNITS.get(self.tokens[start + 1].word, 0)
            count = COUNTS[word] if word in COUNTS else int(word)
            if size and 0 < size * count <= MOST_DAYS:
                yield Found(start + 2, Item("days", number=size * count))

    def _groups(self, start: int) -> Iterator[Found]:
        words: list[str] = []
        for place in range(start, min(start + GROUP_WORDS, len(self.tokens))):
            words.append(self.tokens[place].word)
            name = " ".join(words)
            if name in self.context.groups:
                yield Found(place + 1, Item("group", name, self.context.groups[name]))


_NO_SLIPS: tuple[Slip, ...] = ()


def _fitting(item: Item, slips: tuple[Slip, ...]) -> tuple[Slip, ...] | None:
    """The slips of a phrase, told for what it turned out to be; None where too much was forgiven."""
    if not slips:
        return slips
    if item.kind in NAME_KINDS:
        return (slips[0]._replace(kind=item.kind),) if len(slips) == 1 and slips[0].near.name else None
    return tuple(slip._replace(kind=item.kind) for slip in slips) if all(s.near.own for s in slips) else None


def near_words(
    tokens: Sequence[Token], unknown: Sequence[int], context: Context
) -> dict[int, tuple[Near, ...]]:
    """For each unknown token the words that it may be a slip of."""
    return {at: near for at in unknown if (near := _near(tokens[at], context))}


def _near(token: Token, context: Context) -> tuple[Near, ...]:
    typed = token.word
    if token.kind != "word" or not 3 <= len(typed) <= LONGEST:
        return ()
    vocabulary = context.vocabulary
    own = {word: far for word, far in _close(typed, vocabulary.own_words) if far <= forgiven(word)}
    names = {word: far for word, far in _close(typed, vocabulary.name_words) if far <= asked(word)}
    both = {**names, **own}
    ranked = sorted(both, key=lambda word: (both[word], word))[:MOST_NEAR]
    firsts = vocabulary.first_words
    return tuple(
        Near(word, both[word], word in names, word in firsts, word in own, of_the_thumb(typed, word)) for word in ranked
    )


def _close(typed: str, words: Sequence[str]) -> Iterator[tuple[str, int]]:
    scorer = DamerauLevenshtein.distance
    for word, far, _ in process.extract(typed, words, scorer=scorer, score_cutoff=2, limit=None):
        yield word, int(far)
