"""What a coach types in a hurry, and what she means by it."""
from __future__ import annotations

from collections.abc import Iterator

import pytest

from bot.people.hall import read_hall
from tests.talk.hall import CLUB, ROSTER, SCHEME, START, Hall


@pytest.fixture
def hall() -> Iterator[Hall]:
    """A hall with its lesson open and nobody asked yet who is here."""
    made = Hall()
    made.say("jo", "start")
    yield made
    made.close()


def missed(hall: Hall) -> dict[tuple[str, str], list[str]]:
    """(child, skill) → the points missed, of every not yet."""
    return {(one["child"].split("-")[1], one["skill"]): one["missed"] for one in hall.export()["marks"]
            if one["verdict"] == "not yet"}


# --- words that stood on a choice ---------------------------------------------------------------------------

def test_an_earlier_choice_typed_after_newer_messages_means_what_it_said(hall):
    """`Count it`, with two other answers in between, counts the mark that it was asked about."""
    hall.say("jo", "everyone")
    for text in ("ava seen stand", "ava seen stand", "owed ben", "ben seen hop"):
        hall.say("jo", text)
    assert hall.standings()["ava", "stand"]["standing"] == "resting"
    assert "Ava seen. Ticked, counted early" in hall.say("jo", "count it")[0].text


def test_a_reason_typed_by_the_words_of_an_earlier_choice_is_no_reason_for_another_skill(hall):
    """A point that the skill asked about has not is that of the earlier message, or of nothing."""
    hall.say("jo", "ava not yet hop")
    hall.say("jo", "chidi not yet wheel")
    hall.say("jo", "knees together")
    assert missed(hall) == {("ava", "hop"): ["knees"], ("chidi", "wheel"): []}
    hall.say("jo", "dara not yet wheel")
    assert "Who missed that?" in hall.say("jo", "soft landing")[0].text
    assert missed(hall)["dara", "wheel"] == []


def test_a_reason_for_two_skills_goes_to_the_one_that_has_it(hall):
    """Two misses in a message: a point, or Other miss, is about those whose skill has it."""
    hall.say("jo", "ava not yet hop; ben not yet stand")
    hall.say("jo", "hips")
    assert missed(hall) == {("ava", "hop"): [], ("ben", "stand"): ["hips"]}
    hall.say("jo", "chidi not yet hop; dara not yet stand")
    hall.say("jo", "other miss")
    hall.tap("jo", "Soft landing")
    assert (missed(hall)["chidi", "hop"], missed(hall)["dara", "stand"]) == (["land"], [])


# --- somebody is hurt -----------------------------------------------------------------------------------------

@pytest.mark.parametrize("text", [
    "ava is hurt", "Ava's hurt!", "ava bumped her head", "ava hit the beam", "ava has fallen", "ava twisted her ankle",
    "ava's nose is bleeding", "ava is crying",
])
def test_words_of_hurt_lead_to_bump(hall, text):
    """Nothing is recorded, and one tap looks after the child: common practice, no source."""
    hall.say("jo", "everyone")
    said = hall.say("jo", text)[0]
    assert said.text.startswith("If Ava is hurt, look after Ava first")
    assert hall.export()["marks"] == []
    assert hall.say("jo", choice=said.choice_ids()[0])[0].text.startswith("Look after Ava")


def test_two_who_are_hurt_are_offered_apart_and_nobody_named_is_asked_for(hall):
    """Each child named has a Bump of her own; without a name it is said how to type it."""
    said = hall.say("jo", "ava and ben bumped heads")[0]
    assert [one.label for one in said.choices[:2]] == ["Bump Ava", "Bump Ben"]
    assert "Type bump and the name." in hall.say("jo", "she fell on her head")[0].text


@pytest.mark.parametrize("text", ["ava is hurt", "bump ava", "she fell"])
def test_a_helper_who_writes_of_somebody_hurt_is_sent_to_the_coach(hall, text):
    """A helper may be young: told to fetch the coach, and not shown the lines as if nothing were."""
    hall.say("jo", "go")
    assert hall.say("kit", text)[0].text.startswith("If somebody is hurt, tell your coach at once")


# --- who is here ----------------------------------------------------------------------------------------------

def test_some_missing_takes_several_names_at_once_and_more_after_them(hall):
    """Names alone answer who is missing, however many, and the question stays for those who are thought of later."""
    hall.tap("jo", "Some missing")
    assert hall.say("jo", "ava, ben and chidi")[0].text.startswith("3 here.")
    hall.say("jo", "dara")
    (lesson,) = hall.snapshot().books["tue"].lessons.values()
    assert sorted(child.split("-")[1] for child in lesson.away) == ["ava", "ben", "chidi", "dara"]


