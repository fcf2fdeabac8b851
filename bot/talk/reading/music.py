"""Counts, tempi and lengths in a message: `8 eights at 120`, `90 s at 120`, `click 120 twice with a count-in`.

What lives here: which numbers are about music, and what a bag of them asks for.
"""
from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from typing import TYPE_CHECKING, Final

from bot.music import BEATS
from bot.talk.reading.items import Item
from bot.talk.reading.tokens import Token
from bot.talk.reading.words import COUNT_IN, COUNTS, MUSIC, ONCE, TEMPO_AT
from bot.talk.requests import Music

if TYPE_CHECKING:
    from bot.talk.reading.bag import Bag

BARE: Final = "bare"        # a number with nothing beside it
NO_HOUR: Final = 25         # `at 24` is a time of the day
LONGEST: Final = 5          # digits
Phrases = tuple[tuple[tuple[str, ...], str, int], ...]


def _parted(table: Mapping[tuple[str, int], str]) -> Phrases:
    return tuple(
        (tuple(one.split()), word, number) for (word, number), text in table.items() for one in text.split("|")
    )


_UNITS: Final = _parted({(word, 0): text for word, text in MUSIC.items()})
_ONCE: Final = _parted(ONCE)
_BEFORE: Final = _parted({("tempo", NO_HOUR): TEMPO_AT, ("count in", 0): COUNT_IN})
_FIRST: Final = frozenset(words[0] for words, _, _ in (*_ONCE, *_BEFORE))


def of_music(tokens: Sequence[Token], start: int) -> Iterator[tuple[int, Item]]:
    """What begins at a token and is about music: where it ends, and what it says."""
    number = _number(tokens, start)
    if number is not None:
        yield from _counted(tokens, start, number)
    if tokens[start].word in _FIRST:
        for words, word, said in _ONCE:
            if _stands(tokens, start, words):
                yield start + len(words), Item("music", word, number=said)
        for words, word, least in _BEFORE:
            end = start + len(words)
            follows = _number(tokens, end) if _stands(tokens, start, words) else None
            if follows is not None and follows >= least:
                for stop in (end + 1, *(end + 1 + size for size in _sizes(tokens, end + 1, word))):
                    yield stop, Item("music", word, number=follows)


def _counted(tokens: Sequence[Token], start: int, number: int) -> Iterator[tuple[int, Item]]:
    if tokens[start].kind == "number":
        yield start + 1, Item("music", BARE, number=number)
    for words, word, _ in _UNITS:
        if not _stands(tokens, start + 1, words):
            continue
        end = start + 1 + len(words)
        if word == "eights":
            yield end, Item("music", "beats", number=number * BEATS)
        elif word == "minutes":
            yield end, Item("music", "seconds", number=number * 60)
        else:
            yield end, Item("music", word, number=number)


def _sizes(tokens: Sequence[Token], at: int, word: str) -> Iterator[int]:
    """How many words of the unit stand behind the number all the same: `at 120 bpm`, `count in 2 eights`."""
    unit = {"tempo": "tempo", "count in": "eights"}[word]
    return (len(words) for words, of, _ in _UNITS if of == unit and _stands(tokens, at, words))


def _stands(tokens: Sequence[Token], at: int, words: tuple[str, ...]) -> bool:
    return tuple(token.word for token in tokens[at:at + len(words)]) == words


def _number(tokens: Sequence[Token], at: int) -> int | None:
    if at >= len(tokens):
        return None
    token = tokens[at]
    if token.kind == "number" and len(token.word) <= LONGEST:
        return int(token.word)
    return COUNTS.get(token.word) if token.kind == "word" else None


# --- what is asked -------------------------------------------------------------------------------------

def of_itself(bag: Bag) -> bool:
    """Do these figures ask for something with no word of asking? A number of times alone may be anything."""
    said = dict(bag.music)
    return "beats" in said or ("seconds" in said and "tempo" in said) or bool(bag.skill and "tempo" in said)


def music(bag: Bag) -> Music:
    """What a bag asks for."""
    said = dict(bag.music)
    return Music(
        "click" if bag.head == "click" else "lasts", bag.skill or None, said.get("tempo"), said.get("beats"),
        said.get("seconds"), said.get("times"), said.get("count in"),
    )
