"""Who is meant: children of every kind of name, first before any word of ours."""
from __future__ import annotations

import pytest

from bot.talk.reading import read
from bot.talk.requests import Mark, MarkLine, NameGroup, Note, Say, Typed, Understood
from tests.talk.reading.words_of_a_club import AWKWARD_MOMENT, AWKWARD_WORDS, asked, ids, moment, refused, understood


def seen(names: str, *points: str) -> Mark:
    return Mark(ids(names), "seen", "shoulder-stand")


def missed(names: str, *points: str) -> Mark:
    return Mark(ids(names), "not yet", "shoulder-stand", points=points)


NAMED: dict[str, tuple[Typed, ...]] = {
    "mark seen": (seen("Mark Ellery"),),
    "Mark E seen": (seen("Mark Ellery"),),
    "will not yet": (missed("Will Tanner"),),
    "will, mark seen": (seen("Will Tanner, Mark Ellery"),),
    "ji-ho seen": (seen("Ji-ho Seen"),),
    "jiho seen": (seen("Ji-ho Seen"),),
    "ji ho seen": (seen("Ji-ho Seen"),),
    "JI-HO SEEN seen": (seen("Ji-ho Seen"),),
    "ji-ho seen not yet": (missed("Ji-ho Seen"),),
    "lucja seen": (seen("Łucja Undo"),),
    "ŁUCJA UNDO seen": (seen("Łucja Undo"),),
    "lucja undo not yet hips": (missed("Łucja Undo", "hips"),),
    "sian seen": (seen("Siân O'Dea"),),
    "SIAN ODEA seen": (seen("Siân O'Dea"),),
    "Siân O’Dea seen": (seen("Siân O'Dea"),),
    "sian o dea seen": (seen("Siân O'Dea"),),
    "ana c seen": (seen("Ana Castell"),),
    "ana d seen": (seen("Ana Dray"),),
    "ana cas seen": (seen("Ana Castell"),),
    "ana dray seen": (seen("Ana Dray"),),
    "ana c, ana d seen": (seen("Ana Castell, Ana Dray"),),
    "red seen": (seen("Red Marsh"),),
    "may seen": (seen("May Flint"),),
    "back seen": (seen("Back Holm"),),
    "back back": (Note("back", ids("Back Holm")),),
    "hips seen": (seen("Hips Nolan"),),
    "hips not yet": (missed("Hips Nolan"),),
    "hips not yet hips": (missed("Hips Nolan", "hips"),),
    "zoe seen": (seen("Zoë Quill"),),
    "zoe\u0308 seen": (seen("Zoë Quill"),),
}


@pytest.mark.parametrize("text", NAMED, ids=ascii)
def test_a_child_comes_first(text: str) -> None:
    """In any case, with accents or without, hyphens and apostrophes or none, and before a word of ours."""
    assert understood(text, AWKWARD_MOMENT) == NAMED[text]


def test_undo_alone_is_the_command() -> None:
    """A child's last name alone is no name of hers, so `undo` stays undo, and `seen` no Ji-ho."""
    assert understood("undo", AWKWARD_MOMENT) == (Say("undo"),)
    assert refused("seen", AWKWARD_MOMENT).why == "no child"


def test_two_of_one_first_name_are_asked_about() -> None:
    """Each option is one of them, called as shortly as tells them apart."""
    answer = asked("ana, ben seen", AWKWARD_MOMENT)
    assert (answer.why, answer.word) == ("child", "ana")
    assert {label: option.requests for label, option in answer.options} == {
        "Ana C": (seen("Ana Castell, Ben Okafor"),), "Ana D": (seen("Ana Dray, Ben Okafor"),),
    }


def test_a_group_is_its_children() -> None:
    """A group is named as children stand, and typed like a child; a child of that name comes before it."""
    assert understood("blue is ava, ben and 3", moment()) == (
        NameGroup("blue", ids("Ava Price, Ben Okafor, Chidi Eze")),)
    blue = moment(groups={"blue": ids("Ava Price, Ben Okafor")})
    assert understood("blue seen", blue) == (seen("Ava Price, Ben Okafor"),)
    assert understood("blue, gus seen", blue) == (seen("Ava Price, Ben Okafor, Gus Petrov"),)
    red = moment(AWKWARD_WORDS, groups={"red": ids("Ava Price, Ben Okafor")})
    assert understood("red seen", red) == (seen("Red Marsh"),)
    refused("red is ava ben", AWKWARD_MOMENT)


@pytest.mark.parametrize("text", ["seen", "not yet", "✓", "seen cartwheel", "not yet hips", "y"])
def test_a_verdict_with_no_child_marks_nobody(text: str) -> None:
    """Whatever is watched, a verdict alone is never everybody's."""
    for context in (moment(), AWKWARD_MOMENT):
        answer = read(text, context)
        marked = answer.requests if isinstance(answer, Understood) else ()
        assert not any(isinstance(one, Mark | MarkLine) for one in marked) or text == "not yet hips"


def test_not_yet_hips_is_the_child_called_so_where_there_is_one() -> None:
    """A word of the scheme that is a child's name is the child, where that makes the reading complete."""
    assert understood("not yet hips", AWKWARD_MOMENT) == (missed("Hips Nolan"),)
