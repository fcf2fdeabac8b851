"""Pairs of rows that meet: a backdated mark, an undo, a close, a second person, a change of the scheme."""
from __future__ import annotations

from datetime import date

import pytest

from bot.marks.standing import Outcome
from tests.marks.conftest import BOTH_SIDES, ONE_SHOW, TWO_SHOWS, scheme

DAY = 24 * 3600


def test_backdated_first_show_before_a_second(bench):
    """A first show entered later for an earlier time makes the one on record the second."""
    b = bench()
    b.mark(70)
    b.mark(0, sent=100)
    assert b.label(101) == "ticked"


def test_backdated_mark_makes_the_one_on_record_early(bench):
    """Entered for 30 s before: the one on record is then an early repeat, held, and does not tick by itself."""
    b = bench()
    later = b.mark(30)
    b.mark(0, sent=100)
    assert b.outcome(later) is Outcome.EARLY
    assert b.label(101) == "ready"


def test_backdated_miss_before_a_seen(bench):
    """A miss entered for an earlier time does not take the later tick away."""
    b = bench(ONE_SHOW)
    b.mark(100)
    b.mark(0, "not yet", sent=200)
    assert b.label(201) == "ticked"


def test_backdated_seen_before_a_miss_of_one_show(bench):
    """A seen entered for an earlier time ticks; the later miss is then a mark on a ticked skill."""
    b = bench(ONE_SHOW)
    miss = b.mark(100, "not yet")
    b.mark(0, sent=200)
    assert (b.label(201), b.outcome(miss)) == ("ticked", Outcome.TICKED)


def test_backdated_into_a_closed_lesson(bench):
    """What was judged before the close and came after it still belongs to the lesson: the close ends its try."""
    b = bench()
    b.close(600)
    b.mark(500, sent=700)
    assert (b.label(701), b.standing.lapsed) == ("retest", True)


def test_backdated_second_show_after_a_close(bench):
    """Both shows were judged in the lesson: the second, sent late, ticks all the same."""
    b = bench()
    b.mark(0)
    b.close(600)
    assert b.label(601) == "retest"
    b.mark(100, sent=900)
    assert b.label(901) == "ticked"


def test_backdated_mark_of_another_person(bench):
    """Who came second is told by when it was judged, not by when it arrived."""
    b = bench(ONE_SHOW)
    first = b.mark(30, "not yet")
    earlier = b.mark(0, by="sam", sent=200)
    assert (b.outcome(earlier), b.outcome(first)) == (Outcome.COUNTED, Outcome.SECOND_LOOK)
    assert b.label(201) == "ticked"


def test_backdated_under_an_older_scheme(bench):
    """A try is judged by the rules of its first mark's time, also when that mark comes late."""
    b = bench(ONE_SHOW)
    b.schemes[2] = scheme(TWO_SHOWS)
    b.mark(0, rules=2)
    assert b.label(1) == "resting"
    b.mark(-300, rules=1, sent=10)
    assert b.label(11) == "ticked"


def test_undo_of_a_first_show(bench):
    """Undone, the first show is as if it had never come."""
    b = bench()
    b.undo(b.mark(0))
    assert b.label(10) == "untried"
    assert b.standing.tries == 0


def test_undo_of_the_first_of_two_shows(bench):
    """The typed second show then is the first."""
    b = bench()
    first = b.mark(0)
    b.mark(70)
    b.undo(first)
    assert (b.label(71), b.view(71).show) == ("resting", 2)


def test_undo_of_a_miss_brings_the_rest_back(bench):
    """Undoing a miss in the second show: the first show stands, the second is ready."""
    b = bench()
    b.mark(0)
    b.undo(b.mark(70, "not yet"))
    assert (b.label(80), b.view(80).show) == ("ready", 2)


def test_undo_of_an_early_count(bench):
    """Undoing Count it: the child is resting again, and nothing remembers early."""
    b = bench()
    b.mark(0)
    b.undo(b.mark(30, early=True))
    assert (b.label(31), b.standing.early) == ("resting", False)


def test_undo_of_a_piece(bench):
    """Undoing the right leg leaves the left seen."""
    b = bench(BOTH_SIDES)
    b.mark(0, pieces=("left",))
    b.undo(b.mark(5, pieces=("right",)))
    assert b.view(6).owed_pieces == ("right",)


def test_undo_of_the_mark_before_a_second_look(bench):
    """Without the mark that it was compared with, the other person's look is the mark."""
    b = bench(ONE_SHOW)
    first = b.mark(0, "not yet")
    second = b.mark(30, by="sam")
    b.undo(first)
    assert (b.outcome(second), b.label(31)) == (Outcome.COUNTED, "ticked")


def test_undo_then_the_same_again(bench):
    """All seen, undo, All seen works."""
    b = bench(ONE_SHOW)
    b.undo(b.mark(0))
    b.mark(20)
    assert b.label(21) == "ticked"


