"""Words that end and begin messages, against the rule and the carriers' and providers' lists.

Source: data/06_phone_text.json, kind `keyword`: 47 CFR 64.1200(a)(10) (words that always revoke consent; any other
reasonable words count too), the default lists of United States carriers as messaging providers document them, and the
list of opt-out words that AWS End User Messaging requires in the United States and Canada. The free words below are
those that practitioners' notes on the rule name as revocations.
"""
from __future__ import annotations

import json
from datetime import UTC, datetime
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from bot.scheme.model import Award, Scheme, Skill
from bot.talk.optout import opts_in, opts_out
from bot.talk.reading import Context, Vocabulary, read
from bot.talk.requests import Say, Understood

CASES = [
    case
    for case in json.loads((Path(__file__).parent / "data" / "06_phone_text.json").read_text(encoding="utf-8"))["cases"]
    if case["kind"] == "keyword"
]
WORDS = next(case for case in CASES if case["id"] == "keyword_lists")["expected"]
ENDING = sorted({
    word.lower() for of in ("ctia_and_us_carrier_default", "aws_required", "fcc_64_1200_a_10") for word in WORDS[of]
})
FREE = (
    "Stop texting me", "Remove me from your list", "I don't want these messages", "Do not contact me",
    "Please remove me from your text messages, I've asked three times.", "Do not call me again.",
    "Remove my number from your list.", "cease and desist all communications", "leave me alone", "Please unsubscribe",
)
SCHEME = Scheme(name="X", award=(Award(id="a", name="A", skill=(Skill(id="hop", name="Hop"),)),))


def asked_of_a_coach(text: str) -> object:
    """What a coach's reader takes a text for."""
    words = Vocabulary((("ava", "Ava Child"),), SCHEME)
    return read(text, Context(vocabulary=words, now=datetime(2026, 11, 24, 17, tzinfo=UTC), skill="hop"))


@pytest.mark.parametrize("case", [case for case in CASES if "input" in case], ids=lambda case: case["id"])
def test_a_text_ends_or_begins_as_listed(case):
    """Opt-out, opt-in, help or none of them, as the source has it; `stop please` counts by the rule's free language."""
    text, action = case["input"]["text"], case["expected"]["action"]
    assert opts_out(text) == ("opt_out" in action)
    assert opts_in(text) == (action == "opt_in")


@pytest.mark.parametrize("word", ENDING)
def test_every_listed_word_ends_it(word):
    """Each word of the three lists, as written and in small letters."""
    assert opts_out(word)
    assert opts_out(word.upper())
    assert not opts_in(word)


@pytest.mark.parametrize("word", WORDS["opt_in"][:2])
def test_every_listed_word_begins_it(word):
    """START and UNSTOP; a bare YES, which some providers take, answers questions here."""
    assert opts_in(word)
    assert not opts_out(word)


@pytest.mark.parametrize("word", WORDS["help"])
def test_help_words_ask_for_help(word):
    """HELP and INFO get help, and end nothing."""
    assert asked_of_a_coach(word) == Understood((Say("help"),))
    assert not opts_out(word)


@pytest.mark.parametrize("word", WORDS["ctia_and_us_carrier_default"])
def test_no_command_of_a_coach_is_a_carriers_word(word):
    """What a carrier takes for an opt-out before we see it means nothing else to us."""
    assert asked_of_a_coach(word) == Understood((Say("stop"),))


@pytest.mark.parametrize("text", FREE)
def test_free_words_count(text):
    """47 CFR 64.1200(a)(10): any reasonable words revoke consent."""
    assert opts_out(text)


SIGNS = st.text(st.sampled_from(" \t\n.!?,;:'\"()[]*_~-…—“”’¡¿\u200b\ufe0f\U0001f64f❤👎"), max_size=6)


@settings(max_examples=400, deadline=None, derandomize=True)
@given(st.sampled_from(ENDING), st.data())
def test_no_case_space_or_sign_hides_a_word(word, data):
    """Any case of each letter, an accent on any, spaces and signs around it, and politeness: it still ends it."""
    letters = "".join(
        data.draw(st.sampled_from((letter, letter.upper(), letter + "\u0301", letter.upper() + "\u0308")))
        if letter.isalpha() else data.draw(st.sampled_from((letter, letter * 2)))
        for letter in word
    )
    polite = data.draw(st.sampled_from(("", "please ", "Hi, ", "ok ")))
    after = data.draw(st.sampled_from(("", " please", " thanks", " now!", " it")))
    text = data.draw(SIGNS) + polite + letters + after + data.draw(SIGNS)
    assert opts_out(text)
