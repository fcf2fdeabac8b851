"""The class sheet as plain data: what a page may show of a class beside the talk, with or without a signal.

What lives here: who is here, how each stands with each skill, who stands in a line, what the plan has yet to come, and
the standard cards. It says no more than its reader may see: a helper gets first names and lines, a family nothing.
Nothing is decided or recorded.
"""
from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import replace
from datetime import UTC, datetime
from typing import Any

from bot.lesson.ahead import Ahead, thought
from bot.lesson.hall import Hall, hall_of
from bot.lesson.lesson import Lesson
from bot.lesson.next import working_on
from bot.lesson.plan.rule import by_rule
from bot.lesson.timetable import ends_at, on_now
from bot.people.model import ClubClass
from bot.scheme.card import card
from bot.scheme.model import Skill
from bot.step import Desk
from bot.talk.draft import Draft
from bot.talk.marking import left_of
from bot.talk.rulings import on_cards

Plain = dict[str, Any]
GROWN_UP = ("coach", "assistant")
TURNS = 24      # so many lines of the plan are enough until the next look at it


def sheet(desk: Desk, now: datetime) -> Plain:
    """What somebody may see of the class that they are in, or that is on or comes next."""
    draft = Draft(desk, "", now, now)
    out: Plain = {"now": instant(now), "me": None, "class": None, "children": [], "skills": [], "marks": {},
                  "lines": [], "plan": []}
    if desk.me is None or desk.club is None:
        return out
    out["me"] = {"id": f"{desk.club.id}/{desk.me.id}", "name": desk.me.first_name, "role": desk.me.role,
                 "club": desk.club.name}
    one = _class(draft) if desk.me.role != "parent" else None
    if one is None:
        return out
    lesson = _lesson(draft, one)
    return out | _head(draft, one, lesson) | (
        _whole(draft, one, lesson) if desk.me.role in GROWN_UP else _for_a_helper(draft, one, lesson)
    )


def looked_at(draft: Draft) -> ClubClass | None:
    """The class that somebody who looks at one means: that they are in, or that is on, else their first."""
    return _class(draft)


def of_class(desk: Desk, class_id: str, now: datetime) -> Plain:
    """How the children of a class stand with its skills: what a picture of it shows. For a coach or an assistant."""
    draft = Draft(desk, "", now, now)
    one = draft.class_(class_id)
    return {"name": one.name, "at": draft.local(now)} | _standings(draft, one, None)


def of_child(desk: Desk, child: str, now: datetime) -> Plain:
    """How a child stands with the skills of her award, in the file's order. For a coach or an assistant."""
    draft = Draft(desk, "", now, now)
    award = draft.scheme.award_by_id(draft.child(child).award)
    skills = [] if award is None else list(award.suggested.values())
    ticked = {key for key, one in draft.standings_of(child).items() if one.ticked}
    return {
        "name": draft.called(child), "award": "" if award is None else award.name, "at": draft.local(now),
        "ticked": 0 if award is None else sum(skill.id in ticked for skill in award.skills),
        "needed": 0 if award is None else award.goal(ticked),
        "skills": [{"name": skill.name, "must": award is not None and skill.id in award.must} for skill in skills],
        "marks": [{"is": seen_as.label, "show": seen_as.show}
                  for seen_as in (draft.view(child, skill.id) for skill in skills)],
    }


def cards(desk: Desk, skills: Iterable[str]) -> dict[str, str]:
    """The standard cards of these skills, for whoever may judge by them. Needs `RULINGS` on the desk."""
    if desk.me is None or desk.me.role not in GROWN_UP:
        return {}
    known = desk.scheme.skills
    return {one: card(desk.scheme, known[one], on_cards(desk, one)) for one in skills if one in known}


def instant(at: datetime) -> str:
    """An instant as it is written for a machine."""
    return at.astimezone(UTC).isoformat(timespec="milliseconds").replace("+00:00", "Z")


def _class(draft: Draft) -> ClubClass | None:
    lesson = draft.open_lesson()
    if lesson is not None:
        return draft.class_(lesson.class_id)
    own = draft.own
    return next(iter(on_now(draft.club, own, draft.now)), own[0] if own else None)


def _lesson(draft: Draft, one: ClubClass) -> Lesson | None:
    mine = draft.open_lesson()
    return mine if mine is not None and mine.class_id == one.id else draft.books[one.id].open_lesson


def _head(draft: Draft, one: ClubClass, lesson: Lesson | None) -> Plain:
    ends = None if lesson is None else instant(ends_at(draft.club, one, lesson.day))
    return {"class": {"id": one.id, "name": one.name, "open": lesson is not None, "ends_at": ends}}


# --- for a coach or an assistant ---------------------------------------------------------------------

def _whole(draft: Draft, one: ClubClass, lesson: Lesson | None) -> Plain:
    hall = None if lesson is None else _hall(draft, lesson)
    return _standings(draft, one, lesson) | {
        "lines": [] if lesson is None else list(_lines(draft, lesson)),
        "plan": [] if hall is None or lesson is None else list(_plan(draft, hall, lesson)),
    }


