"""Second looks that are asked for: blind until both are in, then both hear the same."""
from __future__ import annotations

from collections.abc import Iterator

import pytest

from tests.talk.hall import Hall


@pytest.fixture
def hall() -> Iterator[Hall]:
    """A hall with its lesson open, everyone here, and Ava, Ben, Chidi and Dara standing there for a hop."""
    made = Hall()
    made.say("jo", "start")
    made.say("jo", "everyone")
    made.say("jo", "hop")
    made.say("jo", "go")
    yield made
    made.close()


def heard(hall: Hall, person: str) -> list[str]:
    """All that somebody was told so far."""
    return [one.text for one in hall.said.get(person, [])]


def comparisons(hall: Hall, person: str) -> list[str]:
    """What somebody was told of what both saw."""
    return [text for text in heard(hall, person) if " alike" in text]


@pytest.mark.parametrize("first", ["jo", "sam"])
def test_nobody_hears_of_the_other_before_both_are_in(hall: Hall, first: str) -> None:
    """Whoever answers first hears nothing of the other; when both are in, both hear it, once each."""
    hall.say("jo", "second look")
    hall.wait(1)
    assert "Jo asks you to look too: hop: " in heard(hall, "sam")[-1]
    marks = {"jo": "not ava knees", "sam": "all seen"}
    second = "sam" if first == "jo" else "jo"
    hall.say(first, marks[first])
    hall.wait(40)
    assert comparisons(hall, "jo") == comparisons(hall, "sam") == []
    assert not any("not yet" in text for text in heard(hall, "sam") if first == "jo")
    hall.say(second, marks[second])
    hall.wait(120)
    (to_jo,), (to_sam,) = comparisons(hall, "jo"), comparisons(hall, "sam")
    children = len(hall.snapshot().books["tue"].lessons["tue/2026-11-24"].looks[0].asked.children)
    assert f"Hop: you and Sam saw {children - 1} of {children} alike" in to_jo
    assert "You part on Ava: you not yet (knees together), Sam seen." in to_jo
    assert "You part on Ava: you seen, Jo not yet (knees together)." in to_sam


def test_a_look_that_was_asked_for_changes_no_standing(hall: Hall) -> None:
    """What Sam saw ticks nothing, and Jo's marks count as if nobody had been asked."""
    hall.say("jo", "second look")
    hall.wait(1)
    hall.say("sam", "all seen")
    assert {state["standing"] for state in hall.standings().values()} == {"untried"}
    hall.say("jo", "all seen")
    assert hall.standings()["ava", "hop"]["standing"] == "ticked"
    assert {one["second_look"] for one in hall.export()["marks"] if one["by"] == "sam"} == {True}


def test_typed_names_are_that_look_too(hall: Hall) -> None:
    """Sam may type what he saw; for whoever is asked of him it is the second look, with the reason said."""
    hall.say("jo", "second look sam ava hop")
    hall.wait(1)
    hall.say("sam", "ava not yet knees")
    assert hall.standings()["ava", "hop"]["standing"] == "untried"
    hall.say("jo", "ava seen hop")
    assert "You part on Ava: you seen, Sam not yet (knees together)." in comparisons(hall, "jo")[0]


def test_a_mark_of_a_moment_before_is_what_is_compared(hall: Hall) -> None:
    """`ava not yet`, then `second look ava`: Sam's word is laid beside the mark that Jo was not sure of."""
    hall.say("jo", "ava not yet hop knees")
    hall.say("jo", "second look ava hop")
    hall.wait(40)
    hall.tap("sam", "All seen")
    assert "You part on Ava: you seen, Jo not yet (knees together)." in comparisons(hall, "sam")[0]


def test_declining_is_one_tap_and_the_other_hears_it(hall: Hall) -> None:
    """Not now ends it: it is asked no more, and Jo is told once."""
    hall.say("jo", "second look")
    hall.wait(1)
    hall.tap("sam", "Not now")
    hall.wait(60)
    assert [text for text in heard(hall, "jo") if "can't look too" in text] == ["Sam can't look too just now (hop)."]
    hall.tap("sam", "All seen")
    assert "not asked any more" in heard(hall, "sam")[-1]
    assert hall.export()["marks"] == []


def test_it_is_dropped_where_it_makes_no_sense_any_more(hall: Hall) -> None:
    """Undone before it was said, or the lesson closed: Sam is not asked."""
    hall.say("jo", "second look")
    hall.say("jo", "undo")
    hall.wait(60)
    assert not any("look too" in text for text in heard(hall, "sam"))
    hall.say("jo", "second look")
    hall.say("jo", "close")
    hall.wait(60)
    assert not any("look too" in text for text in heard(hall, "sam"))


def test_an_undo_elsewhere_tells_nothing_twice(hall: Hall) -> None:
    """What came of a look is told once, though the lesson is folded anew by an undo of something else."""
    hall.say("jo", "second look ava hop")
    hall.wait(1)
    hall.say("sam", "ava seen hop")
    hall.say("jo", "ava seen hop")
    hall.wait(60)
    hall.say("jo", "efa away")
    hall.say("jo", "undo")
    hall.wait(60)
    assert len(comparisons(hall, "sam")) == len(comparisons(hall, "jo")) == 1


