"""Families' rights that can be counted: days to answer in, and how consent is ended.

Source: data/12_privacy.json: Regulation (EU) 2016/679, articles 7(3), 12(3) and 21; 47 CFR 64.1200(a)(10); what is from
memory says so there. Days computed with python-dateutil 2.9.0 (relativedelta), here once more. Our own words, and no
legal advice.
"""
from __future__ import annotations

import json
from datetime import date, datetime, timedelta
from pathlib import Path

import pytest
from dateutil.relativedelta import relativedelta
from hypothesis import given
from hypothesis import strategies as st

from bot.people.consent import due_by, renewal_due
from bot.step import Invitation
from bot.talk.optout import opts_out
from tests.talk.hall import Hall

CASES = {
    case["id"]: case
    for case in json.loads((Path(__file__).parent / "data" / "12_privacy.json").read_text(encoding="utf-8"))["cases"]
}
DEADLINES = [case for case in CASES.values() if case["kind"] == "deadline"]
TEXTS = CASES["us_text_messages"]["expected"]


# --- days -------------------------------------------------------------------------------------------

@pytest.mark.parametrize("case", DEADLINES, ids=lambda case: case["id"])
def test_a_request_is_answered_within_a_month(case):
    """Article 12(3): one month from receipt; with two further ones, three from receipt, not two after the first."""
    received = date.fromisoformat(case["input"]["received"])
    assert due_by(received).isoformat() == case["expected"]["answer_by"]
    assert due_by(received, extended=True).isoformat() == case["expected"]["answer_by_if_extended"]


@given(st.dates(date(1990, 1, 1), date(2200, 1, 1)))
def test_months_are_those_of_the_library(day):
    """Any day: one month, three and a year on are what dateutil's relativedelta says."""
    assert due_by(day) == day + relativedelta(months=1)
    assert due_by(day, extended=True) == day + relativedelta(months=3)
    assert renewal_due(day) == day + relativedelta(years=1)


# --- withdrawal -------------------------------------------------------------------------------------

@pytest.fixture
def hall():
    """A club, and a parent with a code who has not said anything yet."""
    hall = Hall()
    child = next(iter(hall.snapshot().books["tue"].children))
    until = hall.clock.now() + timedelta(days=14)
    hall.run(hall.store.invite(Invitation("bench", None, child, until, used=False), "PARENT0001"))
    yield hall
    hall.close()


def test_nothing_is_agreed_before_a_yes(hall):
    """Article 7: no silence is a consent, and whoever is asked is told beforehand how to end it."""
    (asked,) = hall.say("petra", "join parent0001")
    assert hall.export()["consents"] == []
    assert "STOP" in asked.text
    assert {choice.label for choice in asked.choices} >= {"Yes", "No"}


@pytest.mark.parametrize("word", TEXTS["words"])
def test_ending_is_as_easy_as_beginning(hall, word):
    """Article 7(3) and 47 CFR 64.1200(a)(10): one word as the yes was, at once, one answer that asks nothing back."""
    hall.say("petra", "join parent0001")
    hall.say("petra", "yes")
    (given,) = hall.export()["consents"]
    assert "ended_at" not in given
    said_at = hall.clock.now()
    assert opts_out(word)
    (answer,) = hall.say("petra", word)
    (ended,) = hall.export()["consents"]
    assert datetime.fromisoformat(ended["ended_at"]) == said_at
    assert "?" not in answer.text
