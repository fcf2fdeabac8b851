"""Counts of eight and seconds. A tempo is in beats a minute, one count is one beat, eight make a count of eight.

Exact: results are fractions of a second, so that nothing drifts however long a routine is.
"""
from __future__ import annotations

from fractions import Fraction

BEATS = 8


def seconds_of_eights(eights: int, bpm: int, times_through: int = 1) -> Fraction:
    """How many seconds so many counts of eight last at a tempo, times through. Raises ValueError for bpm < 1."""
    if bpm < 1:
        raise ValueError("a tempo is at least one beat a minute")
    return Fraction(eights * BEATS * times_through * 60, bpm)


def eights_in(seconds: int | Fraction, bpm: int) -> Fraction:
    """How many counts of eight go into so many seconds at a tempo."""
    return Fraction(seconds) * bpm / (60 * BEATS)
