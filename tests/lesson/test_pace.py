"""How one line is timed, and what many amount to: slowly, within bounds, and whoever wanders off moves nothing."""
from __future__ import annotations

import random
from datetime import UTC, datetime, timedelta

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from bot.lesson.book import Changes, ClassBook
from bot.lesson.line import Line
from bot.lesson.pace import (
    COUNTED,
    KEPT,
    LATE,
    NOT_TIMED,
    WATCHED,
    Pace,
    Timed,
    Watched,
    paced,
    paced_changeover,
    timed,
    with_answer,
    with_line,
    without_answer,
    without_message,
)
from bot.scheme.model import Show, Skill

NOW = datetime(2026, 11, 24, 17, 0, tzinfo=UTC)
STAND = Skill(id="stand", name="Stand", shows=(Show(seconds=40), Show(seconds=20, rest_s=60)), changeover_s=30)
HOP = Skill(id="hop", name="Hop", shows=(Show(seconds=20),), changeover_s=20)


def at(seconds: float) -> datetime:
    return NOW + timedelta(seconds=seconds)


def line(asked_at: float, skill: Skill = STAND, show: int = 1, **more: object) -> Line:
    return Line("tue/2026-11-24", skill.id, show, ("ava",), at(asked_at), **more)    # type: ignore[arg-type]


def answered(one: Line, when: float, message: str = "m", late: float = 0) -> Watched:
    return Watched(message, one.skill, one.show, one.asked_at, at(when), at(when + late))


def before(when: float, skill: Skill = STAND, asked_at: float = -100) -> tuple[Watched, ...]:
    """The line before, answered then."""
    return (answered(line(asked_at, skill), when, "before"),)


def one(seconds: int, n: int = 0, *, show: int = 1, asked: int = 40, change: int = 0) -> Timed:
    return Timed(f"m{n}", at(n), show, seconds, asked, change)


def book(**paces: Pace) -> ClassBook:
    return ClassBook("tue", {}, pace=paces)


def lines(*seconds: int, **more: int) -> Pace:
    return Pace(tuple(one(each, n, **more) for n, each in enumerate(seconds)))


# --- one line --------------------------------------------------------------------------------------

def test_a_line_put_up_in_an_answer_lasts_to_its_own():
    """The line before is answered, the next stands at once, and its time runs to its answer."""
    assert timed(line(0), STAND, answered(line(0), 52), before(0)) == Timed("m", at(52), 1, 52, 40, 0)


def test_a_changeover_lies_in_the_line_that_turns_to_another_skill():
    """The scheme's changeover is expected with the show where the line before was of another skill."""
    assert timed(line(0), STAND, answered(line(0), 90), before(0, HOP)) == Timed("m", at(90), 1, 90, 40, 30)


def test_after_go_all_was_set_up():
    """Whoever taps Go has the line before them: the show alone is timed, whatever was watched before."""
    for earlier in ((), before(-5), before(-5, HOP)):
        stood = line(0, set_up=True)
        assert timed(stood, STAND, answered(stood, 52), earlier) == Timed("m", at(52), 1, 52, 40, 0)


def test_of_two_open_lines_the_second_begins_with_the_answer_to_the_first():
    """A line that was put up by a reminder in the middle of another is turned to when that one is answered."""
    waited = line(-30)
    assert timed(waited, STAND, answered(waited, 45), before(0, HOP)) == Timed("m", at(45), 1, 45, 40, 30)


@pytest.mark.parametrize("earlier", [(), before(-1)], ids=["nothing before", "not put up by an answer"])
def test_a_line_of_which_nobody_knows_when_it_began_is_not_timed(earlier):
    """A reminder brings a line to somebody who was elsewhere."""
    assert timed(line(0), STAND, answered(line(0), 52), earlier) is None


def test_a_line_is_timed_by_its_first_answer():
    """All but Gus, and later Gus: one line, one time."""
    first = answered(line(0), 50, "first")
    assert timed(line(0), STAND, answered(line(0), 80, "second"), (*before(0), first)) is None


