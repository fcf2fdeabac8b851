"""The hall's pace in the talk: it is learned by answering lines, looked at, begun anew, and taken back."""
from __future__ import annotations

from dataclasses import replace

import pytest

from bot.facts import PaceReset
from bot.lesson.book import Changes
from bot.lesson.pace import paced
from bot.people.hall import read_hall
from bot.step import Heard, Say, Stepped
from tests.talk.hall import CLUB, ROSTER, SCHEME, Hall


def text(said) -> str:
    return "\n".join(one.text for one in said)


def labels(said) -> list[str]:
    return [choice.label for one in said for choice in one.choices]


def kept(hall: Hall) -> dict:
    """Skill → the seconds of its lines that are kept."""
    return {skill: [one.seconds for one in pace.lines] for skill, pace in hall.snapshot().books["tue"].pace.items()}


def state(hall: Hall) -> tuple:
    """All that timing keeps, and all that it says."""
    book = hall.snapshot().books["tue"]
    watched = {one.id: dict(one.watched) for one in book.lessons.values()}
    return dict(book.pace), watched, paced(book, hall.snapshot().schemes[1].skills["hop"], 1)


def watch(hall: Hall, skill: str = "hop", seconds: float = 30) -> None:
    """The two lines of a class on one skill, each in so many seconds; nobody has it yet."""
    hall.say("jo", skill)
    hall.tap("jo", "Go")
    for _ in range(2):
        hall.wait(seconds)
        hall.say("jo", "none yet")


def slow(hall: Hall, skill: str = "hop", *, seconds: float = 30, lessons: int = 3) -> None:
    """The same in one lesson after another, and the next one open."""
    for _ in range(lessons):
        watch(hall, skill, seconds)
        hall.say("jo", "close")
        hall.wait(7 * 86_400 - 2 * seconds)
        hall.say("jo", "start")
        hall.tap("jo", "Everyone")


def test_a_line_is_timed_from_go_to_its_answer_and_the_next_from_there(hall):
    """The first line begins with Go, the second where the first is answered; that one turns to another skill."""
    hall.say("jo", "hop")
    hall.tap("jo", "Go")
    hall.wait(24)
    hall.tap("jo", "All seen")
    hall.wait(31)
    hall.tap("jo", "All seen")
    assert kept(hall) == {"hop": [24, 31]}
    hall.wait(60)
    hall.tap("jo", "All seen")
    (skill, pace), = [(key, one) for key, one in hall.snapshot().books["tue"].pace.items() if key != "hop"]
    assert skill in ("stand", "wheel", "medley")
    assert [(one.seconds, one.asked, one.change) for one in pace.lines] == [(60, 20, 30)]


@pytest.mark.parametrize("typed", ["ava seen hop", "at 17:00: all seen", "ava away"])
def test_what_is_typed_beside_a_line_is_not_timed(hall, typed):
    """Marks with names, times from paper and notes say nothing of how long a line took."""
    hall.say("jo", "hop")
    hall.tap("jo", "Go")
    hall.wait(30)
    hall.say("jo", typed)
    assert kept(hall) == {}


def test_a_late_message_is_not_timed(hall):
    """An answer that was long under way is marked and not timed."""
    hall.say("jo", "hop")
    hall.tap("jo", "Go")
    hall.wait(75)
    hall.say("jo", "all seen", ago=45)
    assert hall.standings()["ava", "hop"]["standing"] == "ticked"
    assert kept(hall) == {}


def test_a_line_that_a_helper_saw_is_not_timed(hall):
    """It is judged by when it was shown, which says nothing of how long a line takes."""
    hall.say("kit", "efa shown hop")
    hall.wait(400)
    asked = next(one for one in hall.said["jo"] if "A helper says" in one.text)
    hall.say("jo", choice=asked.choice_ids()[0])
    assert hall.standings()["efa", "hop"]["standing"] == "ticked"
    assert kept(hall) == {}
    assert not hall.snapshot().books["tue"].open_lesson.watched


