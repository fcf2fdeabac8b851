"""What a full segment asks for: from a bag of words to requests, or the reason why it asks for nothing."""
from __future__ import annotations

from collections.abc import Iterator
from datetime import time
from itertools import product
from math import prod
from typing import Final, Literal, cast

from bot.talk.reading.bag import EMPTY, Bag, Named
from bot.talk.reading.context import Context
from bot.talk.reading.judged import line, marks
from bot.talk.reading.music import music, of_itself
from bot.talk.reading.scope import Choice, Outcome, Picked, Scope, Settled, children_of, problem_of
from bot.talk.reading.standard import Problem, details
from bot.talk.requests import (
    Family,
    Later,
    Look,
    MarkLine,
    NameGroup,
    Names,
    Note,
    Owed,
    Picture,
    Points,
    Same,
    Say,
    Standard,
    Start,
    Typed,
    Watch,
)

MOST_CHOICES: Final = 12    # more children than this to choose from can't be asked about in one message


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
    if bag.own and not bag.extras:
        yield problem_of("no verdict", bag)
    elif bag.kind == "verdict" or bag.slot == "missed":
        if bag.until >= 0 or bag.days or bag.classes is not None:
            yield problem_of("word", bag)
        elif bag.every == "nobody" and context.expects == "names":
            yield problem_of("no child", bag)       # nobody is missing, or nobody needs another go?
        elif bag.every or bag.slot == "missed":
            yield from line(bag, picked, context, scope)
        elif not bag.names:
            yield problem_of("no child", bag)
        else:
            yield from marks(bag, picked, context, scope)
    elif bag.at is not None or (scope.at is not None and (bag.kind or not alone)):
        yield problem_of("time", bag)
    elif bag.kind == "note" or bag.every:
        yield _note(bag, picked)
    elif bag.kind == "ask":
        yield _ask(bag, picked)
    elif bag.kind == "say":
        yield (Say(cast(Literal["undo"], bag.head)),)
    elif bag.kind == "group":
        children = children_of(bag.names, picked)
        yield (NameGroup(bag.word, children),) if children else problem_of("no child", bag)
    else:
        yield from _answer(bag, picked, context, alone)


def _only(bag: Bag, *fields: str) -> bool:
    """Does the bag hold nothing besides its head and these?"""
    emptied = {field: getattr(EMPTY, field) for field in fields}
    return bag._replace(head="", kind="", word="", begin=-1, order=0, **emptied) == EMPTY


# --- the register, the lesson, answers --------------------------------------------------------------

def _note(bag: Bag, picked: Picked) -> Outcome:
    left = children_of(bag.left, picked)
    if bag.every:
        if not _only(bag, "every", "left", "slot") or bag.head not in ("", "here"):
            return problem_of("word", bag)
        if bag.slot and not left:
            return problem_of("no child", bag)
        if bag.every == "rest" and (left or bag.head != "here"):
            return problem_of("no verdict", bag)
        if bag.every == "rest":
            return (Say("rest here"),)
        if bag.head == "here" or bag.every == "everyone":
            return (Note("away", left),) if left else (Say("everyone"),)
        return (MarkLine("seen", left=left),) if left else problem_of("no verdict", bag)
    children = children_of(bag.names, picked)
    if not children:
        return problem_of("no child", bag)
    if bag.head in ("held", "freed", "cut off"):
        what = cast(Literal["held"], bag.head)
        return (Family(what, children),) if _only(bag, "names") else problem_of("word", bag)
    if bag.head == "leaves":
        until = time(*divmod(bag.until, 60)) if bag.until >= 0 else None
        fits = _only(bag, "names", "until")
        return (Note("leaves", children, until),) if until and fits else problem_of("time", bag)
    if not (_only(bag, "names") or (bag.head == "spared" and _only(bag, "names", "days"))):
        return problem_of("word", bag)
    return (Note(cast(Literal["away"], bag.head), children, load=bag.word or None, days=bag.days),)


def _ask(bag: Bag, picked: Picked) -> Outcome:
    children, skill = children_of(bag.names, picked), bag.skill or None
    if bag.head == "owed" and bag.classes and _only(bag, "classes"):
        return (Owed(classes=bag.classes),)
    if bag.head == "owed" and _only(bag, "names", "skill"):
        return (Owed(children, skill),)
    if bag.head == "standard" and _only(bag, "skill"):
        return (Standard(skill),)
    if bag.head in ("same", "figures") and _only(bag, "skill"):
        return (Same(skill, bag.head == "figures"),)
    if bag.head == "look" and _only(bag, "names", "skill", "people"):
        return (Look(children, skill, bag.people),)
    if bag.head == "together" and _only(bag, "skill", "people"):
        return (Look((), skill, bag.people, six=True),)
    if bag.head == "picture" and bag.classes and _only(bag, "classes"):
        return (Picture(class_id=bag.classes[0]),)
    if bag.head == "picture" and _only(bag, "names"):
        return (Picture(next(iter(children), None)),) if len(children) < 2 else problem_of("no child", bag)
    if bag.head in ("click", "lasts") and _only(bag, "skill", "music"):
        return (music(bag),)
    if bag.head == "start" and _only(bag, "classes"):
        return (Start(bag.classes or ()),)
    if bag.head == "start" and skill and _only(bag, "skill"):
        return (Watch(skill),)
    if bag.head == "later" and _only(bag, "names", "skill", "days"):
        if len(children) != 1:
            return problem_of("no child", bag)
        return (Later(children[0], bag.days, skill),) if bag.days else problem_of("time", bag)
    return problem_of("word", bag)


def _answer(bag: Bag, picked: Picked, context: Context, alone: bool) -> Iterator[Outcome]:
    """No verdict and no command: an answer to what was asked, or a skill to watch."""
    if alone and context.expects == "points" and bag.extras and _only(bag, "extras"):
        yield from _points(bag, context)
    elif bag.names:
        wanted = alone and context.expects == "names" and _only(bag, "names")
        yield (Names(children_of(bag.names, picked)),) if wanted else problem_of("no verdict", bag, bag.names[0])
    elif alone and of_itself(bag) and _only(bag, "skill", "music"):
        yield (music(bag),)
    elif alone and bag.skill and _only(bag, "skill"):
        yield (Watch(bag.skill),)
    else:
        yield problem_of("no child" if bag.extras else "no verdict" if bag.skill else "word", bag)


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
    yield problem or problem_of("no skill" if context.skill is None else "word", bag)