@pytest.mark.parametrize(("seconds", "counts"), [(2, False), (3, True), (160, True), (161, False), (-20, False)])
def test_what_nobody_can_have_watched_is_left_out(seconds, counts):
    """Less than three seconds is a slip, more than four times the scheme's somebody who was elsewhere."""
    assert (timed(line(0), STAND, answered(line(0), seconds), before(0)) is not None) is counts


def test_what_came_late_and_what_a_helper_saw_is_not_timed():
    """A message that was long under way has two clocks in it, and a helper's line is judged when it was shown."""
    late = LATE.total_seconds() + 1
    assert timed(line(0), STAND, answered(line(0), 40, late=late), before(0)) is None
    seen = line(0, shown_at=at(-60))
    assert timed(seen, STAND, answered(seen, 40), before(0)) is None


# --- what is kept ----------------------------------------------------------------------------------

def test_only_the_latest_are_kept():
    """However many lines and answers there are, what is kept is bounded."""
    pace, watched = NOT_TIMED, {}
    for n in range(100):
        pace = with_line(pace, one(40, n))
        watched = with_answer(watched, "jo", answered(line(n), n, f"m{n}"))
    assert [each.message for each in pace.lines] == [f"m{n}" for n in range(100 - KEPT, 100)]
    assert len(pace.counted) == COUNTED
    assert [each.message for each in watched["jo"]] == [f"m{n}" for n in range(100 - WATCHED, 100)]


def test_what_is_taken_back_was_never_there():
    """Without a message there is what there was before it; the lines that count are filled up again."""
    full = lines(*[40] * KEPT)
    assert without_message(with_line(lines(41, 42), one(90, 9)), "m9") == lines(41, 42)
    assert without_message(Pace((one(90, 9),)), "m9") is None
    after = without_message(with_line(full, one(90, 99)), "m99")
    assert after is not None
    assert after.counted == full.counted
    watched = with_answer({}, "jo", answered(line(0), 0, "m1"))
    assert without_answer(with_answer(watched, "jo", answered(line(9), 9, "m2")), "m2") == watched
    assert without_answer(watched, "m1") == {}


# --- what it amounts to ----------------------------------------------------------------------------

def test_without_a_line_the_scheme_holds():
    """A class that was never timed takes what the scheme says."""
    assert (paced(book(), STAND, 1), paced(book(), STAND, 2), paced_changeover(book(), STAND)) == (40, 20, 30)


def test_a_coach_who_wandered_off_moves_nothing():
    """One line of four times the length, among none, a few or many: the estimate is what it was without it."""
    for usual in ((), (40,), (40, 40, 40), (40,) * 8):
        assert paced(book(stand=lines(*usual, 160)), STAND, 1) == 40
    for usual in ((52,) * 7, (50, 51, 52, 52, 52, 52, 53, 54)):
        assert abs(paced(book(stand=lines(*usual, 160)), STAND, 1) - paced(book(stand=lines(*usual)), STAND, 1)) <= 1


def test_it_moves_slowly():
    """In a hall that takes half as long again, two lines change nothing, and it takes four to believe it."""
    learned = [paced(book(stand=lines(*[60] * n)), STAND, 1) for n in range(COUNTED + 1)]
    assert learned == [40, 40, 40, 50, *[60] * (COUNTED - 3)]


def test_a_hall_that_changes_back_is_followed():
    """Only the latest lines count, so nothing that was learned stays for ever."""
    pace = lines(*[60] * KEPT)
    for n in range(COUNTED):
        pace = with_line(pace, one(40, 100 + n))
    assert paced(book(stand=pace), STAND, 1) == 40


def test_both_shows_of_a_skill_learn_from_each_other():
    """The factor is the skill's: what its first shows taught holds for its second."""
    assert paced(book(stand=lines(*[50] * COUNTED)), STAND, 2) == 25
    assert paced(book(stand=lines(*[25] * COUNTED, show=2, asked=20)), STAND, 1) == 50


def test_another_skill_is_left_alone():
    """A long stand says nothing of a hop."""
    assert paced(book(stand=lines(*[60] * COUNTED)), HOP, 1) == 20


