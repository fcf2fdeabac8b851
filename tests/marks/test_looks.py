"""Two people's judgements of one show are brought together, whoever was the first to answer.

Common practice, no source.
"""
from __future__ import annotations

from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

from bot.facts import Mark
from bot.marks.history import order_of
from bot.marks.looks import Pair, compare, pairs
from bot.marks.standing import Rules
from bot.scheme.model import Award, Point, Scheme, Show, Skill

START = datetime(2026, 11, 24, 17, 0, tzinfo=UTC)
STAND = Skill(
    id="stand", name="Stand", shows=(Show(seconds=20), Show(seconds=20, rest_s=60)),
    points=(Point(id="hips", label="Hips"), Point(id="toes", label="Toes")),
)
SCHEME = Scheme(name="s", award=(Award(id="one", name="One", skill=(STAND,)),))


def mark(number, by, verdict, at, **more):
    """A judgement so many seconds after the start."""
    when = START + timedelta(seconds=at)
    return Mark(f"m#{number}", "ava", "stand", more.pop("lesson", "tue/2026-11-24"), verdict, by, when, when, 1, **more)


def paired(*marks):
    """What is brought together, as (first, second) pairs of ids."""
    ordered = sorted(marks, key=lambda one: order_of(one, 0))
    rules = Rules(1, STAND, SCHEME, ZoneInfo("UTC"))
    return [(one.one.id, one.other.id) for one in pairs("stand", ordered, lambda _: rules)]


def test_a_second_look_belongs_to_the_mark_of_a_moment_before():
    """Another's word within two minutes is about the mark before it, and about no later one."""
    assert paired(
        mark(1, "jo", "not yet", 0), mark(2, "sam", "seen", 30, look="second look"), mark(3, "jo", "seen", 40),
    ) == [("m#1", "m#2")]


def test_one_that_was_asked_for_may_come_first():
    """Who was asked may be the first to answer: it belongs to the other's mark on the same show that follows."""
    assert paired(
        mark(1, "sam", "seen", 0, show=1, look="second look"), mark(2, "jo", "not yet", 20, show=1),
    ) == [("m#2", "m#1")]


def test_another_show_is_another_performance():
    """A look at the second show is not about the mark on the first, however near that is."""
    found = paired(
        mark(1, "jo", "seen", 0, show=1), mark(2, "sam", "seen", 70, show=2, look="second look"),
        mark(3, "jo", "seen", 100, show=2),
    )
    assert found == [("m#3", "m#2")]


def test_another_day_is_another_performance():
    """A look in one lesson is never laid beside a mark of another."""
    assert paired(
        mark(1, "jo", "seen", 0, lesson="tue/2026-11-17"), mark(2, "sam", "seen", 10, show=1, look="second look"),
    ) == []


def test_half_an_hour_later_is_another_performance():
    """More than ten minutes apart two marks are about two performances, though it was asked for."""
    assert paired(
        mark(1, "jo", "not yet", 0, show=1), mark(2, "sam", "seen", 1800, show=1, look="second look"),
    ) == []


def pair(one, other):
    """Two judgements as a pair: a verdict each, or the points missed."""
    points = {"seen": (), "no": ()}
    return Pair("stand", *(
        mark(n, by, "seen" if said == "seen" else "not yet", n, missed=points.get(said, tuple(said.split())))
        for n, (by, said) in enumerate((("jo", one), ("sam", other)))
    ))


def test_they_part_on_what_the_one_missed_and_the_other_did_not():
    """Seen beside a miss parts on its points; two misses part on what only one names; no reason, no point."""
    assert pair("seen", "hips toes").parts_on() == ("hips", "toes")
    assert pair("hips", "hips toes").parts_on() == ("toes",)
    assert pair("seen", "no").parts_on() == ()
    assert pair("hips", "no").parts_on() == ()
    assert pair("hips", "toes").alike


def test_the_dividing_point_comes_first_and_a_ruling_begins_anew():
    """The point most parted on comes first; what parted before it was ruled on says nothing any more."""
    (found,) = compare([pair("seen", "hips"), pair("hips toes", "seen"), pair("seen", "seen"), pair("no", "seen")])
    assert found.people == ("jo", "sam")
    assert found.table == [[1, 1], [2, 0]]
    assert found.parted == 3
    assert found.points({}) == [("hips", 2), ("toes", 1)]
    assert found.points({"hips": START + timedelta(minutes=1)}) == [("toes", 1)]
    assert found.points({"hips": START - timedelta(minutes=1)}) == [("hips", 2), ("toes", 1)]
