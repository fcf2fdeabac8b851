"""What a child's marks on one skill amount to: one fold, one event at a time.

What lives here: the standing, and `advance`, the only function that changes one. Everything that the
table of the design says about marks is decided here and nowhere else. An event is a mark, the close of a
lesson, a tick brought from elsewhere, or a retest moved; they count in the order of their own times, then
the sender's order, then receipt. The result for any mark is an `Outcome`: whether it counted, and if not,
why; the talk words it, asks, or records.
"""
from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from enum import StrEnum
from typing import Any, Literal
from zoneinfo import ZoneInfo

from bot.facts import LessonClosed, Mark, RetestMoved, TickBrought
from bot.frozen import replace
from bot.marks.tally import NOTHING as NO_TALLY
from bot.marks.tally import Tally, one_more
from bot.scheme.model import Scheme, Skill

TOLERANCE = timedelta(seconds=3)
SECOND_LOOK = timedelta(seconds=120)


class Outcome(StrEnum):
    """What became of one mark."""

    COUNTED = "counted"
    EARLY = "early"                     # a repeat before the rest was over: held
    SECOND_LOOK = "second look"         # kept and compared; changes nothing
    WHICH = "which"                     # a second look, or the next show? asked
    TICKED = "ticked"                   # the skill was ticked before
    ALREADY = "already"                 # that show, or that piece of it, was seen before
    STAYS_NOT_YET = "stays not yet"     # a line's answer never overturns a child's own miss
    NO_FIRST = "no first"               # the second show, but the first is not marked


@dataclass(frozen=True, slots=True)
class Rules:
    """What one skill asks under one version of the scheme."""

    version: int
    skill: Skill
    scheme: Scheme
    tz: ZoneInfo

    def rest_before(self, show: int) -> timedelta:
        """The rest before that show; none before the first."""
        return timedelta(seconds=self.scheme.rest_before(self.skill, show))

    @property
    def days(self) -> int | None:
        """Calendar days within which all shows of a try lie; None: within one lesson."""
        return None if self.scheme.repeat_within == "lesson" else self.scheme.repeat_within

    def day(self, instant: datetime) -> date:
        """The club's calendar day of an instant."""
        return instant.astimezone(self.tz).date()


RulesOf = Callable[[int], Rules]


@dataclass(frozen=True, slots=True)
class Last:
    """The last mark that counted."""

    mark: str
    by: str
    lesson: str
    at: datetime
    verdict: str
    show: int
    pieces: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Standing:
    """Where one child is with one skill, apart from the clock. `view.py` says what that means at an instant."""

    show: int = 1                               # the show that is owed, 1 or 2
    seen: tuple[str, ...] = ()                  # pieces of it that are seen
    tries: int = 0                              # how many were begun
    began: datetime | None = None               # first mark of the try under way; None: none is
    rules: int | None = None                    # the version that the try under way is judged by
    rested_at: datetime | None = None           # when the rest before `show` is over
    lesson: str | None = None                   # the last lesson in which it was marked
    ticked_at: datetime | None = None
    ticked_on: date | None = None
    ticked_rules: int | None = None
    early: bool = False                         # ticked although the rest was not over
    retest_from: date | None = None             # owed again since that day
    lapsed: bool = False                        # … because the second show was not seen in time
    moved_to: date | None = None
    missed: tuple[str, ...] = ()                # of the last miss
    last: Last | None = None
    tally: Tally = NO_TALLY                     # shows seen and missed so far, as of the last mark that counted
    upto: datetime | None = None                # the time of the latest mark or move that was folded in

    @property
    def ticked(self) -> bool:
        """Is it ticked?"""
        return self.ticked_on is not None


UNTRIED = Standing()
Event = Mark | LessonClosed | TickBrought | RetestMoved


def fold(events: Iterable[Event], rules_of: RulesOf) -> tuple[Standing, dict[str, Outcome]]:
    """The standing that events amount to, in their right order (see `in_order`), and each mark's outcome."""
    standing = UNTRIED
    outcomes: dict[str, Outcome] = {}
    for event in events:
        standing, outcome = advance(standing, event, rules_of)
        if isinstance(event, Mark) and outcome is not None:
            outcomes[event.id] = outcome
    return standing, outcomes


def advance(standing: Standing, event: Event, rules_of: RulesOf) -> tuple[Standing, Outcome | None]:
    """One event further. A mark that does not count leaves the standing as it was."""
    if isinstance(event, Mark):
        after, outcome = _mark(standing, event, rules_of)
        return _upto(after, event.judged_at), outcome
    if isinstance(event, LessonClosed):
        return _close(standing, event, rules_of), None
    if isinstance(event, TickBrought):
        return _bring(standing, event), None
    moved = standing if standing.ticked else replace(standing, moved_to=event.to)
    return _upto(moved, event.at), None


def _upto(standing: Standing, at: datetime) -> Standing:
    latest = _latest(standing, at)
    return standing if latest is standing.upto else replace(standing, upto=latest)


def _latest(standing: Standing, at: datetime) -> datetime:
    return at if standing.upto is None or at > standing.upto else standing.upto


