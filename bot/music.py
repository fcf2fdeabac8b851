"""Counts of eight and seconds. A tempo is in beats a minute, one count is one beat, eight make a count of eight.

Exact: results are fractions of a second, so that nothing drifts however long a routine is.
"""
from __future__ import annotations

from fractions import Fraction

BEATS = 8
SLOWEST, QUICKEST = 20, 400     # no music for a class is slower or quicker; common practice, no source


def seconds_of_beats(beats: int, bpm: int) -> Fraction:
    """How many seconds so many beats last at a tempo. Raises ValueError for bpm < 1."""
    if bpm < 1:
        raise ValueError("a tempo is at least one beat a minute")
    return Fraction(beats * 60, bpm)


def seconds_of_eights(eights: int, bpm: int, times_through: int = 1) -> Fraction:
    """How many seconds so many counts of eight last at a tempo, times through. Raises ValueError for bpm < 1."""
    return seconds_of_beats(eights * BEATS * times_through, bpm)


def eights_in(seconds: int | Fraction, bpm: int) -> Fraction:
    """How many counts of eight go into so many seconds at a tempo."""
    return Fraction(seconds) * bpm / (60 * BEATS)


def sample_of_beat(beat: int, bpm: int, rate: int) -> int:
    """At which sample a beat (from 0) begins, at so many samples a second: the nearest, a half up.

    Each is worked out from the beginning. Adding up a rounded step drifts: 116 samples after 256 beats at 132.
    """
    return (2 * beat * 60 * rate + bpm) // (2 * bpm)
