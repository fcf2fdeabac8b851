"""Each row of the table of what marks amount to, under its own name. The rows are the project's own rules."""
from __future__ import annotations

import pytest

from bot.marks.standing import Outcome
from tests.marks.conftest import BOTH_SIDES, ONE_SHOW, THREE_PARTS, TWO_SHOWS

DAY = 24 * 3600
SAME = {"after_a_miss": "same show"}


def test_nothing_marked_is_untried(bench):
    """Not marked means not marked: without a mark a skill is untried and all of its first show is owed."""
    seen_as = bench(BOTH_SIDES).view(0)
    assert (seen_as.label, seen_as.show, seen_as.owed_pieces) == ("untried", 1, ("left", "right"))


def test_one_show_seen_is_ticked(bench):
    """A skill of one show is ticked by one seen, on the club's day."""
    b = bench(ONE_SHOW)
    b.mark(0)
    assert b.label(0) == "ticked"
    assert b.standing.ticked_on.isoformat() == "2026-11-24"


def test_first_of_two_shows_rests_then_is_ready(bench):
    """After the first show the child rests for 60 s, then the second show is ready."""
    b = bench()
    b.mark(0)
    assert [b.label(at) for at in (0, 59, 60, 300)] == ["resting", "resting", "ready", "ready"]
    assert b.view(60).show == 2


@pytest.mark.parametrize(("at", "outcome"), [(30, Outcome.EARLY), (56.9, Outcome.EARLY), (57, Outcome.COUNTED),
                                             (70, Outcome.COUNTED)])
def test_a_repeat_counts_once_rested_with_three_seconds_tolerance(bench, at, outcome):
    """A repeat before 57 s of 60 is held; from then on it counts."""
    b = bench()
    b.mark(0)
    assert b.outcome(b.mark(at)) is outcome


def test_an_early_repeat_that_is_held_changes_nothing(bench):
    """Held at 30 s: the child goes on resting until 60."""
    b = bench()
    b.mark(0)
    b.mark(30)
    assert [b.label(31), b.label(60)] == ["resting", "ready"]


def test_count_it_ticks_and_is_remembered_as_early(bench):
    """Count it: ticked, and remembered as early."""
    b = bench()
    b.mark(0)
    b.mark(30, early=True)
    assert (b.label(31), b.standing.early) == ("ticked", True)


def test_counting_a_rested_repeat_is_not_early(bench):
    """Where the rest was over, counting it again says nothing about early."""
    b = bench()
    b.mark(0)
    b.mark(70, early=True)
    assert not b.standing.early


def test_a_rested_repeat_seen_is_ticked(bench):
    """Seen at 70: ticked."""
    b = bench()
    b.mark(0)
    b.mark(70)
    assert b.label(70) == "ticked"


@pytest.mark.parametrize(("after", "show"), [("first show", 1), ("same show", 2)])
def test_a_miss_in_the_second_show_is_a_retest_from_where_the_scheme_says(bench, after, show):
    """Not yet at 70: a retest that begins with show 1, or with show 2."""
    b = bench(after_a_miss=after)
    b.mark(0)
    b.mark(70, "not yet", missed=("hips",))
    assert (b.label(71), b.view(71).show, b.standing.missed) == ("retest", show, ("hips",))


def test_a_close_between_the_shows_ends_the_try(bench):
    """Shows within one lesson: closed after the first show, the second was not seen, and both are shown again."""
    b = bench()
    b.mark(0)
    b.close(600)
    assert (b.label(700), b.view(700).show, b.standing.lapsed) == ("retest", 1, True)


def test_days_leave_a_try_open_between_lessons(bench):
    """Shows within 7 days: between the lessons the second show stays ready."""
    b = bench(repeat_within=7)
    b.mark(0)
    b.close(600)
    assert (b.label(2 * DAY), b.view(2 * DAY).show) == ("ready", 2)


@pytest.mark.parametrize(("days", "label", "show"), [(7, "ticked", 1), (8, "resting", 2)])
def test_seven_days_count_and_eight_begin_anew(bench, days, label, show):
    """The second show 7 calendar days later ticks; 8 days later it is the first show of a new try."""
    b = bench(repeat_within=7)
    b.mark(0)
    b.mark(days * DAY, lesson="tue/later")
    assert b.label(days * DAY) == label
    assert b.standing.tries == (1 if days == 7 else 2)