def test_a_child_who_sits_out_and_is_marked_is_recorded_and_that_is_said(hall):
    """A mark of a child who sits out counts, by name only: no line has her in it."""
    hall.say("jo", "everyone")
    hall.say("jo", "ava sits")
    said = hall.say("jo", "ava seen hop")[0]
    assert "Ava sits out today; recorded all the same." in said.text
    assert hall.standings()["ava", "hop"]["standing"] == "ticked"
    assert "Ava" not in said.text.split("Next:")[1]


# --- lines ------------------------------------------------------------------------------------------------------

def test_an_undone_line_keeps_its_numbers(hall):
    """Taken back, the line stands there under the numbers that it had, and they can be typed."""
    hall.say("jo", "everyone")
    line = hall.tap("jo", "Go")[0].text
    hall.tap("jo", "All seen")
    assert hall.say("jo", "undo")[0].text.endswith(line.split(": ")[1])
    hall.say("jo", "not 2")
    assert list(missed(hall)) == [("ben", "hop")]


def test_all_that_was_left_names_whom_and_what_it_meant(hall):
    """Seen without a side means the side that was left; All seen of an older line, those who were left in it."""
    hall.say("jo", "everyone")
    hall.say("jo", "ava, ben seen wheel left")
    assert hall.say("jo", "ava, ben seen wheel")[0].text.startswith("Wheel: Ava and Ben seen right.")
    hall.say("jo", "hop")
    old = hall.tap("jo", "Go")[0]
    for text in ("ava, chidi seen", "stand", "go"):
        hall.say("jo", text)
    assert hall.say("jo", choice=old.choice_ids()[0])[0].text.startswith("Hop: Ben and Dara seen.")


def test_undo_takes_back_the_senders_own_and_no_other_lessons(hall):
    """Sam's later mark stays when Jo says undo; and a week later nothing of the last lesson is taken back."""
    hall.say("jo", "ava seen hop")
    hall.say("sam", "ben seen hop")
    hall.say("jo", "owed")
    hall.say("jo", "undo")
    assert [(one["child"], one["by"]) for one in hall.export()["marks"]] == [("tue-ben-okafor", "sam")]
    hall.say("jo", "chidi seen hop")
    hall.say("jo", "close")
    before = hall.export()["marks"]
    hall.wait(7 * 24 * 3600)
    hall.say("jo", "start")
    assert "nothing of yours" in hall.say("jo", "undo")[0].text
    assert hall.export()["marks"] == before


# --- standing in --------------------------------------------------------------------------------------------------

def test_the_evening_before_is_for_whoever_stands_in():
    """Inês stands in for Jo next week: she is told the evening before, and Jo, who asked for it too, is not."""
    hall = Hall()
    cover = '\n[[cover]]\nclass = "tue"\nperson = "ines"\nfrom = 2026-12-01\nto = 2026-12-01\n'
    club = CLUB.format(name="Bench", cls="tue") + cover
    hall.run(hall.store.load(read_hall(SCHEME.format(ways=""), club, ROSTER), START))
    for person in ("jo", "ines"):
        hall.say(person, "day before")
    hall.wait(14 * 24 * 3600)
    told = {(f"{said.at:%d}", person) for person in ("jo", "ines") for said in hall.said[person]
            if said.text.startswith("Tomorrow 17:00 · Tuesday")}
    assert told == {("30", "ines"), ("07", "jo")}
    hall.close()


# --- a skill that nobody is to show now -----------------------------------------------------------------------

def children(hall: Hall, but: tuple[str, ...] = ()) -> list[str]:
    """The first names of those of the class, without some."""
    return [one["name"].split()[0].lower() for one in hall.export()["children"]
            if not one["class"].endswith("-other") and one["id"] not in but]


def labels(hall: Hall, person: str) -> list[str]:
    return [one.label for one in hall.said[person][-1].choices]


def test_a_skill_that_nobody_owes_takes_no_line_away(hall):
    """Whoever asks for one hears why not, and the line that stood there still does."""
    hall.say("jo", "everyone")
    hall.say("jo", f"{', '.join(children(hall))} not yet hop")
    hall.say("jo", "stand")
    hall.tap("jo", "Go")
    line = labels(hall, "jo")
    told = hall.say("jo", "hop")[0].text
    assert "missed hop today" in told
    assert "Still there, stand" in told
    assert "Nothing is left" not in told
    assert labels(hall, "jo")[:3] == line[:3] == ["All seen", "Some not yet", "None yet"]


def test_what_is_with_the_other_is_said_to_be(hall):
    """A skill that another person is watching is not said to be owed by nobody."""
    hall.say("jo", "everyone")
    hall.say("sam", "hop")
    hall.tap("sam", "Go")
    (line,) = [one for one in hall.said["sam"][-1].choices if one.label == "All seen"]
    hall.say("jo", f"{', '.join(children(hall, but=line.tap.line.children))} seen hop")
    told = hall.say("jo", "hop")[0].text
    assert "Sam has " in told
    assert "Nobody here owes" not in told
