"""Standard cards, and the rule for home."""
from __future__ import annotations

import re
from pathlib import Path

import pytest

from bot.scheme.card import LIMIT, card, scope_in_words, what_is_asked
from bot.scheme.home import all_loads, home_rule
from bot.scheme.load import read_scheme
from bot.scheme.model import Award, Part, Scheme, Show, Skill

DEMO = read_scheme(
    (Path(__file__).parents[2] / "demo_conversations" / "harbour-lane" / "scheme.toml").read_text("utf-8")
)


def of(skill: dict[str, object], **terms: object) -> str:
    """The card of one skill in a scheme of its own."""
    award = {"id": "a", "name": "A", "skill": [{"id": "x", "name": "X", **skill}]}
    scheme = Scheme.model_validate({"name": "S", **terms, "award": [award]})
    return card(scheme, scheme.skills["x"])


@pytest.mark.parametrize(("asked", "said"), [
    ({}, ""),
    ({"hold_s": 3}, "hold 3 seconds"),
    ({"hold_s": 1}, "hold 1 second"),
    ({"reps": 5}, "5 in a row"),
    ({"reps": 5, "exact": True}, "exactly 5 in a row"),
    ({"reps": 1}, "once"),
    ({"reps": 3, "hold_s": 2}, "3 in a row, each held 2 seconds"),
    ({"eights": 1}, "1 count of eight"),
    ({"eights": 2, "bpm": [96, 108]}, "2 counts of eight, at 96 to 108 beats a minute"),
    ({"bpm": 100}, "at 100 beats a minute"),
    ({"times_through": 1}, "once through"),
    ({"times_through": 3, "exact": True}, "exactly 3 times through"),
])
def test_what_is_asked_is_a_short_phrase(asked: dict[str, object], said: str) -> None:
    """Holds, rows, counts and times are said in words, of a show and of a part alike."""
    assert what_is_asked(Show.model_validate(asked)) == said
    assert what_is_asked(Part.model_validate({"id": "p", **asked})) == said


@pytest.mark.parametrize("skill", DEMO.skills.values(), ids=lambda skill: skill.id)
def test_every_demo_card_can_be_read_aloud(skill: Skill) -> None:
    """A card is short, says all points by name, and has no code, id or key in it."""
    text = card(DEMO, skill)
    assert len(text) < LIMIT
    assert text.startswith(skill.name)
    assert all(point.label in text for point in skill.points)
    assert not re.search(r"[_={}\[\]|]|None|True|False|\b\w+_s\b|\.\.|  ", text), text
    assert all(line for line in text.splitlines())


def test_the_shoulder_stands_card() -> None:
    """One card in full, as the coach sees it."""
    assert card(DEMO, DEMO.skills["shoulder-stand"]) == """\
Shoulder stand (Lantern)
Two shows in one lesson: hold 3 seconds.
Rest 45 seconds between them.
Must be seen:
- Hips over shoulders: Seen from the side, no fold at the hips.
- Toes to the ceiling: Legs together and straight.
- Three seconds still: Count once the legs have stopped.
Wished for:
- Rolls down slowly (second show)
As the child likes: hands on the back or on the floor.
Surface: mat.
Care: Warm up first. Weight on the shoulders, never on the neck; no turning of the head. Stop if it hurts.
At home only: on a mat, with an adult.
Up to 4 in line together."""


def test_shows_are_told_apart_where_they_ask_for_different_things() -> None:
    """A second show with a text of its own has a line of its own."""
    shows = [{"reps": 2}, {"reps": 2, "text": "Eyes shut.", "rest": "breather"}]
    text = of({"shows": shows}, repeat_within=7)
    assert "First show: 2 in a row.\nSecond show, within 7 days: 2 in a row, eyes shut.\nA breather" in text


def test_days_and_rests_are_in_words() -> None:
    """The scheme's own rest and terms stand where a show says nothing."""
    text = of({"shows": [{}, {}]}, repeat_within=0, rest_s=120)
    assert "Two shows on one day.\nRest 2 minutes between" in text
    assert "No rest between them." in of({"shows": [{}, {"rest_s": 0}]})


def test_sides_are_the_childs_own() -> None:
    """Whatever left and right mean, they are the child's."""
    for sides in ("each", "either", "alternate"):
        assert "child's own" in of({"sides": sides, "side_means": "the leading leg"})
        assert "(the leading leg)" in of({"sides": sides, "side_means": "the leading leg"})
    assert "Left and right are the child's own" in of({"parts": [{"id": "a", "sides": "each"}]})


def test_a_points_scope_is_said_in_words() -> None:
    """Parts, ways, sides and shows of a point are told by their labels."""
    skill = Skill.model_validate({
        "id": "x", "name": "X", "parts": ["Galop", "Polka"], "ways": ["Seated"], "shows": [{}, {}],
        "sides": "each", "points": [
            {"id": "p", "parts": ["Galop", "Polka"], "ways": "Seated", "sides": "left", "shows": [2]},
        ],
    })
    assert scope_in_words(skill.points[0], skill) == "galop and polka, when seated, left side, second show"


def test_a_card_that_would_be_too_long_names_its_points_only() -> None:
    """Explanations give way before names do."""
    points = [{"id": f"p{i}", "label": f"Point {i}", "text": "long " * 30} for i in range(8)]
    assert len(of({"points": points})) < LIMIT
    assert "Point 7" in of({"points": points})


def scheme_of(*skills: Skill) -> Scheme:
    """A scheme with one award of these skills."""
    return Scheme(name="S", award=(Award(id="a", name="A", skill=skills),))


def test_the_strictest_home_rule_wins() -> None:
    """No beats a condition, a condition beats fine, through routines of routines."""
    fine, mat = Skill(id="f", name="F"), Skill(id="m", name="M", home="on a mat")
    never = Skill(id="n", name="N", home="no", loads=("neck",))
    pair = Skill(id="p", name="P", uses=("f", "m"), home="with an adult", loads=("back",))
    whole = Skill(id="w", name="W", uses=("p", "n"))
    scheme = scheme_of(fine, mat, never, pair, whole)
    assert home_rule(scheme, fine) is None
    assert home_rule(scheme, pair) == "with an adult; on a mat"
    assert home_rule(scheme, whole) == "no"
    assert all_loads(scheme, whole) == ("back", "neck")


def test_home_is_understood_as_it_is_said() -> None:
    """`"No"` is no, and `"fine"` is no rule."""
    assert Skill.model_validate({"id": "x", "name": "X", "home": "No"}).home == "no"
    assert Skill.model_validate({"id": "x", "name": "X", "home": "fine"}).home is None