def test_nothing_differs_before_it_does(hall):
    """Two slow lines are no news; six are, with both numbers and how many lines they come from."""
    assert text(hall.say("jo", "pace")) == "Nothing differs yet (0 lines timed)."
    slow(hall, lessons=1)
    assert text(hall.say("jo", "pace")) == "Nothing differs yet (2 lines timed)."
    slow(hall, lessons=2)
    assert text(hall.say("jo", "pace")) == "Hop: 30 s a line here, 20 s by the scheme (6 lines)."
    assert text(hall.say("sam", "the hall's pace")) == text(hall.say("jo", "pace"))


def test_both_shows_are_told_where_they_differ(hall):
    """A skill whose shows take the same has one number."""
    slow(hall, "stand", seconds=15)
    assert text(hall.say("jo", "pace")) == "Stand: 15 s a line here, 20 s by the scheme (6 lines)."


def test_changeovers_that_take_longer_are_told(hall):
    """Shows as the scheme says, and twice its time to turn to another skill: that is told, and no skill blamed."""
    for _ in range(2):
        watch(hall, seconds=20)
        while "None yet" in labels(hall.last["jo"]):
            lesson = hall.snapshot().books["tue"].open_lesson
            turned = lesson.watched["jo"][-1].skill != lesson.lines["jo"].skill
            hall.wait(80 if turned else 20)
            hall.say("jo", "none yet")
        hall.say("jo", "close")
        hall.wait(7 * 86_400 - 600)
        hall.say("jo", "start")
        hall.tap("jo", "Everyone")
    assert text(hall.say("jo", "pace")) == "Changeovers: 20 s here for every 10 s by the scheme (6 lines)."


def test_a_line_taken_back_was_never_timed(hall):
    """After Undo the pace, and what the next line's time depends on, are what they were before the answer."""
    hall.say("jo", "hop")
    hall.tap("jo", "Go")
    for seconds in (24, 31, 60):
        before = state(hall)
        hall.wait(seconds)
        hall.tap("jo", "All seen")
        assert state(hall) != before
        hall.tap("jo", "Undo")
        assert state(hall) == before
        hall.tap("jo", "All seen")
        hall.wait(1)


def test_a_lesson_taken_back_answer_by_answer_leaves_nothing(hall):
    """Undo typed again and again leads to a class that was never timed."""
    watch(hall, "hop")
    watch(hall, "stand")
    assert kept(hall) == {"hop": [30, 30], "stand": [30, 30]}
    for left in ({"hop": [30, 30], "stand": [30]}, {"hop": [30, 30]}, {"hop": [30]}, {}):
        hall.say("jo", "undo")
        assert kept(hall) == left


def test_a_coach_begins_anew_and_takes_that_back(hall):
    """Begin anew leaves what the scheme says; Undo brings back what was learned, to the line."""
    slow(hall)
    before = state(hall)
    hall.say("jo", "pace")
    assert text(hall.tap("jo", "Begin anew")) == "The pace of Tuesday begins anew, as the scheme says."
    assert [one.fact.class_id for one in hall.snapshot().record if isinstance(one.fact, PaceReset)] == ["tue"]
    hall.restart()
    assert text(hall.say("jo", "pace")) == "Nothing differs yet (0 lines timed)."
    assert "Begin anew" not in labels(hall.last["jo"])
    assert "No line was timed" in text(hall.tap("jo", "Begin anew"))
    assert text(hall.say("jo", "undo")).startswith("Taken back: the new beginning of the pace.")
    assert state(hall) == before


def test_lines_after_a_new_beginning_count(hall):
    """Only what was timed since; and a beginning taken back counts from the one before it."""
    slow(hall)
    hall.say("jo", "pace")
    hall.tap("jo", "Begin anew")
    slow(hall, seconds=14)
    assert text(hall.say("jo", "pace")) == "Hop: 14 s a line here, 20 s by the scheme (6 lines)."
    hall.tap("jo", "Begin anew")
    hall.say("jo", "undo")
    assert text(hall.say("jo", "pace")) == "Hop: 14 s a line here, 20 s by the scheme (6 lines)."


