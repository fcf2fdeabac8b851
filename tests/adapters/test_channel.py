"""What a channel can carry, and that every message fits."""
from __future__ import annotations

from collections.abc import Callable

import pytest
from hypothesis import given
from hypothesis import strategies as st

from adapters.channel import SHORTEST_LABEL, SHORTEST_TEXT, Carries, apart, fit, shorten, split
from bot.step import Choice, Said
from bot.talk.taps import Help

LABELS = st.lists(st.text(st.characters(exclude_categories=("Cc", "Cs")), min_size=1, max_size=40), max_size=30)
TEXTS = st.text(st.characters(exclude_categories=["Cs"], include_characters="\n "), max_size=600)
CARRIES = st.builds(
    Carries, choices=st.integers(0, 12), label=st.integers(SHORTEST_LABEL, 40),
    text=st.integers(SHORTEST_TEXT, 400), numbered=st.booleans(),
)


def message(text: str, labels: list[str]) -> Said:
    from datetime import UTC, datetime

    choices = tuple(Choice(label, Help(), n) for n, label in enumerate(labels, 1))
    return Said("club", "jo", 1, datetime(2026, 11, 24, tzinfo=UTC), text, choices, None)


@given(TEXTS, LABELS, CARRIES)
def test_every_message_fits(text: str, labels: list[str], carries: Carries) -> None:
    """Whatever is said, no text, label or number of buttons is more than the channel carries."""
    fitted = fit(message(text, labels), carries)
    assert fitted.texts
    assert all(len(one) <= carries.text for one in fitted.texts)
    assert len(fitted.buttons) <= carries.choices
    assert all(len(button.label) <= carries.label for button in fitted.buttons)


@given(LABELS, st.integers(SHORTEST_LABEL, 40))
def test_labels_stay_apart(labels: list[str], longest: int) -> None:
    """No two labels of a message are alike once they fit, and one that fits and is alone stays as it is."""
    fitted = apart(labels, longest)
    assert len(fitted) == len(labels)
    assert len(set(fitted)) == len(fitted)
    assert all(
        now == label for label, now in zip(labels, fitted, strict=True)
        if len(label) <= longest and labels.count(label) == 1
    )


@given(TEXTS, st.integers(SHORTEST_TEXT, 400))
def test_no_word_is_lost(text: str, longest: int) -> None:
    """A long text becomes several, with every sign of it that can be seen."""
    assert "".join("".join(split(text, longest)).split()) == "".join(text.split())


@given(TEXTS, LABELS, CARRIES)
def test_no_choice_is_lost(text: str, labels: list[str], carries: Carries) -> None:
    """A choice is a button with its own id, or it is named in the text."""
    plain = [" ".join(label.split()) for label in labels]
    one = message(text, plain)
    fitted = fit(one, carries)
    told = "".join("".join(fitted.texts).split())
    assert [button.id for button in fitted.buttons] == list(one.choice_ids()[:carries.choices])
    assert all("".join(label.split()) in told for label in plain[carries.choices:])


def test_numbers_stand_before_labels(make_said: Callable[..., Said]) -> None:
    """On a numbered channel a choice shows the number that is typed for it, as a button and in the text alike."""
    one = make_said("First show", ["All seen", "None yet"], first=7)
    assert [button.label for button in fit(one, Carries(numbered=True)).buttons] == ["7 All seen", "8 None yet"]
    assert fit(one, Carries(choices=0, numbered=True)).texts == ("First show\n7 All seen\n8 None yet",)


def test_what_is_no_button_can_be_typed(make_said: Callable[..., Said]) -> None:
    """Where a channel has too few buttons, the rest is named as what can be typed."""
    one = make_said("Rest to 17:06.", ["All seen", "Some not yet", "None yet", "Undo"])
    fitted = fit(one, Carries(choices=3))
    assert [button.label for button in fitted.buttons] == ["All seen", "Some not yet", "None yet"]
    assert fitted.texts == ("Rest to 17:06.\nOr type: Undo",)


@pytest.mark.parametrize(("text", "longest", "short"), [
    ("Hips over shoulders", 20, "Hips over shoulders"),
    ("Hips over the shoulders", 20, "Hips over the…"),
    ("Donaudampfschifffahrt", 12, "Donaudampfs…"),
])
def test_labels_are_cut_between_words(text: str, longest: int, short: str) -> None:
    """A label is cut at the end of a word where one is near enough."""
    assert shorten(text, longest) == short


def test_two_that_begin_alike_keep_their_ends() -> None:
    """Two long labels that begin alike are told apart by their last words."""
    both = ["Shoulder stand on the left", "Shoulder stand on the right"]
    assert apart(both, 20) == ("Shoulder stand on…", "Shoulder… right")


def test_a_text_is_cut_at_line_ends() -> None:
    """A long text is cut where a line ends, else after a sentence."""
    lines = ["Ava has seven of ten skills.", "Ben has eight of ten skills."]
    assert split("\n".join(lines), 40) == lines
    assert split("One sentence stands here. Another one follows it.", 40) == [
        "One sentence stands here.", "Another one follows it.",
    ]


def test_no_channel_is_too_narrow_to_speak() -> None:
    """Limits in which labels could not be kept apart are refused when they are declared."""
    with pytest.raises(ValueError, match="narrow"):
        Carries(label=3)
