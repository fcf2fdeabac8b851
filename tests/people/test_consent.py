"""Days by which something is owed."""
from __future__ import annotations

from datetime import date, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from bot.people.consent import due_by, renewal_due


@pytest.mark.parametrize(("given_on", "due"), [
    ("2026-11-24", "2027-11-24"), ("2026-12-31", "2027-12-31"), ("2027-02-28", "2028-02-28"),
    ("2028-02-29", "2029-02-28"),
])
def test_a_consent_is_asked_for_anew_after_a_year(given_on, due):
    """The same day a year on; of a leap day, the last of February."""
    assert renewal_due(date.fromisoformat(given_on)) == date.fromisoformat(due)


@given(st.dates(date(2020, 1, 1), date(2099, 1, 1)))
def test_a_month_is_28_to_31_days(day):
    """One month is never more than a calendar month, three never more than 92 days, a year 365 or 366."""
    assert 28 <= (due_by(day) - day).days <= 31
    assert 89 <= (due_by(day, extended=True) - day).days <= 92
    assert 365 <= (renewal_due(day) - day).days <= 366
    assert due_by(day).day == day.day or (due_by(day) + timedelta(days=1)).day == 1
