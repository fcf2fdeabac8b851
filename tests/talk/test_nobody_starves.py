"""Twelve planned lessons, one after another: nobody is forgotten for being slower to pass."""
from __future__ import annotations

import asyncio
import statistics

from tests.bench.lesson_by_plan import twelve


def test_each_child_has_half_the_turns_of_the_middle_one_at_least() -> None:
    """Twelve children who pass from 40 % to 100 % of what the ablest does, 26 skills, lessons far too short for all.

    Counted by the lessons that each was at. That half is the least that is fair is our own measure, no trade's.
    """
    found = asyncio.run(twelve(0, 20))
    turns = [turns for _, turns in found.values()]
    assert len(turns) == 12
    assert min(turns) >= statistics.median(turns) / 2 > 0.5
