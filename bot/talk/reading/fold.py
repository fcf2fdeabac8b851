"""Folding: how two spellings of one word are made equal. Nothing here knows what a word means.

Accents are taken off Latin and Greek letters only: in other scripts a mark makes another letter
(a Japanese voicing mark, a Devanagari vowel), so taking it off would make two children one.
"""
from __future__ import annotations

import unicodedata
from functools import partial
from typing import Final

APOSTROPHES: Final = "'`´‘’‚‛′ʹʻʼʽˈ＇"
HYPHENS: Final = "-\u00ad‐‑‒–—―−﹘﹣－"

_TO_APOSTROPHE: Final = dict.fromkeys(map(ord, APOSTROPHES), "'")
_TO_HYPHEN: Final = dict.fromkeys(map(ord, HYPHENS), "-")
_ALIKE: Final = {**_TO_APOSTROPHE, **_TO_HYPHEN}

# Letters that Unicode does not take apart, as people type them without the key for them.
_SPECIAL: Final = str.maketrans({
    "ł": "l", "ø": "o", "đ": "d", "ð": "d", "þ": "th", "æ": "ae", "œ": "oe", "ß": "ss", "ı": "i",
    "ħ": "h", "ŋ": "ng", "ŧ": "t", "ƀ": "b", "ɓ": "b", "ƙ": "k", "ɗ": "d", "ɖ": "d", "ə": "e", "ǝ": "e",
    "ĸ": "k", "ɩ": "i", "ȷ": "j", "ƶ": "z", "ɨ": "i", "ʉ": "u", "ɫ": "l", "ƴ": "y",
})
_SKIN_TONES: Final = range(0x1F3FB, 0x1F400)
# Built once when the module is read: what an ASCII text becomes, character by character.
_ASCII: Final = {
    code: chr(code).lower() if chr(code).isalnum() or chr(code) in "+&=$<>^~|" else " "
    for code in range(128)
} | {ord("'"): None, ord("`"): None, ord("-"): None}


def fold(text: str) -> str:
    """The words of a text in the form in which they are compared, one space between them. Never raises."""
    if text.isascii():
        return " ".join(text.translate(_ASCII).split())
    text = _special(_apart(text.translate(_ALIKE)))
    # A letter may fall apart only once its case is gone, so it goes round until nothing changes.
    for _ in range(3):
        again = _special(_apart(text.translate(_ALIKE)))
        if again == text:
            break
        text = again
    return " ".join("".join(map(_kept, text)).split())


def bare(text: str) -> str:
    """A word folded, without any space: what a single typed word is looked up by."""
    return fold(text).replace(" ", "")


def atoms(text: str) -> tuple[str, ...]:
    """The smallest pieces of a name, folded: `Ji-ho O'Dea` → ji, ho, o, dea."""
    parts = text.translate(_ALIKE).replace("-", " ").replace("'", " ").split()
    return tuple(word for part in parts for word in fold(part).split())


def _special(text: str) -> str:
    return text.translate(_SPECIAL)


_nfkd = partial(unicodedata.normalize, "NFKD")


def _apart(text: str) -> str:
    """Case and accents gone; what belongs together in other scripts put together again."""
    kept: list[str] = []
    bare_base = False
    for char in _nfkd(_nfkd(text).casefold()):
        if _is_accent(char):
            if bare_base:
                continue
        elif not unicodedata.category(char).startswith("M"):
            bare_base = _loses_accents(char)
        kept.append(char)
    return unicodedata.normalize("NFKC", "".join(kept))


def _is_accent(char: str) -> bool:
    code = ord(char)
    return 0x300 <= code <= 0x36F or 0x1AB0 <= code <= 0x1AFF or 0x1DC0 <= code <= 0x1DFF


def _loses_accents(char: str) -> bool:
    return char.isascii() or unicodedata.name(char, "").startswith(("LATIN", "GREEK"))


def _kept(char: str) -> str:
    """Letters, numbers, marks and signs stay; other punctuation parts words; what is not seen goes."""
    code = ord(char)
    if char in "'-" or 0xFE00 <= code <= 0xFE0F or code in _SKIN_TONES:
        return ""
    kind = unicodedata.category(char)
    if kind == "Cf":
        return ""
    return char if kind[0] in "LNMS" or kind in ("Co", "Cn") else " "
