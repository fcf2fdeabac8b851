"""Several things said in one message: whose points they are, and what is left for the line."""
from __future__ import annotations

import pytest

from bot.talk.requests import Mark, MarkLine, Note
from tests.talk.reading.words_of_a_club import AWKWARD_WORDS, asked, ids, moment, understood

GUS, HANA, EFA = ids("Gus Petrov"), ids("Hana Sato"), ids("Efa Morgan")
STAND = "shoulder-stand"


def missed(child: tuple[str, ...], *points: str) -> Mark:
    return Mark(child, "not yet", STAND, points=points)


@pytest.mark.parametrize("text", [
    "gus not yet hips, hana toes", "gus not yet hips; hana not yet toes", "gus not yet hips hana toes",
])
def test_each_child_misses_her_own_points(text: str) -> None:
    """A point named after a child is hers, not the other's."""
    assert understood(text) == (missed(GUS, "hips"), missed(HANA, "toes"))


@pytest.mark.parametrize("text", ["gus, hana not yet hips", "not yet hips gus, hana", "hips not yet gus hana"])
def test_points_said_once_are_of_all(text: str) -> None:
    """A point said once, before or after all of the names, was missed by all of them."""
    assert understood(text) == (missed((*GUS, *HANA), "hips"),)


def test_a_point_between_two_names_is_asked_about() -> None:
    """`gus not yet hips, hana`: Hana's hips too, or Hana without a reason?"""
    answer = asked("gus not yet hips, hana")
    assert [option.requests for _, option in answer.options] == [
        (missed((*GUS, *HANA), "hips"),), (missed(GUS, "hips"), missed(HANA)),
    ]


def test_sides_of_each() -> None:
    """So are sides: the one named after a child is hers."""
    left, right = (Mark(ids(name), "seen", "cartwheel", (side,)) for name, side in (
        ("Ava Price", "left"), ("Ben Okafor", "right")))
    assert understood("ava seen cartwheel left, ben right") == (left, right)


@pytest.mark.parametrize("text", [
    "not 7 hips, 8 toes", "not 7 hips; not 8 toes", "all seen, gus not yet hips, hana toes",
])
def test_the_line_but_two_who_missed_different_points(text: str) -> None:
    """Two children of the line with reasons of their own: they have their own marks, the line is the others."""
    assert understood(text) == (MarkLine(left=(*GUS, *HANA)), missed(GUS, "hips"), missed(HANA, "toes"))


@pytest.mark.parametrize("text", [
    "all seen, gus not yet", "gus not yet, all seen", "all seen; gus not yet", "gus not yet, rest seen",
    "all seen. not gus",
])
def test_all_and_one_who_was_not(text: str) -> None:
    """All seen and one not yet is one thing said of the line."""
    assert understood(text) == (MarkLine(missed=GUS),)


def test_who_is_marked_by_name_is_left_out_of_the_line() -> None:
    """A line's verdict is not also laid on a child who was given her own in the same message."""
    own = Mark(EFA, "seen", STAND)
    assert understood("efa seen, rest not yet") == (MarkLine("not yet", left=EFA), own)
    assert understood("efa seen, all seen") == (MarkLine(left=EFA), own)
    elsewhere = Mark(EFA, "seen", "cartwheel")
    assert understood("all seen; efa seen cartwheel") == (MarkLine(), elsewhere)


def test_who_is_away_is_so_before_the_line_is_judged() -> None:
    """`all seen, gus away`: Gus was not seen."""
    assert understood("all seen, gus away") == (Note("away", GUS), MarkLine())


@pytest.mark.parametrize("text", ["ava seen, not gus", "ava seen not gus", "not gus, ava seen", "efa seen; not gus"])
def test_not_after_names_is_asked(text: str) -> None:
    """`not gus` is the whole line but Gus; beside marks by name it may be Gus only, so it is asked."""
    answer = asked(text)
    assert [label for label, _ in answer.options] == ["All but Gus", "Gus not yet"]
    line, alone = (option.requests for _, option in answer.options)
    assert any(isinstance(one, MarkLine) and one.missed == GUS for one in line)
    assert missed(GUS) in alone
    assert not any(isinstance(one, MarkLine) for one in alone)


def test_not_in_a_clause_of_its_own_beside_another_skill_is_the_line() -> None:
    """`not 7; ava seen cartwheel` is two things, and neither is in doubt."""
    assert understood("not 7; ava seen cartwheel") == (
        MarkLine(missed=GUS), Mark(ids("Ava Price"), "seen", "cartwheel"))


def test_an_ambiguous_name_in_the_line_is_the_one_who_stands_there() -> None:
    """`not ana` can only mean the Ana of the line."""
    context = moment(AWKWARD_WORDS, line="Ana Dray, Mark Ellery")
    assert understood("not ana", context) == (MarkLine(missed=ids("Ana Dray")),)
    assert asked("ana seen", context).why == "child"
