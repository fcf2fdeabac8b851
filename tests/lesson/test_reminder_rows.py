"""Each kind of reminder: to whom, when, and when it is dropped. Days and hours: common practice, no source."""
from __future__ import annotations

from dataclasses import replace
from datetime import UTC, date, datetime, time, timedelta

import pytest

from bot.facts import (
    ChildNoted,
    LessonClosed,
    LessonOpened,
    LessonPaused,
    LookAsked,
    LookDeclined,
    Mark,
    NewsReleased,
)
from bot.lesson.book import Child, ClassBook, Contact
from bot.lesson.lesson import advance
from bot.marks.standing import Last, Standing
from bot.people.model import Closed, Club, ClubClass, Cover
from bot.reminders import derive, queued

LESSON = "tue/2026-11-24"


def at(day: int, clock: str, month: int = 11, year: int = 2026) -> datetime:
    """An instant of the club's winter clock, which is UTC."""
    hours, minutes = clock.split(":")
    return datetime(year, month, day, int(hours), int(minutes), tzinfo=UTC)


CLUB = Club(id="c", name="C", classes=(
    ClubClass(id="tue", name="T", day="tuesday", start=at(1, "17:00").time(), minutes=60,
              coach=("jo",), assistant=("sam",), helper=("kit",)),
))
BOOK = ClassBook("tue", {"ava": Child("ava", "Ava Price", "tue", "one"), "ben": Child("ben", "Ben Eze", "tue", "one")})


def opened(book: ClassBook = BOOK) -> ClassBook:
    lesson = advance(None, LessonOpened(LESSON, "jo", at(24, "17:00")))
    assert lesson is not None
    return replace(book, lessons={LESSON: lesson})


def with_lesson(book: ClassBook, *facts: object) -> ClassBook:
    lesson = book.lessons[LESSON]
    for fact in facts:
        after = advance(lesson, fact)       # type: ignore[arg-type]
        assert after is not None
        lesson = after
    return replace(book, lessons={LESSON: lesson})


def resting(child: str, ends: datetime) -> dict[str, dict[str, Standing]]:
    last = Last("m", "jo", LESSON, ends - timedelta(seconds=60), "seen", 1, ("",))
    return {child: {"stand": Standing(show=2, began=last.at, rules=1, rested_at=ends, lesson=LESSON, last=last)}}


def rows(book: ClassBook, now: datetime, club: Club = CLUB) -> set[tuple[str, str, str]]:
    """(kind, person, day and hour) of all that is due."""
    return {(one.kind, one.person, f"{one.due_at:%d %H:%M}") for one in derive(book, club, now, {}).values()}


def of(kind: str, book: ClassBook, now: datetime, club: Club = CLUB) -> set[tuple[str, str]]:
    return {(person, when) for what, person, when in rows(book, now, club) if what == kind}


def test_a_rest_is_for_the_assistant_and_the_runner_until_it_is_marked_or_closed():
    """A rest is for the assistant and the runner until it is marked or closed."""
    book = replace(opened(), standings=resting("ava", at(24, "17:10")))
    assert of("rest", book, at(24, "17:09")) == {("sam", "24 17:10"), ("jo", "24 17:10")}
    marked = replace(book, standings={"ava": {"stand": replace(book.standing("ava", "stand"), rested_at=None)}})
    assert of("rest", marked, at(24, "17:09")) == set()
    assert of("rest", with_lesson(book, LessonClosed(LESSON, "jo", at(24, "17:09"))), at(24, "17:09")) == set()


def test_a_pause_and_a_child_who_sits_out_or_left_drop_a_rest():
    """A pause and a child who sits out or left drop a rest."""
    book = replace(opened(), standings=resting("ava", at(24, "17:10")))
    assert of("rest", with_lesson(book, LessonPaused(LESSON, True, at(24, "17:09"))), at(24, "17:09")) == set()
    for what in ("sits", "away", "bump"):
        noted = ChildNoted(LESSON, "ava", what, at(24, "17:09"))        # type: ignore[arg-type]
        assert of("rest", with_lesson(book, noted), at(24, "17:09")) == set()


