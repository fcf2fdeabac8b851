"""Segments with a verdict: marks for the children named, and what is said of the whole line."""
from __future__ import annotations

from collections.abc import Iterator
from itertools import product
from typing import cast

from bot.facts import Verdict
from bot.talk.reading.bag import Bag
from bot.talk.reading.context import Context
from bot.talk.reading.scope import Outcome, Picked, Scope, children_of, problem_of
from bot.talk.reading.standard import Detail, Problem, details
from bot.talk.requests import Mark, MarkLine


def marks(bag: Bag, picked: Picked, context: Context, scope: Scope) -> Iterator[Outcome]:
    """A mark for each skill that the children stand on; all or nothing."""
    by_skill: dict[str, list[str]] = {}
    for child in children_of(bag.names, picked):
        skill = bag.skill or scope.heading or context.skill_of.get(child) or context.skill or scope.carry
        if not skill:
            yield problem_of("no skill", bag, bag.names[0])
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
        return problem_of("no skill", bag)
    if bag.show > len(skill.shows):
        return Problem("no such show", *bag.shown)
    found = details(bag.extras, skill, bag.head == "not yet")
    if isinstance(found, Problem):
        return found
    verdict = cast(Verdict, bag.head)
    return [
        Mark(children, verdict, skill_id, one.pieces, bag.show or None, one.points, one.way, bag.at or scope.at)
        for one in found
    ]


def line(bag: Bag, picked: Picked, context: Context, scope: Scope) -> Iterator[Outcome]:
    """`all seen`, `none yet`, `all but gus seen`, `not 7 hips`."""
    if bag.names or bag.show:
        # A line is marked whole, on the show that it stands for: more can be said of a child by name.
        yield Problem("no child", *bag.shown) if bag.show else Problem("word", *bag.names[0][1:])
        return
    if (bag.slot == "missed" and not bag.missed) or (bag.slot == "left" and not bag.left):
        yield problem_of("no child", bag)
        return
    verdict = cast(Verdict, bag.head or "seen")
    missed, left = children_of(bag.missed, picked), children_of(bag.left, picked)
    found = _missed_points(bag, missed, verdict, context, scope)
    if isinstance(found, Problem):
        yield found
        return
    for one in found:
        skill = bag.skill or scope.heading or None
        yield (MarkLine(verdict, missed, left, one.points, skill, bag.at or scope.at),)


def _missed_points(
    bag: Bag, missed: tuple[str, ...], verdict: Verdict, context: Context, scope: Scope
) -> list[Detail] | Problem:
    if not bag.extras:
        return [Detail()]
    stands = [context.skill_of[child] for child in (*missed, *context.line) if child in context.skill_of]
    skill_id = bag.skill or scope.heading or (*stands, context.skill, "")[0]
    skill = context.vocabulary.scheme.skills.get(skill_id or "")
    if skill is None:
        return problem_of("no skill", bag)
    found = details(bag.extras, skill, bool(missed) or verdict == "not yet")
    if isinstance(found, Problem):
        return found
    # A line is marked whole: a side or a part of it is for a mark with names.
    whole = [one for one in found if one.pieces is None and one.way is None]
    return whole or Problem("no child", bag.extras[0].at, bag.extras[0].stop)
