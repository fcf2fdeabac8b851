"""From the complete readings to one answer: understood, or which of them was meant."""
from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from typing import Final, Literal

from bot.talk.reading.context import Context
from bot.talk.reading.lexer import Near
from bot.talk.reading.state import Reading
from bot.talk.reading.together import together
from bot.talk.reading.tokens import Token
from bot.talk.reading.vocabulary import LABEL
from bot.talk.requests import (
    Mark,
    MarkLine,
    Names,
    Note,
    NotUnderstood,
    Points,
    Say,
    Typed,
    Understood,
    WhichOne,
    mixed,
)

Answer = Understood | WhichOne | NotUnderstood
HEADS: Final = frozenset({"verdict", "note", "ask", "say", "spared", "all", "but", "not"})
MOST_OPTIONS: Final = 12    # for children of one name; other questions are only asked while few
FEW: Final = 6
MOST_NAMES: Final = 4       # of children whose names are close to what was typed


def decide(readings: Sequence[Reading], text: str, tokens: Sequence[Token], context: Context) -> Answer:
    """One reading is understood; of several those count in which most words say something."""
    readings = _tidy(readings, tokens, context)
    readings = [one for one in readings if not mixed(one.requests)] or readings    # those would be refused anyway
    best = min(one.rank for one in readings)
    readings = _distinct(one for one in readings if one.rank == best)
    if len(readings) == 1 and not readings[0].choices:
        return Understood(readings[0].requests)
    asked = {tuple((choice.at, choice.stop) for choice in one.choices) for one in readings}
    same = len(asked) == 1 and asked != {()}
    if len(readings) > (MOST_OPTIONS if same else FEW):
        return NotUnderstood(_first_word(readings[0], text, tokens), "ambiguous")
    if same:
        spans = dict.fromkeys((choice.at, choice.stop) for choice in readings[0].choices)
        word = ", ".join(dict.fromkeys(text[tokens[at].start:tokens[stop - 1].stop] for at, stop in spans))
        return _which("child", word, readings, context, [_choice_label])
    return _which("reading", _first_word(readings[0], text, tokens), readings, context, [])


def forgive(
    readings: Sequence[Reading],
    near: Mapping[int, tuple[Near, ...]],
    strangers: frozenset[int],
    text: str,
    tokens: Sequence[Token],
    context: Context,
) -> Answer:
    """A slip in our own words is forgiven where only one thing can be meant; near a name it is asked."""
    readings = _tidy(readings, tokens, context)
    slipped = {slip.at for one in readings for slip in one.slips}
    named = {slip.at for one in readings for slip in one.slips if slip.name}
    odd = {slip.at for one in readings for slip in one.slips if slip.kind in HEADS and not slip.near.thumb}
    risky = {at for at in slipped if at in strangers | named | odd or any(word.first for word in near[at])}
    if not risky:
        return decide(readings, text, tokens, context)
    ranked = sorted(readings, key=lambda one: (sum(slip.near.distance for slip in one.slips), one.rank))
    found = list(_distinct(ranked))[:MOST_NAMES]
    return _which("slip", tokens[min(risky)].text, found, context, [_slip_label])


def is_names(requests: tuple[Typed, ...]) -> bool:
    """Only names."""
    return all(isinstance(request, Names) for request in requests)


def is_points(requests: tuple[Typed, ...]) -> bool:
    """Only points."""
    return all(isinstance(request, Points) for request in requests)


def _distinct(readings: Iterable[Reading]) -> list[Reading]:
    kept: dict[tuple[Typed, ...], Reading] = {}
    for one in readings:
        kept.setdefault(one.requests, one)
    return list(kept.values())


def _tidy(readings: Sequence[Reading], tokens: Sequence[Token], context: Context) -> list[Reading]:
    apart = any(token.kind == "sep" for token in tokens)
    return [
        one._replace(requests=requests)
        for one in readings for requests in together(one.requests, context, apart)
    ]


# --- what the choices are called ---------------------------------------------------------------------

Labeller = Callable[[Reading, Context], str]