def test_undo_of_a_reason_falls_with_its_mark(bench):
    """A reason given afterwards is part of its mark, and goes with it."""
    b = bench(ONE_SHOW)
    miss = b.mark(0, "not yet")
    b.reason(miss, "hips")
    assert b.standing.missed == ("hips",)
    b.undo(miss)
    assert (b.standing.missed, b.label(1)) == ((), "untried")


def test_close_after_a_miss_keeps_the_miss(bench):
    """A close does not turn a miss into something else: its day and its points stay."""
    b = bench()
    b.mark(0, "not yet", missed=("hips",))
    b.close(600)
    assert (b.standing.lapsed, b.standing.missed, b.label(601)) == (False, ("hips",), "retest")


def test_close_leaves_ticks(bench):
    """A ticked skill stays ticked whatever is closed."""
    b = bench(ONE_SHOW)
    b.mark(0)
    b.close(600)
    assert b.label(601) == "ticked"


def test_close_of_another_lesson_is_nothing(bench):
    """Only the lesson in which a try was marked ends it."""
    b = bench()
    b.mark(0)
    b.close(30, lesson="wed/2026-11-25")
    assert b.label(40) == "resting"


def test_close_with_one_leg_seen(bench):
    """Half a show does not wait for the next lesson where all belongs to one."""
    b = bench(BOTH_SIDES)
    b.mark(0, pieces=("left",))
    b.close(600)
    assert (b.label(601), b.view(601).owed_pieces) == ("retest", ("left", "right"))


def test_close_then_a_mark_after_it(bench):
    """In a lesson opened again a seen is a first show."""
    b = bench()
    b.mark(0)
    b.close(600)
    b.mark(700)
    assert (b.label(701), b.standing.tries) == ("resting", 2)


def test_close_taken_back(bench):
    """Without the close the second show is ready as before."""
    b = bench()
    b.mark(0)
    b.close(600)
    b.closes.clear()
    assert b.label(601) == "ready"


def test_second_person_and_the_close(bench):
    """A second person's second show after the close of the lesson is no second look of another lesson."""
    b = bench(repeat_within=7)
    b.mark(0)
    b.close(600)
    b.mark(7 * DAY, by="sam", lesson="tue/later")
    assert b.label(7 * DAY) == "ticked"


def test_second_person_and_a_reason(bench):
    """A second look has no say in what was missed."""
    b = bench(ONE_SHOW)
    b.mark(0, "not yet", missed=("hips",))
    b.mark(30, "not yet", by="sam", missed=("toes",))
    assert b.standing.missed == ("hips",)


def test_second_person_within_the_first_ones_line(bench):
    """Both have the line before them: the later All seen is a second look, not a second show."""
    b = bench()
    b.mark(0, show=1, asked_at=b.at(-20))
    assert b.outcome(b.mark(10, by="sam", show=1, asked_at=b.at(-20))) is Outcome.SECOND_LOOK
    assert b.label(11) == "resting"


def test_second_person_answers_the_rested_line(bench):
    """The assistant's answer to the rested line is the second show, whoever saw the first."""
    b = bench()
    b.mark(0, show=1, asked_at=b.at(-20))
    assert b.outcome(b.mark(65, "not yet", by="sam", show=2, asked_at=b.at(60))) is Outcome.COUNTED
    assert b.label(66) == "retest"


@pytest.mark.parametrize("verdict", ["seen", "not yet"])
def test_scheme_change_in_the_middle_of_a_try(bench, verdict):
    """A try goes on by the rules that it began under; the next one has the new ones."""
    b = bench()
    b.schemes[2] = scheme(ONE_SHOW)
    b.mark(0, rules=1)
    assert b.label(1) == "resting"
    b.mark(70, verdict, rules=2)
    if verdict == "seen":
        assert b.label(71) == "ticked"
    else:
        assert b.label(71) == "retest"
        b.mark(80, rules=2)
        assert b.label(81) == "ticked"


def test_scheme_change_leaves_ticks(bench):
    """What was ticked under one show stays ticked when two are asked."""
    b = bench(ONE_SHOW)
    b.mark(0, rules=1)
    b.schemes[2] = scheme(TWO_SHOWS)
    assert b.label(10) == "ticked"


def test_scheme_change_of_the_untried(bench):
    """Who has not begun is asked what the scheme asks now."""
    b = bench(ONE_SHOW)
    b.schemes[2] = scheme(BOTH_SIDES)
    assert b.view(0).owed_pieces == ("left", "right")


def test_moved_retest_and_a_new_try(bench):
    """A retest that was moved is forgotten once the child shows it after all."""
    b = bench()
    b.mark(0, "not yet")
    b.move(date(2026, 12, 15), 10)
    assert b.standing.moved_to == date(2026, 12, 15)
    b.mark(20)
    assert b.standing.moved_to is None


def test_brought_and_marked(bench):
    """What the roster brought is ticked; marks after it change nothing."""
    b = bench()
    b.bring(date(2026, 11, 20))
    assert b.outcome(b.mark(0)) is Outcome.TICKED
    assert b.standing.ticked_on == date(2026, 11, 20)
