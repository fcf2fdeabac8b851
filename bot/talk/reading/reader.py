"""`read`: a text and its moment in, what it asks for out. Pure, bounded, never raises."""
from __future__ import annotations

from collections.abc import Sequence
from typing import Final

from bot.talk.reading.chart import MIXED, Chart, TooMany
from bot.talk.reading.context import Context
from bot.talk.reading.lexer import GUEST, MOST_SLIPS, Near, near_words
from bot.talk.reading.outcome import HEADS, decide, forgive, is_names, is_points
from bot.talk.reading.standard import Problem
from bot.talk.reading.state import Reading
from bot.talk.reading.tokens import Token, tokenise
from bot.talk.requests import Mark, MarkLine, Note, NotUnderstood, Understood, WhichOne, Why

LONGEST_TEXT: Final = 2000
# Where several things are wrong the most telling is said.
_TELLING: Final[tuple[Why, ...]] = (
    "needs name", "needs code", "needs way", "needs count", "needs spelling", "needs list", "aim", "no side",
    "no such show", "ambiguous", "word", "no skill", "no child", "no verdict", "time",
)


def read(text: str, context: Context) -> Understood | WhichOne | NotUnderstood:
    """What a text asks for: its one complete reading, a question which is meant, or why there is none."""
    if len(text) > LONGEST_TEXT:
        return NotUnderstood(text[:20].strip(), "too long")
    tokens = tokenise(text)
    if not any(token.kind not in ("comma", "sep") for token in tokens):
        word = text.strip()[:20]
        return NotUnderstood(word, "word" if word else "empty")
    try:
        answer = _read(text, tokens, context)
    except TooMany:
        first = next(token for token in tokens if token.kind not in ("comma", "sep"))
        return NotUnderstood(first.text, "ambiguous")
    # A question is no mark: `ava seen?` wants to know.
    return NotUnderstood("?") if ("?" in text or "？" in text) and _records(answer) else answer


def _records(answer: Understood | WhichOne | NotUnderstood) -> bool:
    if isinstance(answer, WhichOne):
        return any(_records(option) for _, option in answer.options)
    return isinstance(answer, Understood) and any(isinstance(one, Mark | MarkLine | Note) for one in answer.requests)


def _read(text: str, tokens: Sequence[Token], context: Context) -> Understood | WhichOne | NotUnderstood:
    chart = Chart(text, tokens, context)
    readings = _answers_first(chart.readings(), context)
    if readings:
        return decide(readings, text, tokens, context)
    if chart.refused is not None and chart.refused.why.startswith("needs "):
        return _said(chart.refused, text, tokens)
    unknown = chart.lexer.unknown()
    if not unknown:
        return _why_not(chart, text, tokens)
    if len(unknown) <= MOST_SLIPS and chart.refused is None:
        near = near_words(tokens, unknown, context)
        if near:
            forgiving = Chart(text, tokens, context, near)
            readings = _answers_first(forgiving.readings(), context)
            if readings:
                strangers = _strangers(readings, text, tokens, context, near)
                return forgive(readings, near, strangers, text, tokens, context)
        # A word that could have been a slip is less of a riddle than one that could not.
        unknown = [at for at in unknown if at not in near] or unknown
    if chart.refused is not None:
        return _said(chart.refused, text, tokens)
    return NotUnderstood(tokens[unknown[0]].text)


def _strangers(
    readings: list[Reading],
    text: str,
    tokens: Sequence[Token],
    context: Context,
    near: dict[int, tuple[Near, ...]],
) -> frozenset[int]:
    """Words taken for a slip that might be the name of a child whom we don't know.

    `beck, ava, ben seen` must not become Ava back and Ben seen. So where a word taken for a verdict, a
    note or a command, or one of a list of names, would as a name also make a complete reading, it is asked.
    """
    doubtful = frozenset(
        slip.at for one in readings for slip in one.slips
        if slip.kind in HEADS or (not slip.name and _listed(slip.at, tokens))
    )
    if not doubtful:
        return doubtful
    guests = Chart(text, tokens, context, near, doubtful).readings()
    asked = [request for one in guests if one.rank < MIXED for request in one.requests]
    taken = any(GUEST in getattr(request, "children", ()) for request in asked)
    return doubtful if taken else frozenset()


def _listed(at: int, tokens: Sequence[Token]) -> bool:
    """Does it stand in a list, as names do?"""
    beside = [tokens[place] for place in (at - 1, at + 1) if 0 <= place < len(tokens)]
    return any(token.kind == "comma" or token.word in ("and", "&", "+") for token in beside)


def _answers_first(readings: list[Reading], context: Context) -> list[Reading]:
    """An answer to what was asked comes before anything else that the same words might be."""
    wanted = {"names": is_names, "points": is_points}.get(context.expects or "")
    answers = [one for one in readings if wanted(one.requests)] if wanted else []
    return answers or readings


def _why_not(chart: Chart, text: str, tokens: Sequence[Token]) -> NotUnderstood:
    if chart.refused is not None:
        return _said(chart.refused, text, tokens)
    here = [problem for place, problem in chart.problems if place == chart.furthest]
    if here:
        return _said(min(here, key=lambda problem: (_TELLING.index(problem.why), problem.at)), text, tokens)
    return NotUnderstood(tokens[min(chart.furthest, len(tokens) - 1)].text)


def _said(problem: Problem, text: str, tokens: Sequence[Token]) -> NotUnderstood:
    last = tokens[min(problem.stop, len(tokens)) - 1]
    return NotUnderstood(text[tokens[problem.at].start:last.stop], problem.why)