def _which(
    why: Literal["child", "slip", "reading"], word: str, readings: Sequence[Reading], context: Context,
    first: Sequence[Labeller],
) -> WhichOne:
    apart = _differing(readings)
    for labeller in (*first, *_LABELLERS):
        labels = [_fit(labeller(one, context)) for one in apart]
        if all(labels) and len(set(labels)) == len(labels):
            break
    else:
        labels = [_fit(f"{number} {_who_and_what(one, context)}") for number, one in enumerate(readings, 1)]
    options = tuple((label, Understood(one.requests)) for label, one in zip(labels, readings, strict=True))
    return WhichOne(why, word, options)


def _differing(readings: Sequence[Reading]) -> Sequence[Reading]:
    """The readings without the requests that all of them share, where something is left of each."""
    shared = set.intersection(*(set(one.requests) for one in readings)) if len(readings) > 1 else set()
    cut = [one._replace(requests=tuple(part for part in one.requests if part not in shared)) for one in readings]
    return cut if all(one.requests for one in cut) else readings


def _fit(label: str) -> str:
    label = label.strip()
    return label if len(label) <= LABEL else label[:LABEL - 1].rstrip() + "…"


def _choice_label(reading: Reading, context: Context) -> str:
    return _names(tuple(dict.fromkeys(choice.child for choice in reading.choices)), context)


def _slip_label(reading: Reading, context: Context) -> str:
    """The children that the names with a slip would be; for a slip in our own word, that word."""
    children = [child for request in reading.requests for child in _of(request)]
    if any(slip.name for slip in reading.slips) and children:
        return _names(tuple(dict.fromkeys(children)), context)
    return reading.slips[0].near.word.capitalize() if reading.slips else ""


def _of(request: Typed) -> tuple[str, ...]:
    if isinstance(request, MarkLine):
        return request.missed + request.left
    children: tuple[str, ...] = getattr(request, "children", ())
    return children


def _names(children: tuple[str, ...], context: Context) -> str:
    return ", ".join(context.vocabulary.short_names[child] for child in children)


def _who_and_what(reading: Reading, context: Context) -> str:
    return "; ".join(_one(request, context) for request in reading.requests)


def _one(request: Typed, context: Context) -> str:
    names = _names(request.missed or request.left if isinstance(request, MarkLine) else _of(request), context)
    if isinstance(request, Mark):
        return f"{names} {request.verdict}"
    if isinstance(request, MarkLine):
        return f"All but {names}" if names else f"All {request.verdict}"
    if isinstance(request, Note):
        return f"{names} no {request.load}" if request.load else f"{names} {request.what}"
    if isinstance(request, Say):
        return request.word.capitalize()
    return f"{type(request).__name__} {names}".strip()


def _skills(reading: Reading, context: Context) -> str:
    skills = context.vocabulary.scheme.skills
    ids = dict.fromkeys(getattr(request, "skill", None) for request in reading.requests)
    return ", ".join(skills[skill].name for skill in ids if skill in skills)


def _pieces(reading: Reading, context: Context) -> str:
    marks = [one for one in reading.requests if isinstance(one, Mark)]
    said = [", ".join(one.pieces or (one.way or "all of it",)) for one in marks]
    return "; ".join(said).replace("-", " ").capitalize()


def _points(reading: Reading, context: Context) -> str:
    skills = context.vocabulary.scheme.skills
    labels: list[str] = []
    for request in reading.requests:
        ids: tuple[str, ...] = getattr(request, "points", ())
        skill = skills.get(getattr(request, "skill", None) or context.skill or "")
        for point in (skill.point(one) for one in ids) if skill else ():
            labels += [point.label] if point else []
    return ", ".join(labels)


def _shows(reading: Reading, context: Context) -> str:
    return "; ".join(f"Show {one.show or '?'}" for one in reading.requests if isinstance(one, Mark))


_LABELLERS: Final[tuple[Labeller, ...]] = (_who_and_what, _skills, _points, _pieces, _shows)


def _first_word(reading: Reading, text: str, tokens: Sequence[Token]) -> str:
    """The word in question where no single one can be named: the message itself, cut short."""
    word = " ".join(text.split())
    return word if len(word) <= 40 else word[:39] + "…"
