"""Slips: forgiven in our words and skills where only one thing can be meant, asked about near a name."""
from __future__ import annotations

import pytest

from bot.talk.reading.slips import of_the_thumb
from bot.talk.requests import Mark, Note, Owed, Say, Standard, Typed
from tests.talk.reading.words_of_a_club import AWKWARD_WORDS, asked, ids, moment, refused, understood


def seen(names: str, skill: str = "shoulder-stand") -> Mark:
    return Mark(ids(names), "seen", skill)


FORGIVEN: dict[str, tuple[Typed, ...]] = {
    "mia bakc": (Note("back", ids("Mia Costa")),),
    "ava seeen": (seen("Ava Price"),),
    "ava seem": (seen("Ava Price"),),               # the key beside
    "ava seen cartwheal": (seen("Ava Price", "cartwheel"),),
    "ava seen cartwheeel": (seen("Ava Price", "cartwheel"),),
    "ava seen shouder stand": (seen("Ava Price"),),
    "gus not yet hpis": (Mark(ids("Gus Petrov"), "not yet", "shoulder-stand", points=("hips",)),),
    "udno": (Say("undo"),), "nxet": (Say("next"),), "clsoe": (Say("close"),), "onwed": (Owed(),),
    "standard cartwheal": (Standard("cartwheel"),),
}


@pytest.mark.parametrize("text", FORGIVEN)
def test_a_slip_in_our_words_is_forgiven(text: str) -> None:
    """Verdicts, commands, skills and points bear a slip of the thumb."""
    assert understood(text) == FORGIVEN[text]


@pytest.mark.parametrize(("text", "word", "labels"), [
    ("aav seen", "aav", ["Ava"]), ("avva seen", "avva", ["Ava"]), ("gsu not yet hips", "gsu", ["Gus"]),
    ("eva seen", "eva", ["Efa", "Ava"]), ("ava prcie seen", "prcie", ["Ava"]), ("all but gsu seen", "gsu", ["Gus"]),
    ("not hnaa", "hnaa", ["Hana"]), ("mia, loe away", "loe", ["Mia, Leo"]), ("owed chdi", "chdi", ["Chidi"]),
])
def test_a_slip_in_a_name_is_asked(text: str, word: str, labels: list[str]) -> None:
    """Never guessed: the mark for the wrong child is the worst error."""
    answer = asked(text)
    assert (answer.why, answer.word, [label for label, _ in answer.options]) == ("slip", word, labels)


@pytest.mark.parametrize("text", ["ava sen", "ava been", "ava sean", "ava paused", "ava hissed"])
def test_a_word_that_is_no_slip_of_the_thumb_is_asked(text: str) -> None:
    """A word of its own near a verdict, or a word near a name too, marks nobody unasked."""
    assert asked(text).why == "slip"


def test_a_stranger_among_names_is_not_a_slip() -> None:
    """`beck, ava, ben seen`: Beck may be a child whom we don't know, so it does not become Ava back."""
    assert asked("beck, ava, ben seen").why == "slip"
    assert refused("juno, ava, ben seen").word == "juno"


def test_what_is_exactly_right_is_never_a_slip() -> None:
    """A child one letter from another, or from a word of ours, is the one that was typed."""
    words = moment(AWKWARD_WORDS)
    assert understood("may seen", words) == (seen("May Flint"),)
    assert understood("mark seen", words) == (seen("Mark Ellery"),)
    assert understood("efa seen") == (seen("Efa Morgan"),)


def test_a_word_two_slips_away_is_unknown() -> None:
    """Too far is not asked about either."""
    assert refused("xqva seen").word == "xqva"
    assert refused("gus not yet hqpz").word == "hqpz"


def test_slips_of_the_thumb() -> None:
    """Swapped, doubled and lost letters and the key beside are a thumb's; another first letter is not."""
    assert all(of_the_thumb(typed, "seen") for typed in ("esen", "seeen", "sen", "seem", "swen"))
    assert not any(of_the_thumb(typed, "seen") for typed in ("been", "keen", "sean", "seed", "een"))
    assert of_the_thumb("cartwheal", "cartwheel")
