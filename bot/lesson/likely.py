"""How likely a child passes a skill: what she has shown of it so far, on top of how the class does on it.

A beta distribution of her chance at one show (beta-binomial; the mean of a posterior, Bayes 1763). Before she has
shown anything it is the class's record on the skill, drawn towards 4 in 5, worth `WORTH` shows; each mark of hers that
counted then moves it, less so the longer it is ago (`bot/marks/tally.py`). The planner asks, and the brief before a
class, which names who is most likely ready. Nobody who judges is told a figure, nor anything of it in the lesson. How
far it can be trusted is measured by `tests/bench/reliability.py`.
"""
from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from bot.lesson.book import ClassBook
from bot.marks.interval import NINETY_FIVE, Interval, beta_quantile
from bot.marks.tally import Tally, faded

USUAL = 4.0, 1.0        # seen and missed that are counted before a class has shown a skill at all
BROUGHT = 1.0, 0.0      # a tick that the roster brought along
WORTH = 12.0            # the shows of her own that the class's record weighs as much as (tests/bench/reliability.py)


@dataclass(frozen=True, slots=True)
class Likely:
    """A child's chance at one show: the beta distribution (seen, missed)."""

    seen: float
    missed: float

    @property
    def mean(self) -> float:
        """The chance that the next show passes."""
        return self.seen / (self.seen + self.missed)

    def interval(self, confidence: float = NINETY_FIVE) -> Interval:
        """Where her chance may lie, as much outside on either side."""
        outside = (1 - confidence) / 2
        return Interval(
            beta_quantile(outside, self.seen, self.missed), beta_quantile(1 - outside, self.seen, self.missed),
        )


class Record:
    """What a class has shown of one skill, as of now."""

    def __init__(self, book: ClassBook, skill: str, now: datetime) -> None:
        self._own = {
            child: faded(one.tally, one.last.at, now) if one.last is not None else BROUGHT
            for child, of_child in book.standings.items()
            if (one := of_child.get(skill)) is not None and (one.last is not None or one.ticked)
        }
        self._seen = USUAL[0] + sum(seen for seen, _ in self._own.values())
        self._missed = USUAL[1] + sum(missed for _, missed in self._own.values())

    @property
    def shows(self) -> float:
        """On how many shows of the class it stands, faded with the weeks."""
        return self._seen + self._missed - sum(USUAL)

    def of(self, child: str) -> Likely:
        """How likely that child passes: the record of the others, then her own."""
        own: Tally = self._own.get(child, (0.0, 0.0))
        seen, missed = self._seen - own[0], self._missed - own[1]
        share = WORTH / (seen + missed)
        return Likely(seen * share + own[0], missed * share + own[1])
