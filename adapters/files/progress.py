"""A child's way to her award as a picture: a row for each skill, with a shape and a word. Pure and deterministic."""
from __future__ import annotations

from typing import Any

from adapters.files.looks import FAINT, INK, RULE, WORDS, cut, moment, picture, shape, text, width

Plain = dict[str, Any]
WIDE, EDGE, ROW, TOP = 340, 12, 28, 74


def progress(told: Plain) -> str:
    """The picture (SVG) of a child, as `of_child` in `bot/talk/sheet.py` tells it."""
    done = f"{told['ticked']} done, {told['needed']} needed"
    summary = done if told["award"] else "Works on no award of this scheme."
    drawn = [
        text(EDGE, 24, cut(_title(told), WIDE - 2 * EDGE, 16), size=16, bold=True),
        text(EDGE, 44, summary, size=14), text(EDGE, 62, moment(told["at"]), size=12, colour=FAINT),
    ]
    for n, (skill, mark) in enumerate(zip(told["skills"], told["marks"], strict=True)):
        drawn += _row(TOP + ROW * n, skill, mark)
    return picture(WIDE, TOP + ROW * len(told["skills"]) + EDGE, _title(told), summary, drawn)


def _title(told: Plain) -> str:
    return ", ".join(filter(None, (told["name"], told["award"])))


def _row(y: float, skill: Plain, mark: Plain) -> list[str]:
    word = WORDS[mark["is"]]
    if mark["show"] == 2 and mark["is"] != "ticked":
        word += ", 2nd show"
    name = skill["name"] + (" (a must)" if skill["must"] and mark["is"] != "ticked" else "")
    room = WIDE - 2 * EDGE - 28 - width(word, 12) - 8
    return [
        f'<path d="M{EDGE} {y:g}H{WIDE - EDGE}" stroke="{RULE}" stroke-width=".8"/>',
        shape(mark["is"], EDGE + 9, y + ROW / 2),
        text(EDGE + 28, y + ROW / 2 + 5, cut(name, room), colour=INK),
        text(WIDE - EDGE, y + ROW / 2 + 4, word, size=12, anchor="end", colour=FAINT),
    ]
