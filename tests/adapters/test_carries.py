"""Every channel that we know can say what we say; on SMS in plain signs, names as they are."""
from __future__ import annotations

from collections.abc import Callable
from datetime import UTC, datetime
from itertools import pairwise

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from adapters.carries import BY_CHANNEL, EVERYWHERE, carries_of
from adapters.channel import SHORTEST_PAYLOAD, Carries, fit, split_sms
from adapters.sms import count, plain
from bot.step import Choice, Said
from bot.talk.taps import Help

CHANNELS = (*sorted(BY_CHANNEL), "elsewhere")
WORDS = st.lists(st.sampled_from((
    "Ava", "Zoë", "Łucja", "seen", "“quoted”", "it’s", "…", "–", "✓", "17:06.", "€5", "[x]", "😀", "李明", "\n", "Rest",
    "a" * 90, "ё" * 90, "e\u0301",
)), max_size=150).map(" ".join)
LABELS = st.lists(st.text(st.characters(categories=("L", "N", "P")), min_size=1, max_size=40), max_size=30)


def message(text: str, labels: list[str], seq: int = 1) -> Said:
    choices = tuple(Choice(label, Help(), n) for n, label in enumerate(labels, 1))
    return Said("club", "jo", seq, datetime(2026, 11, 24, tzinfo=UTC), text, choices, None)


@settings(max_examples=60, deadline=None)
@given(st.sampled_from(CHANNELS), WORDS, LABELS)
def test_every_message_fits_every_channel(channel: str, text: str, labels: list[str]) -> None:
    """Texts, labels and the number of buttons stay below what the channel carries, SMS in segments too."""
    carries = carries_of(channel)
    fitted = fit(message(text, labels), carries)
    assert all(len(one) <= carries.text for one in fitted.texts)
    assert all(len(button.label) <= carries.label for button in fitted.buttons)
    assert len(fitted.buttons) <= carries.choices
    assert not carries.segments or all(count(one).segments <= carries.segments for one in fitted.texts)


@given(WORDS, st.integers(1, 4))
def test_no_word_is_lost_between_segments(text: str, segments: int) -> None:
    """A text in several SMS is the same text, and a line that could have gone along is not left for the next."""
    pieces = split_sms(text, 612, segments)
    assert "".join("".join(pieces).split()) == "".join(text.split())
    for one, other in pairwise(pieces):
        assert count(f"{one}\n{other}").segments > segments or len(one) + 1 + len(other) > 612


@given(st.integers(1, 99_999_999_999))
def test_the_ids_of_choices_fit_every_channel(seq: int) -> None:
    """However long a talk has run, a choice's id is no longer than the narrowest payload that may be declared."""
    assert all(len(id_.encode()) <= SHORTEST_PAYLOAD for id_ in message("?", ["Yes", "No"], seq).choice_ids())


def test_an_unknown_channel_is_given_what_fits_everywhere() -> None:
    """A name is taken in any case; one that we do not know gets no more than the narrowest with buttons."""
    assert carries_of("WhatsApp ") == BY_CHANNEL["whatsapp"]
    assert carries_of("pigeon") == carries_of("") == EVERYWHERE
    buttons = [carries for carries in BY_CHANNEL.values() if carries.choices]
    for limit in ("choices", "label", "text", "payload"):
        assert getattr(EVERYWHERE, limit) <= min(getattr(carries, limit) for carries in buttons)


def test_where_there_are_no_buttons_a_number_answers() -> None:
    """A channel without buttons is a numbered one, so that no choice is out of reach."""
    assert all(carries.numbered for carries in BY_CHANNEL.values() if not carries.choices)


@pytest.mark.parametrize(("fine", "so"), [
    ("It’s Ava’s “turn” …", "It's Ava's \"turn\" ..."),
    ("17:00 – 18:00 · Lantern → mats", "17:00 - 18:00 - Lantern -> mats"),
    ("✓ Ava  ✔️ Ben  ❌ Gus", "OK Ava  OK Ben  x Gus"),
    ("Rene\u0301e, Nuño, Jörg", "Renée, Nuño, Jörg"),
    ("Zoë Łaska, Françoise, Ŵyn, Søren, Mª José, Þóra, 李明", "Zoë Łaska, Françoise, Ŵyn, Søren, Mª José, Þóra, 李明"),
])
def test_sms_has_plain_signs_and_names_as_they_are(fine: str, so: str) -> None:
    """Quotes, dots, dashes, arrows and ticks are made plain; a letter is never another one, at most put together."""
    assert plain(fine) == so


def test_an_sms_reply_is_one_message(make_said: Callable[..., Said]) -> None:
    """A reply of the main loop on SMS: no buttons, numbers to answer with, one message, cheap signs."""
    said = make_said("Rest to 17:06 … Next: 5 Efa  6 Finn – “ready”", ["All seen", "Some not yet"], first=7)
    fitted = fit(said, carries_of("sms"))
    assert fitted.texts == ('Rest to 17:06 ... Next: 5 Efa  6 Finn - "ready"\n7 All seen\n8 Some not yet',)
    assert fitted.buttons == ()
    assert count(fitted.texts[0]).segments == 1
    assert fit(make_said("a" * 599 + ".", []), carries_of("sms")).texts == ("a" * 599 + ".",)


def test_elsewhere_fine_signs_stay(make_said: Callable[..., Said]) -> None:
    """Only SMS pays for them."""
    assert fit(make_said("It’s on …", []), carries_of("telegram")).texts == ("It’s on …",)


@pytest.mark.parametrize("letter", ["a", "€", "ж", "🤸"])
def test_an_sms_is_cut_at_four_segments(letter: str, make_said: Callable[..., Said]) -> None:
    """However long a text and whatever its letters, each SMS of it takes four segments and no fifth."""
    texts = fit(make_said(letter * 2000, []), carries_of("sms")).texts
    assert max(count(one).segments for one in texts) == 4


@pytest.mark.parametrize("wrong", [{"payload": 16}, {"segments": -1}, {"choices": -1}])
def test_what_no_channel_is_is_refused(wrong: dict[str, int]) -> None:
    """Limits in which a choice could not be told, or none at all, are refused when they are declared."""
    with pytest.raises(ValueError, match="narrow"):
        Carries(**wrong)
