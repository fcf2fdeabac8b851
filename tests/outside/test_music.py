"""Counts of eight against published arithmetic.

Source: exact fractions (one beat lasts 60/bpm s; a count of eight is eight beats), data/05_music.json, whose tempi and
phrases are those of its sources named there.
"""
from __future__ import annotations

import json
from fractions import Fraction
from math import ceil, floor
from pathlib import Path

import pytest

from bot.music import eights_in, seconds_of_eights

CASES = json.loads((Path(__file__).parent / "data" / "05_music.json").read_text(encoding="utf-8"))["cases"]
TEMPI = [case for case in CASES if case["id"].startswith("bpm_")]
HOLDS = [case for case in CASES if case["id"].startswith("hold_")]


@pytest.mark.parametrize("case", TEMPI, ids=lambda case: case["id"])
def test_counts_of_eight_last_as_published(case):
    """At each tempo one count of eight, and phrases of 32 and 64 beats, last as the source says (exact fractions)."""
    bpm, expected = case["input"]["bpm"], case["expected"]
    assert float(seconds_of_eights(1, bpm)) == pytest.approx(expected["count_of_8_s"], abs=1e-8)
    assert float(seconds_of_eights(4, bpm)) == pytest.approx(expected["phrase_32_s"], abs=1e-7)
    assert float(seconds_of_eights(4, bpm, times_through=2)) == pytest.approx(expected["phrase_64_s"], abs=1e-7)
    assert float(eights_in(90, bpm)) == pytest.approx(expected["counts_of_8_in_90s"], abs=1e-9)


@pytest.mark.parametrize("case", HOLDS, ids=lambda case: case["id"])
def test_a_hold_in_counts_of_eight(case):
    """A hold of so many seconds fills and needs as many counts of eight as the source says (exact fractions)."""
    for bpm, expected in case["expected"].items():
        eights = eights_in(case["input"]["hold_seconds"], int(bpm))
        assert floor(eights) == expected["full_counts_of_8"]
        assert ceil(eights) == expected["smallest_counts_of_8_covering"]


def test_there_and_back_is_exact():
    """Seconds of counts of eight and back give the same number, whatever the tempo."""
    assert all(eights_in(seconds_of_eights(n, bpm), bpm) == n for n in (1, 3, 16) for bpm in range(40, 220))


def test_no_tempo_is_refused():
    """A tempo of nothing is refused, not divided by."""
    with pytest.raises(ValueError, match="tempo"):
        seconds_of_eights(1, 0)
    assert eights_in(Fraction(4), 120) == 1
