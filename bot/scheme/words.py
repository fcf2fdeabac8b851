"""Words as people write them: made into ids, and the nearest known one. How they are folded is `bot/fold.py`.

What lives here: pure functions on text that the checks of a file need. How a message is read is `bot/talk`.
"""
from __future__ import annotations

from collections.abc import Iterable

from rapidfuzz import fuzz, process

from bot.fold import is_letter, plain
from bot.fold import letters as fold

__all__ = ["fold", "meant", "nearest", "slug"]


NEAR = 70       # below this two words have too little in common to be worth suggesting


def slug(text: str) -> str:
    """An id made of a name: its folded words joined by hyphens; `""` where there is no letter in it.

    >>> slug("Harbour Lane Hall"), slug("Siân's  class")
    ('harbour-lane-hall', 'sians-class')
    """
    spaced = "".join(
        letter if is_letter(letter) else "" if letter == "'" else " " for letter in plain(text)
    )
    return "-".join(spaced.split())


def nearest(word: str, known: Iterable[str], least: int = NEAR) -> str | None:
    """The known word that somebody most likely meant, or None where none is near (`least`: of 100)."""
    best = process.extractOne(word, list(known), scorer=fuzz.WRatio, processor=plain, score_cutoff=least)
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
