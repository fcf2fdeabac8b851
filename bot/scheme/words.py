"""Words as people write them: folded for comparing, made into ids, and the nearest known one.

What lives here: pure functions on text that the checks of a file need. How a message is read is `bot/talk`.
"""
from __future__ import annotations

import unicodedata
from collections.abc import Iterable

from rapidfuzz import fuzz, process

# Letters that no normal form takes apart.
PLAIN = str.maketrans({
    "ł": "l", "ø": "o", "đ": "d", "ð": "d", "þ": "th", "æ": "ae", "œ": "oe", "ı": "i", "ħ": "h", "ŋ": "n",
})
NEAR = 70       # below this two words have too little in common to be worth suggesting


def _plain(text: str) -> str:
    """Lower case and without accents. Marks that are letters of their own script stay (が, हि)."""
    apart = unicodedata.normalize("NFKD", text.casefold())
    bare = "".join(letter for letter in apart if not "\u0300" <= letter <= "\u036f")
    return unicodedata.normalize("NFC", bare).translate(PLAIN)


def _is_letter(letter: str) -> bool:
    return letter.isalnum() or unicodedata.category(letter).startswith("M")


def fold(text: str) -> str:
    """What two spellings of one thing have in common: no case, accents, spaces, hyphens, punctuation.

    >>> fold("Shoulder-Stand"), fold("Zoë O'Łaska")
    ('shoulderstand', 'zoeolaska')
    """
    return "".join(letter for letter in _plain(text) if _is_letter(letter))


def slug(text: str) -> str:
    """An id made of a name: its folded words joined by hyphens; `""` where there is no letter in it.

    >>> slug("Harbour Lane Hall"), slug("Siân's  class")
    ('harbour-lane-hall', 'sians-class')
    """
    spaced = "".join(
        letter if _is_letter(letter) else "" if letter in "'’ʼ" else " " for letter in _plain(text)
    )
    return "-".join(spaced.split())


def nearest(word: str, known: Iterable[str], least: int = NEAR) -> str | None:
    """The known word that somebody most likely meant, or None where none is near (`least`: of 100)."""
    best = process.extractOne(word, list(known), scorer=fuzz.WRatio, processor=_plain, score_cutoff=least)
    return None if best is None else best[0]


def meant(word: str, known: Iterable[str]) -> str:
    """The end of a sentence about an unknown word: the near one, or all there are.

    >>> meant("lantren", ["candle", "lantern"])
    'did you mean "lantern"?'
    """
    choices = list(known)
    near = nearest(word, choices)
    if near is not None:
        return f'did you mean "{near}"?'
    if not choices:
        return "there are none to choose from"
    shown = ", ".join(f'"{choice}"' for choice in choices[:8])
    return f"use one of {shown}" + (" …" if len(choices) > 8 else "")
