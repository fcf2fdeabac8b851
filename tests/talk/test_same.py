"""The same standard: what two who judge are told of their looks at the same shows, and rulings on a point."""
from __future__ import annotations

from collections.abc import Iterator
from datetime import timedelta

import pytest

from bot.people.hall import read_hall
from bot.talk.rulings import RULINGS
from bot.talk.sheet import cards
from tests.talk.hall import CHILDREN, CLUB, ROSTER, SCHEME, START, Hall


@pytest.fixture
def hall() -> Iterator[Hall]:
    """A hall with its lesson open and everyone here."""
    made = Hall()
    made.say("jo", "start")
    made.say("jo", "everyone")
    yield made
    made.close()


def told(hall: Hall, person: str, text: str) -> str:
    """What somebody is answered."""
    return " ".join(one.text for one in hall.say(person, text))


def look(hall: Hall, child: str, jo: str, sam: str, skill: str = "hop") -> None:
    """Both judge one child, Sam a moment later."""
    hall.say("jo", f"{child} {jo.format(skill=skill)}" if "{" in jo else f"{child} {jo} {skill}")
    hall.wait(5)
    hall.say("sam", f"{child} {sam} {skill}")


def test_too_few_are_said_to_be_too_few(hall: Hall) -> None:
    """Six looks that are all alike prove nothing, and that is what is said."""
    for child in CHILDREN:
        look(hall, child, "seen", "seen")
    assert told(hall, "jo", "same standard") == "Hop: you and Sam saw 6 of 6 alike: too few to tell."


def test_the_dividing_point_is_named(hall: Hall) -> None:
    """Where two part, the point is said; no child's name, no word of who is right. Of few looks nothing is advised."""
    look(hall, "ava", "seen", "seen")
    hall.say("jo", "ben not yet hop knees")
    hall.wait(5)
    hall.say("sam", "ben seen hop")
    said = told(hall, "sam", "do we see the same")
    assert said == "Hop: you and Jo saw 1 of 2 alike: too few to tell. You part on knees together."
    figures = told(hall, "sam", "figures")
    assert "1 of 2 alike, 50 % (9 to 91)" in figures       # Wilson's interval of 1 in 2 (statsmodels 0.15.0)
    assert "Kappa 0.00" in figures
    assert not any(name in said + figures for name in ("Ava", "Ben"))
    for child in ("chidi", "dara", "efa"):
        look(hall, child, "seen", "seen")
    said = told(hall, "sam", "do we see the same")
    assert said == "Hop: you and Jo saw 4 of 5 alike. You part on knees together. Talk about that point."


def test_kappa_that_cannot_be_told_is_said_so(hall: Hall) -> None:
    """Where both saw all, kappa is 0/0: cannot tell."""
    look(hall, "ava", "seen", "seen")
    assert "Kappa cannot tell." in told(hall, "jo", "figures hop")


def test_a_miss_without_a_reason_names_no_point(hall: Hall) -> None:
    """Where no reason was said, no point is guessed."""
    look(hall, "ava", "not yet", "seen")
    assert "On which point you part was not said" in told(hall, "jo", "same standard")


def test_what_was_taken_back_is_not_compared(hall: Hall) -> None:
    """A second look that was undone never was."""
    look(hall, "ava", "seen", "seen")
    hall.say("sam", "undo")
    assert "Nobody has looked at the same show" in told(hall, "jo", "same standard")


def test_only_those_who_judge_there_may_ask(hall: Hall) -> None:
    """A coach of another class hears nothing of it, a helper and a stranger nothing at all."""
    look(hall, "ava", "seen", "not yet")
    assert "Nobody has looked" in told(hall, "ines", "same standard")
    for person in ("kit", "nobody"):
        assert "alike" not in told(hall, person, "same standard")


def test_a_ruling_stands_on_everyones_card(hall: Hall) -> None:
    """A coach's ruling stands on the card that others read, in the talk and on the page, until it is taken away."""
    assert told(hall, "jo", "ruling hop knees: a hand between them is fine").startswith(
        "Ruled on hop, knees together: a hand between them is fine."
    )
    line = "- Knees together\n  Ruling: a hand between them is fine (Jo, 24 November 2026)"
    assert line in told(hall, "sam", "standard hop")
    desk = hall.run(hall.service().desk("Bench", "ines", RULINGS))
    assert line in cards(desk, ["hop"])["hop"]
    told(hall, "ines", "ruling hop knees: two hands are fine")      # a coach of another class of the same club
    assert "two hands are fine (Ines, 24 November 2026)" in told(hall, "sam", "standard hop")
    told(hall, "jo", "ruling hop knees: ends")
    assert "Ruling" not in told(hall, "sam", "standard hop")