def test_a_look_that_is_taken_back_is_asked_and_told_anew(hall: Hall) -> None:
    """Sam undoes a slip: the comparison is told again, of what he says then."""
    hall.say("jo", "second look ava hop")
    hall.wait(1)
    hall.say("jo", "ava seen hop")
    hall.say("sam", "ava not yet hop")
    hall.say("sam", "undo")
    hall.say("sam", "ava seen hop")
    assert "saw Ava alike" in comparisons(hall, "sam")[-1]


def test_two_judge_the_same_six(hall: Hall) -> None:
    """Calibrate puts the lines up for whoever asks, and asks the other for the same six, whatever the lines."""
    hall.say("jo", "calibrate stand with sam")
    hall.wait(1)
    assert "You and Sam judge the same six." in heard(hall, "jo")[-1]
    (looks,) = hall.snapshot().books["tue"].lessons["tue/2026-11-24"].looks
    assert set(looks.asked.children) == {child.id for child in hall.snapshot().books["tue"].children.values()}
    hall.say("sam", "all seen")
    for _ in range(6):
        if comparisons(hall, "jo"):
            break
        hall.tap("jo", "All seen")
    assert "Stand: you and Sam saw all six alike." in comparisons(hall, "jo")[0]
    assert {hall.standings()[child, "stand"]["standing"] for child in ("ava", "finn")} == {"resting"}


def test_same_standard_says_nothing_of_what_is_still_blind(hall: Hall) -> None:
    """While a blind look is not all in, not even `same standard` tells of the part that is."""
    hall.say("jo", "second look ava, ben hop")
    hall.wait(1)
    hall.say("sam", "ava seen hop")
    hall.say("jo", "ava seen hop")
    hall.say("sam", "same standard")
    assert "Nobody has looked at the same show" in heard(hall, "sam")[-1]


def test_with_nobody_else_there_nobody_is_asked(hall: Hall) -> None:
    """Where no other judges in the class, and where no lesson is open, that is said."""
    hall.say("ines", "second look")
    assert "No lesson is open" in heard(hall, "ines")[-1]
    hall.say("kit", "second look")
    assert "asked to look" not in heard(hall, "kit")[-1]


def test_all_seen_is_asked_about_where_it_could_mean_either(hall: Hall) -> None:
    """Sam has a line of his own and is asked for a look: `all seen` is put to him, and guessed as neither."""
    hall.say("sam", "stand")
    hall.say("sam", "go")
    hall.say("jo", "second look")
    hall.wait(120)
    hall.say("sam", "all seen")
    assert heard(hall, "sam")[-1].startswith("Which line?")
    hall.tap("sam", "Second look")
    assert {one["second_look"] for one in hall.export()["marks"] if one["by"] == "sam"} == {True}


def test_a_forgotten_child_is_in_no_look(hall: Hall) -> None:
    """Forgetting takes a child out of what was asked and of what was seen."""
    hall.say("jo", "second look ava, ben hop")
    hall.wait(1)
    hall.say("sam", "all seen")
    whole = next(one["id"] for one in hall.export()["children"] if one["name"] == "Ava Price")
    hall.run(hall.store.forget("bench", whole))
    (looks,) = hall.snapshot().books["tue"].lessons["tue/2026-11-24"].looks
    assert whole not in looks.asked.children
    assert whole not in looks.saw["sam"]
    assert not any(whole in str(one) for one in hall.snapshot().record)


def test_a_look_is_asked_for_once(hall: Hall) -> None:
    """Asked again for the same, a colleague is not buzzed again and one look stays on record; the asker is told."""
    hall.say("jo", "second look")
    again = hall.say("jo", "second look")
    assert [one.text for one in again] == ["Sam is asked for that already."]
    assert len(hall.snapshot().books["tue"].lessons["tue/2026-11-24"].looks) == 1


def test_a_name_alone_is_of_what_was_asked_last(hall: Hall) -> None:
    """Sam's phone shows a rested line, then a second look at one of its children on another skill: her name alone is
    that look, and nothing is ticked that nobody meant. Of whoever is not asked for, it is the line as before."""
    hall.say("jo", "ava, ben seen stand")
    hall.wait(61)
    assert "Rested" in heard(hall, "sam")[-1]
    hall.say("jo", "second look sam ava hop")
    hall.wait(1)
    (said,) = hall.say("sam", "ava seen")
    assert said.text.startswith("Second look kept: hop, Ava seen.")
    assert hall.standings()["ava", "stand"]["standing"] != "ticked"
    hall.say("sam", "ben seen")
    assert hall.standings()["ben", "stand"]["standing"] == "ticked"


@pytest.mark.parametrize("messages", [
    ("ava seen wheel left; ava not yet wheel right",), ("ava seen wheel left", "ava not yet wheel right"),
    ("ava not yet wheel right; ava seen wheel left",),
])
def test_a_show_is_seen_with_all_its_pieces(hall: Hall, messages: tuple[str, ...]) -> None:
    """One leg seen and the other not is a not yet, in what both hear at once and in what is told of it later."""
    hall.say("jo", "second look sam ava, ben wheel")
    for text in (*messages, "ben seen wheel"):
        hall.wait(3)
        hall.say("jo", text)
    hall.say("sam", "ava, ben seen wheel")
    hall.wait(60)
    assert "you and Sam saw 1 of 2 alike. You part on Ava: you not yet, Sam seen." in comparisons(hall, "jo")[0]
    assert "Wheel: you and Sam saw 1 of 2 alike" in hall.say("jo", "same standard")[0].text
