"""What is left of a lesson becomes a problem that says nothing but what is so."""
from __future__ import annotations

from dataclasses import replace
from datetime import timedelta

import pytest

from bot.lesson.book import Agreed
from bot.lesson.plan.model import Plan
from bot.lesson.plan.rule import by_rule
from bot.lesson.weigh import Worth, behind
from bot.people.model import Club, Planning
from bot.scheme.model import Award
from tests.lesson.planned import (
    CHILDREN,
    CLUB,
    DAY,
    LESSON,
    SCHEME,
    at,
    book,
    hall,
    line,
    missed,
    plan,
    problem,
    resting,
    seen,
    ticked,
)


def owes(made, child):
    return {one.skill for one in made.owed if one.child == child}


def test_the_time_is_what_is_left_of_the_lesson() -> None:
    """From now to the end by the timetable."""
    made, one = problem(book(), after=605)
    assert one.since + timedelta(seconds=made.now) == at(605)
    assert one.since + timedelta(seconds=made.end) == at(3600)


def test_only_the_share_of_it_in_which_is_watched() -> None:
    """Of 60 minutes 45 are for watching: of the 20 that are left, 15."""
    club = Club(id="c", name="C", classes=(CLUB.classes[0].model_copy(update={"watch_minutes": 45}),))
    made, one = problem(book(), after=2400, club=club)
    assert one.since + timedelta(seconds=made.end) == at(2400 + 15 * 60)


def test_after_the_end_nothing_is_planned() -> None:
    """Whoever goes on then goes by the simple rule."""
    from bot.lesson.ahead import thought

    assert thought(hall(book(), 3600), CLUB, ["jo"]) is None


def test_those_who_are_here_and_fit() -> None:
    """Away and sitting out are nobody; who leaves has an end; a load spared is not owed."""
    notes = {"leaves": {"chidi": at(600)}, "spared": {"dara": ("landing",)}}
    of = book(away=frozenset({"ava"}), sits=frozenset({"ben"}), **notes)
    of = replace(of, agreed={"efa": Agreed(spared={"landing": DAY})})
    made, one = problem(of)
    assert [child.id for child in made.children] == ["chidi", "dara", "efa", "finn"]
    assert one.since + timedelta(seconds=made.children[0].until) == at(600)
    assert owes(made, "dara") == owes(made, "efa") == {"stand", "wheel", "waltz"}
    assert owes(made, "finn") == {"hop", "stand", "wheel", "waltz"}


def test_nobody_owes_what_is_ticked_or_was_missed_today_or_put_off() -> None:
    """A miss comes back next week, a skill put off when its name is typed."""
    made, _ = problem(book({("ava", "hop"): ticked(), ("ben", "hop"): missed(30)}), after=60, skipped=("wheel",))
    assert owes(made, "ava") == owes(made, "ben") == {"stand", "waltz"}


def test_a_rest_under_way() -> None:
    """The first show ended a minute before its rest is over; until then she shows nothing that tires."""
    made, one = problem(book({("ava", "stand"): resting(100)}), after=120)
    owed = next(one for one in made.owed if (one.child, one.skill) == ("ava", "stand"))
    assert owed.done == 1
    assert owed.prev_end is not None
    assert one.since + timedelta(seconds=owed.prev_end) == at(100)
    last = made.children[0].last_end
    assert last is not None
    assert one.since + timedelta(seconds=last) == at(100)


def test_a_line_that_stands_is_watched_to_its_end() -> None:
    """Put up at 100 s on a new skill: 50 s to set it out, 30 s to watch. Then the children are free, and so is Jo."""
    of = book(lines={"jo": line("stand", ("ava", "ben"), 100)})
    made, one = problem(of, after=110)
    ends = at(180)
    assert one.since + timedelta(seconds=made.watchers[0].free) == ends
    assert made.watchers[0].at == "stand"
    for child in made.children[:2]:
        assert one.since + timedelta(seconds=child.since) == ends
    owed = {one.child: one for one in made.owed if one.skill == "stand"}
    assert owed["ava"].done == owed["ben"].done == 1
    assert owed["chidi"].done == 0
    assert made.children[2].since == made.now


def test_what_stands_for_its_last_show_is_owed_no_more() -> None:
    """The line is taken to pass."""
    made, _ = problem(book(lines={"jo": line("hop", ("ava",), 100)}), after=110)
    assert owes(made, "ava") == {"stand", "wheel", "waltz"}


def test_two_watchers_with_what_they_opened() -> None:
    """By the marks of each: where they are, and what they have set out in this lesson."""
    of = book({("ava", "hop"): replace(ticked(30), last=seen(30, by="sam")), ("ben", "wheel"): ticked(50)})
    made, _ = problem(of, after=60, watchers=("jo", "sam"))
    jo, sam = made.watchers
    assert (jo.at, jo.opened) == ("wheel", {"wheel"})
    assert (sam.at, sam.opened) == ("hop", {"hop"})


def test_mats_are_moved_for_a_return_where_another_surface_is_wanted_too() -> None:
    """Then it takes as long as the first time, or what the scheme says; else ten seconds."""
    made, _ = problem(book())
    switch = {skill.id: skill.switch for skill in made.skills}
    assert switch == {"hop": 10, "stand": 50, "wheel": 30, "waltz": 7}
    no_track = {(child, "wheel"): ticked() for child in CHILDREN}
    made, _ = problem(book(no_track), after=10)
    assert {skill.id: skill.switch for skill in made.skills} == {"hop": 10, "stand": 10, "waltz": 7}


