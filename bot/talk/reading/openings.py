"""What only the beginning of a clause can be: a new child's name, a code, a group's name, a count, a spelling."""
from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from typing import Final

from bot.fold import fold, is_formula
from bot.scheme.model import Scheme
from bot.talk.reading.bag import Bag
from bot.talk.reading.lexer import Found
from bot.talk.reading.tokens import Token, tokenise
from bot.talk.reading.words import NEVER_A_GROUP

LONGEST_NAME: Final = 80
MOST_NAMES: Final = 60
MOST_SKILLS: Final = 12
HAS: Final = frozenset({"has", "had", "holds", "held"})
_BETWEEN: Final = re.compile(r"[,;\n]")
_BULLET: Final = re.compile(r"^(?:\d{1,3}[.)]?|[-•*·–])\s+")
_HELD: Final = re.compile(r"(.+?)\s+(?:has|had|holds|held)\s+(.+?)(?:\s+since\s+(.+))?", re.IGNORECASE)
LONGEST_WAY: Final = 40
LONGEST_RULING: Final = 120     # a line of a card
LONGEST_GROUP: Final = 20       # it has to fit a label
_COUNT: Final = re.compile(r"(?P<after>\D+?)[ =:]*(?P<last>\d{1,4})|(?P<first>\d{1,4}) *(?P<before>\D+)", re.ASCII)
_IS: Final = frozenset({"is", "are", "="})
_TAKEN: Final = frozenset({
    "child", "skill", "side", "show", "class", "verdict", "note", "ask", "say", "spared", "all", "but", "not", "filler",
})


def names_added(text: str, tokens: Sequence[Token], place: int) -> tuple[int, tuple[str, ...]]:
    """After `add`: where the clause ends, and the names as typed; none where one of them is no name."""
    size = len(tokens)
    end = next((at for at in range(place, size) if tokens[at].kind == "sep"), size)
    stop = tokens[end].start if end < size else len(text)
    names = tuple(" ".join(name.split()).strip(".:! ") for name in text[tokens[place].stop:stop].split(","))
    fits = all(
        any(char.isalpha() for char in name) and len(name) <= LONGEST_NAME and not is_formula(name) for name in names
    )
    return end, names if fits else ()


def names_listed(text: str, colon: Token) -> tuple[str, ...]:
    """After `add to tuesday:`, the names as typed, on lines of their own or between commas; none where one is no name.

    What a pasted list has before each name (a number, a dash, a dot) is left out.
    """
    parts = (_BULLET.sub("", part.strip()) for part in _BETWEEN.split(text[colon.stop:]))
    names = tuple(dict.fromkeys(" ".join(name.split()).strip(".:! ") for name in parts if name.strip()))
    fits = all(any(char.isalpha() for char in name) and len(name) <= LONGEST_NAME for name in names)
    return names if fits and len(names) <= MOST_NAMES and all(map(_no_figures, names)) else ()


def _no_figures(name: str) -> bool:
    return not any(char.isdigit() for char in name)


def held_before(text: str) -> tuple[str, tuple[str, ...], str]:
    """`ava has shoulder stand, cartwheel since may`: whose, what, since when; all empty where it is said otherwise."""
    found = _HELD.fullmatch(text.strip().rstrip(".!"))
    if found is None:
        return "", (), ""
    skills = tuple(part.strip() for part in found[2].split(",") if part.strip())
    if len(skills) > MOST_SKILLS or HAS & set(found[2].casefold().split()):
        return "", (), ""
    return found[1].strip(), skills, (found[3] or "").strip()


def way_agreed(text: str, tokens: Sequence[Token]) -> tuple[str, str]:
    """After `agree`: the words for whom and what, and the way as typed; both empty where there is no colon."""
    colon = next((token for token in tokens[1:] if token.word == ":"), None)
    if colon is None:
        return "", ""
    way = " ".join(text[colon.stop:].split()).strip(" .!")
    return text[tokens[0].stop:colon.start], way if len(way) <= LONGEST_WAY else ""


def cupboard_counted(text: str, tokens: Sequence[Token], scheme: Scheme) -> tuple[tuple[str, int], ...] | None:
    """After `cupboard`: (award, how many) as typed, `lantern 5, candle 3` or `5 lantern`; None: not like that."""
    named = {fold(word): award.id for award in scheme.awards for word in (award.id, award.name)}
    counts: list[tuple[str, int]] = []
    for part in re.split(r"[,;:\n]|\band\b", text[tokens[0].stop:]):
        found = _COUNT.fullmatch(part.strip(" .!="))
        if found is None:
            if part.strip(" .!"):
                return None
            continue
        word = fold(found["after"] or found["before"] or "")
        award = named.get(word) or named.get(word.removesuffix("s"))
        if award is None:
            return None
        counts.append((award, int(found["last"] or found["first"])))
    return tuple(counts)


def name_spelled(text: str, tokens: Sequence[Token]) -> tuple[str, str]:
    """After `spell`: whose, and after the colon the name as it is printed; both empty where there is no colon."""
    colon = next((token for token in tokens[1:] if token.word == ":"), None)
    name = "" if colon is None else " ".join(text[colon.stop:].split())
    fits = any(char.isalpha() for char in name) and len(name) <= LONGEST_NAME
    return (text[tokens[0].stop:colon.start], name) if colon is not None and fits else ("", "")


def ruling_made(text: str, tokens: Sequence[Token]) -> tuple[str, str]:
    """After `ruling`: the words for which skill and point, and the ruling as typed; both empty without a colon."""
    colon = next((token for token in tokens[1:] if token.word == ":"), None)
    if colon is None:
        return "", ""
    ruling = " ".join(text[colon.stop:].split()).strip(" .!")
    return text[tokens[0].stop:colon.start], ruling if len(ruling) <= LONGEST_RULING else ""


def code_joined(text: str, tokens: Sequence[Token]) -> str:
    """After `join`: the code as typed."""
    return text[tokens[0].stop:].strip().lstrip(":").strip()


def tries_code(text: str) -> bool:
    """Would this be read as a code that somebody tries, however `join` is spelled?"""
    return any(token.word == "join" for token in tokenise(text)[:1])


def groups_named(tokens: Sequence[Token], start: int, found: Sequence[Found]) -> Iterator[tuple[int, Bag]]:
    """`red is ava ben`: any words but our own, a skill's and a child's may name a group."""
    for end in range(start + 1, min(start + 4, len(tokens))):
        words = tokens[start:end]
        if tokens[end].word not in _IS:
            continue
        if any(token.kind != "word" or token.word in NEVER_A_GROUP for token in words):
            continue
        if any(one.end == end and one.item.kind in _TAKEN for one in found):
            continue
        name = " ".join(token.text for token in words)
        if len(name) <= LONGEST_GROUP:
            yield end + 1, Bag("group", "group", word=name, begin=start)
