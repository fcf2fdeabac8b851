"""Requests of one message that only together say what is meant: of a line, and of the register.

`all seen, gus not yet hips` is one thing said of a line, not a seen and then a not yet for Gus.
"""
from __future__ import annotations

from collections.abc import Iterator

from bot.talk.reading.context import Context
from bot.talk.requests import Mark, MarkLine, Note, Say, Typed

Requests = tuple[Typed, ...]


def together(requests: Requests, context: Context, apart: bool) -> Iterator[Requests]:
    """What the requests of a message come to; two where they can be meant in two ways. `apart`: in clauses."""
    if len(requests) < 2:
        yield requests
        return
    requests = _register(requests)
    lines = [one for one in requests if isinstance(one, MarkLine)]
    marks = [one for one in requests if isinstance(one, Mark)]
    yield _one_line(requests, lines, marks, context)
    if lines and all(one.missed for one in lines) and any(_same(mark, lines, context, apart) for mark in marks):
        # `ava seen, not gus`: Gus only, or all of the line but Gus?
        apart_marks = {id(one): tuple(_missed(one, context)) for one in lines}
        yield tuple(part for one in requests for part in apart_marks.get(id(one), (one,)))


def _same(mark: Mark, lines: list[MarkLine], context: Context, apart: bool) -> bool:
    """Can a mark and `not gus` be said in one breath?"""
    of_lines = {one.skill or context.skill_of.get(child) for one in lines for child in one.missed}
    return mark.verdict == "seen" and (not apart or mark.skill in of_lines)


def _register(requests: Requests) -> Requests:
    """`all here, mia away` is Mia's absence; whoever is away is so before the line is judged."""
    notes = [one for one in requests if isinstance(one, Note)]
    if not notes:
        return requests
    others = [one for one in requests if not isinstance(one, Note)]
    if all(one == Say("everyone") for one in others) and all(note.what == "away" for note in notes):
        return tuple(notes)
    return (*notes, *others) if any(isinstance(one, MarkLine) for one in others) else requests


def _one_line(requests: Requests, lines: list[MarkLine], marks: list[Mark], context: Context) -> Requests:
    if not lines or len({(one.skill, one.at) for one in lines}) > 1 or len({one.verdict for one in lines}) > 1:
        return requests
    rest = tuple(one for one in requests if not isinstance(one, Mark | MarkLine))
    first = lines[0]
    named = [one for one in lines if one.missed]
    own = len({one.points for one in named}) > 1
    if own:     # each has missed its own
        marks = [*marks, *(mark for one in named for mark in _missed(one, context))]
    missed = () if own else _each(child for one in named for child in one.missed)
    left = _each(child for one in lines for child in one.left)
    points = () if own else named[0].points if named else first.points
    line = MarkLine(first.verdict, missed, left, points, first.skill, first.at)
    return (*rest, *_with_marks(line, marks, context))


def _with_marks(line: MarkLine, marks: list[Mark], context: Context) -> Requests:
    """A line and marks of children by name: whoever stands in the line has her own word, and not the line's."""
    if not marks:
        return (line,)
    children = _each(child for mark in marks for child in mark.children)
    merges = not line.missed and line.verdict == "seen" and set(children) <= set(context.line)
    if merges and _plain(marks, line, context):
        return (MarkLine("seen", children, line.left, marks[0].points, line.skill, line.at),)
    own = tuple(
        child for mark in marks for child in mark.children
        if child in context.line and child not in line.missed and mark.skill == _skill(child, line, context, mark.skill)
    )
    return (MarkLine(line.verdict, line.missed, _each((*line.left, *own)), line.points, line.skill, line.at), *marks)


def _plain(marks: list[Mark], line: MarkLine, context: Context) -> bool:
    """Not yet, and nothing more said than a line can say."""
    return all(
        mark.verdict == "not yet" and mark.points == marks[0].points and mark.at == line.at
        and mark.pieces is None and mark.show is None and mark.way is None
        and all(mark.skill == _skill(child, line, context, mark.skill) for child in mark.children)
        for mark in marks
    )


def _missed(line: MarkLine, context: Context) -> Iterator[Mark]:
    """The children missed, as marks of their own."""
    for child in line.missed:
        skill = _skill(child, line, context, context.skill or "")
        yield Mark((child,), "not yet", skill, points=line.points, at=line.at)


def _skill(child: str, line: MarkLine, context: Context, otherwise: str) -> str:
    return line.skill or context.skill_of.get(child, otherwise)


def _each(children: Iterator[str] | tuple[str, ...]) -> tuple[str, ...]:
    return tuple(dict.fromkeys(children))
