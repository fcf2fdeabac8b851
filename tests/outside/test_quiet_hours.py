"""Quiet hours over midnight and over clock changes, against published values.

Source: data/04_time.json, the cases `quiet_`: the IANA time zone database (tzdata 2026.6), computed alike with zoneinfo
and whenever 0.11. Half-open hours and "equal ends mean none" are that collection's conventions, and ours.
"""
from __future__ import annotations

import json
from datetime import datetime, time
from pathlib import Path

import pytest

from bot.people.model import Club
from bot.people.quiet import not_in_quiet, quiet_until

CASES = [
    case for case in json.loads((Path(__file__).parent / "data" / "04_time.json").read_text(encoding="utf-8"))["cases"]
    if case["id"].startswith("quiet_")
]


def utc(text: str) -> datetime:
    return datetime.fromisoformat(text.replace("Z", "+00:00"))


@pytest.mark.parametrize("case", CASES, ids=lambda case: case["id"])
def test_quiet_hours_end_when_published(case):
    """In three zones, in summer and winter and over a change: quiet or not, and the instant at which it may be sent."""
    given, expected = case["input"], case["expected"]
    quiet = time.fromisoformat(given["quiet_from"]), time.fromisoformat(given["quiet_to"])
    club = Club(id="x", name="X", timezone=given["zone"], quiet=quiet)
    at, send_at = utc(given["instant_utc"]), utc(expected["send_at_utc"])
    assert quiet_until(club, at) == (send_at if expected["quiet"] else None)
    assert not_in_quiet(club, at) == send_at