def test_a_ruling_can_be_undone(hall: Hall) -> None:
    """Undo takes a ruling back, and the one before it stands again."""
    told(hall, "jo", "ruling hop knees: one hand is fine")
    told(hall, "jo", "ruling hop knees: two hands are fine")
    told(hall, "jo", "undo")
    assert "1. Hop, knees together: one hand is fine (Jo, 24 November 2026)." in told(hall, "sam", "rulings")


def test_who_may_rule_and_how(hall: Hall) -> None:
    """A ruling is a coach's, on one point that must be seen, names no child, and fits a line of the card."""
    assert "for a coach" in told(hall, "sam", "ruling hop knees: fine")
    assert "names none" in told(hall, "jo", "ruling hop knees: not for Ava")
    assert "names none" in told(hall, "jo", "ruling hop knees: ava may bend them")
    long = f"ruling hop knees: {'long ' * 30}"
    for text in ("ruling hop: fine", "ruling stand toes: fine", "ruling hop knees", long):
        assert "Type it like this: ruling" in told(hall, "jo", text)
    assert "no ruling" in told(hall, "jo", "rulings")


def test_a_ruling_is_told_once_before_the_next_class(hall: Hall) -> None:
    """The others who judge hear of a ruling in the brief before their next class, and in no later one."""
    told(hall, "ines", "ruling hop knees: a hand between them is fine")
    told(hall, "jo", "close")
    day = 24 * 3600
    briefs: dict[str, list[str]] = {"jo": [], "sam": [], "ines": []}
    for _ in range(16):
        before = {person: len(hall.said.get(person, [])) for person in briefs}
        hall.wait(day)
        for person, found in briefs.items():
            texts = [one.text for one in hall.said.get(person, [])[before[person]:]]
            found += [one for one in texts if " · Tuesday · " in one or " · Friday · " in one]
    news = "New ruling: Hop, knees together: a hand between them is fine (Ines, 24 November 2026)."
    for person in ("jo", "sam"):
        assert [news in one for one in briefs[person]].index(True) == 0
        assert sum(news in one for one in briefs[person]) == 1
    assert briefs["ines"]
    assert not any("New ruling" in one for one in briefs["ines"])


def test_a_ruling_is_told_by_a_brief_that_comes_late(hall: Hall) -> None:
    """A program that looks a minute after the half hour tells of it all the same, and once."""
    told(hall, "ines", "ruling hop knees: a hand between them is fine")
    told(hall, "jo", "close")
    for week in (1, 2):
        hall.clock.move_to(START + timedelta(days=7 * week, minutes=-27))
        hall.run(hall.service().wake())
        late = [one.text for one in hall.run(hall.store.said("bench", "sam", 0)) if " · Tuesday · " in one.text]
        assert len(late) == week
        assert sum("New ruling: Hop, knees together" in one for one in late) == 1


def test_a_point_is_ruled_on_by_its_whole_label(hall: Hall) -> None:
    """A label with words that mean something else alone (`one by one`, `back`) is still that point."""
    scheme = SCHEME.format(ways="").replace("Knees together", "Hands one by one")
    hall.run(hall.store.load(read_hall(scheme, CLUB.format(name="Bench", cls="tue"), ROSTER), START))
    assert told(hall, "jo", "ruling hop hands one by one: nearly is fine").startswith(
        "Ruled on hop, hands one by one: nearly is fine.",
    )


def test_what_parted_before_a_ruling_says_nothing_any_more(hall: Hall) -> None:
    """Once a point is ruled on, how two saw it before is not held against how they see it now."""
    hall.say("jo", "ben not yet hop knees")
    hall.wait(5)
    hall.say("sam", "ben seen hop")
    assert "You part on knees together" in told(hall, "jo", "same standard")
    told(hall, "jo", "ruling hop knees: a hand between them is fine")
    said = told(hall, "jo", "same standard")
    assert said == "Hop: you and Sam saw 0 of 1 alike: too few to tell. What you parted on was ruled on since."
