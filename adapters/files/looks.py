"""How pictures look: the page's light colours, a shape of its own for each standing, and what text takes of room.

What lives here: what `grid.py` and `progress.py` share. Told by shapes and words, never by a colour alone; the shapes
are those of the page's sheet, drawn, so that no font has to have them.
"""
from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from datetime import datetime
from typing import Final
from unicodedata import combining, east_asian_width
from xml.sax.saxutils import escape

from bot.talk.words import date_in_full

PAPER, INK, FAINT, RULE = "#f5f2ea", "#1c2322", "#55605d", "#c8c1b0"     # as in the page's app.css: a test compares
MARK, MISS, WAIT, TINT = "#0b5848", "#8c2f0c", "#5a4a00", "#e6efe6"
FONT = "'Noto Sans','DejaVu Sans',sans-serif"
WORDS: Final = {        # standing → the word in the key, as on the page
    "untried": "not tried", "owed": "part", "resting": "rests", "ready": "ready", "ticked": "done", "retest": "retest",
}
_RING = '<circle r="6.4" fill="none" stroke="{0}" stroke-width="1.8"/>'
SHAPES: Final = {       # around (0, 0), 16 wide
    "untried": f'<circle r="1.7" fill="{FAINT}"/>',
    "owed": _RING.format(INK) + f'<path d="M0-6.4A6.4 6.4 0 0 0 0 6.4Z" fill="{INK}"/>',
    "resting": _RING.format(WAIT) + f'<path d="M0 0V-6.4A6.4 6.4 0 0 1 6.4 0Z" fill="{WAIT}"/>',
    "ready": _RING.format(MARK) + f'<path d="M0 0V-6.4A6.4 6.4 0 1 1-6.4 0Z" fill="{MARK}"/>',
    "ticked": f'<rect x="-7" y="-7" width="14" height="14" rx="1.5" fill="{MARK}"/>'
              f'<path d="M-4 .4L-1.2 3.2 4-2.8" fill="none" stroke="{PAPER}" stroke-width="2"/>',
    "retest": f'<path d="M5.6-1.8A6 6 0 1 0 5.2 3" fill="none" stroke="{MISS}" stroke-width="2"/>'
              f'<path d="M7.4-7V-.6H1Z" fill="{MISS}"/>',
}
SIZE = 13               # of text, in pixels
_UNFIT = re.compile("[^\t\n\r\x20-\ud7ff\ue000-\ufffd\U00010000-\U0010ffff]")     # XML 1.0, 2.2


def width(text: str, size: float = SIZE) -> float:
    """About how many pixels a text takes, in any script; on the wide side."""
    return sum(0 if combining(one) else 1.0 if east_asian_width(one) in "WF" else 0.62 for one in text) * size


def cut(text: str, most: float, size: float = SIZE) -> str:
    """The text, or as much of it as fits, with `…` for the rest; no letter is parted from its accent."""
    if width(text, size) <= most:
        return text
    end = len(text)
    while end > 1 and (width(text[:end] + "…", size) > most or combining(text[end])):
        end -= 1
    return text[:end].rstrip() + "…"


def text(x: float, y: float, words: str, *, size: float = SIZE, anchor: str = "start", bold: bool = False,
         colour: str = INK, turned: float = 0) -> str:
    """A text, its beginning (or middle, or end) at a place; whatever script it is in."""
    turn = f' transform="rotate({turned:g} {x:g} {y:g})"' if turned else ""
    weight = ' font-weight="700"' if bold else ""
    return (f'<text x="{x:g}" y="{y:g}" font-size="{size:g}" text-anchor="{anchor}" fill="{colour}"{weight}{turn}>'
            f'{clean(words)}</text>')


def clean(words: str) -> str:
    """A text as it may stand in XML."""
    return escape(_UNFIT.sub("\N{REPLACEMENT CHARACTER}", words))


def shape(standing: str, x: float, y: float) -> str:
    """The shape of a standing, its middle at a place."""
    return f'<use href="#{standing}" x="{x:g}" y="{y:g}"/>'


def key(x: float, y: float, widest: float, shown: Iterable[str] = WORDS) -> tuple[list[str], float]:
    """Each shape with its word, in rows; and how far down they go."""
    drawn, at = [], x
    for standing in shown:
        wide = 26 + width(WORDS[standing], 12)
        if at + wide > widest and at > x:
            at, y = x, y + 22
        drawn += [shape(standing, at + 8, y - 4), text(at + 20, y, WORDS[standing], size=12, colour=FAINT)]
        at += wide
    return drawn, y


def picture(wide: float, high: float, title: str, told: str, drawn: Sequence[str]) -> str:
    """The whole SVG. `title` and `told`: what it is, for whoever has it read."""
    shapes = "".join(f'<g id="{name}">{one}</g>' for name, one in SHAPES.items())
    return "\n".join((
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{wide:g}" height="{high:g}" viewBox="0 0 {wide:g} {high:g}" '
        f'role="img" font-family="{FONT}">',
        f"<title>{clean(title)}</title><desc>{clean(told)}</desc><defs>{shapes}</defs>",
        f'<rect width="{wide:g}" height="{high:g}" fill="{PAPER}"/>', *drawn, "</svg>", "",
    ))


def moment(at: datetime) -> str:
    """`Tuesday 24 November, 17:05`."""
    return f"{date_in_full(at.date())}, {at:%H:%M}"