def _standings(draft: Draft, one: ClubClass, lesson: Lesson | None) -> Plain:
    book, skills = draft.books[one.id], list(_skills(draft, one))
    return {
        "children": [
            {"id": child.id, "name": draft.called(child.id), "whole": child.name, "award": child.award,
             "here": lesson is None or (lesson.here(child.id, draft.now) and child.id not in lesson.sits)}
            for child in book.children.values()
        ],
        "skills": [_skill(draft, skill) for skill in skills],
        "marks": {child: _marks(draft, child, skills) for child in book.children},
    }


def _skills(draft: Draft, one: ClubClass) -> Iterator[Skill]:
    """The skills of the awards that the children of a class work on, in the order of the file."""
    awards = {child.award for child in draft.books[one.id].children.values()}
    for award in draft.scheme.awards:
        if award.id in awards:
            yield from (skill for skill in award.skill if not skill.retired)


def _skill(draft: Draft, skill: Skill) -> Plain:
    award = draft.scheme.award_of.get(skill.id)
    return {
        "id": skill.id, "name": skill.name, "words": list(skill.words), "line": skill.line, "light": skill.light,
        "award": None if award is None else award.name,
        "shows": [
            {"rest_s": draft.scheme.rest_before(skill, n), "hold_s": show.hold_s, "eights": show.eights,
             "bpm": show.bpm} for n, show in enumerate(skill.shows, start=1)
        ],
    }


def _marks(draft: Draft, child: str, skills: Iterable[Skill]) -> Plain:
    """Skill → how the child stands, for what anything was said of and for what she works on."""
    entry = draft.child(child)
    award = draft.scheme.award_by_id(entry.award)
    own = set() if award is None else {one.id for one in award.skill}
    out: Plain = {}
    for skill in skills:
        seen_as = draft.view(child, skill.id)
        if seen_as.label == "untried" and skill.id not in own:
            continue
        out[skill.id] = {"is": seen_as.label, "show": seen_as.show}
        if seen_as.rested_at is not None:
            out[skill.id]["rested_at"] = instant(seen_as.rested_at)
    return out


def _lines(draft: Draft, lesson: Lesson) -> Iterator[Plain]:
    """The lines that stand: mine are those my talk is about, rested ones too; of the others each watches one."""
    mine = [(draft.me, line) for line in draft.talk.lines if line.lesson == lesson.id]
    others = [(draft.desk.people.get(person), line) for person, line in lesson.lines.items() if person != draft.me.id]
    for who, line in (*mine, *others):
        left = left_of(draft, line)
        if left and who is not None:
            yield {"by": who.first_name, "mine": who == draft.me, "skill": line.skill, "show": line.show,
                   "children": list(left)}


# --- what is to come -------------------------------------------------------------------------------------

def _hall(draft: Draft, lesson: Lesson) -> Hall:
    made = hall_of(draft.books[lesson.class_id], lesson, draft.club, draft.desk.schemes, draft.now)
    return replace(made, me=draft.me.id, turned=draft.talk.turned, skipped=draft.talk.skipped, most=draft.talk.most)


def _plan(draft: Draft, hall: Hall, lesson: Lesson) -> Iterator[Plain]:
    """My lines to come: as they are planned, or, where no plan was made, as the simple rule would have them."""
    ahead = draft.desk.plans.get(lesson.id) or _by_rule(draft, hall)
    mine = [] if ahead is None else [turn for turn in ahead.turns if turn.watcher == draft.me.id]
    works_on = {child: working_on(hall, child) for child in hall.book.children if _is_in(hall, child)}
    for turn in mine[:TURNS]:
        children = [child for child in turn.children if turn.skill in works_on.get(child, ())]
        if children:
            yield {"at": instant(turn.at), "skill": turn.skill, "show": turn.show, "children": children}


def _is_in(hall: Hall, child: str) -> bool:
    return hall.lesson.here(child, hall.now) and child not in hall.lesson.sits


def _by_rule(draft: Draft, hall: Hall) -> Ahead | None:
    known = thought(hall, draft.club, (draft.me.id,))
    if known is None:
        return None
    ruled = by_rule(known.problem)
    return known.ahead(ruled, ruled)


# --- for a helper ------------------------------------------------------------------------------------------

def _for_a_helper(draft: Draft, one: ClubClass, lesson: Lesson | None) -> Plain:
    """Today's first names, and the lines with what they show: no standing, no whole name, no card."""
    if lesson is None:
        return {}
    here = [child for child in draft.books[one.id].children.values() if lesson.here(child.id, draft.now)]
    lines = list(_lines(draft, lesson))
    skills = [draft.skill(key) for key in dict.fromkeys(line["skill"] for line in lines)]
    return {
        "children": [{"id": child.id, "name": child.first, "here": True} for child in here],
        "skills": [{"id": skill.id, "name": skill.name} for skill in skills],
        "lines": lines,
    }
