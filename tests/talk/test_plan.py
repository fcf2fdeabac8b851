"""The plan in the talk: what it says, and that nobody is ever planned who may not be, whatever happens meanwhile."""
from __future__ import annotations

import random
from datetime import UTC, datetime, timedelta
from typing import Any

import pytest

from adapters.service import Service
from adapters.thinking import AtOnce
from bot.people.hall import read_hall
from bot.scheme.home import all_loads
from bot.step import Said
from bot.talk.taps import Answer
from tests.talk.hall import Hall

SHORT = datetime(2026, 11, 24, 17, 0, tzinfo=UTC)
SCHEME = """
[scheme]
name = "Short"
[[award]]
id = "one"
name = "One"
  [[award.skill]]
  id = "stand"
  name = "Shoulder stand"
  shows = [{seconds = 40}, {seconds = 40, rest_s = 90}]
  line = 3
  loads = ["neck"]
  surface = "mat"
  caution = "Weight on the shoulders."
  [[award.skill]]
  id = "wheel"
  name = "Cartwheel"
  shows = [{seconds = 45}]
  line = 2
  loads = ["wrists"]
  surface = "track"
  [[award.skill]]
  id = "jump"
  name = "Split jump"
  shows = [{seconds = 60}, {seconds = 60, rest_s = 180}]
  line = 2
  loads = ["landing"]
  [[award.skill]]
  id = "waltz"
  name = "Waltz turn"
  shows = [{seconds = 30}]
  line = 6
  light = true
  [[award.skill]]
  id = "bridge"
  name = "Bridge"
  shows = [{seconds = 20}, {seconds = 20, rest_s = 60}]
  line = 4
  loads = ["back"]
"""
CLUB = """
name = "Short"
[[class]]
id = "tue"
name = "Tuesday"
day = "tuesday"
start = "17:00"
minutes = 20
coach = "jo"
assistant = "sam"
[[person]]
id = "jo"
name = "Jo"
role = "coach"
[[person]]
id = "sam"
name = "Sam"
role = "assistant"
"""
NAMES = ("Ava", "Ben", "Chidi", "Dara", "Efa", "Finn", "Gus", "Hana", "Ivy")


class Planned(Hall):
    """A short lesson, in which not all can be shown: the plan leads."""

    def __init__(self) -> None:
        self.thinking = AtOnce(30)
        super().__init__()

    async def _load(self) -> None:
        roster = "child,class,award,has\n" + "".join(f"{name} Short,tue,one,\n" for name in NAMES)
        await self.store.load(read_hall(SCHEME, CLUB, roster), SHORT)
        for person in ("jo", "sam"):
            await self.store.meet("Bench", person, "short", person)

    def service(self) -> Service:
        return Service(self.store, self.clock, self.thinking.decide, self.thinking.wake)

    def began(self, minutes: float = 0) -> Planned:
        """Everyone is here, so many minutes after the start."""
        self.clock.move_to(SHORT + timedelta(minutes=minutes))
        self.say("jo", "start")
        self.tap("jo", "Everyone")
        return self

    def text(self, person: str = "jo") -> str:
        return self.last[person][-1].text


def line_of(said: Said | None) -> Any:
    """The line to which a message wants an answer."""
    taps = [choice.tap for choice in said.choices] if said is not None else []
    return next((tap.line for tap in taps if isinstance(tap, Answer)), None)


@pytest.fixture
def hall():
    made = Planned()
    yield made
    made.close()


def test_the_plan_is_a_short_list_by_the_clock(hall: Planned) -> None:
    """Ten rows at most, each with its time, in order."""
    hall.began().say("jo", "plan")
    rows = hall.text().splitlines()
    assert 2 <= len(rows) <= 10
    assert rows[0].startswith("17:0")
    times = [row.split()[0] for row in rows if row[:2] == "17"]
    assert times == sorted(times)


