"""Whom to watch next, by the plan: filtered by what has happened since it was made, never followed blindly.

The first turn that still makes sense is taken: of those who stand in it, whoever still owes that show and is ready by
the time the skill is set out. Places that came free are filled from the same plan's later lines on that show, then by
whoever owes it. Where the next turn has to wait for a rest, a later one is taken if it is over by then. Without a plan,
or where nothing of it holds any more, the simple rule chooses.
"""
from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from math import ceil

from bot.lesson.ahead import Ahead, Turn
from bot.lesson.hall import Hall
from bot.lesson.next import Next, Owing, choose, minutes, owing_of
from bot.lesson.pace import paced, paced_changeover, paced_switch
from bot.scheme.model import Skill

PATIENCE = timedelta(seconds=20)    # so long a turn may keep a planned one waiting that its children rest for


def follow(hall: Hall) -> Next | None:
    """The line to watch next; None where nobody can be watched just now, or waiting is better."""
    ahead = hall.ahead
    if ahead is None or hall.only is not None or hall.now >= ahead.end or _elsewhere(hall, ahead):
        return choose(hall)
    if not ahead.turns:
        return None         # what is left does not fit
    if ahead.by_rule:
        return choose(hall)
    owing = owing_of(hall)
    waits: datetime | None = None       # a turn before this one has to wait until then
    for turn in ahead.turns:
        if turn.watcher != hall.me or turn.skill in hall.skipped:
            continue
        able, ready = _able(hall, owing, turn)
        if able and (waits is None or _over_by(hall, turn, waits + PATIENCE)):
            return _next(hall, ahead, owing, turn, able)
        if ready is not None:
            waits = min(waits or ready, ready)
    return choose(hall) if waits is None else None


def _elsewhere(hall: Hall, ahead: Ahead) -> bool:
    """Did this person mark a skill of their own choice since the plan was made? The next plan will follow."""
    if hall.turned in (None, ahead.at.get(hall.me)):
        return False
    at = hall.judged.get(hall.me, {}).get(hall.turned)
    return at is not None and at >= ahead.made_at


# --- who of a turn can show ------------------------------------------------------------------------------

def _able(hall: Hall, owing: Mapping[str, Owing], turn: Turn) -> tuple[list[str], datetime | None]:
    """Those of a planned line who can show it, and, where nobody can, when the first of them has rested."""
    of_skill = owing.get(turn.skill)
    if of_skill is None:
        return [], None
    ready = set(of_skill.ready_by(hall.now + change(hall, of_skill.skill), turn.show))
    able = [child for child in turn.children if child in ready]
    rests = [at for show, child, at in of_skill.soon if show == turn.show and child in turn.children]
    return able, None if able else min(rests, default=None)


def change(hall: Hall, skill: Skill) -> timedelta:
    """How long it takes before the children of a skill can begin, at least."""
    if hall.turned in (None, skill.id):
        return timedelta(0)
    return timedelta(seconds=min(paced_switch(hall.book, skill), paced_changeover(hall.book, skill)))


def _over_by(hall: Hall, turn: Turn, at: datetime) -> bool:
    skill = hall.scheme.skills[turn.skill]
    takes = timedelta(seconds=paced(hall.book, skill, turn.show))
    return hall.now + change(hall, skill) + takes <= at


# --- the line --------------------------------------------------------------------------------------------

def _next(hall: Hall, ahead: Ahead, owing: Mapping[str, Owing], turn: Turn, able: list[str]) -> Next:
    of_skill = owing[turn.skill]
    skill = of_skill.skill
    ready = of_skill.ready_by(hall.now + change(hall, skill), turn.show)
    size = hall.size(skill)
    wanted = dict.fromkeys([*able, *_later(hall, ahead, turn), *ready])
    line = [child for child in wanted if child in ready][:size]
    line = sorted(_kept_together(hall, ahead, turn, line, ready, size), key=list(hall.book.children).index)
    rested = turn.show == 2 and set(line) <= set(of_skill.second)
    why = "rested" if rested else "same skill" if skill.id == hall.turned else "plan"
    takes = minutes(hall.book, hall.scheme, skill, of_skill.owe)
    return Next(skill.id, turn.show, tuple(line), of_skill.owe, takes, why)


def _later(hall: Hall, ahead: Ahead, turn: Turn) -> Iterator[str]:
    """Who is to show the same later on, before the same watcher."""
    for one in ahead.turns:
        if (one.watcher, one.skill, one.show) == (hall.me, turn.skill, turn.show) and one.at > turn.at:
            yield from one.children


def _kept_together(
    hall: Hall, ahead: Ahead, turn: Turn, line: list[str], ready: list[str], size: int
) -> list[str]:
    """The same, or a group that stands together on a mat, where that costs no more minutes than the club would give."""
    def value(children: Iterable[str]) -> float:
        return sum(ahead.worth.get((child, turn.skill), 0) for child in children)

    groups = [[child for child in ready if child in members][:size] for members in hall.book.groups.values()]
    best = max((group for group in groups if group), key=value, default=None)
    if best is None or any(set(line) <= set(members) for members in hall.book.groups.values()):
        return line
    lost = (value(line) - value(best)) / max(1.0, ahead.a_minute(hall.now))
    return best if lost <= hall.keep_groups else line


# --- what will not fit -----------------------------------------------------------------------------------

def left_over(hall: Hall, ahead: Ahead) -> list[Owing]:
    """The skills that somebody here owes and that are in nobody's plan, nor watched just now."""
    planned = {turn.skill for turn in ahead.turns}
    planned |= {line.skill for line in hall.lesson.lines.values() if hall.left(line)}
    return [one for one in owing_of(hall).values() if one.skill.id not in planned]


def too_late_for(hall: Hall, skill: Skill, show: int, end: datetime) -> tuple[int, int] | None:
    """What one line needs from a show on to the last one, and what is left, in minutes, where it will not fit."""
    needed = change(hall, skill).total_seconds() + paced(hall.book, skill, show)
    if show < len(skill.shows):
        needed += hall.scheme.rest_before(skill, 2) + paced(hall.book, skill, 2)
    left = (end - hall.now).total_seconds()
    if not needed > left > 0:
        return None
    whole = ceil(needed / 60)
    return whole, min(round(left / 60), whole - 1)


# --- the plan, to be read ----------------------------------------------------------------------------------

@dataclass(frozen=True, slots=True)
class Stretch:
    """A skill on one show, for as long as one watcher stays with it."""

    at: datetime
    skill: str
    show: int
    children: tuple[str, ...]


def stretches(ahead: Ahead, watcher: str | None) -> list[Stretch]:
    """The turns of a watcher (None: of whoever has the first), put together while they stay on one show of a skill."""
    found: list[Stretch] = []
    for turn in ahead.turns:
        if turn.watcher != (watcher or ahead.turns[0].watcher):
            continue
        last = found[-1] if found else None
        if last is not None and (last.skill, last.show) == (turn.skill, turn.show):
            found[-1] = replace(last, children=last.children + turn.children)
        else:
            found.append(Stretch(turn.at, turn.skill, turn.show, turn.children))
    return found
