"""How long a yes holds: after a year a family is asked once whether they still want to hear."""
from __future__ import annotations

from datetime import UTC, date, datetime, time

from bot.people.model import Club
from bot.people.quiet import not_in_quiet

EVENING = time(18, 30)


def renewal_due(given: date) -> date:
    """The day a year later; a yes of 29 February is a year old on 1 March."""
    try:
        return given.replace(year=given.year + 1)
    except ValueError:
        return date(given.year + 1, 3, 1)


def asked_again_at(club: Club, since: datetime) -> datetime:
    """When a parent is asked whether they still want news (UTC), never in quiet hours."""
    day = renewal_due(since.astimezone(club.tz).date())
    return not_in_quiet(club, datetime.combine(day, EVENING, club.tz).astimezone(UTC))
