"""What is kept of a child, told to her family: all of it, and nothing of anybody else.

Source: Regulation (EU) 2016/679, article 15(1) and (4), from memory: a copy of the data, which shall not adversely
affect others.
"""
from __future__ import annotations

import re
from dataclasses import replace
from datetime import UTC, date, datetime
from typing import get_args

import pytest

from bot.facts import (
    AwardMoved,
    ChildAdded,
    ChildNoted,
    ConsentSaid,
    Fact,
    GroupNamed,
    HelperShowed,
    LoadSpared,
    LookAsked,
    Mark,
    NamePrinted,
    NewsReleased,
    NewsTold,
    ReasonGiven,
    Recorded,
    RegisterTaken,
    RetestMoved,
    TickBrought,
    WayAgreed,
)
from bot.out.account import account
from tests.talk.hall import Hall

AT = datetime(2026, 11, 24, 17, 0, tzinfo=UTC)
ON = date(2026, 11, 24)
AVA, BEN = "tue-ava-price", "tue-ben-okafor"
LESSON = "tue/2026-11-24"
ABOUT = {
    Mark("m", AVA, "wheel", LESSON, "not yet", "jo", AT, AT, 1, pieces=("left",)): "Wheel not yet left, by Jo",
    ReasonGiven("m", AVA, "stand", ("hips",)): "hips over shoulders",
    Mark("m", AVA, "hop", LESSON, "not yet", "jo", AT, AT, 1, aside=True): "Hop not yet, by Jo (changed nothing).",
    TickBrought(AVA, "hop", ON): "Hop was ticked already, says the roster.",
    TickBrought(AVA, "stand", ON, "jo"): "Stand was ticked already, says Jo.",
    RetestMoved(AVA, "hop", date(2026, 12, 8), AT): "before Tuesday 8 December 2026",
    HelperShowed(LESSON, "kit", (AVA, BEN), "hop", AT): "Hop shown, says a helper",
    LookAsked(LESSON, "jo", "sam", (AVA, BEN), "hop", 1, AT): "Hop to be looked at by another coach too",
    RegisterTaken(LESSON, (AVA, BEN), AT): "Tuesday, Tuesday 24 November 2026: away",
    ChildNoted(LESSON, AVA, "sits", AT): "sat out",
    GroupNamed("tue", "reds", (AVA, BEN)): "the group reds",
    ChildAdded(AVA, "Ava Prise", "tue", "one"): "Added as Ava Prise",
    AwardMoved(AVA, "one", "ordered", ON): "One on the order",
    NamePrinted(AVA, "Ava Príce", "Ava Price", AT): "printed as Ava Príce",
    WayAgreed(AVA, "hop", "seated", AT): "Hop is shown seated",
    LoadSpared(AVA, "landing", date(2026, 12, 1), AT): "landing spared up to Tuesday 1 December 2026",
    ConsentSaid(AVA, "pa", True, AT, "May we write?"): 'said yes to news. The words shown were: "May we write?"',
    NewsReleased(LESSON, "jo", AT, held=(AVA, BEN)): "a coach held the news back",
    NewsTold(AVA, "pa", ON, ("hop", "award:one"), ("wheel",)): "what is new: Hop and One. what was a slip: Wheel",
}
OF_NO_CHILD = {"voided", "opened", "closed", "paused", "pace", "cupboard", "ruling", "look declined", "counted"}


@pytest.fixture
def hall():
    one = Hall()
    yield one
    one.close()


def told(hall: Hall, *facts: Fact) -> str:
    """Ava's account where the record holds these facts."""
    snapshot = hall.snapshot()
    record = tuple(Recorded(n, f"m{n}", fact) for n, fact in enumerate(facts, 1))
    return account(replace(snapshot, record=record), AVA, AT)


@pytest.mark.parametrize("fact", ABOUT, ids=lambda fact: fact.kind)
def test_each_fact_about_a_child_is_said(hall, fact):
    """Whatever the record holds about her is in it, in words, and nobody else's name beside it."""
    text = told(hall, fact)
    assert ABOUT[fact] in text
    assert "Okafor" not in text
    assert not re.search(r"\bBen\b", text)


@pytest.mark.parametrize("fact", ABOUT, ids=lambda fact: fact.kind)
def test_a_fact_about_another_is_not(hall, fact):
    """The same said of another child is not in hers."""
    names = {name: getattr(fact, name) for name in ("child", "children", "away", "held") if getattr(fact, name, None)}
    other = replace(fact, **{name: BEN if name == "child" else (BEN,) for name in names})
    assert "What was taken down, in order:\n  nothing yet" in told(hall, other)


def test_no_kind_of_fact_is_forgotten():
    """Each kind that the record can hold is tried above, or is about no child."""
    kinds = {one.__dataclass_fields__["kind"].default for one in get_args(Fact)}
    assert {fact.kind for fact in ABOUT} | OF_NO_CHILD == kinds


def test_a_lesson_as_a_family_reads_it(hall):
    """What was seen, missed and taken back is told with its day and time, and how it stands now."""
    hall.parent("pa", "ava")
    for text in ("start", "everyone", "ava, ben seen hop", "ava not yet wheel left", "undo", "chidi seen stand",
                 "ava not yet stand: hips", "close"):
        hall.say("jo", text)
    text = account(hall.snapshot(), AVA, hall.clock.now())
    assert "Hop: ticked on Tuesday 24 November 2026" in text
    assert "Stand: to be shown again (hips over shoulders), from Tuesday 1 December 2026" in text
    assert "17:00: Wheel not yet left, by Jo. Taken back later." in text
    assert "a parent said yes to news. The words shown were: \"" in text
    assert not re.search(r"\bBen\b|Chidi|Zuleika|Otto", text)


def test_an_unknown_child_has_none(hall):
    """Of a child that the club does not have, there is no account: another club's neither."""
    for child in ("x-otto", "nobody"):
        with pytest.raises(KeyError):
            account(hall.snapshot(), child, AT)