# --- a mark ----------------------------------------------------------------------------------------

def _mark(standing: Standing, mark: Mark, rules_of: RulesOf) -> tuple[Standing, Outcome]:
    standing = _expire(standing, mark.judged_at, rules_of)
    before, standing = standing, _of_lesson(standing, mark, rules_of)
    rules = rules_of(mark.rules if standing.rules is None else standing.rules)
    outcome = judge(standing, mark, rules)
    if outcome is not Outcome.COUNTED:
        return before, outcome
    pieces = owed_by(standing, mark, rules.skill)
    if mark.verdict == "seen":
        return _seen(standing, mark, pieces, rules), outcome
    return _missed(standing, mark, pieces, rules), outcome


def judge(standing: Standing, mark: Mark, rules: Rules) -> Outcome:
    """Does this mark count, as things stand? The order of the questions is the order of the design's table."""
    if _by_another(standing, mark):
        other = _second_look(standing, mark, rules)
        if other is not None:
            return other
    if standing.ticked:
        return Outcome.TICKED
    if mark.show is not None and mark.show != standing.show:
        return _other_show(standing, mark)
    if _overturns(standing, mark):
        return Outcome.STAYS_NOT_YET
    if not owed_by(standing, mark, rules.skill):
        return Outcome.ALREADY
    if _resting(standing, mark) and not mark.early:
        return Outcome.EARLY
    return Outcome.COUNTED


def owed_by(standing: Standing, mark: Mark, skill: Skill) -> tuple[str, ...]:
    """The pieces that a mark is about: those it names, or all that the show still owes.

    A miss may name a piece that was seen before; what is seen twice is nothing new.
    """
    owed = tuple(piece for piece in skill.pieces if piece not in standing.seen) if standing.seen else skill.pieces
    if mark.pieces is None:
        return owed
    named = tuple(piece for piece in skill.pieces if piece in mark.pieces)
    return named if mark.verdict == "not yet" else tuple(piece for piece in named if piece in owed)


def _by_another(standing: Standing, mark: Mark) -> bool:
    last = standing.last
    if mark.look == "second look":
        return True
    return (
        last is not None
        and last.by != mark.by
        and last.lesson == mark.lesson
        and mark.judged_at - last.at <= SECOND_LOOK
        and mark.look != "next show"
    )


def _second_look(standing: Standing, mark: Mark, rules: Rules) -> Outcome | None:
    """Another person marked a moment ago. None: this one is a mark of its own."""
    if mark.look == "second look" or standing.last is None:
        return Outcome.SECOND_LOOK
    if mark.show is not None:           # a line's choice, or typed: it says which show it is about
        return None if mark.show == standing.show and not standing.ticked else Outcome.SECOND_LOOK
    if mark.pieces is not None and not standing.ticked and set(mark.pieces).isdisjoint(standing.last.pieces):
        return None                     # the other leg, the other part: nobody has judged that yet
    if not _next_show_to_come(standing):
        return Outcome.SECOND_LOOK
    if mark.verdict == "not yet":
        return Outcome.SECOND_LOOK if _resting(standing, mark) else Outcome.WHICH
    return Outcome.WHICH if _resting(standing, mark) else None


def _next_show_to_come(standing: Standing) -> bool:
    last = standing.last
    return (
        last is not None
        and last.verdict == "seen"
        and not standing.ticked
        and standing.show == last.show + 1
        and not standing.seen
    )


def _other_show(standing: Standing, mark: Mark) -> Outcome:
    if mark.show == 2:
        return Outcome.NO_FIRST if not _overturns(standing, mark) else Outcome.STAYS_NOT_YET
    return Outcome.ALREADY


def _overturns(standing: Standing, mark: Mark) -> bool:
    """Would a line's answer overturn a miss that came after the line was put up?"""
    last = standing.last
    return (
        mark.asked_at is not None
        and last is not None
        and last.verdict == "not yet"
        and last.lesson == mark.lesson
        and last.at >= mark.asked_at
        and last.show == mark.show
    )


def _resting(standing: Standing, mark: Mark) -> bool:
    return standing.rested_at is not None and mark.judged_at < standing.rested_at - TOLERANCE


def _last(mark: Mark, show: int, pieces: tuple[str, ...]) -> Last:
    return Last(mark.id, mark.by, mark.lesson, mark.judged_at, mark.verdict, show, pieces)


def _begun(standing: Standing, mark: Mark, rules: Rules) -> dict[str, Any]:
    """What a mark that counts changes in any case; the first one begins a try."""
    same: dict[str, Any] = {
        "lapsed": False, "moved_to": None, "lesson": mark.lesson, "rested_at": None,
        "upto": _latest(standing, mark.judged_at),
        "tally": one_more(
            standing.tally, standing.last.at if standing.last is not None else None, mark.judged_at,
            seen=mark.verdict == "seen",
        ),
    }
    if standing.began is not None:
        return same
    return same | {"began": mark.judged_at, "rules": rules.version, "tries": standing.tries + 1}


