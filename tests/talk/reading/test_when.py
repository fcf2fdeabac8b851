"""Judged earlier, entered now: which instant is meant, in the club's zone."""
from __future__ import annotations

from datetime import UTC, datetime
from zoneinfo import ZoneInfo

import pytest

from bot.talk.requests import Mark
from tests.talk.reading.words_of_a_club import LONDON, moment, refused, understood


def at(text: str, now: str = "2026-11-24 17:30", zone: ZoneInfo = LONDON) -> str:
    """When the first mark of a text was judged, by the club's clock; `-` for now."""
    (first, *_) = understood(text, moment(now=datetime.fromisoformat(now).replace(tzinfo=zone)))
    assert isinstance(first, Mark)
    return f"{first.at:%Y-%m-%d %H:%M}" if first.at else "-"


MEANT = {
    "at 17:10: ava seen": "2026-11-24 17:10", "at 17.10 ava seen": "2026-11-24 17:10",
    "at 5.10 ava seen": "2026-11-24 17:10", "at 05:10 ava seen": "2026-11-24 05:10",
    "at 5:10pm ava seen": "2026-11-24 17:10", "at 5.10 am ava seen": "2026-11-24 05:10",
    "at 17h10 ava seen": "2026-11-24 17:10", "17:10: ava seen": "2026-11-24 17:10",
    "ava seen at 17:10": "2026-11-24 17:10", "ava seen at 17:10 cartwheel": "2026-11-24 17:10",
    "ava at 17:10 seen": "2026-11-24 17:10", "ava, ben seen, at 17:10": "2026-11-24 17:10",
    "on tuesday at 17:10: ava seen": "2026-11-24 17:10", "on tuesday at 17:50: ava seen": "2026-11-17 17:50",
    "on monday at 17:10: ava seen": "2026-11-23 17:10", "on mon at 5.10: ava seen": "2026-11-23 17:10",
    "on saturday at 10.15: ava seen": "2026-11-21 10:15", "at 17:10 on monday: ava seen": "2026-11-23 17:10",
    "on thursday 16:40: ava seen": "2026-11-19 16:40", "yesterday at 17:10: ava seen": "2026-11-23 17:10",
    "on 20 nov at 17:10: ava seen": "2026-11-20 17:10", "on 20th november at 17:10: ava seen": "2026-11-20 17:10",
    "on 2026-11-20 at 17:10: ava seen": "2026-11-20 17:10", "on last tuesday at 17:40: ava seen": "2026-11-17 17:40",
}


@pytest.mark.parametrize("text", MEANT)
def test_the_instant_that_is_meant(text: str) -> None:
    """The latest such time that is not to come; an hour said without am or pm is one of the day."""
    assert at(text) == MEANT[text]


@pytest.mark.parametrize(("text", "why", "word"), [
    ("at 17:50: ava seen", "future", "at 17:50:"),
    ("on 2026-11-25 at 9:00: ava seen", "future", None),
    ("on 9 nov at 17:10: ava seen", "too old", None),
    ("on 2026-02-30 at 17:10: ava seen", "time", None),
    ("at 24:10: ava seen", "time", None),
    ("on tuesday: ava seen", "time", "on tuesday"),
    ("at 17:10", "time", "at 17:10"),
    ("at 17:10: mia away", "time", None),
    ("at 17:10 start", "time", None),
])
def test_a_time_that_can_not_be_meant(text: str, why: str, word: str | None) -> None:
    """A time to come, one too long ago, none of the calendar, or one that is of no mark: said, and nothing taken."""
    answer = refused(text)
    assert answer.why == why
    assert word in (None, answer.word)


def test_fourteen_days_and_no_more() -> None:
    """The last minute of the fourteen days counts, the one before it does not."""
    assert at("on 2026-11-10 at 17:30: ava seen") == "2026-11-10 17:30"
    assert refused("on 2026-11-10 at 17:29: ava seen").why == "too old"


def test_a_time_holds_for_what_follows_and_within_a_mark_for_that_one() -> None:
    """First it is said of all marks of the message until another comes, else of the mark that it stands in."""
    def times(text: str) -> list[str]:
        marks = [one for one in understood(text) if isinstance(one, Mark)]
        return [f"{one.at:%H:%M}" if one.at else "-" for one in marks]

    assert times("at 17:10: ava seen; ben seen") == ["17:10", "17:10"]
    assert times("at 17:10: ava seen\nat 17:12: ben seen") == ["17:10", "17:12"]
    assert times("ava seen at 17:10; ben seen") == ["17:10", "-"]
    assert times("ava seen at 17:10, ben not yet") == ["17:10", "-"]
    assert times("ava seen, at 17:10 ben not yet") == ["-", "17:10"]


def test_a_time_between_two_marks_is_refused() -> None:
    """`ava seen at 17:10 ben not yet` leaves open whose time it is, so nothing of it is taken."""
    refused("ava seen at 17:10 ben not yet")


def test_the_hour_that_the_clocks_skip_is_no_time() -> None:
    """On the night in March when 01:00 becomes 02:00 in London, 01:30 never was."""
    spring = moment(now=datetime(2027, 3, 28, 12, tzinfo=LONDON))
    assert refused("at 01:30: ava seen", spring).why == "time"
    assert refused("on sunday at 01:30: ava seen", spring).why == "time"


def test_the_hour_that_comes_twice_is_the_first() -> None:
    """On the night in October when 02:00 becomes 01:00, 01:30 is taken for the first of the two."""
    autumn = moment(now=datetime(2026, 10, 25, 12, tzinfo=LONDON))
    (mark,) = understood("at 01:30: ava seen", autumn)
    assert isinstance(mark, Mark)
    assert mark.at is not None
    assert mark.at.astimezone(UTC) == datetime(2026, 10, 25, 0, 30, tzinfo=UTC)


def test_the_zone_is_the_clubs() -> None:
    """The same words mean another instant in another club's zone; 30 minutes off and on the date line too."""
    for zone in ("Asia/Kolkata", "Pacific/Kiritimati", "America/St_Johns"):
        assert at("on monday at 17:10: ava seen", zone=ZoneInfo(zone)) == "2026-11-23 17:10"


def test_no_date_raises() -> None:
    """The calendar's own ends and the leap day are dates that can't be meant, not errors."""
    for day in ("0001-01-01", "9999-12-31", "29 feb"):
        assert refused(f"on {day} at 10:00: ava seen").why in ("too old", "future", "time")
