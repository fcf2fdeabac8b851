"""The class sheet of the demo hall on paper, and typed in again; read back by PDFium. 14 pt at arm's length.

Common practice, no source.
"""
from __future__ import annotations

import re
from datetime import UTC, date, datetime
from typing import Any

import pytest

from adapters.halls import DEMO_HALL, read_folder
from adapters.paper.pages import lesson_pages
from bot.lesson.book import Changes
from bot.lesson.lesson import Lesson
from bot.lesson.paper import class_sheet, day_of_sheet, example
from storage import open_store
from tests.talk.hall import START

DAY = date(2026, 11, 24)


@pytest.fixture
async def club() -> Any:
    """The demo hall at one instant."""
    store = open_store("memory:")
    await store.load(read_folder(DEMO_HALL), START)
    return await store.snapshot("harbour-lane-hall")


def sheet(club: Any) -> Any:
    one = club.club.by_class["tuesday"]
    return class_sheet(club.books["tuesday"], club.club, one, club.schemes, DAY)


async def test_each_child_stands_once_at_each_skill_she_owes(club):
    """Planned or not, all that is owed is there once, in lines that are as long as the skill says, at most."""
    blocks = sheet(club)
    stands = [(block.skill, row.child) for block in blocks for line in block.lines for row in line]
    assert len(stands) == len(set(stands))
    scheme, book = club.schemes[max(club.schemes)], club.books["tuesday"]
    lantern = scheme.award_by_id("lantern")
    for child in book.children.values():
        if child.award == "lantern":
            ticked = {skill for skill, one in book.standings.get(child.id, {}).items() if one.ticked}
            owed = {skill.id for skill in lantern.skills} - ticked
            assert {skill for skill, whose in stands if whose == child.id} == owed
    assert all(len(line) <= scheme.skills[block.skill].line for block in blocks for line in block.lines)


@pytest.mark.parametrize(("hour", "closed", "day"), [
    (9, False, DAY), (17, False, DAY), (18, False, date(2026, 12, 1)), (17, True, date(2026, 12, 1)),
])
async def test_a_sheet_is_for_the_lesson_that_is_not_over(club, hour, closed, day):
    """Today's up to its end at 18:00, London time; once it is closed or over, next week's."""
    one, book, at = club.club.by_class["tuesday"], club.books["tuesday"], datetime(2026, 11, 24, hour, tzinfo=UTC)
    if closed:
        held = Lesson("tuesday/2026-11-24", "tuesday", DAY, "jo", at, is_open=False)
        book = book.with_changes(Changes(lessons={held.id: held}))
    assert day_of_sheet(book, club.club, one, at) == day


async def test_a_box_for_each_piece_of_each_show(club):
    """Two shows have two columns, a skill on both sides two boxes in each."""
    scheme = club.schemes[max(club.schemes)]
    for block in sheet(club):
        skill = scheme.skills[block.skill]
        for row in (row for line in block.lines for row in line):
            assert row.owes == (skill.pieces,) * len(skill.shows)


async def test_the_page_is_read_at_arms_length(club):
    """No letter on the sheet is smaller than 14 pt, on both papers, and every name of the class is there."""
    import pypdfium2

    document = pypdfium2.PdfDocument(lesson_pages(club, club.club.by_class["tuesday"], DAY, everything=True))
    text = ""
    for page in document:
        textpage = page.get_textpage()
        text += textpage.get_text_range()
        for n in range(0, textpage.count_chars(), 7):
            size = pypdfium2.raw.FPDFText_GetFontSize(textpage, n)
            assert size >= 13.9 or textpage.get_text_range(n, 1).isspace()
    assert all(name in text for name in club.books["tuesday"].called.values())
    assert re.search(r"on tuesday at 17:10: .* seen", text)


async def test_what_the_sheet_says_is_typed_can_be_typed(club):
    """The message that the sheet shows is understood as it stands there, the day after."""
    from datetime import timedelta

    from adapters.clock import SimulatedClock
    from adapters.service import Service

    store = open_store("memory:")
    await store.load(read_folder(DEMO_HALL), START)
    await store.meet("x", "jo", "harbour-lane-hall", "jo")
    scheme = club.schemes[max(club.schemes)]
    rows = example(scheme, club.books["tuesday"], club.club.by_class["tuesday"], sheet(club)[0])
    service = Service(store, SimulatedClock(START + timedelta(days=1)))
    (said,) = await service.hear("x", "jo", text="\n".join(rows))
    assert "Start it, and enter what you saw?" in said.text


async def test_the_sheet_says_what_to_take_care_with(club):
    """Paper has no card to tap: what loads a neck, a back, a wrist or a landing is said at its head."""
    import pypdfium2

    document = pypdfium2.PdfDocument(lesson_pages(club, club.club.by_class["tuesday"], DAY))
    text = " ".join(document[0].get_textpage().get_text_range().split())
    assert "Take care with: shoulder stand (neck, back), cartwheel (wrists, landing)" in text
    assert "Your club's own rules come first." in text