@pytest.mark.parametrize(("apart", "together"), [(15, True), (16, False)])
def test_rests_that_end_within_fifteen_seconds_share_the_last_ones_time(apart, together):
    """Rests that end within fifteen seconds share the last ones time."""
    first = at(24, "17:10")
    both = {**resting("ava", first), **resting("ben", first + timedelta(seconds=apart))}
    found = derive(replace(opened(), standings=both), CLUB, at(24, "17:09"), {}).values()
    assert (len({one.due_at for one in found if one.kind == "rest"}) == 1) is together


def test_before_the_class_for_coach_and_assistant_until_it_starts():
    """Before the class for coach and assistant until it starts."""
    assert of("before", BOOK, at(24, "16:00")) >= {("jo", "24 16:30"), ("sam", "24 16:30")}
    assert not {when for _, when in of("before", BOOK, at(24, "17:00"))} & {"24 16:30"}
    assert not {when for _, when in of("before", opened(), at(24, "16:40"))} & {"24 16:30"}
    assert not any(person == "kit" for _, person, _ in rows(BOOK, at(24, "16:00")))     # a helper is told nothing


def test_the_eve_is_at_six_the_day_before():
    """The eve is at six the day before."""
    assert ("sam", "23 18:00") in of("eve", BOOK, at(23, "12:00"))
    assert not {when for _, when in of("eve", opened(), at(24, "17:01"))} & {"23 18:00"}


def test_awards_weekly_before_the_class_to_the_coach_until_a_day_later():
    """Awards weekly before the class to the coach until a day later."""
    assert ("jo", "24 16:30") in of("awards", BOOK, at(24, "16:00"))
    assert ("jo", "24 16:30") in of("awards", opened(), at(25, "16:59"))
    assert not {when for _, when in of("awards", BOOK, at(25, "17:00"))} & {"24 16:30"}
    assert not any(person == "sam" for person, _ in of("awards", BOOK, at(24, "16:00")))


def test_the_last_minutes_the_end_and_after_it():
    """The last minutes the end and after it."""
    book = opened()
    assert of("last minutes", book, at(24, "17:10")) == {("jo", "24 17:55")}
    assert of("left open", book, at(24, "17:10")) == {("jo", "24 18:15")}
    assert of("closes itself", book, at(24, "17:10")) == {("jo", "24 19:00")}
    shut = with_lesson(book, LessonClosed(LESSON, "jo", at(24, "17:40")))
    assert not {kind for kind, *_ in rows(shut, at(24, "17:41"))} & {"last minutes", "left open", "closes itself"}


def test_closed_days_have_no_reminders():
    """Closed days have no reminders."""
    club = CLUB.model_copy(update={"closed": (Closed(first=date(2026, 11, 24), last=date(2026, 11, 30)),)})
    assert {when for _, _, when in rows(BOOK, at(20, "12:00"), club)} & {"24 16:30", "23 18:00"} == set()
    assert ("jo", "01 16:30") in of("before", BOOK, at(20, "12:00"), club)


def test_cover_is_reminded_on_its_days_alone():
    """Cover is reminded on its days alone."""
    cover = Cover(class_id="tue", person="ines", role="coach", first=date(2026, 11, 24), last=date(2026, 11, 24))
    club = CLUB.model_copy(update={"covers": (cover,)})
    assert {when for person, when in of("before", BOOK, at(20, "12:00"), club) if person == "ines"} == {"24 16:30"}
    assert of("eve", BOOK, at(20, "12:00"), club) >= {("ines", "23 18:00"), ("sam", "23 18:00"), ("jo", "30 18:00")}
    assert not {("jo", "23 18:00"), ("ines", "30 18:00")} & of("eve", BOOK, at(20, "12:00"), club)
    # Awards are the coach's own, there or not, and are handed over by whoever stands in.
    assert of("awards", BOOK, at(20, "12:00"), club) >= {("jo", "24 16:30"), ("ines", "24 16:30")}
    assert [one.id for one in club.classes_of("ines", date(2026, 11, 24))] == ["tue"]
    assert club.classes_of("ines", date(2026, 11, 25)) == ()


