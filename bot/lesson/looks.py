"""Second looks that were asked for in a lesson: who was asked for which children, and what both saw so far.

What lives here: folding them from the lesson's facts, and when both are in. Neither is told of the other before that
(`bot/talk/looks.py`); what a second look changes is decided in `bot/marks/standing.py`: nothing.
"""
from __future__ import annotations

from collections.abc import Callable, Collection, Mapping
from dataclasses import dataclass, field
from datetime import datetime

from bot.facts import LookAsked, Mark, ReasonGiven
from bot.frozen import replace
from bot.marks.standing import SECOND_LOOK, Standing

StandingOf = Callable[[str, str], Standing]


@dataclass(frozen=True, slots=True)
class Saw:
    """What somebody saw of one child."""

    mark: str
    verdict: str
    missed: tuple[str, ...]
    at: datetime


@dataclass(frozen=True, slots=True)
class Looks:
    """One asking. `saw`: person → child → what they saw since; `told`: who has heard what came of it."""

    asked: LookAsked
    declined: bool = False
    saw: Mapping[str, Mapping[str, Saw]] = field(default_factory=dict)
    told: tuple[str, ...] = ()

    def of(self, person: str) -> Mapping[str, Saw]:
        """What that person saw so far."""
        return self.saw.get(person, {})

    def waits_for(self, person: str, child: str) -> bool:
        """Is that person still asked about that child?"""
        return (
            not self.declined and person == self.asked.of and child in self.asked.children
            and child not in self.of(person)
        )

    def both(self, child: str, standing_of: StandingOf) -> tuple[Saw, Saw] | None:
        """What whoever asked and whoever was asked saw of a child, or None while one is missing.

        A mark of the moment before the asking is about the same show: `ben not yet`, and then `second look ben`.
        """
        asked = self.asked
        one, other = self.of(asked.by).get(child), self.of(asked.of).get(child)
        if one is None:
            standing = standing_of(child, asked.skill)
            last = standing.last
            if last is not None and last.by == asked.by and last.lesson == asked.lesson and last.show == asked.show \
                    and asked.at - SECOND_LOOK <= last.at <= asked.at:
                missed = standing.missed if last.verdict == "not yet" else ()
                one = Saw(last.mark, last.verdict, missed, last.at)
        return None if one is None or other is None else (one, other)

    def all_in(self, gone: Collection[str], standing_of: StandingOf) -> dict[str, tuple[Saw, Saw]]:
        """Child → what both saw, once both have judged all of them; empty before that. `gone`: who is not here."""
        if self.declined:
            return {}
        found = {child: self.both(child, standing_of) for child in self.asked.children if child not in gone}
        whole = {child: both for child, both in found.items() if both is not None}
        return whole if len(whole) == len(found) else {}


def still_told(several: tuple[Looks, ...], before: tuple[Looks, ...]) -> tuple[Looks, ...]:
    """The looks as folded anew, with who has heard what came of them, where that is still what came of them."""
    known = {one.asked: one for one in before}
    return tuple(
        replace(one, told=was.told) if (was := known.get(one.asked)) is not None and was.saw == one.saw else one
        for one in several
    )


def with_mark(several: tuple[Looks, ...], mark: Mark) -> tuple[Looks, ...]:
    """The lesson's looks after one more mark. The first word on a child is what was seen, or its correction."""
    return tuple(_with_mark(one, mark) for one in several)


def _with_mark(one: Looks, mark: Mark) -> Looks:
    asked = one.asked
    if one.declined or mark.skill != asked.skill or mark.child not in asked.children:
        return one
    as_asked = mark.look == "second look"
    if mark.by != (asked.of if as_asked else asked.by) or mark.show not in (None, asked.show):
        return one
    known = one.of(mark.by).get(mark.child)
    if mark.judged_at < asked.at or not _says_more(known, mark):
        return one
    saw = Saw(mark.id, mark.verdict, mark.missed, mark.judged_at)
    return replace(one, saw={**one.saw, mark.by: {**one.of(mark.by), mark.child: saw}})


def _says_more(known: Saw | None, mark: Mark) -> bool:
    """Is a mark the first word on a child, its correction, or another piece? A show is seen with all its pieces."""
    if known is not None and mark.pieces is not None and mark.verdict != known.verdict:
        return mark.verdict == "not yet"
    return known is None or known.at == mark.judged_at


def with_reason(several: tuple[Looks, ...], fact: ReasonGiven) -> tuple[Looks, ...]:
    """The lesson's looks after a reason was said of one mark."""
    return tuple(
        replace(one, saw={
            person: {
                child: replace(saw, missed=fact.points) if saw.mark == fact.mark else saw for child, saw in of.items()
            } for person, of in one.saw.items()
        }) for one in several
    )
