"""The same standard: what two people's looks at the same shows say, the point on which they part first.

Nobody is ranked and nobody blamed: it is said on what two part, not who is right. No child is named.
A coach hears of all who judge in their classes, an assistant of their own looks alone.
"""
from __future__ import annotations

from collections.abc import Iterator
from datetime import datetime

from bot.facts import Mark, Recorded, in_force
from bot.marks.agreement import Figure, ac1, alike, kappa, percent
from bot.marks.history import events
from bot.marks.interval import wilson
from bot.marks.looks import Compared, Pair, compare, pairs
from bot.scheme.model import Skill
from bot.step import Want
from bot.talk import requests, words
from bot.talk.compared import all_in, asking_for, name
from bot.talk.draft import Draft
from bot.talk.rulings import ruled
from bot.talk.taps import Do, Tap
from bot.talk.watching import of_place

FEW = 5             # looks, of which nothing can be told yet; common practice, no source
MOST = 4            # skills and pairs of people in one message
ENOUGH = 0.8        # they see alike where even the low end of the interval is so much
Choices = list[tuple[str, Tap]]


def same(draft: Draft, request: requests.Same) -> None:
    """`same standard`, `same standard shoulder stand`, `figures`."""
    whole = [one for one in _pairs(draft, request.skill) if not _blind_still(draft, one)]
    found = [one for one in compare(whole) if _may_hear(draft, one)]
    if not found:
        on = f" on {words.inside(draft.skill(request.skill).name)}" if request.skill else ""
        draft.say(f"Nobody has looked at the same show{on} yet. To have somebody look with you, type: second look.",
                  *of_place(draft), question=draft.talk.question)
        return
    since = _since(draft)
    found.sort(key=lambda one: (draft.me.id not in one.people, -one.parted, -len(one.pairs), one.skill))
    tell = _figures if request.figures else _in_words
    rows = [tell(draft, one, since.get(one.skill, {})) for one in found[:MOST]]
    if len(found) > MOST:
        rows.append(f"And {len(found) - MOST} more: type same standard and the skill.")
    other = requests.Same(request.skill, figures=not request.figures)
    more: Choices = [("In words" if request.figures else "Figures", Do((other,), draft.sent_at))]
    draft.say("\n".join(rows), *more, *of_place(draft), question=draft.talk.question)


def _may_hear(draft: Draft, one: Compared) -> bool:
    return draft.me.role == "coach" or draft.me.id in one.people


def _blind_still(draft: Draft, pair: Pair) -> bool:
    """Is it part of what two judge blind just now? Then nobody hears of it before all is in."""
    asked, lesson = asking_for(draft, pair.other), draft.lesson(pair.other.lesson)
    return asked is not None and lesson is not None and lesson.is_open and not all_in(draft, asked)


def _since(draft: Draft) -> dict[str, dict[str, datetime]]:
    """Skill → point → when it was ruled on: how two saw it before says nothing of how they see it now."""
    found: dict[str, dict[str, datetime]] = {}
    for ruling in ruled(draft):
        found.setdefault(ruling.skill, {})[ruling.point] = ruling.at
    return found


# --- from the record ---------------------------------------------------------------------------------------

def _pairs(draft: Draft, skill: str | None) -> Iterator[Pair]:
    """The second looks of all classes that whoever asks is given."""
    kinds = ("mark", "reason")
    wants = [Want(class_id=one, kind=kind, skill=skill) for one in draft.books for kind in kinds]
    by_child: dict[tuple[str, str], list[Recorded]] = {}
    for record in draft.desk.facts(*wants):
        for one in in_force(record):
            child, which = getattr(one.fact, "child", None), getattr(one.fact, "skill", None)
            if child is not None and which in draft.scheme.skills and draft.knows(child):
                by_child.setdefault((child, which), []).append(one)
    for (_, which), of_child in by_child.items():
        if _several_judged(of_child):
            yield from _of_child(draft, which, of_child)


def _several_judged(record: list[Recorded]) -> bool:
    """Did two people judge her in one lesson? Only then is it worth folding."""
    by: dict[str, str] = {}
    return any(
        by.setdefault(one.fact.lesson, one.fact.by) != one.fact.by for one in record if isinstance(one.fact, Mark)
    )


def _of_child(draft: Draft, skill: str, record: list[Recorded]) -> list[Pair]:
    marked_in = {one.fact.lesson for one in record if isinstance(one.fact, Mark)}
    closes = [close for lesson in marked_in if (known := draft.lesson(lesson)) is not None for close in known.closes]
    ordered = sorted(record, key=lambda one: one.seq)
    return pairs(skill, events(ordered, closes), lambda version: draft.rules(version, skill))


# --- in words -----------------------------------------------------------------------------------------------

def _in_words(draft: Draft, one: Compared, since: dict[str, datetime]) -> str:
    """`Shoulder stand: you and Sam saw 8 of 10 alike. You part on hips over shoulders. Talk about that point.`"""
    skill = draft.skill(one.skill)
    same, n = alike(one.table)
    they = "You" if draft.me.id in one.people else "They"
    who = _who(draft, one)
    sure = wilson(same, n)
    few = n < FEW or (same == n and (sure is None or sure.low < ENOUGH))
    head = f"{skill.name}: {who} saw {same} of {n} alike{': too few to tell' if few else ''}."
    if points := one.points(since):
        return f"{head} {they} part on {_dividing(skill, points, advise=not few)}."
    if same < n:
        if one.points({}):
            return f"{head} What {they.lower()} parted on was ruled on since."
        return f"{head} On which point {they.lower()} part was not said: name it with the next not yet."
    return head if few else f"{head} {they} see the same."


def _dividing(skill: Skill, points: list[tuple[str, int]], *, advise: bool) -> str:
    """The point on which they part most often, or those where several are equal."""
    most = [point for point, times in points if times == points[0][1]][:2]
    talk = f". Talk about {'that point' if len(most) == 1 else 'those points'}" if advise else ""
    return f"{words.points(skill, most)}{talk}"


def _who(draft: Draft, one: Compared) -> str:
    """`you and Sam`, `Inês and Sam`."""
    names = [name(draft, person) for person in one.people if person != draft.me.id]
    return words.names(["you", *names] if len(names) == 1 else sorted(names))


# --- in figures ----------------------------------------------------------------------------------------------

def _figures(draft: Draft, one: Compared, since: dict[str, datetime]) -> str:
    same, n = alike(one.table)
    skill = draft.skill(one.skill)
    often = ", ".join(f"{words.points(skill, [point])} {times}" for point, times in one.points(since)[:3])
    few = "Too few to tell. " if n < FEW else ""
    return (f"{skill.name}, {_who(draft, one)}: {same} of {n} alike, {_figure(percent(one.table), 100, ' %')}. {few}"
            f"Kappa {_figure(kappa(one.table))}. AC1 {_figure(ac1(one.table))}."
            + (f" Parted on: {often}." if often else ""))


def _figure(figure: Figure | None, times: int = 1, unit: str = "") -> str:
    """`80 % (49 to 94)`, `0.52 (0.03 to 1)`; what cannot be told is said so."""
    if figure is None:
        return "cannot tell"
    digits = 0 if times > 1 else 2
    value = f"{figure.value * times:.{digits}f}{unit}"
    if figure.interval is None:
        return f"{value} (how sure, cannot tell)"
    return f"{value} ({figure.interval.low * times:.{digits}f} to {figure.interval.high * times:.{digits}f})"