def test_a_rest_is_for_the_assistant_who_stands_in_too():
    """A rest is for the assistant who stands in too."""
    cover = Cover(class_id="tue", person="lu", role="assistant", first=date(2026, 11, 24), last=date(2026, 11, 24))
    club = Club(id="c", name="C", classes=CLUB.classes, covers=(cover,))
    book = replace(opened(), standings=resting("ava", at(24, "17:10")))
    assert ("lu", "24 17:10") in of("rest", book, at(24, "17:09"), club)


def test_of_two_coaches_nobody_knows_which_is_stood_in_for():
    """Where a class has two coaches, both are reminded beside whoever stands in."""
    two = CLUB.classes[0].model_copy(update={"coach": ("jo", "lu")})
    cover = Cover(class_id="tue", person="ines", role="coach", first=date(2026, 11, 24), last=date(2026, 11, 24))
    club = Club(id="c", name="C", classes=(two,), covers=(cover,))
    evening = {person for person, when in of("eve", BOOK, at(20, "12:00"), club) if when == "23 18:00"}
    assert evening == {"jo", "lu", "ines", "sam"}


def test_a_yes_is_asked_about_once_after_a_year():
    """A yes is asked about once after a year."""
    book = replace(BOOK, contacts={"ava": {"pa": Contact(at(24, "12:00"))}})
    (one,) = (one for one in derive(book, CLUB, at(25, "12:00"), {}).values() if one.kind == "renewal")
    assert (one.person, one.due_at) == ("pa", at(24, "18:30", year=2027))
    pending, _ = queued(replace(book, fired=frozenset([one.key])), CLUB, at(25, "12:00", year=2027))
    assert not any(row.kind == "renewal" for row in pending.values())


def test_news_and_the_question_after_a_year_are_due_when_it_is_quiet_no_more():
    """Where a club's quiet begins at six in the evening, half past six becomes eight the next morning."""
    club = Club(id="c", name="C", quiet=(time(18), time(8)), classes=CLUB.classes)
    shut = with_lesson(opened(), LessonClosed(LESSON, "jo", at(24, "17:40")),
                       NewsReleased(LESSON, "jo", at(24, "17:41")))
    ticked = replace(resting("ava", at(24, "17:10"))["ava"]["stand"], rested_at=None, ticked_at=at(24, "17:20"))
    book = replace(shut, standings={"ava": {"stand": ticked}}, contacts={"ava": {"pa": Contact(at(24, "12:00"))}})
    assert of("news", book, at(24, "17:45")) == {("pa", "24 18:30")}
    assert of("news", book, at(24, "17:45"), club) == {("pa", "25 08:00")}
    assert of("renewal", book, at(24, "17:45"), club) == {("pa", "25 08:00")}


def test_what_goes_by_the_timetable_is_not_queued_for_the_past():
    """History begins when a club is loaded."""
    pending, _ = queued(BOOK, CLUB, at(24, "16:45"))
    assert not {f"{one.due_at:%d %H:%M}" for one in pending.values()} & {"24 16:30", "23 18:00"}


def test_a_second_look_is_asked_until_it_makes_no_sense() -> None:
    """Asked at once; no more once all is seen, declined, over or paused. Then both hear of it, or the asker alone."""
    asked = LookAsked(LESSON, "jo", "sam", ("ava",), "stand", 1, at(24, "17:10"))
    book, now = with_lesson(opened(), asked), at(24, "17:11")
    assert of("look", book, now) == {("sam", "24 17:10")}
    assert of("look", with_lesson(book, LessonPaused(LESSON, True, now)), now) == set()
    assert of("look", with_lesson(book, LessonClosed(LESSON, "jo", now)), now) == set()
    assert of("look", with_lesson(book, ChildNoted(LESSON, "ava", "away", now)), now) == set()
    declined = with_lesson(book, LookDeclined(LESSON, "sam", "stand", asked.at, now))
    assert (of("look", declined, now), of("no look", declined, now)) == (set(), {("jo", "24 17:10")})
    look = Mark("m#0", "ava", "stand", LESSON, "seen", "sam", now, now, 1, look="second look", show=1)
    looked = with_lesson(book, look)
    assert (of("look", looked, now), of("compared", looked, now)) == (set(), set())
    both = with_lesson(looked, Mark("n#0", "ava", "stand", LESSON, "seen", "jo", at(24, "17:12"), now, 1))
    assert of("compared", both, now) == {("jo", "24 17:12"), ("sam", "24 17:12")}
