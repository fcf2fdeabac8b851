"""From a text to its tokens: words, numbers, times, dates, and what parts them. No meaning here."""
from __future__ import annotations

import re
import unicodedata
from typing import Final, Literal, NamedTuple, cast

from bot.fold import APOSTROPHES, HYPHENS, bare

Kind = Literal["word", "number", "range", "time", "date", "comma", "sep"]


class Token(NamedTuple):
    """One token. `start` and `stop` are places in the text as typed."""

    kind: Kind
    word: str           # folded; for a comma and a separator the sign itself
    text: str           # as typed
    start: int
    stop: int
    run: int = 0        # how many tokens a hyphen ties together, said by the first of them
    stem: str = ""      # for `mia's`: `mia`


_TOKEN: Final = re.compile(
    r"""
      (?P<sep>[;\n]+)
    | (?P<date>\d{4}-\d{1,2}-\d{1,2}(?![\w-]))
    | (?P<time>\d{1,2}[:.h]\d{2}(?!\w)(?:\ ?[ap]\.?m\b\.?)?|\d{1,2}[:.]\d{2}[ap]m\b|\d{1,2}\ ?[ap]\.?m\b\.?)
    | (?P<range>\d{1,4}(?:\ ?-\ ?|\ to\ )\d{1,4}(?![\w-]))
    | (?P<number>\d+(?!\w)|\d{1,3}(?=(?:[ynxdws]|days?|weeks?|wks?|secs?|mins?|bpm)(?!\w)))
    | (?P<word>[\w']+(?:-+[\w']+)*)
    | (?P<sign>[*+&=])
    | (?P<comma>[,:]|(?<=\s)-+(?=\s)|(?<=\w\w)[.!?]+(?=\s|$)|(?<=\*)[.!?]+(?=\s|$))
    | (?P<ask>\A\s*\?+\s*\Z)
    """,
    re.VERBOSE | re.IGNORECASE | re.ASCII,
)
_APOSTROPHES: Final = frozenset(APOSTROPHES)
_HYPHENS: Final = frozenset(HYPHENS) - {"\u00ad"}
_COMMAS: Final = frozenset("،、，：؛；﹐")
_BREAKS: Final = frozenset("\u0085\u2028\u2029\r\v\f")


def tokenise(text: str) -> list[Token]:
    """The tokens of a text in order. Any text at all is taken; what has no form is left out."""
    shadow = text if text.isascii() and "\r" not in text else "".join(map(_stand_in, text))
    tokens: list[Token] = []
    for match in _TOKEN.finditer(shadow):
        start, stop = match.span()
        kind = match.lastgroup or ""
        raw = text[start:stop]
        if kind == "word" and raw.isascii() and raw.isalpha():      # mostly: nothing to fold, nothing tied to it
            tokens.append(Token("word", raw.lower(), raw, start, stop))
        elif kind == "word":
            _words(tokens, shadow, text, start, stop)
        elif kind in ("sep", "comma"):
            tokens.append(Token(cast(Kind, kind), shadow[start], raw, start, stop))
        elif kind == "sign":
            _sign(tokens, raw, start, stop)
        elif kind == "ask":
            tokens.append(Token("word", "help", raw.strip(), start, stop))
        else:
            tokens.append(Token(cast(Kind, kind), shadow[start:stop].lower(), raw, start, stop))
    return tokens


def _words(tokens: list[Token], shadow: str, text: str, start: int, stop: int) -> None:
    """A word, or the words that hyphens tie together: those may be read as one or one by one."""
    if "-" not in shadow[start:stop]:
        _word(tokens, shadow, text, start, stop, 0)
        return
    first = len(tokens)
    at = start
    for piece in re.split(r"(-+)", shadow[start:stop]):
        if piece and piece[0] != "-":
            _word(tokens, shadow, text, at, at + len(piece), 0)
        at += len(piece)
    if len(tokens) - first > 1:
        tokens[first] = tokens[first]._replace(run=len(tokens) - first)


def _word(tokens: list[Token], shadow: str, text: str, start: int, stop: int, run: int) -> None:
    raw = text[start:stop]
    word = bare(raw)
    if not word:
        return
    shade = shadow[start:stop]
    stem = word[:-1] if len(shade) > 2 and shade[-2] == "'" and word[-1] == "s" else ""
    tokens.append(Token("number" if shade.isdigit() else "word", word, raw, start, stop, run, stem))


def _sign(tokens: list[Token], raw: str, start: int, stop: int) -> None:
    word = bare(raw)
    if word:
        tokens.append(Token("word", word, raw, start, stop))


def _stand_in(char: str) -> str:
    """An ASCII sign of the same kind, so that one expression reads every script; lengths stay the same."""
    if char == "\r" or char in _BREAKS:
        return "\n"
    if char.isascii():
        return char
    if char in _APOSTROPHES:
        return "'"
    if char in _HYPHENS:
        return "-"
    if char in _COMMAS:
        return ";" if char in "؛；" else ","
    kind = unicodedata.category(char)
    if kind == "Nd":
        return str(unicodedata.decimal(char))
    if kind[0] in "LMN" or kind in ("Cf", "Co", "Cn"):
        return "a"
    if kind[0] == "S":
        return "*"
    return " "
