"""Sides, parts, ways, shows and points: what a mark says besides who and what."""
from __future__ import annotations

import pytest

from bot.talk.requests import Mark
from tests.talk.reading.words_of_a_club import ids, moment, refused, understood

AVA = ids("Ava Price")
SAID = {
    "ava seen cartwheel left": ("cartwheel", {"pieces": ("left",)}),
    "ava seen l cartwheel": ("cartwheel", {"pieces": ("left",)}),
    "right ava seen cartwheel": ("cartwheel", {"pieces": ("right",)}),
    "ava r seen cartwheel": ("cartwheel", {"pieces": ("right",)}),
    "ava seen cartwheel both": ("cartwheel", {"pieces": ("left", "right")}),
    "ava seen cartwheel left and right": ("cartwheel", {"pieces": ("left", "right")}),
    "ava seen medley galop polka": ("dance-medley", {"pieces": ("galop", "polka")}),
    "ava seen medley polka galop": ("dance-medley", {"pieces": ("galop", "polka")}),
    "ava seen medley waltz": ("dance-medley", {"pieces": ("waltz left", "waltz right")}),
    "ava seen medley waltzing left": ("dance-medley", {"pieces": ("waltz left",)}),
    "ava seen medley left": ("dance-medley", {"pieces": ("waltz left",)}),
    "ava seen split jump left": ("split-jump", {"way": "left"}),
    "ava seen split jump both": ("split-jump", {}),
    "ava seen waltz turn right": ("waltz-turn", {"way": "right"}),
    "ava seen forward roll straddle": ("forward-roll", {"way": "to-straddle"}),
    "ava seen forward roll to the feet": ("forward-roll", {"way": "to-feet"}),
    "ava seen galop step left": ("galop-step", {"pieces": ("left",)}),
    "ava seen show 2": ("shoulder-stand", {"show": 2}),
    "second show ava seen": ("shoulder-stand", {"show": 2}),
    "ava seen candle up 1st show": ("shoulder-stand", {"show": 1}),
    "ava seen split jump show 2 left": ("split-jump", {"show": 2, "way": "left"}),
}


@pytest.mark.parametrize("text", SAID)
def test_what_was_seen_of_it(text: str) -> None:
    """A side, parts, a way, a show; `left` of a skill that leaves it free is its way."""
    skill, more = SAID[text]
    assert understood(text) == (Mark(AVA, "seen", skill, **more),)      # type: ignore[arg-type]


@pytest.mark.parametrize(("text", "points"), [
    ("ava not yet hips", ("hips",)), ("hips ava not yet", ("hips",)), ("ava not yet hips over shoulders", ("hips",)),
    ("ava not yet shoulders", ("hips",)), ("ava not yet toes and hips", ("hips", "toes")),
    ("ava not yet hips, toes", ("hips", "toes")), ("ava not yet three seconds still", ("hold",)),
    ("ava not yet ceiling", ("toes",)),
])
def test_a_point_is_its_id_its_label_or_a_word_of_it(text: str, points: tuple[str, ...]) -> None:
    """Points come in the order of the standard, however they were typed."""
    assert understood(text) == (Mark(AVA, "not yet", "shoulder-stand", points=points),)


@pytest.mark.parametrize(("text", "why", "word"), [
    ("ava not yet down", "aim", "down"), ("ava not yet rolls down slowly", "aim", None),
    ("not 7 down", "aim", "down"), ("ava not yet hips down", "aim", "down"),
    ("ava seen hips", "word", "hips"), ("all seen hips", "word", "hips"), ("ava not yet chest", "word", "chest"),
    ("ava seen left", "no side", "left"), ("ava seen medley galop left", "no side", "left"),
    ("ava seen cartwheel show 2", "no such show", "show 2"), ("ava seen show 3", "no such show", "show 3"),
    ("ava seen galop polka", "word", "galop"),
])
def test_what_the_skill_does_not_have(text: str, why: str, word: str | None) -> None:
    """A point wished for is never a miss; a side, show, part or point that is not of the skill is said to be so."""
    answer = refused(text)
    assert (answer.why, word or answer.word) == (why, answer.word)


def test_a_line_is_marked_whole() -> None:
    """A side of a whole line is refused with a hint at names, not as an unknown word."""
    line = moment(skill="cartwheel")
    assert (refused("all seen left", line).word, refused("all seen left", line).why) == ("left", "no child")
