"""How likely a child passes: her own marks on top of her class's record. The numbers are worked out by hand."""
from __future__ import annotations

from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

import pytest

from bot.facts import Mark, TickBrought
from bot.lesson.book import Child, ClassBook
from bot.lesson.likely import Record
from bot.marks.standing import UNTRIED, Rules, advance
from bot.marks.tally import HALVED_IN
from bot.scheme.model import Award, Scheme, Show, Skill

NOW = datetime(2026, 11, 24, 17, 0, tzinfo=UTC)
HOP = Skill(id="hop", name="Hop", shows=(Show(seconds=20), Show(seconds=20)))
SCHEME = Scheme(name="s", rest_s=0, award=(Award(id="one", name="One", skill=(HOP,)),))
RULES = Rules(1, HOP, SCHEME, ZoneInfo("UTC"))
CHILDREN = ("ava", "ben", "chidi")


def standing(*marks):
    """What marks amount to, as (verdict, how long ago, more)."""
    after = UNTRIED
    for n, (verdict, ago, *more) in enumerate(marks):
        at = NOW - ago
        mark = Mark(f"m#{n}", "x", "hop", f"tue/{at.date()}", verdict, "jo", at, at, 1, look=more[0] if more else None)
        after, _ = advance(after, mark, lambda _: RULES)
    return after


def record(**standings):
    """The record of a class on that skill."""
    children = {one: Child(one, one, "tue", "one") for one in CHILDREN}
    return Record(ClassBook("tue", children, {child: {"hop": one} for child, one in standings.items()}), "hop", NOW)


def test_before_anybody_has_shown_it_it_is_four_in_five():
    """Nothing is known: 4 in 5, and hardly sure."""
    likely = record().of("ava")
    assert likely.mean == pytest.approx(0.8)
    assert likely.interval().high - likely.interval().low > 0.4


def test_the_others_count_for_her_and_her_own_on_top():
    """Ben missed twice: for Ava (4 + 0) of (5 + 2); for him that of nobody, worth twelve shows, and his two misses."""
    found = record(ben=standing(("not yet", timedelta(0)), ("not yet", timedelta(0))))
    assert found.of("ava").mean == pytest.approx(4 / 7)
    assert found.of("ben").mean == pytest.approx(12 * 0.8 / 14)


def test_what_is_long_ago_counts_for_less():
    """A miss is worth half of one after four weeks, a quarter after eight; a seen brings it to one and a quarter."""
    found = record(ben=standing(("not yet", 2 * HALVED_IN)))
    assert found.of("ben").mean == pytest.approx(12 * 0.8 / 12.25)
    both = standing(("not yet", 2 * HALVED_IN), ("seen", timedelta(0)))
    assert both.tally == pytest.approx((1.0, 0.25))


def test_only_marks_that_count_are_evidence():
    """A second look moves nothing, as it changes no standing."""
    assert standing(("not yet", timedelta(0)), ("seen", timedelta(0), "second look")).tally == (0.0, 1.0)


def test_a_tick_that_was_brought_along_is_one_seen():
    """Of Ben we know only that he has it: for the others that is one more seen, as the planner always took it."""
    brought, _ = advance(UNTRIED, TickBrought("ben", "hop", NOW.date()), lambda _: RULES)
    assert record(ben=brought).of("ava").mean == pytest.approx(5 / 6)


def test_her_own_marks_are_not_counted_twice():
    """Ben's own seen stands on top of what the others have shown, and not in it too: 12 x 4/5 and one, of 13."""
    assert record(ben=standing(("seen", timedelta(0)))).of("ben").mean == pytest.approx((12 * 0.8 + 1) / 13)
