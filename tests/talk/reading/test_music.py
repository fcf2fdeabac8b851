"""What is typed about music: counts of eight, tempi, lengths, a click; and that none of it hides a child or a mark."""
from __future__ import annotations

import pytest

from bot.talk.reading import read
from bot.talk.requests import Mark, Music, NotUnderstood, Picture, Say, Understood
from tests.talk.reading.words_of_a_club import child, moment, vocabulary

NOBODY = moment()


def asked(text: str, context=NOBODY):
    """The one request of a text."""
    found = read(text, context)
    assert isinstance(found, Understood), (text, found)
    (request,) = found.requests
    return request


@pytest.mark.parametrize("text", [
    "8 eights at 120", "8 counts of eight at 120", "8 counts of 8 at 120 bpm", "eight eights, 120 bpm",
    "how long is 8 eights at 120?", "how long are 8 eights at a tempo of 120", "64 counts at 120", "64 beats at 120",
    "at 120, 8 eights", "120 beats a minute 8 eights", "8 EIGHTS at 120 please",
])
def test_counts_at_a_tempo(text):
    """However it is put, eight counts of eight at 120 beats a minute are asked about."""
    assert asked(text) == Music("lasts", bpm=120, beats=64)


@pytest.mark.parametrize(("text", "meant"), [
    ("4 eights at 96 twice", Music("lasts", bpm=96, beats=32, times=2)),
    ("4 eights at 96 3 times through", Music("lasts", bpm=96, beats=32, times=3)),
    ("4 eights at 96 3x with a count-in", Music("lasts", bpm=96, beats=32, times=3, count_in=1)),
    ("90 s at 120", Music("lasts", bpm=120, seconds=90)),
    ("90s at 120", Music("lasts", bpm=120, seconds=90)),
    ("2 minutes at 120", Music("lasts", bpm=120, seconds=120)),
    ("8 eights", Music("lasts", beats=64)),
    ("how long is waltz turn", Music("lasts", skill="waltz-turn")),
    ("how long is the waltz turn at 112", Music("lasts", skill="waltz-turn", bpm=112)),
    ("waltz turn at 112", Music("lasts", skill="waltz-turn", bpm=112)),
    ("click 120", Music("click", bpm=120)),
    ("click 120 8 eights", Music("click", bpm=120, beats=64)),
    ("click 8 eights at 120", Music("click", bpm=120, beats=64)),
    ("clik 120 8 eights", Music("click", bpm=120, beats=64)),
    ("click 120 8 eights twice no count-in", Music("click", bpm=120, beats=64, times=2, count_in=0)),
    ("click 120, 8 eights, count in 2", Music("click", bpm=120, beats=64, count_in=2)),
    ("click 120 8 eights 2 eights count-in", Music("click", bpm=120, beats=64, count_in=2)),
    ("click waltz turn", Music("click", skill="waltz-turn")),
    ("metronome 96", Music("click", bpm=96)),
])
def test_lengths_and_clicks(text, meant):
    """Times through, seconds, a skill's own length, and a click with or without a count-in."""
    assert asked(text) == meant


@pytest.mark.parametrize(("text", "meant"), [
    ("grid", Picture()), ("picture of the class", Picture()), ("progress ava", Picture(child("Ava Price"))),
    ("picture of Finn O'Hara", Picture(child("Finn O'Hara"))),
])
def test_pictures(text, meant):
    """The class, or one child, to be looked at."""
    assert asked(text) == meant


@pytest.mark.parametrize("text", [
    "8 eights ava seen", "ava seen 8 eights", "8 eights at 120 at 100", "at 120", "3 times", "click ava 120",
    "picture of ava and ben", "8 eights; at", "click 8 eights 9 eights",
])
def test_half_of_it_is_music(text):
    """Where a message is not all of it about music, or says a thing twice, nothing of it is taken."""
    assert isinstance(read(text, NOBODY), NotUnderstood)


def test_no_mark_is_lost_to_it():
    """An x behind a number is a child not yet there, how long it takes is the hall's pace, and Grid may be a child."""
    stands = moment(numbers={8: child("Hana Sato")})
    assert isinstance(asked("8 x", stands), Mark)
    assert asked("how long does it take") == Say("pace")
    words = vocabulary(("Grid Holm", "Click Moss", "Min Park"))
    assert isinstance(asked("grid seen", moment(words)), Mark)
    assert isinstance(asked("click not yet", moment(words)), Mark)
    assert isinstance(asked("min seen", moment(words)), Mark)
