"""What a full segment asks for: from a bag of words to requests, or the reason why it asks for nothing."""
from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from datetime import datetime, time
from itertools import product
from math import prod
from typing import Final, Literal, NamedTuple, cast

from bot.facts import Verdict
from bot.talk.reading.bag import EMPTY, Bag, Named
from bot.talk.reading.context import Context
from bot.talk.reading.standard import Detail, Problem, details
from bot.talk.requests import (
    Later,
    Mark,
    MarkLine,
    NameGroup,
    Names,
    Note,
    Owed,
    Points,
    Say,
    Standard,
    Start,
    Typed,
    Watch,
    Why,
)

MOST_CHOICES: Final = 12    # more children than this to choose from can't be asked about in one message


class Choice(NamedTuple):
    """An ambiguous name and the child taken for it."""

    at: int
    stop: int
    child: str


class Settled(NamedTuple):
    """One thing that a segment may ask for; `skill` is what later marks may leave out."""

    requests: tuple[Typed, ...]
    choices: tuple[Choice, ...] = ()
    skill: str = ""
    heading: str = ""


class Scope(NamedTuple):
    """What earlier words of the message say about this segment."""

    at: datetime | None = None
    heading: str = ""       # `cartwheel` on a line of its own: for all marks that follow
    carry: str = ""         # the skill named last, where nothing else says one


Picked = Mapping[tuple[str, ...], str]
Outcome = tuple[Typed, ...] | Problem


def settle(bag: Bag, context: Context, scope: Scope, alone: bool) -> Iterator[Settled | Problem]:
    """All that a bag may ask for. `alone`: it is a whole clause, so it may be an answer or a heading."""
    bag = _of_the_line(bag, context)
    unsure = {one.ids: one for one in (*bag.names, *bag.left, *bag.missed) if len(one.ids) > 1}
    if not unsure:
        for outcome in _outcomes(bag, {}, context, scope, alone):
            yield outcome if isinstance(outcome, Problem) else _settled(bag, outcome, ())
        return
    if prod(map(len, unsure)) > MOST_CHOICES:
        first = next(iter(unsure.values()))
        yield Problem("ambiguous", first.at, first.stop)
        return
    for children in product(*unsure):
        picked = dict(zip(unsure, children, strict=True))
        choices = tuple(Choice(one.at, one.stop, picked[one.ids]) for one in unsure.values())
        for outcome in _outcomes(bag, picked, context, scope, alone):
            yield outcome if isinstance(outcome, Problem) else _settled(bag, outcome, choices)


def _settled(bag: Bag, requests: tuple[Typed, ...], choices: tuple[Choice, ...]) -> Settled:
    watched = requests[0].skill if isinstance(requests[0], Watch) else ""
    return Settled(requests, choices, bag.skill if bag.kind in ("", "verdict") else "", watched)


def _of_the_line(bag: Bag, context: Context) -> Bag:
    """`not ana` where one Ana stands in the line means that one: no other can be left out of it."""
    if not context.line or not (bag.left or bag.missed):
        return bag
    return bag._replace(
        left=tuple(_standing(one, context) for one in bag.left),
        missed=tuple(_standing(one, context) for one in bag.missed),
    )


def _standing(named: Named, context: Context) -> Named:
    standing = tuple(child for child in named.ids if child in context.line)
    return named._replace(ids=standing) if standing else named


def _outcomes(bag: Bag, picked: Picked, context: Context, scope: Scope, alone: bool) -> Iterator[Outcome]:
    if bag.kind == "verdict" or bag.slot == "missed":
        if bag.until >= 0 or bag.days or bag.classes is not None:
            yield _problem("word", bag)
        elif bag.every or bag.slot == "missed":
            yield from _line(bag, picked, context, scope)
        elif not bag.names:
            yield _problem("no child", bag)
        else:
            yield from _marks(bag, picked, context, scope)
    elif scope.at is not None and bag.kind:
        yield _problem("time", bag)
    elif bag.kind == "note" or bag.every:
        yield _note(bag, picked)
    elif bag.kind == "ask":
        yield _ask(bag, picked)
    elif bag.kind == "say":
        yield (Say(cast(Literal["undo"], bag.head)),)
    elif bag.kind == "group":
        children = _children(bag.names, picked)
        yield (NameGroup(bag.word, children),) if children else _problem("no child", bag)
    else:
        yield from _answer(bag, picked, context, alone)


def _children(names: Sequence[Named], picked: Picked) -> tuple[str, ...]:
    return tuple(dict.fromkeys(picked[one.ids] if len(one.ids) > 1 else one.ids[0] for one in names))


def _problem(why: Why, bag: Bag, named: Named | None = None) -> Problem:
    at = named.at if named else max(bag.begin, 0)
    return Problem(why, at, named.stop if named else at + 1)


def _only(bag: Bag, *fields: str) -> bool:
    """Does the bag hold nothing besides its head and these?"""
    emptied = {field: getattr(EMPTY, field) for field in fields}
    return bag._replace(head="", kind="", word="", begin=-1, order=0, **emptied) == EMPTY


# --- marks -----------------------------------------------------------------------------------------

def _marks(bag: Bag, picked: Picked, context: Context, scope: Scope) -> Iterator[Outcome]:
    """A mark for each skill that the children stand on; all or nothing."""
    by_skill: dict[str, list[str]] = {}
    for child in _children(bag.names, picked):
        skill = bag.skill or scope.heading or context.skill_of.get(child) or context.skill or scope.carry
        if not skill:
            yield _problem("no skill", bag, bag.names[0])
            return
        by_skill.setdefault(skill, []).append(child)
    choices: list[list[Mark]] = []
    for skill, children in by_skill.items():
        found = _mark(bag, skill, tuple(children), context, scope)
        if isinstance(found, Problem):
            yield found
            return
        choices.append(found)
    yield from product(*choices)


