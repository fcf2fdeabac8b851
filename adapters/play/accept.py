"""Accepting what came: a script whose expectations are what was played. Pure: results in, a text out.

Comments stay, and so does every line that fits, with its wildcards; only what does not fit is written anew.
"""
from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from adapters.play.match import Came, choices_fit, compare, text_fits
from adapters.play.result import Played, Result, lines_of
from adapters.play.script import Anything, Expect, Expected, Item, Nobody

INDENT = "  "
Same = Callable[[str], str]


@dataclass(frozen=True, slots=True)
class _Chunk:
    """An item with the comments above it, as they were written, and the lines that it is now."""

    item: Item
    came: Came | None
    above: tuple[str, ...]
    lines: tuple[str, ...]


def accepted(played: Played, same: Same) -> str:
    """The script's text, with what came in place of what does not fit."""
    lines: list[list[str]] = [[line] for line in played.script.source]
    for result in played.results:
        at, action = result.move.at - 1, result.move.action
        if isinstance(action, Expect) and result.standing is not None:
            lines[at] = [_standing(lines[at][0], action.standing, result.standing)]
        elif isinstance(action, Nobody) and result.came:
            lines[at] = []
        elif result.comparison is not None and not result.comparison.ok:
            last = max((_last_line(item) for item in result.move.items), default=result.move.last)
            block = _block(played.script.source, result, same)
            lines[result.move.last:last] = [[] for _ in range(last - result.move.last)]
            lines[result.move.last - 1] += block
    return "\n".join(line for now in lines for line in now) + "\n"


def _standing(line: str, old: str, new: str) -> str:
    at = line.rindex(old, line.rindex(":"))
    return line[:at] + new + line[at + len(old):]


def _block(source: tuple[str, ...], result: Result, same: Same) -> list[str]:
    """What comes back at one move, as it is written now."""
    chunks = _chunks(source, result)
    now = [item for chunk in chunks if (item := _now(chunk)) is not None]
    if compare(now, result.came, result.speaker, same).ok:      # a `...` alone may cover the rest
        return [line for chunk in chunks for line in (*chunk.above, *chunk.lines)]
    placed = {id(chunk.came): chunk for chunk in chunks if chunk.came is not None}
    lines = [line for chunk in chunks if chunk.came is None for line in chunk.above]
    for came in result.came:
        chunk = placed.get(id(came))
        lines += [*chunk.above, *chunk.lines] if chunk else _anew(came, result.speaker)
    return lines


def _chunks(source: tuple[str, ...], result: Result) -> list[_Chunk]:
    assert result.comparison is not None
    beside = {id(row.expected): row.came for row in result.comparison.rows if row.expected is not None}
    chunks: list[_Chunk] = []
    end = result.move.last
    for item in result.move.items:
        came = beside.get(id(item))
        above = tuple(source[end:item.lines[0] - 1])
        chunks.append(_Chunk(item, came, above, _lines(source, item, came, result.speaker)))
        end = _last_line(item)
    return chunks


def _lines(source: tuple[str, ...], item: Item, came: Came | None, speaker: str | None) -> tuple[str, ...]:
    """An item's lines: as they were where they fit, else as it came; none where nothing came."""
    if isinstance(item, Anything):
        return tuple(source[n - 1] for n in item.lines)
    if came is None:
        return ()
    text = tuple(source[n - 1] for n in item.lines)
    if not text_fits(item.text, came.said.text):
        text = tuple(INDENT + line for line in lines_of(_to(came, speaker), came.said.text, None))
    if item.choices is None:
        return text
    if choices_fit(item.choices, came.labels):
        return (*text, *(source[n - 1] for n in item.choice_lines))
    return (*text, *(INDENT + line for line in lines_of(None, "", came.labels)[1:]))


def _now(chunk: _Chunk) -> Item | None:
    """What the lines of a chunk expect now."""
    if isinstance(chunk.item, Anything) or chunk.came is None:
        return chunk.item if isinstance(chunk.item, Anything) else None
    choices = None if chunk.item.choices is None else chunk.came.labels
    return Expected(chunk.item.lines, chunk.came.to, chunk.came.said.text, choices)


def _anew(came: Came, speaker: str | None) -> list[str]:
    return [INDENT + line for line in lines_of(_to(came, speaker), came.said.text, came.labels)]


def _to(came: Came, speaker: str | None) -> str | None:
    return None if came.to == speaker else came.to


def _last_line(item: Item) -> int:
    return max((*item.lines, *(item.choice_lines if isinstance(item, Expected) else ())))
