"""The words of a mark held against one skill: which pieces, which points, which way."""
from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import product
from math import prod
from typing import Final, Literal, NamedTuple

from bot.scheme.model import Part, Sides, Skill
from bot.talk.reading.bag import Extra
from bot.talk.reading.items import Sense
from bot.talk.requests import Why

MOST_SENSES: Final = 32     # more ways than this to read the points of one mark can't be asked about
_BOTH: Final = ("left", "right")


class Detail(NamedTuple):
    """What the words of a mark come to for one skill."""

    pieces: tuple[str, ...] | None = None
    points: tuple[str, ...] = ()
    way: str | None = None


class Problem(NamedTuple):
    """Why a segment asks for nothing, and the tokens that show it."""

    why: Why
    at: int
    stop: int


def details(extras: Sequence[Extra], skill: Skill, missed: bool) -> list[Detail] | Problem:
    """Every way to take these words for that skill. Points may only be named where something is missed."""
    if not extras:
        return [Detail()]
    choices: list[tuple[Sense | str, ...]] = []
    for extra in extras:
        senses = _senses(extra, skill, missed)
        if isinstance(senses, Problem):
            return senses
        choices.append(senses)
    if prod(map(len, choices)) > MOST_SENSES:
        return Problem("ambiguous", extras[0].at, extras[-1].stop)
    found: list[Detail] = []
    for chosen in product(*choices):
        detail = _detail(chosen, skill)
        if detail is not None and detail not in found:
            found.append(detail)
    if not found:
        side = next((extra for extra in extras if extra.side), extras[0])
        return Problem("no side", side.at, side.stop)
    return [one for one in found if not any(_says_less(other, one) for other in found)]


def _senses(extra: Extra, skill: Skill, missed: bool) -> tuple[Sense | str, ...] | Problem:
    if extra.side:
        return (extra.side,)
    senses = (extra.senses or {}).get(skill.id, ())
    fitting = tuple(one for one in senses if one.kind in ("part", "way") or (missed and one.kind == "point"))
    if fitting:
        return fitting
    wished = missed and any(one.kind == "aim" for one in senses)
    return Problem("aim" if wished else "word", extra.at, extra.stop)


def _says_less(one: Detail, other: Detail) -> bool:
    """`hips shoulders` means the point that has both words, not that one and another with one of them."""
    return (
        one.pieces == other.pieces and one.way == other.way and set(one.points) < set(other.points)
    )


def _detail(chosen: Sequence[Sense | str], skill: Skill) -> Detail | None:
    said = {(one.kind, one.id) for one in chosen if isinstance(one, Sense)}
    order: list[tuple[Literal["part", "side"], str]] = []
    for one in chosen:
        if isinstance(one, str):
            order.append(("side", one))
        elif one.kind == "part":
            order.append(("part", one.id))
    pieces = _pieces(skill, order)
    if pieces is None:
        return None
    ways = [way.id for way in skill.ways if ("way", way.id) in said]
    if len(ways) > 1:
        return None
    points = tuple(point.id for point in skill.points if ("point", point.id) in said)
    return Detail(pieces[0], points, (ways or [pieces[1]])[0] or None)


def _pieces(
    skill: Skill, order: Sequence[tuple[Literal["part", "side"], str]]
) -> tuple[tuple[str, ...] | None, str] | None:
    """The pieces named and the side chosen where it is free; None where the skill has no such side."""
    if not order:
        return None, ""
    named = list(dict.fromkeys(word for kind, word in order if kind == "part"))
    sided = _sides_of(order, named)
    if sided is None:
        return None
    got: set[str] = set()
    free = ""
    targets: list[tuple[Part | None, Sides]] = [
        (part, part.sides or skill.sides) for part in skill.parts if not named or part.id in named
    ] or [(None, skill.sides)]
    both = any(kind == "side" and word == "both" for kind, word in order)
    sided_parts = any(mode == "each" for _, mode in targets)
    for part, mode in targets:
        name = part.id if part else ""
        sides = sided.get(name, sided.get("", ()))
        if sides and mode == "one" and not (both and sided_parts):
            if named or not sided_parts:
                return None
            continue        # `left` where one part has sides and this one has none
        if mode == "each":
            got |= {f"{name} {side}".strip() for side in sides or _BOTH}
        else:
            got.add(name)
            free = sides[0] if len(sides) == 1 else free
    if not named and not sided_parts:
        return None, free   # a free side names no piece
    return tuple(piece for piece in skill.pieces if piece in got), free


def _sides_of(
    order: Sequence[tuple[Literal["part", "side"], str]], named: Sequence[str]
) -> dict[str, tuple[str, ...]] | None:
    """Part → sides typed for it; under `""` those for all. `galop left polka right` ties each to its own."""
    sides = list(dict.fromkeys(word for kind, word in order if kind == "side"))
    if "both" in sides:
        return {"": _BOTH}
    if len(sides) < 2 or len(named) < 2:
        return {"": tuple(side for side in _BOTH if side in sides)}
    pairs = list(_pairs(order))
    if len(pairs) * 2 != len(order):
        return None
    tied: dict[str, tuple[str, ...]] = {}
    for part, side in pairs:
        tied[part] = (*tied.get(part, ()), side)
    return tied


def _pairs(order: Sequence[tuple[str, str]]) -> Iterator[tuple[str, str]]:
    for (kind, one), (other_kind, other) in zip(order[::2], order[1::2], strict=False):
        if kind != other_kind:
            yield (one, other) if kind == "part" else (other, one)
