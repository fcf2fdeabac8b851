"""Who was shown what: kept with the answer or not at all, once a day, for as long as the club says."""
from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta

import pytest

from bot.port import FORGOTTEN, Sight
from bot.step import Refused, Shown
from tests.contract.club import CLUB, NOW, hall, heard, mark, marking, refusing, saying

DAY = date(2026, 11, 24)
AVA, TUESDAY = Shown("record", "ava"), Shown("class", class_id="tue")


async def sights(store) -> list[tuple[str, date, Shown]]:
    """Who, on which day, what."""
    return [(one.person, one.day, one.shown) for one in (await store.trail("bench")).sights]


async def test_what_a_step_shows_is_kept_with_its_answer(store):
    """The row is there when the answer is, over a restart too, and comes once for a message that comes twice."""
    for _ in range(2):
        await store.step(heard("m"), saying("Ava owes hop.", shown=(AVA, TUESDAY)))
    await store.restart()
    assert (await store.trail("bench")).sights == (
        Sight("jo", DAY, NOW, TUESDAY), Sight("jo", DAY, NOW, AVA),
    )


async def test_a_step_that_fails_shows_nothing(store):
    """Nobody saw what was never answered."""
    with pytest.raises(ArithmeticError):
        await store.step(heard("m"), refusing)
    assert await sights(store) == []


async def test_of_one_day_one_row_is_kept(store):
    """However often somebody looks on a day of the club, there is one row, at the last time, for each person."""
    for n, (person, hours) in enumerate((("jo", 0), ("jo", 2), ("sam", 3), ("jo", 8))):     # the last: after midnight
        at = NOW + timedelta(hours=hours)
        await store.step(heard(f"m{n}", sender=person, at=at), saying("Ava owes hop.", shown=(AVA,)))
    assert [(one.person, one.day.day, (one.at - NOW) / timedelta(hours=1)) for one in
            (await store.trail("bench")).sights] == [("jo", 24, 2), ("sam", 24, 3), ("jo", 25, 8)]


async def test_what_was_shown_elsewhere_is_kept_too(store):
    """What a page or an export shows is kept before it is shown; of a club that is not there it is refused."""
    await store.saw("bench", "@office", (Shown("export"),), NOW)
    await store.restart()
    assert await sights(store) == [("@office", DAY, Shown("export"))]
    with pytest.raises(Refused, match="no club"):
        await store.saw("nowhere", "jo", (AVA,), NOW)


async def test_it_is_let_go_after_so_many_months(store):
    """A club that keeps it for two months has nothing older; another one of the same store is left alone."""
    await store.load(hall(club="audit_months = 2\n" + CLUB), NOW)
    await store.load(hall("Other"), NOW)
    for club in ("bench", "other"):
        for days in (0, 30, 62):
            await store.saw(club, "jo", (AVA,), NOW + timedelta(days=days))
    await store.prune("bench", NOW + timedelta(days=93))
    await store.restart()
    assert [one.day for one in (await store.trail("bench")).sights] == [DAY + timedelta(days=62)]
    assert len((await store.trail("other")).sights) == 3


async def test_who_is_forgotten_is_named_no_more(store):
    """The row stays, for somebody saw something, and says no more of whom; other rows stay whole."""
    shown = (AVA, Shown("agreed", "ava"), Shown("record", "ben"), TUESDAY)
    await store.step(heard("m"), saying("Ava owes hop.", shown=shown))
    await store.step(heard("n"), saying("Ava owes hop.", shown=(Shown("record", "zu"),)))
    for child in ("ava", "zu"):
        await store.forget("bench", child)
    await store.restart()
    assert {one for _, _, one in await sights(store)} == {
        replace(AVA, child=FORGOTTEN), Shown("agreed", FORGOTTEN), Shown("record", "ben"), TUESDAY,
    }


async def test_changes_say_who_and_when(store):
    """Each fact comes with who sent its message and when that was heard; what a hall's files brought came of itself."""
    await store.step(heard("m", sender="sam", at=NOW + timedelta(minutes=7)), marking())
    await store.restart()
    brought, marked = (await store.trail("bench")).changes
    assert (brought.recorded.fact.kind, brought.by, brought.at) == ("brought", "", NOW)
    assert (marked.recorded.fact, marked.by) == (mark("sms:m", by="sam"), "sam")
    assert marked.at == NOW + timedelta(minutes=7)