def test_an_assistant_looks_and_begins_nothing_anew(hall):
    """The choice is a coach's, and whoever is no coach any more taps it in vain; a helper is told nothing."""
    slow(hall)
    assert "Begin anew" not in labels(hall.say("sam", "pace"))
    for person in ("kit", "nobody"):
        assert "Hop: 30 s" not in text(hall.say(person, "pace"))
    hall.say("jo", "pace")
    before = state(hall)
    club = CLUB.format(name="Bench", cls="tue").replace('coach = "jo"\nassistant = "sam"',
                                                       'coach = "ines"\nassistant = "jo"')
    club = club.replace('name = "Jo Marsh"\nrole = "coach"', 'name = "Jo Marsh"\nrole = "assistant"')
    hall.run(hall.store.load(read_hall(SCHEME.format(ways=""), club, ROSTER), hall.clock.now()))
    assert text(hall.tap("jo", "Begin anew")) == "A pace is for a coach to begin anew."
    assert state(hall) == before


def test_another_class_keeps_its_own_pace(hall):
    """What the Tuesday class teaches is not the Friday's."""
    slow(hall)
    assert hall.snapshot().books["tue-other"].pace == {}
    assert text(hall.say("ines", "pace")) == "Nothing differs yet (0 lines timed)."


def test_a_coach_of_two_classes_sees_both(hall):
    """With no lesson open each class that differs is named, and begun anew by itself."""
    club = CLUB.format(name="Bench", cls="tue").replace('coach = "ines"', 'coach = "jo"')
    hall.run(hall.store.load(read_hall(SCHEME.format(ways=""), club, ROSTER), hall.clock.now()))
    slow(hall)
    hall.say("jo", "close")
    said = hall.say("jo", "pace")
    assert text(said) == "Tuesday:\nHop: 30 s a line here, 20 s by the scheme (6 lines)."
    assert "Begin anew" in labels(said)
    book = hall.snapshot().books["tue"]
    both = Changes(pace={("tue-other", skill): pace for skill, pace in book.pace.items()})

    def taught(heard, desk):
        return Stepped(replace(desk.talk, said=desk.talk.said + 1), (Say("ok"),), changes=both)

    async def teach():
        at = hall.clock.now()
        await hall.store.step(Heard("taught", "Bench", "jo", at, at, "taught"), taught)

    hall.run(teach())
    said = hall.say("jo", "pace")
    assert text(said).splitlines() == [
        f"{day}:" if n == 0 else "Hop: 30 s a line here, 20 s by the scheme (6 lines)."
        for day in ("Tuesday", "Friday") for n in (0, 1)
    ]
    hall.tap("jo", "Anew: Friday")
    books = hall.snapshot().books
    assert [bool(books[one].pace["hop"].counted) for one in ("tue", "tue-other")] == [True, False]


def test_it_is_kept_over_the_close_and_a_restart(hall):
    """The next lesson begins with what was learned; who watched what in the last one is forgotten."""
    slow(hall)
    watch(hall)
    hall.say("jo", "close")
    hall.restart()
    assert text(hall.say("jo", "pace")) == "Hop: 30 s a line here, 20 s by the scheme (8 lines)."
    assert [dict(one.watched) for one in hall.snapshot().books["tue"].lessons.values()] == [{}] * 4


def test_a_forgotten_child_was_in_no_time(hall):
    """The times of lines name no child: they stay when one is forgotten, and she is in none of them."""
    slow(hall)
    whose = {child["name"]: child["id"] for child in hall.export()["children"]}
    before = state(hall)
    hall.run(hall.store.forget("bench", whose["Ava Price"]))
    assert state(hall)[0] == before[0]
    assert not any(child in repr(state(hall)) for child in whose.values())