def test_a_scheme_that_was_put_right_is_not_put_right_again():
    """Lines that were timed while the scheme asked for other seconds do not count for its show."""
    right = STAND.model_copy(update={"shows": (Show(seconds=60), Show(seconds=20, rest_s=60))})
    known = book(stand=lines(*[60] * COUNTED))
    assert (paced(known, STAND, 1), paced(known, right, 1), paced(known, right, 2)) == (60, 60, 20)
    gone = STAND.model_copy(update={"shows": (Show(seconds=40),)})
    assert paced(book(stand=lines(*[30] * COUNTED, show=2, asked=20)), gone, 1) == 40


def test_what_was_before_a_new_beginning_does_not_count():
    """Since then there are only the lines since then."""
    pace = Pace(lines(*[60] * COUNTED).lines, since=at(COUNTED - 1))
    assert [each.message for each in pace.counted] == [f"m{COUNTED - 1}"]
    assert paced(book(stand=pace), STAND, 1) == 40


def test_a_changeover_is_told_from_its_show():
    """Shows as long as the scheme says, changeovers half as long again: each is found, and each at its own."""
    shows = [one(40, n) for n in range(6)]
    turned = [one(40 + 45, 10 + n, change=30) for n in range(9)]
    known = book(stand=Pace((*shows, *turned)[-COUNTED:]))
    assert (paced(known, STAND, 1), paced_changeover(known, STAND), paced_changeover(known, HOP)) == (40, 45, 30)


def test_changeovers_are_learned_from_all_skills():
    """A skill is turned to once a lesson: the hall's changeovers are learned across its skills."""
    paces = {f"s{n}": Pace((one(40 + 60, n, change=30),)) for n in range(COUNTED)}
    assert paced_changeover(book(**paces), HOP) == 40
    assert paced_changeover(book(**dict(list(paces.items())[:2])), HOP) == 20


def test_a_hall_is_learned_from_its_noise():
    """Shows half as long again, every line off by up to a fifth: what is learned lies nearer to it than the scheme."""
    found = []
    for seed in range(40):
        chance = random.Random(seed)
        paces = dict.fromkeys(("stand", "other", "third"), NOT_TIMED)
        for n in range(45):
            name, change = list(paces)[n // 3 % 3], 30 if n % 3 == 0 else 0
            true = (60 + 45 * (change > 0)) * chance.uniform(0.8, 1.2)
            paces[name] = with_line(paces[name], one(round(true), n, change=change))
        found.append((paced(book(**paces), STAND, 1), paced_changeover(book(**paces), STAND)))
    shows, changes = zip(*found, strict=True)
    assert abs(sum(shows) / 40 - 60) < 4
    assert abs(sum(changes) / 40 - 45) < 3
    assert all(50 < each < 70 for each in shows)


@settings(deadline=None)
@given(st.lists(st.builds(
    Timed, st.text(max_size=2), st.sampled_from([at(n) for n in range(5)]), st.sampled_from([1, 2]),
    st.integers(3, 5000), st.sampled_from([40, 20]), st.sampled_from([0, 30]),
), max_size=30))
def test_no_hall_differs_by_more_than_twice(several):
    """Whatever was timed, a show and a changeover stay between half and twice what the scheme says."""
    known = book(stand=Pace(tuple(several)))
    assert 20 <= paced(known, STAND, 1) <= 80
    assert 15 <= paced_changeover(known, STAND) <= 60


def test_the_estimate_goes_with_the_book():
    """It is worked out once for as long as no line is timed, and anew after one."""
    known = book(stand=lines(*[60] * COUNTED))
    estimate = known.estimate
    assert known.with_changes(Changes()).estimate is estimate
    after = known.with_changes(Changes(pace={("tue", "stand"): None, ("fri", "hop"): lines(*[60] * COUNTED)}))
    assert (after.pace, paced(after, STAND, 1)) == ({}, 40)
    assert known.with_changes(Changes(pace={("fri", "stand"): None})).pace == known.pace
