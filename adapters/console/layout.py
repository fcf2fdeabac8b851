"""How messages are laid out in columns: wrapping, buttons, a phone's box. Pure: text in, lines out."""
from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterable
from dataclasses import dataclass

NARROWEST, WIDEST = 40, 100
_UNSEEN = re.compile(r"[\x00-\x09\x0b-\x1f\x7f-\x9f\u2028\u2029\u202a-\u202e\u2066-\u2069]")


@dataclass(frozen=True, slots=True)
class Frame:
    """The signs that a box is drawn with."""

    corners: tuple[str, str, str, str] = ("┌", "┐", "└", "┘")
    across: str = "─"
    down: str = "│"


ROUND = Frame()
PLAIN = Frame(("+", "+", "+", "+"), "-", "|")


def clean(text: str) -> str:
    """The text without anything that a terminal would obey instead of showing it."""
    return _UNSEEN.sub(" ", text)


def columns(text: str) -> int:
    """How many columns of a terminal the text takes."""
    return sum(0 if unicodedata.combining(char) else 1 + (unicodedata.east_asian_width(char) in "WF") for char in text)


def words(line: str) -> list[str]:
    """The words of a line. A number stays with what it counts; a blank before a word is a wider gap there."""
    wide = {found.end() for found in re.finditer(r"\S {2,}", line)}
    return [" " * (found.start() in wide) + found[0] for found in re.finditer(r"\d+ \S+|\S+", line)]


def wrap(words: Iterable[str], width: int) -> list[str]:
    """The words in lines of that many columns. A longer word is cut."""
    lines: list[str] = []
    for word in (piece for whole in words for piece in _cut(whole, width)):
        if lines and columns(lines[-1]) + 1 + columns(word) <= width:
            lines[-1] += " " + word
        else:
            lines.append(word.lstrip())
    return lines


def _cut(word: str, width: int) -> Iterable[str]:
    while columns(word) > width:
        take = next(n for n in range(len(word), 0, -1) if columns(word[:n]) <= width or n == 1)
        yield word[:take]
        word = word[take:]
    yield word


def body(texts: Iterable[str], labels: Iterable[str], width: int) -> tuple[list[str], list[str]]:
    """A message's lines of text, and its lines of buttons."""
    lines = [row for text in texts for line in clean(text).split("\n") for row in wrap(words(line), width) or [""]]
    return lines, wrap((f"[{clean(label)}]" for label in labels), width)


def stamped(clock: str, rows: list[str]) -> list[str]:
    """The rows with the time before the first of them."""
    margin = " " * (columns(clock) + 2)
    return [(f"{clock}  " if n == 0 else margin) + row for n, row in enumerate(rows)]


def boxed(heading: str, rows: list[str], width: int, frame: Frame) -> list[str]:
    """The rows in a box of that width under a heading."""
    inside = width - 4
    top = f" {heading} " if columns(heading) + 2 <= inside else ""
    left, right, low_left, low_right = frame.corners
    lines = [left + frame.across + top + frame.across * (width - 3 - columns(top)) + right]
    lines += [f"{frame.down} {row}{' ' * (inside - columns(row))} {frame.down}" for row in rows]
    return [*lines, low_left + frame.across * (width - 2) + low_right]
