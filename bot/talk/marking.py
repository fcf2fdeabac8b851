"""From what was said to marks: weigh each, record what counts, hold what must be asked. No words in here."""
from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field
from datetime import datetime

from bot.facts import Mark, Verdict, Voided, in_force
from bot.frozen import replace
from bot.lesson import line as lines
from bot.lesson.hall import spared_loads
from bot.lesson.line import Line
from bot.marks.standing import Outcome
from bot.step import Want
from bot.talk import requests
from bot.talk.compared import as_asked
from bot.talk.draft import Draft

RECORDED = (Outcome.COUNTED, Outcome.SECOND_LOOK, Outcome.NO_FIRST)
ASIDE = (Outcome.TICKED, Outcome.ALREADY)


@dataclass
class Judged:
    """What became of the marks of one message, each list in the order in which they were said."""

    counted: list[Mark] = field(default_factory=list)
    second_looks: list[Mark] = field(default_factory=list)
    no_first: list[Mark] = field(default_factory=list)      # second shows kept until the first is marked
    early: list[Mark] = field(default_factory=list)         # held, from here on
    which: list[Mark] = field(default_factory=list)
    away: list[Mark] = field(default_factory=list)
    ticked: list[Mark] = field(default_factory=list)        # set aside: they change nothing as things stand
    already: list[Mark] = field(default_factory=list)
    stays: list[Mark] = field(default_factory=list)         # not recorded, from here on
    again: list[Mark] = field(default_factory=list)         # the same choice, tapped twice
    no_lesson: list[tuple[str, requests.Mark]] = field(default_factory=list)    # (child, what was asked)

    @property
    def recorded(self) -> list[Mark]:
        """All that changed something, or may be compared."""
        return [*self.counted, *self.second_looks, *self.no_first]

    @property
    def held(self) -> list[Mark]:
        """All that is asked about."""
        return [*self.early, *self.which, *self.away]


def typed(draft: Draft, asked: Iterable[requests.Mark], sent_at: datetime | None = None) -> Judged:
    """Marks as they were typed: the lesson of each child is found by when it was judged.

    `sent_at`: when they were, where they were held since then and are entered now.
    """
    judged = Judged()
    marks: list[Mark] = []
    sent = sent_at or draft.sent_at
    for request in asked:
        at = request.at or sent
        for child in request.children:
            lesson = draft.lesson_for(child, at)
            if lesson is None:
                judged.no_lesson.append((child, request))
                continue
            marks.append(as_asked(draft, Mark(
                id="", child=child, skill=request.skill, lesson=lesson.id, verdict=request.verdict,
                by=draft.me.id, judged_at=at, sent_at=sent, rules=draft.desk.version, pieces=request.pieces,
                show=request.show, missed=request.points, way=request.way,
            )))
    weigh(draft, marks if sent_at is None else not_known(draft, marks, judged), judged)
    return judged


def not_known(draft: Draft, marks: list[Mark], judged: Judged) -> list[Mark]:
    """Held marks without those that were entered before: a choice that is tapped twice records once."""
    records = draft.desk.facts(*(Want(child=mark.child, skill=mark.skill) for mark in marks))
    entered = {
        _said(one.fact) for record in records for one in in_force(record)
        if isinstance(one.fact, Mark) and not one.fact.aside
    }
    judged.again += [mark for mark in marks if _said(mark) in entered]
    return [mark for mark in marks if _said(mark) not in entered]


def _said(mark: Mark) -> tuple[object, ...]:
    return (mark.child, mark.skill, mark.lesson, mark.verdict, mark.pieces, mark.by, mark.judged_at, mark.sent_at)


def of_line(draft: Draft, line: Line, verdicts: dict[str, Verdict], points: tuple[str, ...] = (),
            at: datetime | None = None) -> Judged:
    """Verdicts on children of a line: about the show that the line was put up for, and no other."""
    judged = Judged()
    judged_at = at or line.shown_at or draft.sent_at
    weigh(draft, [
        Mark(
            id="", child=child, skill=line.skill, lesson=line.lesson, verdict=verdict, by=draft.me.id,
            judged_at=judged_at, sent_at=draft.sent_at, rules=draft.desk.version, show=line.show,
            asked_at=line.asked_at, missed=points if verdict == "not yet" else (),
            look="second look" if line.look else None,
        )
        for child, verdict in verdicts.items()
        if draft.knows(child) and (not line.look or owes_line(draft, line, child))
    ], judged)
    return judged


def weigh(draft: Draft, marks: Iterable[Mark], judged: Judged, *, here: bool = False) -> None:
    """Weigh marks one after another and record those that count. `here`: a child marked away is here after all.

    One that changes nothing is set aside: a *not yet* from a phone that was out of reach may still come before it.
    """
    for mark in marks:
        mark = replace(mark, id=f"{draft.message}#{_marks_so_far(draft)}")
        if not here and _is_away(draft, mark):
            judged.away.append(mark)
            continue
        outcome = draft.weigh(mark)
        _list_of(judged, outcome).append(mark)
        if outcome in RECORDED:
            draft.record_mark(mark)
        elif outcome in ASIDE:
            draft.record_mark(replace(mark, aside=True))


def _marks_so_far(draft: Draft) -> int:
    return sum(isinstance(fact, Mark) for fact in draft.facts)


def _is_away(draft: Draft, mark: Mark) -> bool:
    lesson = draft.lesson(mark.lesson)
    if lesson is None or not lesson.registered:
        return False
    return not lesson.here(mark.child, mark.judged_at)


def _list_of(judged: Judged, outcome: Outcome) -> list[Mark]:
    return {
        Outcome.COUNTED: judged.counted,
        Outcome.SECOND_LOOK: judged.second_looks,
        Outcome.NO_FIRST: judged.no_first,
        Outcome.EARLY: judged.early,
        Outcome.WHICH: judged.which,
        Outcome.TICKED: judged.ticked,
        Outcome.ALREADY: judged.already,
        Outcome.STAYS_NOT_YET: judged.stays,
    }[outcome]


def correct(draft: Draft, mark: Mark, verdict: Verdict) -> Judged:
    """A mark was a slip: it is as if the other verdict had been given then."""
    judged = Judged()
    draft.record(Voided(mark.id, undo=False))
    draft.refold([(mark.child, mark.skill)])
    weigh(draft, [replace(
        mark, verdict=verdict, missed=(), asked_at=None, show=None, sent_at=draft.sent_at, look=None,
    )], judged, here=True)
    return judged


def owes_line(draft: Draft, line: Line, child: str) -> bool:
    """Does a child of a line still have to show what the line is for?"""
    lesson = draft.lesson(line.lesson)
    if not draft.knows(child) or lesson is None:
        return False
    if line.look:
        return lesson.is_open and any(
            one.asked.skill == line.skill and one.asked.at == line.asked_at and one.waits_for(draft.me.id, child)
            for one in lesson.looks
        )
    return lines.owes_line(
        line, child, draft.standing(child, line.skill), draft.view(child, line.skill), lesson, draft.now,
        spared=spared_loads(draft.book_of(child), lesson, child, draft.scheme, line.skill),
    )


def left_of(draft: Draft, line: Line) -> tuple[str, ...]:
    """The children of a line who still have to show it."""
    return tuple(child for child in line.children if owes_line(draft, line, child))