def _mark(
    bag: Bag, skill_id: str, children: tuple[str, ...], context: Context, scope: Scope
) -> list[Mark] | Problem:
    skill = context.vocabulary.scheme.skills.get(skill_id)
    if skill is None:
        return _problem("no skill", bag)
    if bag.show > len(skill.shows):
        return Problem("no such show", *bag.shown)
    found = details(bag.extras, skill, bag.head == "not yet")
    if isinstance(found, Problem):
        return found
    verdict = cast(Verdict, bag.head)
    return [
        Mark(children, verdict, skill_id, one.pieces, bag.show or None, one.points, one.way, scope.at)
        for one in found
    ]


def _line(bag: Bag, picked: Picked, context: Context, scope: Scope) -> Iterator[Outcome]:
    """`all seen`, `none yet`, `all but gus seen`, `not 7 hips`."""
    if bag.names or bag.show:
        yield Problem("word", *(bag.shown if bag.show else bag.names[0][1:]))
        return
    if (bag.slot == "missed" and not bag.missed) or (bag.slot == "left" and not bag.left):
        yield _problem("no child", bag)
        return
    verdict = cast(Verdict, bag.head or "seen")
    missed, left = _children(bag.missed, picked), _children(bag.left, picked)
    found = _missed_points(bag, missed, verdict, context, scope)
    if isinstance(found, Problem):
        yield found
        return
    for one in found:
        skill = bag.skill or scope.heading or None
        yield (MarkLine(verdict, missed, left, one.points, skill, scope.at),)


def _missed_points(
    bag: Bag, missed: tuple[str, ...], verdict: Verdict, context: Context, scope: Scope
) -> list[Detail] | Problem:
    if not bag.extras:
        return [Detail()]
    stands = [context.skill_of[child] for child in (*missed, *context.line) if child in context.skill_of]
    skill_id = bag.skill or scope.heading or (*stands, context.skill, "")[0]
    skill = context.vocabulary.scheme.skills.get(skill_id or "")
    if skill is None:
        return _problem("no skill", bag)
    found = details(bag.extras, skill, bool(missed) or verdict == "not yet")
    if isinstance(found, Problem):
        return found
    # A line is marked whole: a side or a part of it is for a mark with names.
    whole = [one for one in found if one.pieces is None and one.way is None]
    return whole or Problem("word", bag.extras[0].at, bag.extras[0].stop)


# --- the register, the lesson, answers --------------------------------------------------------------

def _note(bag: Bag, picked: Picked) -> Outcome:
    left = _children(bag.left, picked)
    if bag.every:
        if not _only(bag, "every", "left", "slot") or bag.head not in ("", "here") or bag.every == "none":
            return _problem("word", bag)
        if bag.slot and not left:
            return _problem("no child", bag)
        if bag.head == "here" or bag.every == "everyone":
            return (Note("away", left),) if left else (Say("everyone"),)
        return (MarkLine("seen", left=left),) if left else _problem("no verdict", bag)
    children = _children(bag.names, picked)
    if not children:
        return _problem("no child", bag)
    if bag.head == "leaves":
        until = time(*divmod(bag.until, 60)) if bag.until >= 0 else None
        fits = _only(bag, "names", "until")
        return (Note("leaves", children, until),) if until and fits else _problem("time", bag)
    if not _only(bag, "names"):
        return _problem("word", bag)
    return (Note(cast(Literal["away"], bag.head), children, load=bag.word or None),)


def _ask(bag: Bag, picked: Picked) -> Outcome:
    children, skill = _children(bag.names, picked), bag.skill or None
    if bag.head == "owed" and _only(bag, "names", "skill"):
        return (Owed(children, skill),)
    if bag.head == "standard" and _only(bag, "skill"):
        return (Standard(skill),)
    if bag.head == "start" and _only(bag, "classes"):
        return (Start(bag.classes or ()),)
    if bag.head == "later" and _only(bag, "names", "skill", "days"):
        if len(children) != 1:
            return _problem("no child", bag)
        return (Later(children[0], bag.days, skill),) if bag.days else _problem("time", bag)
    return _problem("word", bag)


def _answer(bag: Bag, picked: Picked, context: Context, alone: bool) -> Iterator[Outcome]:
    """No verdict and no command: an answer to what was asked, or a skill to watch."""
    if alone and context.expects == "points" and bag.extras and _only(bag, "extras"):
        yield from _points(bag, context)
    elif bag.names:
        wanted = alone and context.expects == "names" and _only(bag, "names")
        yield (Names(_children(bag.names, picked)),) if wanted else _problem("no verdict", bag, bag.names[0])
    elif alone and bag.skill and _only(bag, "skill"):
        yield (Watch(bag.skill),)
    else:
        yield _problem("no child" if bag.extras else "no verdict" if bag.skill else "word", bag)


def _points(bag: Bag, context: Context) -> Iterator[Outcome]:
    """The points of the first skill in question that has them all."""
    problem: Problem | None = None
    for skill_id in dict.fromkeys((context.skill, *context.skill_of.values())):
        skill = context.vocabulary.scheme.skills.get(skill_id or "")
        found = details(bag.extras, skill, True) if skill else None
        if isinstance(found, Problem):
            problem = problem or found
            continue
        fitting = [(Points(one.points),) for one in found or () if one.points and one[::2] == (None, None)]
        if fitting:
            yield from fitting
            return
    yield problem or _problem("no skill" if context.skill is None else "word", bag)