def test_days_are_calendar_days_of_the_club(bench):
    """The last minute of the seventh local day still counts, the next minute does not."""
    b = bench(repeat_within=7)
    b.mark(0)
    assert b.label(7 * DAY + 7 * 3600 - 60) == "ready"
    assert b.label(7 * DAY + 7 * 3600) == "retest"


def test_sides_each_need_both(bench):
    """Seen left, then seen right: owed (right), then seen."""
    b = bench(BOTH_SIDES)
    b.mark(0, pieces=("left",))
    assert (b.label(1), b.view(1).owed_pieces) == ("owed", ("right",))
    b.mark(5, pieces=("right",))
    assert b.label(6) == "ticked"


def test_rest_runs_from_the_last_piece(bench):
    """Shows complete in order: the rest before the second runs from the last piece of the first."""
    b = bench({**TWO_SHOWS, "sides": "each"})
    b.mark(0, pieces=("left",))
    b.mark(20, pieces=("right",))
    assert [b.label(79), b.label(80)] == ["resting", "ready"]
    b.mark(81, pieces=("left",))
    assert (b.label(82), b.view(82).show, b.view(82).owed_pieces) == ("owed", 2, ("right",))


def test_parts_not_named_are_all_parts_still_owed(bench):
    """Seen with no part named: all parts that this show still owes are seen."""
    b = bench(THREE_PARTS)
    b.mark(0, pieces=("galop",))
    assert b.view(1).owed_pieces == ("polka", "waltz")
    b.mark(5)
    assert b.label(6) == "ticked"


@pytest.mark.parametrize(("after", "owed"), [("same show", ("right",)), ("first show", ("left", "right"))])
def test_a_missed_piece(bench, after, owed):
    """A piece missed: under same show the others stay seen; under first show all begin anew."""
    b = bench(BOTH_SIDES, after_a_miss=after)
    b.mark(0, pieces=("left",))
    b.mark(5, "not yet", pieces=("right",))
    assert (b.label(6), b.view(6).owed_pieces) == ("retest", owed)


def test_same_show_keeps_the_first_show_only_within_the_lesson(bench):
    """Same show, shows within one lesson: after the close the retest begins with show 1 again."""
    b = bench(**SAME)
    b.mark(0)
    b.mark(70, "not yet")
    assert b.view(80).show == 2
    b.close(600)
    assert (b.label(700), b.view(700).show) == ("retest", 1)


def test_same_show_keeps_the_first_show_within_its_days(bench):
    """Same show within 7 days: the second show alone is shown again in the next lesson, and ticks."""
    b = bench(repeat_within=7, **SAME)
    b.mark(0)
    b.mark(70, "not yet")
    b.close(600)
    assert (b.label(6 * DAY), b.view(6 * DAY).show) == ("retest", 2)
    b.mark(7 * DAY, lesson="tue/later")
    assert b.label(7 * DAY) == "ticked"


def test_a_miss_never_blocks(bench):
    """Not yet, and later in the lesson seen by the same person: a new try."""
    b = bench(ONE_SHOW)
    b.mark(0, "not yet")
    assert b.outcome(b.mark(60)) is Outcome.COUNTED
    assert (b.label(61), b.standing.tries) == ("ticked", 2)


def test_a_new_try_after_a_miss_in_the_second_show(bench):
    """First show rule: after the miss a seen is the first show again, and rests."""
    b = bench()
    b.mark(0)
    b.mark(70, "not yet")
    b.mark(80)
    assert (b.label(81), b.view(81).show) == ("resting", 2)


def test_a_ticked_skill_marked_again_changes_nothing(bench):
    """Ticked is ticked: a later seen or not yet of the same person changes nothing."""
    b = bench(ONE_SHOW)
    b.mark(0)
    before = b.standing
    assert b.outcome(b.mark(300)) is Outcome.TICKED
    assert b.outcome(b.mark(400, "not yet")) is Outcome.TICKED
    assert (b.standing.ticked_at, b.standing.last) == (before.ticked_at, before.last)


