"""Folding: how two spellings of one word are made equal. Nothing here knows what a word means.

One folding for all: a name in a roster, a word in a scheme and a word in a message are alike or not alike everywhere.
Accents are taken off Latin and Greek letters only: in other scripts a mark makes another letter
(a Japanese voicing mark, a Devanagari vowel), so taking it off would make two children one.
"""
from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterator
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
    "ё": "е",       # an accent in practice: it is left out as often as not
})
_ACCENT: Final = re.compile("[\u0300-\u036f\u1ab0-\u1aff\u1dc0-\u1dff]")
_SKIN_TONES: Final = range(0x1F3FB, 0x1F400)
# Built once when the module is read: what an ASCII text becomes, character by character.
_ASCII: Final = {
    code: chr(code).lower() if chr(code).isalnum() or chr(code) in "+&=$<>^~|" else " "
    for code in range(128)
} | {ord("'"): None, ord("`"): None, ord("-"): None}


def fold(text: str) -> str:
    """The words of a text in the form in which they are compared, one space between them. Never raises.

    >>> fold("Shoulder-Stand"), fold("Zoë  O'Łaska")
    ('shoulderstand', 'zoe olaska')
    """
    if text.isascii():
        return text.lower() if text.isalnum() else " ".join(text.translate(_ASCII).split())
    return " ".join("".join(map(_kept, plain(text))).split())


def bare(text: str) -> str:
    """A word folded, without any space: what a single typed word is looked up by."""
    return fold(text).replace(" ", "")


def letters(text: str) -> str:
    """Folded, and nothing but letters and figures: what two ids or two names in a file have in common.

    >>> letters("Shoulder stand") == letters("shoulder-stand"), letters("?!")
    (True, '')
    """
    return "".join(char for char in fold(text) if is_letter(char))


def atoms(text: str) -> tuple[str, ...]:
    """The smallest pieces of a name, folded: `Ji-ho O'Dea` → ji, ho, o, dea."""
    parts = text.translate(_ALIKE).replace("-", " ").replace("'", " ").split()
    return tuple(word for part in parts for word in fold(part).split())


def is_formula(text: str) -> bool:
    """Would a spreadsheet take it for a formula? No name begins so, and a list with one is a danger to who opens it.

    Source: OWASP, "CSV Injection", from memory.
    """
    return unicodedata.normalize("NFKC", text).lstrip().startswith(("=", "+", "-", "@"))


def is_letter(char: str) -> bool:
    """Is it a letter, a figure, or a mark that belongs to one?"""
    return char.isalnum() or unicodedata.category(char).startswith("M")


def plain(text: str) -> str:
    """Case and accents gone, every apostrophe `'` and every hyphen `-`; spaces and punctuation as they were."""
    if text.isascii():
        return text.lower().replace("`", "'")
    text = _special(_apart(text.translate(_ALIKE)))
    # A letter may fall apart only once its case is gone, so it goes round until nothing changes.
    for _ in range(3):
        again = _special(_apart(text.translate(_ALIKE)))
        if again == text:
            break
        text = again
    return text


def _special(text: str) -> str:
    return text.translate(_SPECIAL)


_nfkd = partial(unicodedata.normalize, "NFKD")


def _apart(text: str) -> str:
    """Case and accents gone; what belongs together in other scripts put together again."""
    apart = _nfkd(_nfkd(text).casefold())
    if _ACCENT.search(apart):
        apart = "".join(_without_accents(apart))
    return unicodedata.normalize("NFKC", apart)


def _without_accents(text: str) -> Iterator[str]:
    bare_base = False
    for char in text:
        if _ACCENT.match(char):
            if bare_base:
                continue
        elif not unicodedata.category(char).startswith("M"):
            bare_base = _loses_accents(char)
        yield char


def _loses_accents(char: str) -> bool:
    if char.isascii() or not char.isalnum():    # on what is no letter an accent says nothing
        return True
    code = ord(char)
    near = code < 0x400 or 0x1D00 <= code < 0x2000 or 0x2C60 <= code < 0x2C80 or 0xA720 <= code < 0xAB70
    return near and unicodedata.name(char, "").startswith(("LATIN", "GREEK"))


def _kept(char: str) -> str:
    """Letters, numbers, marks and signs stay; other punctuation parts words; what is not seen goes."""
    code = ord(char)
    if char in "'-" or 0xFE00 <= code <= 0xFE0F or code in _SKIN_TONES:
        return ""
    kind = unicodedata.category(char)
    if kind == "Cf":
        return ""
    return char if kind[0] in "LNMS" or kind in ("Co", "Cn") else " "
