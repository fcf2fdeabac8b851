"""The class as a picture: its children and its skills, a shape for each standing. Pure and deterministic.

A phone is narrow, so the fewer of the two stand side by side and the more of them below one another.
"""
from __future__ import annotations

from collections.abc import Callable
from typing import Any

from adapters.files.looks import FAINT, INK, RULE, cut, key, moment, picture, shape, text, width

Plain = dict[str, Any]
CELL, EDGE, GAP = 26, 10, 8
WIDEST_ROW, LONGEST_HEAD = 150, 120     # of a name, in pixels
NARROWEST = 320
HEAD = 52                               # the title and the time


def grid(sheet: Plain) -> str:
    """The picture (SVG) of a class, as `of_class` in `bot/talk/sheet.py` tells it."""
    children, marks = sheet["children"], sheet["marks"]
    work_on = {one["id"]: sum(one["id"] in marks[child["id"]] for child in children) for one in sheet["skills"]}
    skills = sorted((one for one in sheet["skills"] if work_on[one["id"]]), key=lambda one: -work_on[one["id"]])
    told = f"{len(children)} children, {len(skills)} skills"
    if not children or not skills:
        return picture(NARROWEST, HEAD + EDGE, sheet["name"], told, _title(sheet, NARROWEST))
    down = len(children) > len(skills)          # children below one another
    rows, columns = (children, skills) if down else (skills, children)
    names = [cut(one["name"], WIDEST_ROW) for one in rows]
    heads = [cut(one["name"], LONGEST_HEAD) for one in columns]
    left = EDGE + max((width(name) for name in names), default=0) + GAP
    top = HEAD + max((width(head) for head in heads), default=0) + GAP
    wide = max(left + CELL * len(columns) + EDGE, NARROWEST)

    def standing(row: Plain, column: Plain) -> str | None:
        child, skill = (row, column) if down else (column, row)
        found = marks[child["id"]].get(skill["id"])
        return None if found is None else str(found["is"])

    drawn = _title(sheet, wide)
    drawn += [text(left + CELL * (n + 0.66), top - 4, head, turned=-90) for n, head in enumerate(heads)]
    drawn += [text(EDGE, top + CELL * (n + 0.68), name) for n, name in enumerate(names)]
    drawn += _ruled(left, top, len(rows), len(columns))
    drawn += _cells(left, top, rows, columns, standing)
    keyed, bottom = key(EDGE, top + CELL * len(rows) + 26, wide - EDGE)
    return picture(wide, bottom + 14, sheet["name"], told, [*drawn, *keyed])


def _title(sheet: Plain, wide: float) -> list[str]:
    return [text(EDGE, 22, cut(sheet["name"], wide - 2 * EDGE, 16), size=16, bold=True),
            text(EDGE, 40, moment(sheet["at"]), size=12, colour=FAINT)]


def _cells(
    left: float, top: float, rows: list[Plain], columns: list[Plain], standing: Callable[[Plain, Plain], str | None],
) -> list[str]:
    return [
        shape(found, left + CELL * (x + 0.5), top + CELL * (y + 0.5))
        for y, row in enumerate(rows) for x, column in enumerate(columns)
        if (found := standing(row, column)) is not None
    ]


def _ruled(left: float, top: float, rows: int, columns: int) -> list[str]:
    """Lines between the cells; every fifth row a darker one, so that an eye keeps its row."""
    end, bottom = left + CELL * columns, top + CELL * rows
    across = [_line(EDGE, top + CELL * n, end, top + CELL * n, INK if n % 5 == 0 else RULE) for n in range(rows + 1)]
    return [*across, *(_line(left + CELL * n, top, left + CELL * n, bottom, RULE) for n in range(columns + 1))]


def _line(x: float, y: float, to_x: float, to_y: float, colour: str) -> str:
    return f'<path d="M{x:g} {y:g}L{to_x:g} {to_y:g}" stroke="{colour}" stroke-width=".8"/>'