@pytest.mark.parametrize("verdict", ["seen", "not yet"])
def test_another_person_within_two_minutes_is_a_second_look(bench, verdict):
    """Another person, same child and skill, within 120 s of a miss: kept and compared, nothing changes."""
    b = bench()
    b.mark(0, "not yet")
    assert b.outcome(b.mark(120, verdict, by="sam")) is Outcome.SECOND_LOOK
    assert b.label(121) == "retest"


def test_another_person_after_two_minutes_is_a_mark(bench):
    """After more than 120 s another person's seen is a try of its own."""
    b = bench(ONE_SHOW)
    b.mark(0, "not yet")
    assert b.outcome(b.mark(121, by="sam")) is Outcome.COUNTED
    assert b.label(122) == "ticked"


def test_a_second_look_on_a_tick(bench):
    """Another person within 120 s of a tick looked a second time."""
    b = bench(ONE_SHOW)
    b.mark(0)
    assert b.outcome(b.mark(30, "not yet", by="sam")) is Outcome.SECOND_LOOK
    assert b.label(31) == "ticked"


def test_another_persons_seen_once_rested_is_the_next_show(bench):
    """After a seen with a show to come, another person's seen at 70 is the second show."""
    b = bench()
    b.mark(0)
    assert b.outcome(b.mark(70, by="sam")) is Outcome.COUNTED
    assert b.label(71) == "ticked"


def test_another_persons_seen_during_the_rest_is_asked(bench):
    """During the rest it is asked; either answer is then kept as what it was said to be."""
    b = bench()
    b.mark(0)
    assert b.outcome(b.mark(30, by="sam")) is Outcome.WHICH
    b2 = bench()
    b2.mark(0)
    assert b2.outcome(b2.mark(30, by="sam", look="second look")) is Outcome.SECOND_LOOK
    b3 = bench()
    b3.mark(0)
    assert b3.outcome(b3.mark(30, by="sam", look="next show", early=True)) is Outcome.COUNTED
    assert (b3.label(31), b3.standing.early) == ("ticked", True)


def test_another_persons_other_leg_is_no_second_look(bench):
    """Jo saw the left, Sam the right a moment later: two halves of one show."""
    b = bench(BOTH_SIDES)
    b.mark(0, pieces=("left",))
    assert b.outcome(b.mark(20, by="sam", pieces=("right",))) is Outcome.COUNTED
    assert b.label(21) == "ticked"


def test_asked_for_a_second_look(bench):
    """A second look that was asked for is one at any time."""
    b = bench(ONE_SHOW)
    b.mark(0, "not yet")
    assert b.outcome(b.mark(900, by="sam", look="second look")) is Outcome.SECOND_LOOK
    assert b.label(901) == "retest"


def test_a_breather_asks_nothing(bench):
    """A breather prescribes no time: the second show is ready at once and never early."""
    b = bench({"shows": ({"seconds": 20}, {"seconds": 20, "rest": "breather"})})
    b.mark(0)
    assert b.label(0) == "ready"
    assert b.outcome(b.mark(5)) is Outcome.COUNTED


def test_a_line_never_overturns_a_childs_own_miss(bench):
    """All seen for a line put up before the child's own not yet leaves that child as she was."""
    b = bench(ONE_SHOW)
    b.mark(40, "not yet")
    assert b.outcome(b.mark(60, show=1, asked_at=b.at(0))) is Outcome.STAYS_NOT_YET
    assert b.outcome(b.mark(70, show=1, asked_at=b.at(50))) is Outcome.COUNTED


def test_a_line_for_the_first_show_never_ticks_the_second(bench):
    """A tap means the show that its message said, however late it comes."""
    b = bench()
    b.mark(0)
    assert b.outcome(b.mark(3600, show=1, asked_at=b.at(-10))) is Outcome.ALREADY
    assert b.label(3601) == "ready"


def test_a_second_show_said_before_the_first_waits_for_it(bench):
    """Show 2 typed without a first show is kept; it counts as soon as the first is there."""
    b = bench()
    later = b.mark(100, show=2)
    assert (b.outcome(later), b.label(101)) == (Outcome.NO_FIRST, "untried")
    b.mark(0, sent=200)
    assert (b.outcome(later), b.label(201)) == (Outcome.COUNTED, "ticked")
