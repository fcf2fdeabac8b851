"""Click tracks against published positions, sample by sample.

Source: data/05_music.json, by exact fractions (round half up of k · 60 · rate / bpm). What a library hears in them is
tried by hand, for it is larger than all else together: `tests/bench/hear_clicks.py`.
"""
from __future__ import annotations

import json
import wave
from io import BytesIO
from itertools import pairwise
from pathlib import Path

import pytest

from adapters.files.click import RATE, samples, track
from bot.attached import Click
from bot.music import BEATS, sample_of_beat

CASES = json.loads((Path(__file__).parent / "data" / "05_music.json").read_text(encoding="utf-8"))["cases"]
CLICKS = [case for case in CASES if case["id"].startswith("click_")]


@pytest.mark.parametrize("case", CLICKS, ids=lambda case: case["id"])
def test_beats_begin_where_published(case):
    """Every beat begins at the sample that the source names, and none drifts from it: each is worked out anew."""
    given = case["input"]
    found = [sample_of_beat(beat, given["bpm"], given["sample_rate"]) for beat in given["beats"]]
    assert found == case["expected"]["samples_rounded"]


def beginnings(made, rate: int) -> list[int]:
    """Where there is sound after a while without any."""
    found, quiet = [], rate
    for at, value in enumerate(made):
        if value and quiet > rate // 100:
            found.append(at)
        quiet = 0 if value else quiet + 1
    return found


@pytest.mark.parametrize("case", [case for case in CLICKS if case["input"]["bpm"] in (128, 130, 132)],
                         ids=lambda case: case["id"])
def test_every_click_of_a_track_begins_at_its_sample(case):
    """In the track itself each click begins at the very sample, and there is silence before it."""
    bpm, rate = case["input"]["bpm"], case["input"]["sample_rate"]
    published = case["expected"]["samples_rounded"]
    made = samples(Click(bpm, 4, 1, 0), rate)
    assert len(made) == published[case["input"]["beats"].index(32)]
    found = beginnings(made, rate)
    assert len(found) == 32
    for beat, at in zip(case["input"]["beats"], published, strict=True):
        assert beat >= 32 or found[beat] == at


def test_a_count_in_and_times_through_make_it_longer():
    """Two of count-in and three of four counts of eight are 112 clicks; the routine begins after the count-in."""
    made = samples(Click(100, 4, 3, 2))
    found = beginnings(made, RATE)
    assert len(found) == (2 + 4 * 3) * BEATS
    assert found[2 * BEATS] == sample_of_beat(2 * BEATS, 100, RATE)
    assert len(made) == sample_of_beat(len(found), 100, RATE)


def test_every_one_is_louder_and_the_count_in_is_lower():
    """The first of each eight is the loudest; a click of the count-in swings half as often as one of the routine."""
    made = samples(Click(120, 1, 1, 1))
    at = [sample_of_beat(beat, 120, RATE) for beat in range(2 * BEATS)]
    loud = [max(map(abs, made[start:start + 200])) for start in at]
    assert loud[0] == loud[BEATS] > max(loud[1:BEATS] + loud[BEATS + 1:]) * 1.5

    def turns(start: int) -> int:
        heard = made[start:start + 400]
        return sum((one < 0) != (other < 0) for one, other in pairwise(heard))

    assert turns(at[BEATS]) == pytest.approx(2 * turns(at[0]), abs=2)


def test_the_file_is_a_plain_wav():
    """16 bits, one channel, uncompressed, as long as its counts; the same recipe gives the same bytes."""
    body = track(Click(120, 8))
    assert body == track(Click(120, 8))
    with wave.open(BytesIO(body)) as read:
        assert (read.getnchannels(), read.getsampwidth(), read.getframerate()) == (1, 2, RATE)
        assert read.getcomptype() == "NONE"
        assert read.getnframes() == 36 * RATE
        assert read.readframes(read.getnframes()) == samples(Click(120, 8)).tobytes()


def test_the_quickest_tempo_has_room_for_each_click():
    """At the quickest tempo no click runs into the next, and at the end none is longer than the file."""
    made = samples(Click(400, 2, 1, 0))
    assert len(beginnings(made, RATE)) == 2 * BEATS