def test_what_does_not_fit_is_said_and_left(hall: Planned) -> None:
    """With four minutes to go a split jump (30 s to get to it, 60 s twice, 3 min of rest) is too late."""
    hall.began(16)
    hall.say("jo", "plan")
    assert "Better left for next week: " in hall.text()
    assert "split jump" in hall.text().split("next week: ")[1]


def test_who_wants_it_all_the_same_is_warned_and_obeyed(hall: Planned) -> None:
    """One sentence says what it needs and what is left; Go does it."""
    hall.began(16).say("jo", "split jump")
    assert hall.text().startswith("Split jump needs 6 min and 4 are left.")
    assert "Go" in [choice.label for choice in hall.last["jo"][-1].choices]
    hall.tap("jo", "Go")
    assert line_of(hall.last["jo"][-1]).skill == "jump"


def test_where_nothing_fits_any_more_that_is_said(hall: Planned) -> None:
    """Twelve seconds before the end."""
    hall.began(19.8)
    assert "needs" in hall.text() or "fits" in hall.text()
    assert "next week" in hall.text() or "Nothing that is left fits" in hall.text()


def test_a_caution_is_said_once_and_not_at_each_return(hall: Planned) -> None:
    """At the first turn to a skill; later it is `Back to`."""
    hall.began().say("jo", "shoulder stand")
    assert "Weight on the shoulders." in hall.text()
    hall.tap("jo", "Go")
    for _ in range(12):
        hall.wait(45)
        hall.say("jo", "all seen")
        assert "Weight on the shoulders." not in hall.text()


def test_lines_no_longer_than_somebody_wants_them_and_as_written_again(hall: Planned) -> None:
    """Typed once, kept until it is ended."""
    hall.began().say("jo", "lines of 2")
    assert hall.text().startswith("No line of yours is longer than 2 from now on.")
    hall.say("jo", "waltz turn")
    hall.tap("jo", "Go")
    assert len(line_of(hall.last["jo"][-1]).children) == 2
    hall.say("jo", "lines as written")
    hall.say("jo", "waltz turn")
    hall.tap("jo", "Go")
    assert len(line_of(hall.last["jo"][-1]).children) == 6


def test_the_wish_for_short_lines_lasts_beyond_the_lesson(hall: Planned) -> None:
    """It is the coach's for good, not the lesson's."""
    hall.began().say("jo", "lines of 2")
    hall.say("jo", "close")
    hall.wait(7 * 24 * 3600)
    hall.say("jo", "start")
    hall.say("jo", "everyone")
    hall.say("jo", "waltz turn")
    hall.tap("jo", "Go")
    assert len(line_of(hall.last["jo"][-1]).children) == 2


def test_a_closed_lesson_has_no_plan(hall: Planned) -> None:
    """It is forgotten with the close."""
    hall.began()
    assert hall.thinking.ahead("short", "tue/2026-11-24") is not None
    hall.say("jo", "close")
    assert hall.thinking.ahead("short", "tue/2026-11-24") is None


def test_two_who_mark_get_lines_of_their_own(hall: Planned) -> None:
    """The assistant asks for a line too: never the same child twice."""
    hall.began()
    hall.tap("jo", "Go")
    hall.say("sam", "next")
    hall.tap("sam", "Go")
    both = 0
    for _ in range(10):
        lines = [line_of(hall.last[person][-1]) for person in ("jo", "sam")]
        if None not in lines:
            both += 1
            assert not set(lines[0].children) & set(lines[1].children)
        hall.wait(30)
        hall.say("jo", "all seen")
        hall.wait(10)
        hall.say("sam", "all seen")
    assert both > 3


