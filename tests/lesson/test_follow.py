"""A plan is filtered by what happened since, and what somebody wants goes before it."""
from __future__ import annotations

from dataclasses import replace

import pytest

from bot.lesson.follow import follow, left_over, stretches, too_late_for
from bot.lesson.next import choose
from tests.lesson.planned import CHILDREN, HOP, STAND, at, book, hall, line, missed, plan, resting, ticked

FIRST = plan((60, "wheel", 1, ("ava", "ben")), (110, "stand", 1, ("chidi", "dara")), (180, "wheel", 1, ("efa",)))


def lines(found) -> tuple[str, int, tuple[str, ...]] | None:
    return None if found is None else (found.skill, found.show, found.children)


def test_the_first_turn_is_taken_and_its_free_places_filled() -> None:
    """Efa was to show it later; Chidi and the others only fill what is left of a line of four."""
    assert lines(follow(hall(book(), ahead=FIRST))) == ("wheel", 1, ("ava", "ben", "chidi", "efa"))


@pytest.mark.parametrize(("gone", "what"), [
    (book(away=frozenset({"ava"})), "away"), (book(sits=frozenset({"ava"})), "sits"),
    (book({("ava", "wheel"): ticked()}), "ticked"), (book({("ava", "wheel"): missed(0)}), "missed"),
    (book(leaves={"ava": at(0)}), "left"),
])
def test_who_cannot_show_it_any_more_does_not_stand_in_it(gone, what) -> None:
    """The plan was made before that was known."""
    found = follow(hall(gone, 1, ahead=FIRST))
    assert found is not None, what
    assert (found.skill, "ava" in found.children) == ("wheel", False), what


def test_who_was_to_show_it_later_and_cannot_does_not_fill_a_place() -> None:
    """Efa has gone home since."""
    gone = book(away=frozenset({"efa"}))
    assert lines(follow(hall(gone, ahead=FIRST))) == ("wheel", 1, ("ava", "ben", "chidi", "dara"))


def test_nobody_stands_in_two_lines() -> None:
    """Who stands before another watcher is not called."""
    of = book(lines={"sam": line("hop", ("ava", "ben"), 0)})
    found = follow(hall(of, 1, ahead=FIRST, busy={"ava", "ben"}))
    assert found is not None
    assert not {"ava", "ben"} & set(found.children)


def test_a_turn_that_nobody_can_fill_is_passed_over() -> None:
    """The next turn that still holds is taken."""
    of = book({(child, "wheel"): ticked() for child in CHILDREN})
    assert lines(follow(hall(of, 1, ahead=FIRST))) == ("stand", 1, ("chidi", "dara"))


def test_what_was_put_off_is_not_suggested() -> None:
    """Skip goes before the plan."""
    assert lines(follow(hall(book(), ahead=FIRST, skipped=("wheel",)))) == ("stand", 1, ("chidi", "dara"))


def test_another_watchers_turns_are_left_to_them() -> None:
    """Each has a line of their own."""
    others = replace(FIRST, turns=(replace(FIRST.turns[0], watcher="sam"), *FIRST.turns[1:]))
    assert lines(follow(hall(book(), ahead=others))) == ("stand", 1, ("chidi", "dara"))


@pytest.mark.parametrize(("after", "what"), [(45, "hop"), (55, None)])
def test_it_waits_for_a_rest_where_no_other_turn_is_over_soon_after(after: float, what: str | None) -> None:
    """The rest is over at 60 s. A hop takes 10 s to get to and 20 s to watch; to be 20 s late for a rest is nothing."""
    of = book({(child, "stand"): resting(0) for child in ("ava", "ben")})
    waits = plan((60, "stand", 2, ("ava", "ben")), (100, "hop", 1, ("chidi",)), at={"jo": "stand"})
    found = follow(hall(of, after, ahead=waits, turned="stand"))
    assert (found and found.skill) == what


def test_children_have_rested_by_the_time_a_skill_is_set_out() -> None:
    """Six seconds before the end of the rest, and seven to get there: they may be called. On the spot they may not."""
    of = book({(child, "stand"): resting(0) for child in ("ava", "ben")})
    back = plan((60, "stand", 2, ("ava", "ben")), at={"jo": "hop"})
    assert follow(hall(of, 54, ahead=back, turned="hop")) is not None
    here = replace(back, at={"jo": "stand"})
    assert follow(hall(of, 54, ahead=here, turned="stand")) is None


