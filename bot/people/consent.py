"""By which day something is owed to a family: an answer to what they asked for, and the yearly question.

What lives here: calendar days only, in the club's own days. Months are counted from the first day each time, never one
after another: from 31 January three months lead to 30 April. A day that the month does not have is its last one.
Weekends and holidays move nothing, for earlier is never wrong.
"""
from __future__ import annotations

from datetime import date, timedelta

ANSWER_MONTHS = 1           # GDPR 12(3)
EXTENDED_MONTHS = 3         # the same: two further months, where the family is told within the first, and why
RENEWAL_MONTHS = 12


def due_by(received: date, *, extended: bool = False) -> date:
    """The last day to answer a request of that day to see, correct or forget what is kept."""
    return _months_after(received, EXTENDED_MONTHS if extended else ANSWER_MONTHS)


def renewal_due(given: date) -> date:
    """The day on which a consent is a year old and is asked for anew; one of 29 February on 28 February."""
    return _months_after(given, RENEWAL_MONTHS)


def months_before(day: date, months: int) -> date:
    """The day so many months earlier, or the last one of a month that is too short."""
    return _months_after(day, -months)


def _months_after(day: date, months: int) -> date:
    year, month = divmod(day.year * 12 + day.month - 1 + months, 12)
    first = date(year, month + 1, 1)
    last = (first + timedelta(days=31)).replace(day=1) - timedelta(days=1)
    return min(first + timedelta(days=day.day - 1), last)