def _seen(standing: Standing, mark: Mark, pieces: tuple[str, ...], rules: Rules) -> Standing:
    show, every = standing.show, rules.skill.pieces
    seen = tuple(piece for piece in every if piece in standing.seen or piece in pieces)
    changed = _begun(standing, mark, rules) | {
        "retest_from": None, "missed": (), "seen": seen, "last": _last(mark, show, pieces),
        "early": standing.early or (mark.early and _resting(standing, mark)),
    }
    if len(seen) == len(every) and show < len(rules.skill.shows):
        rested = mark.judged_at.replace(microsecond=0) + rules.rest_before(show + 1)
        changed |= {"show": show + 1, "seen": (), "rested_at": rested}
    elif len(seen) == len(every):
        on = rules.day(mark.judged_at)
        changed |= {"ticked_at": mark.judged_at, "ticked_on": on, "ticked_rules": mark.rules}
    return replace(standing, **changed)


def _missed(standing: Standing, mark: Mark, pieces: tuple[str, ...], rules: Rules) -> Standing:
    changed = _begun(standing, mark, rules) | {
        "retest_from": rules.day(mark.judged_at), "missed": mark.missed, "early": False,
        "last": _last(mark, standing.show, pieces),
    }
    first_again = rules.scheme.after_a_miss == "first show"
    kept = () if first_again else tuple(piece for piece in standing.seen if piece not in pieces)
    if first_again or (standing.show == 1 and not kept):
        changed |= {"began": None, "rules": None}
    return replace(standing, **changed | {"seen": kept, "show": 1 if first_again else standing.show})


# --- time that runs out ----------------------------------------------------------------------------

def _close(standing: Standing, close: LessonClosed, rules_of: RulesOf) -> Standing:
    """The lesson is over: where all shows of a try belong to one lesson, an unfinished try is over too."""
    if standing.began is None or standing.ticked or standing.lesson != close.lesson or standing.rules is None:
        return standing
    rules = rules_of(standing.rules)
    return _lapse(standing, rules.day(close.at)) if rules.days is None else standing


def _expire(standing: Standing, now: datetime, rules_of: RulesOf) -> Standing:
    """A try whose days have run out is over."""
    if standing.began is None or standing.ticked or standing.rules is None:
        return standing
    rules = rules_of(standing.rules)
    if rules.days is None:
        return standing
    last_day = rules.day(standing.began) + timedelta(days=rules.days)
    return _lapse(standing, last_day) if rules.day(now) > last_day else standing


def _of_lesson(standing: Standing, mark: Mark, rules_of: RulesOf) -> Standing:
    """Where all shows of a try belong to one lesson, a try of an earlier one is over, though no close ended it."""
    if standing.began is None or standing.ticked or standing.rules is None or standing.lesson == mark.lesson:
        return standing
    rules = rules_of(standing.rules)
    return standing if rules.days is not None else _lapse(standing, rules.day(standing.began))


def _lapse(standing: Standing, day: date) -> Standing:
    fresh = standing.retest_from is None       # a miss keeps its own day and its own reason
    return replace(
        standing, show=1, seen=(), began=None, rules=None, rested_at=None, early=False,
        retest_from=day if fresh else standing.retest_from, lapsed=fresh,
    )


def _bring(standing: Standing, brought: TickBrought) -> Standing:
    if standing.ticked:
        return standing
    return replace(
        standing, ticked_on=brought.on, retest_from=None, rested_at=None, moved_to=None, began=None, rules=None,
    )


# --- what it means at an instant ----------------------------------------------------------------------

Label = Literal["untried", "owed", "resting", "ready", "ticked", "retest"]


@dataclass(frozen=True, slots=True)
class View:
    """A standing at an instant, in the words of the export."""

    label: Label
    show: int
    owed_pieces: tuple[str, ...]
    rested_at: datetime | None = None


def view(standing: Standing, now: datetime, rules: Rules, rules_of: RulesOf) -> View:
    """What a standing means now. `rules`: the version in force now, for a try that is yet to begin."""
    standing = _expire(standing, now, rules_of)
    if standing.ticked:
        return View("ticked", len(rules.skill.shows), ())
    skill = rules.skill if standing.rules is None else rules_of(standing.rules).skill
    owed = tuple(piece for piece in skill.pieces if piece not in standing.seen) if standing.seen else skill.pieces
    if standing.retest_from is not None:
        return View("retest", standing.show, owed)
    if standing.rested_at is not None and standing.show == 2 and not standing.seen:
        resting = now < standing.rested_at
        return View("resting" if resting else "ready", 2, owed, standing.rested_at)
    if standing.seen or standing.show == 2:
        return View("owed", standing.show, owed)
    return View("untried", 1, owed)


def expired(standing: Standing, now: datetime, rules_of: RulesOf) -> Standing:
    """The standing with a try that has run out of days ended."""
    return _expire(standing, now, rules_of)


__all__ = [
    "SECOND_LOOK", "TOLERANCE", "UNTRIED", "Event", "Label", "Last", "Outcome", "Rules", "RulesOf", "Standing",
    "View", "advance", "expired", "fold", "judge", "owed_by", "view",
]