def test_who_turned_elsewhere_goes_on_there() -> None:
    """Jo typed a mark on hops, which no plan had foreseen: the line that comes next is the rule's."""
    seen = hall(book({("ava", "hop"): ticked(10)}), 10, ahead=FIRST, turned="hop")
    assert follow(seen) == choose(seen)
    assert lines(follow(seen))[0] == "hop"


def test_to_be_asked_for_another_skill_is_not_to_be_at_it() -> None:
    """A suggestion by the rule, from before there was a plan: nobody has shown anything yet."""
    assert lines(follow(hall(book(), ahead=FIRST, turned="hop")))[0] == "wheel"     # type: ignore[index]


def test_a_skill_that_is_asked_for_is_given() -> None:
    """Whatever the plan says."""
    found = follow(hall(book(), ahead=FIRST, only="waltz"))
    assert found is not None
    assert found.skill == "waltz"


def test_without_a_plan_and_after_its_end_the_rule_chooses() -> None:
    """And where the rule gets as much."""
    for seen in (hall(book()), hall(book(), 3600, ahead=FIRST), hall(book(), ahead=replace(FIRST, by_rule=True))):
        assert follow(seen) == choose(seen) is not None


def test_a_plan_of_which_nothing_holds_is_no_plan() -> None:
    """Then the rule chooses, rather than nobody."""
    of = book({(child, skill): ticked() for child in CHILDREN for skill in ("wheel", "stand")})
    seen = hall(of, 1, ahead=FIRST)
    assert follow(seen) == choose(seen) is not None


def test_where_nothing_fits_nothing_is_suggested() -> None:
    """A plan without turns was made where nothing can be shown to its end any more."""
    assert follow(hall(book(), 3500, ahead=plan())) is None


def test_no_line_is_longer_than_somebody_wants() -> None:
    """By the plan and by the rule."""
    for seen in (hall(book(), ahead=FIRST, most=1), hall(book(), most=1)):
        found = follow(seen)
        assert found is not None
        assert len(found.children) == 1


def test_a_group_stays_together_where_that_costs_less_than_the_club_would_give() -> None:
    """Two of a group of three are worth a tick less than the four: 10 ticks in an hour make that six minutes."""
    of = replace(book(), groups={"mat": ("dara", "efa", "finn")})
    kept = follow(hall(of, ahead=FIRST, keep_groups=6.1))
    assert kept is not None
    assert kept.children == ("dara", "efa", "finn")
    parted = follow(hall(of, ahead=FIRST, keep_groups=5.9))
    assert parted is not None
    assert "ava" in parted.children


def test_a_line_stands_in_the_order_of_the_class() -> None:
    """As the coach knows the children, whatever each is worth."""
    found = follow(hall(book(), ahead=plan((60, "hop", 1, ("finn", "ben", "dara")))))
    assert found is not None
    assert found.children == ("ben", "dara", "finn")


def test_what_is_in_no_plan_is_left_over() -> None:
    """Hops and waltz turns are owed by all six and planned for nobody."""
    assert {one.skill.id: one.owe for one in left_over(hall(book()), FIRST)} == {"hop": 6, "waltz": 6}


def test_what_is_too_late_to_begin() -> None:
    """A stand is watched twice for 30 s, with 60 s of rest between: 2 min on the spot; a second show is 30 s."""
    seen = hall(book(), 3600 - 100, turned="stand")
    assert too_late_for(seen, STAND, 1, at(3600)) == (2, 1)
    assert too_late_for(seen, STAND, 2, at(3600)) is None
    assert too_late_for(seen, HOP, 1, at(3600)) is None
    assert too_late_for(hall(book(), 3600 - 25), HOP, 1, at(3600)) is None
    assert too_late_for(hall(book(), 3600 - 25, turned="waltz"), HOP, 1, at(3600)) == (1, 0)
    assert too_late_for(hall(book(), 3601), STAND, 1, at(3600)) is None


def test_turns_that_follow_each_other_are_one_stretch() -> None:
    """A plan is read by skills, not by lines."""
    made = plan((0, "hop", 1, ("ava",)), (20, "hop", 1, ("ben",)), (60, "wheel", 1, ("ava",)), (90, "hop", 1, ("efa",)))
    assert [(one.skill, one.children) for one in stretches(made, "jo")] == [
        ("hop", ("ava", "ben")), ("wheel", ("ava",)), ("hop", ("efa",)),
    ]
    assert stretches(made, "sam") == []
