"""The demo hall: it loads, every structure of the contract occurs in it, and its children are as promised."""
from __future__ import annotations

from collections import Counter
from datetime import date
from pathlib import Path

from bot.people.hall import Hall, read_hall
from bot.scheme.home import home_rule
from bot.scheme.model import Asked

FOLDER = Path(__file__).parents[2] / "demo_conversations" / "harbour-lane"


def demo() -> Hall:
    """The demo hall, read anew."""
    scheme, club, roster = (FOLDER / name for name in ("scheme.toml", "club.toml", "roster.csv"))
    return read_hall(scheme.read_text("utf-8"), club.read_text("utf-8"), roster.read_text("utf-8"))


HALL = demo()
SKILLS = tuple(HALL.scheme.skills.values())


def test_it_has_what_a_demo_needs() -> None:
    """Three awards, more than thirty skills, three classes and thirty children."""
    assert [award.id for award in HALL.scheme.awards] == ["candle", "lantern", "beacon"]
    assert len(SKILLS) >= 32
    assert Counter(child.class_id for child in HALL.roster) == {"tuesday": 12, "thursday": 10, "saturday": 8}
    assert HALL.club.id == "harbour-lane-hall"


def test_every_way_of_asking_for_a_show_occurs() -> None:
    """Holds, rows, exact ones, counts of eight, times through, tempo, texts; in shows and in parts."""
    asked: list[Asked] = [one for skill in SKILLS for one in (*skill.shows, *skill.parts)]
    for key in ("hold_s", "reps", "exact", "eights", "times_through", "bpm", "text"):
        assert any(getattr(one, key) for one in asked), key
    parts = [part for skill in SKILLS for part in skill.parts]
    assert any(part.sides == "each" for part in parts)
    assert any(part.eights for part in parts)
    assert any(part.words for part in parts)


def test_every_sort_of_second_show_occurs() -> None:
    """The usual rest, a rest of its own, a breather, and a show that asks for something else."""
    seconds = [skill.shows for skill in SKILLS if len(skill.shows) == 2]
    assert any(show[1].rest_s is None and show[1].rest is None for show in seconds)
    assert any(show[1].rest_s for show in seconds)
    assert any(show[1].rest == "breather" for show in seconds)
    assert any(show[0].text != show[1].text for show in seconds)


def test_every_key_of_a_skill_occurs() -> None:
    """Sides of each sort with their meaning, ways, what is free, light ones, surfaces, loads, home rules."""
    assert {skill.sides for skill in SKILLS} == {"one", "each", "either", "alternate"}
    keys = ("words", "parts", "side_means", "ways", "free", "switch_s", "light", "loads", "surface", "uses")
    for key in keys:
        assert any(getattr(skill, key) for skill in SKILLS), key
    assert any(way.text for skill in SKILLS for way in skill.ways)
    assert {"neck", "back", "wrists", "landing"} <= {load for skill in SKILLS for load in skill.loads}
    rules = {home_rule(HALL.scheme, skill) for skill in SKILLS}
    assert {None, "no"} < rules
    assert len({skill.line for skill in SKILLS}) > 2


def test_every_sort_of_point_occurs() -> None:
    """Musts and aims, and scopes of parts, ways, sides and shows."""
    points = [point for skill in SKILLS for point in skill.points]
    assert {point.need for point in points} == {"must", "aim"}
    for key in ("parts", "ways", "sides", "shows", "text"):
        assert any(getattr(point, key) for point in points), key
    assert all(skill.musts for skill in SKILLS)
    labels = [*(point.label for point in points), *(skill.name for skill in SKILLS)]
    assert all(len(label) <= 20 for label in labels), "a label has to fit onto a button"


def test_what_loads_a_body_is_cautioned() -> None:
    """No skill that loads a neck, a back, wrists or a landing is without a caution."""
    assert all(skill.caution for skill in SKILLS if skill.loads)


def test_awards_follow_each_other() -> None:
    """`after`, `needs` and `must` are all in use."""
    assert all(award.needs and award.must for award in HALL.scheme.awards)
    assert [award.after for award in HALL.scheme.awards] == [(), ("candle",), ("lantern",)]


def test_a_waltz_turn_gives_noor_her_lantern() -> None:
    """One skill is missing, and it is that one."""
    noor = next(child for child in HALL.roster if child.child == "Noor Rahman")
    lantern = HALL.scheme.award_by_id("lantern")
    assert lantern is not None
    assert not lantern.enough(set(noor.has))
    assert lantern.enough({*noor.has, "waltz-turn"})


def test_names_are_as_varied_as_children_are() -> None:
    """Accents, apostrophes, namesakes, and children whose names are verbs."""
    names = [child.child for child in HALL.roster]
    firsts = Counter(name.split()[0] for name in names)
    assert len(set(names)) == 30
    assert firsts["Ana"] == 2
    assert {"Mark", "Will", "Łucja", "Siân", "Zoë"} <= set(firsts)
    assert any("'" in name for name in names)


def test_tuesdays_class_is_the_one_of_the_story() -> None:
    """Tuesday at 17:00 with Jo, Sam and Kit, and no lessons over the break and at half term."""
    tuesday = HALL.club.by_class["tuesday"]
    assert (tuesday.day, str(tuesday.start), tuesday.people) == ("tuesday", "17:00:00", ("jo", "sam", "kit"))
    assert [span.first for span in HALL.club.closed] == [date(2026, 12, 21), date(2027, 2, 15)]
    assert {person.role for person in HALL.people} == {"coach", "assistant", "helper"}