@pytest.mark.parametrize("seed", range(25))
def test_nobody_is_planned_who_may_not_be(seed: int) -> None:
    """A random lesson: away, sitting out, spared, leaving early, undone, skipped; each new line is looked at.

    Nobody in it is away, sits out, is spared what it loads, has it ticked, missed it today, stands in another's line,
    or rests for longer than it takes to set the skill out.
    """
    chance, hall = random.Random(seed), Planned()
    hall.began()
    seen = 0
    for _ in range(40):
        hall.wait(chance.choice((10, 30, 60)))
        _something(chance, hall)
        said = hall.last["jo"][-1]
        line = line_of(said)
        if line is not None and line.asked_at == hall.sent[-1]["sent_at"]:
            seen += 1
            _may_all_show(hall, line, "jo")
    assert seen > 3
    hall.close()


def _something(chance: random.Random, hall: Planned) -> None:
    name = chance.choice(NAMES).lower()
    what = chance.choice((
        "all seen", "all seen", "all seen", "all seen", "none yet", f"{name} not yet", f"{name} away", f"{name} sits",
        f"{name} back", f"{name} no wrists", f"{name} leaves 17:10", "undo", "skip", "next", "cartwheel", "bridge",
        f"{name} seen bridge", "lines of 2", "lines as written",
    ))
    hall.say("jo", what)
    if any(choice.label == "Go" for choice in hall.last["jo"][-1].choices):
        hall.tap("jo", "Go")


def _may_all_show(hall: Planned, line: Any, person: str) -> None:
    snapshot = hall.snapshot("short")
    book, scheme = snapshot.books["tue"], snapshot.schemes[1]
    lesson, skill, now = book.lessons[line.lesson], scheme.skills[line.skill], line.asked_at
    soon = now + timedelta(seconds=skill.changeover_s)
    others = {child for who, other in lesson.lines.items() if who != person for child in other.children}
    assert len(line.children) <= skill.line
    for child in line.children:
        one = book.standing(child, line.skill)
        assert lesson.can_show(child, all_loads(scheme, skill), now)
        assert not one.ticked
        assert one.retest_from is None
        assert child not in others
        if not skill.light:
            rests = [of.rested_at for of in book.standings.get(child, {}).values() if of.rested_at and not of.ticked]
            assert all(at <= soon for at in rests)


def test_a_lesson_to_come_is_planned_from_its_beginning(hall: Planned) -> None:
    """Half an hour before, whoever asks sees it by the clock once it was thought about; all are taken to be there."""
    start = SHORT + timedelta(days=7)
    hall.clock.move_to(start - timedelta(minutes=30))
    hall.say("jo", "plan")
    hall.say("jo", "plan")
    assert hall.text().startswith("17:0")
    ahead = hall.thinking.ahead("short", "tue/2026-12-01")
    assert ahead is not None
    assert ahead.turns[0].at >= start
    assert hall.snapshot("short").books["tue"].lessons == {}


def test_plans_of_lessons_that_were_never_held_do_not_stay(hall: Planned) -> None:
    """A week later only the next one is there."""
    for week in (1, 2, 3):
        hall.clock.move_to(SHORT + timedelta(days=7 * week, minutes=-30))
        hall.say("jo", "plan")
    assert len(hall.thinking._plans["short"]) == 1


def test_who_watches_a_long_show_is_not_buzzed_in_the_middle_of_it(hall: Planned) -> None:
    """A rest of 60 s is over 45 s into a show of 60 s: the coach hears of it when that should be over, Sam at once."""
    hall.began().say("jo", "ava seen bridge")
    hall.wait(15)
    hall.say("jo", "split jump")
    hall.tap("jo", "Go")
    hall.wait(46)
    assert "Rested: Ava" in hall.said["sam"][-1].text
    assert "Rested: Ava" not in hall.said["jo"][-1].text
    hall.wait(14)
    assert "Rested: Ava" in hall.said["jo"][-1].text


def test_after_todays_lesson_the_plan_is_that_of_the_next(hall: Planned) -> None:
    """It is closed, though its time is not over: whoever asks sees next week, and not what is done."""
    hall.began()
    hall.say("jo", "close")
    hall.say("jo", "plan")
    assert hall.thinking.ahead("short", "tue/2026-12-01") is not None
    assert hall.thinking.ahead("short", "tue/2026-11-24") is None