def test_lines_are_no_longer_than_somebody_wants_them() -> None:
    """The wish goes before the scheme's line."""
    made, _ = problem(book(), most=2)
    assert {skill.id: skill.shows[0].group for skill in made.skills} == {"hop": 2, "stand": 2, "wheel": 2, "waltz": 2}


def test_a_tick_near_the_award_is_worth_more() -> None:
    """By default a tick is worth 1, and as much again where it is the last one."""
    near = {("ava", skill): ticked() for skill in ("hop", "stand", "wheel")}
    weights = {(one.child, one.skill): one.weight for one in problem(book(near), after=10)[0].owed}
    assert weights["ava", "waltz"] == 2.0
    assert weights["ben", "waltz"] == 1.25      # one of four


def test_who_was_not_watched_lately_counts_more_and_a_club_says_how_much() -> None:
    """Five of six showed something: the sixth is wholly behind."""
    of = book({(child, "hop"): ticked() for child in CHILDREN[:5]})
    club = Club(id="c", name="C", classes=CLUB.classes, planning=Planning(near_award=0, not_seen_lately=3))
    weights = {(one.child, one.skill): one.weight for one in problem(of, 10, club=club)[0].owed}
    assert weights["ava", "stand"] == 1
    assert weights["finn", "stand"] == 4


def test_who_was_away_is_not_behind_for_it() -> None:
    """Efa and Finn were away last week. Efa showed one skill today, as many a lesson as the others; Finn none."""
    then, ids = LESSON.replace("24", "17"), ("ava", "ben", "chidi", "dara")
    shown = {(child, "hop"): replace(ticked(), lesson=then) for child in ids}
    of = book(shown | {(child, "wheel"): ticked() for child in (*ids, "efa")})
    week = replace(of.lessons[LESSON], id=then, day=DAY - timedelta(days=7), is_open=False)
    of = replace(of, lessons={**of.lessons, then: replace(week, away=frozenset({"efa", "finn"}))})
    found = behind(of, of.lessons[LESSON], CHILDREN)
    assert found == {"ava": 0, "ben": 0, "chidi": 0, "dara": 0, "efa": 0, "finn": 1}


def test_what_must_be_there_is_near_and_nothing_else_is_where_only_that_is_missing() -> None:
    """Two of four are needed, the wheel among them: with one other ticked a second other brings the award no nearer."""
    award = Award(id="one", name="One", needs=2, must=("wheel",), skill=SCHEME.award[0].skill)
    worth = Worth(Planning(), award, frozenset({"hop"}), 0)
    assert worth.of("wheel", retest=False) == 2
    assert worth.of("stand", retest=False) == 1
    assert worth.of("stand", retest=True) == 1.25
    fresh = Worth(Planning(), award, frozenset(), 0)
    assert fresh.of("wheel", retest=False) == fresh.of("stand", retest=False) == 1.5


def test_the_rule_goes_skill_by_skill_and_to_a_second_show_as_soon_as_it_is_rested() -> None:
    """By hand: two lines of hops, three of stands, rested one by one once the third is done, then the others."""
    turns = by_rule(problem(book())[0]).turns
    assert [(turn.start, turn.skill, turn.show) for turn in turns] == [
        (40, "hop", 1), (60, "hop", 1), (130, "stand", 1), (160, "stand", 1), (190, "stand", 1), (220, "stand", 2),
        (250, "stand", 2), (280, "stand", 2), (340, "wheel", 1), (360, "wheel", 1), (410, "waltz", 1),
    ]


def test_no_chance_of_passing_is_taken_as_less_than_the_floor() -> None:
    """Nobody is left out for being likely to miss; a new skill passes four in five, the second show nine in ten."""
    often = replace(missed(10), tally=(0.0, 9.0))
    of = book({(child, "hop"): often for child in CHILDREN[:5]})
    chances = {one.skill: one.chances for one in problem(of, 30)[0].owed}
    assert chances["hop"][0] == CLUB.planning.likely_at_least
    assert chances["wheel"][0] == pytest.approx(0.8)
    assert chances["stand"] == pytest.approx((0.8, 0.9))


def test_children_of_a_group_stand_next_to_each_other() -> None:
    """So that of equal children those of a group come into one line."""
    of = replace(book(), groups={"mat": ("efa", "ava")})
    assert [child.id for child in problem(of)[0].children][:3] == ["efa", "ava", "ben"]


def test_where_the_rule_gets_all_of_it_with_time_to_spare_it_is_followed() -> None:
    """Not where it gets less, and not where it ends within the last 15 % of the time."""
    made, one = problem(book())
    ruled = by_rule(made)
    assert {turn.skill for turn in ruled.turns} == {"hop", "stand", "wheel", "waltz"}
    assert one.ahead(ruled, ruled).by_rule
    assert not one.ahead(replace(ruled, value=ruled.value + 1), ruled).by_rule
    late = replace(ruled, finish=made.end - 1)
    assert not one.ahead(ruled, late).by_rule


def test_a_plan_from_before_begins_with_what_is_still_to_come() -> None:
    """Turns that are over are not planned again; what the rule did is no plan."""
    _, one = problem(book(), after=100)
    before = plan((50, "hop", 1, ("ava",)), (150, "wheel", 1, ("ben",)))
    again = one.again(before)
    assert isinstance(again, Plan)
    assert [turn.skill for turn in again.turns] == ["wheel"]
    assert one.since + timedelta(seconds=again.turns[0].start) == at(150)
    assert one.again(replace(before, by_rule=True)) is None
    assert one.again(replace(before, lesson="tue/2026-11-17")) is None
