"""Two people's judgements of one show, brought together: what "the same standard" is said from. No words.

A second look changes no standing (`standing.py`); here it is laid beside the mark that it is about. Which one that is:
the other person's mark of a moment before, which made it a second look; where it was asked for, the nearest one to it,
before or after, on the same show, for whoever was asked may be the first to answer. That a skill was ticked elsewhere
before makes no difference here: two have judged what they saw.
"""
from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from datetime import datetime, timedelta

from bot.facts import Mark
from bot.marks.agreement import Table, table_of
from bot.marks.standing import UNTRIED, Event, Outcome, RulesOf, advance

NEAR = timedelta(minutes=10)        # further apart than this two marks are about two performances


@dataclass(frozen=True, slots=True)
class Pair:
    """What two people saw of one show of one child. `at`: when the later of them said so."""

    skill: str
    one: Mark
    other: Mark

    @property
    def at(self) -> datetime:
        """When both had judged."""
        return max(self.one.judged_at, self.other.judged_at)

    @property
    def alike(self) -> bool:
        """Did both say the same?"""
        return self.one.verdict == self.other.verdict

    def parts_on(self) -> tuple[str, ...]:
        """The points that the one missed and the other did not; none where a *not yet* came without a reason."""
        if any(mark.verdict == "not yet" and not mark.missed for mark in (self.one, self.other)):
            return ()
        return tuple(sorted(set(self.one.missed) ^ set(self.other.missed)))


@dataclass
class Compared:
    """All that two people judged together on one skill."""

    skill: str
    people: tuple[str, str]             # in the order of their ids
    pairs: list[Pair] = field(default_factory=list)

    @property
    def table(self) -> Table:
        """Seen or not yet, by the one and by the other."""
        first = self.people[0]
        return table_of(
            (one.verdict == "seen", other.verdict == "seen")
            for pair in self.pairs
            for one, other in [(pair.one, pair.other) if pair.one.by == first else (pair.other, pair.one)]
        )

    @property
    def parted(self) -> int:
        """How many looks were not alike."""
        return sum(not pair.alike for pair in self.pairs)

    def points(self, since: dict[str, datetime]) -> list[tuple[str, int]]:
        """The points on which they part and how often, the most often first; of each only since it was ruled on."""
        counted = Counter(
            point for pair in self.pairs for point in pair.parts_on() if point not in since or pair.at > since[point]
        )
        return sorted(counted.items(), key=lambda one: (-one[1], one[0]))


def pairs(skill: str, events: Iterable[Event], rules_of: RulesOf) -> list[Pair]:
    """The second looks among the events of one child and skill (in their order), each with what it is about."""
    standing = UNTRIED
    marks: list[tuple[Mark, int]] = []              # of those that are no second look, with the show they were about
    looks: list[tuple[Mark, str | None]] = []       # with the mark of a moment before
    for event in events:
        before = standing
        standing, outcome = advance(standing, event, rules_of)
        if not isinstance(event, Mark):
            continue
        if outcome in (Outcome.SECOND_LOOK, Outcome.WHICH):
            looks.append((event, before.last.mark if before.last is not None else None))
        elif outcome is not Outcome.EARLY:
            last = standing.last
            counted = last is not None and last.mark == event.id
            marks.append((event, last.show if counted and last is not None else event.show or before.show))
    found = []
    for look, before_it in looks:
        about = _about(look, before_it, marks)
        if about is not None:
            found.append(Pair(skill, about, look))
    return found


def _about(look: Mark, before_it: str | None, marks: Sequence[tuple[Mark, int]]) -> Mark | None:
    others = [
        (mark, show) for mark, show in marks
        if mark.by != look.by and mark.lesson == look.lesson and look.show in (None, show)
    ]
    if look.look is None or look.show is None:      # nobody asked for it beforehand: it is about what came just before
        return next((mark for mark, _ in others if mark.id == before_it), None)
    near = [mark for mark, _ in others if abs(mark.judged_at - look.judged_at) <= NEAR]
    nearest = min(near, key=lambda mark: abs(mark.judged_at - look.judged_at), default=None)
    if nearest is None or nearest.pieces is None:
        return nearest
    pieces = (mark for mark in near if mark.pieces is not None and mark.by == nearest.by)
    return next((mark for mark in pieces if mark.verdict == "not yet"), nearest)     # all are seen, or it is not


def compare(found: Iterable[Pair]) -> list[Compared]:
    """Pairs by skill and people."""
    by: dict[tuple[str, tuple[str, str]], Compared] = {}
    for pair in found:
        first, second = sorted((pair.one.by, pair.other.by))
        key = pair.skill, (first, second)
        by.setdefault(key, Compared(pair.skill, (first, second))).pairs.append(pair)
    return list(by.values())
