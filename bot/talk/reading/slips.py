"""How far off a word may be, and which slips are a thumb's."""
from __future__ import annotations

from typing import Final

LONG: Final = 8         # a word of so many letters stays itself with two of them wrong
_ROWS: Final = ("qwertyuiop", "asdfghjkl", "zxcvbnm")
_PLACE: Final = {key: (at + row * 0.5, row) for row, keys in enumerate(_ROWS) for at, key in enumerate(keys)}


def forgiven(word: str) -> int:
    """The most letters that may be wrong in a word of ours."""
    return 2 if len(word) >= LONG else 1 if len(word) >= 4 else 0


def asked(word: str) -> int:
    """The most letters that may be wrong in a name, which is only asked about."""
    return 2 if len(word) >= 6 else 1 if len(word) >= 3 else 0


def of_the_thumb(typed: str, word: str) -> bool:
    """Does a thumb make this of a short word? `sean` and `been` are words of their own, not a `seen` gone wrong."""
    if len(word) >= LONG:
        return True
    if len(typed) != len(word):
        return typed[0] == word[0]
    wrong = [at for at, (one, other) in enumerate(zip(typed, word, strict=True)) if one != other]
    return len(wrong) != 1 or _beside(typed[wrong[0]], word[wrong[0]])


def _beside(one: str, other: str) -> bool:
    """Are two keys neighbours?"""
    if one not in _PLACE or other not in _PLACE:
        return False
    (x, y), (to_x, to_y) = _PLACE[one], _PLACE[other]
    return abs(x - to_x) <= 1 and abs(y - to_y) <= 1
