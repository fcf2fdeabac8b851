"""Quiet hours on ordinary nights, and on the nights on which the clock is changed."""
from __future__ import annotations

from datetime import UTC, datetime, time, timedelta

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from bot.people.model import Club
from bot.people.quiet import not_in_quiet, quiet_until

ZONES = ("Europe/London", "America/New_York", "Australia/Lord_Howe", "Asia/Kolkata", "Pacific/Apia", "America/Havana")


def a_club(begins: str, ends: str, zone: str = "Europe/London") -> Club:
    return Club(id="x", name="X", timezone=zone, quiet=(time.fromisoformat(begins), time.fromisoformat(ends)))


def utc(text: str) -> datetime:
    return datetime.fromisoformat(text).replace(tzinfo=UTC)


@pytest.mark.parametrize(("begins", "ends", "at", "until"), [
    ("20:00", "08:00", "2026-12-01 19:59:59", None),
    ("20:00", "08:00", "2026-12-01 20:00", "2026-12-02 08:00"),
    ("20:00", "08:00", "2026-12-02 07:59:59", "2026-12-02 08:00"),
    ("20:00", "08:00", "2026-12-02 08:00", None),
    ("00:00", "07:00", "2026-12-02 00:00", "2026-12-02 07:00"),
    ("20:00", "00:00", "2026-12-01 23:59", "2026-12-02 00:00"),
    ("20:00", "00:00", "2026-12-02 00:00", None),
    ("13:00", "15:00", "2026-12-01 14:00", "2026-12-01 15:00"),
    ("13:00", "15:00", "2026-12-01 20:00", None),
    ("08:00", "08:00", "2026-12-01 03:00", None),
    ("00:00", "00:00", "2026-12-01 00:00", None),
])
def test_quiet_from_its_first_minute_until_its_last(begins, ends, at, until):
    """Over midnight, up to it, from it on, or within a day; the same time twice is never quiet."""
    club = a_club(begins, ends)
    assert quiet_until(club, utc(at)) == (utc(until) if until else None)
    assert not_in_quiet(club, utc(at)) == utc(until or at)


@pytest.mark.parametrize(("begins", "ends", "at", "until"), [
    ("20:00", "01:30", "2026-03-29 00:45", "2026-03-29 01:00"),     # the end is skipped: the jump from 01:00 to 02:00
    ("20:00", "01:30", "2026-03-29 01:00", None),
    ("01:30", "08:00", "2026-03-29 00:59", None),                   # the beginning is skipped: the jump again
    ("01:30", "08:00", "2026-03-29 01:00", "2026-03-29 07:00"),
    ("20:00", "01:30", "2026-10-25 00:00", "2026-10-25 01:30"),     # the end is shown twice: the second time
    ("20:00", "01:30", "2026-10-25 01:10", "2026-10-25 01:30"),
    ("01:30", "08:00", "2026-10-25 00:29", None),                   # the beginning is shown twice: the first time
    ("01:30", "08:00", "2026-10-25 00:30", "2026-10-25 08:00"),
    ("01:30", "08:00", "2026-10-25 01:10", "2026-10-25 08:00"),     # 01:10 once more: it does not break off
    ("01:15", "01:45", "2026-03-29 01:00", None),                   # all of it is skipped
])
def test_nights_on_which_the_clock_is_changed(begins, ends, at, until):
    """A skipped beginning or end is the jump; one that is shown twice counts so that it stays quiet."""
    assert quiet_until(a_club(begins, ends), utc(at)) == (utc(until) if until else None)


def test_a_night_that_leads_into_the_next():
    """Where a whole day was skipped (Apia, 30 December 2011), the end of its quiet night is the next morning's."""
    club = a_club("20:00", "08:00", "Pacific/Apia")
    assert quiet_until(club, utc("2011-12-30 09:00")) == utc("2011-12-30 18:00")


TIMES = st.builds(time, st.integers(0, 23), st.sampled_from((0, 15, 30, 59)))
CHANGES = ("2011-12-30 10:00", "2026-03-08 07:00", "2026-03-29 01:00", "2026-10-25 01:00", "2026-11-01 06:00",
           "2026-04-04 15:00", "2026-10-03 15:30", "2026-03-08 05:00", "2026-11-01 05:00", "2026-06-15 12:00")


@settings(max_examples=300, deadline=None, derandomize=True)
@given(st.sampled_from(ZONES), st.tuples(TIMES, TIMES), st.sampled_from(CHANGES), st.integers(-30 * 60, 30 * 60))
def test_nothing_comes_while_the_clock_shows_a_quiet_time(zone, quiet, change, minutes):
    """Around any change: quiet whenever the clock says so, free at the end, and quiet for every minute up to it."""
    club = Club(id="x", name="X", timezone=zone, quiet=quiet)
    at = utc(change) + timedelta(minutes=minutes)
    begins, ends = quiet

    def shown(instant: datetime) -> bool:
        wall = instant.astimezone(club.tz).time()
        return begins <= wall < ends if begins <= ends else wall >= begins or wall < ends

    until = quiet_until(club, at)
    assert until is not None or not shown(at)
    if until is not None:
        assert until.tzinfo is UTC
        assert until > at
        assert quiet_until(club, until) is None
        assert quiet_until(club, until - timedelta(seconds=1)) == until
        doubled = any(
            moment.astimezone(club.tz).utcoffset() > (moment + timedelta(days=1)).astimezone(club.tz).utcoffset()
            for moment in (at - timedelta(days=1), at, until)
        )
        left = int((until - at).total_seconds() // 60)
        assert doubled or all(shown(at + timedelta(minutes=n)) for n in range(left))
