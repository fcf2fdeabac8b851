"""What families hear, and when: common practice, no source, but for the rules of consent (see tests/outside)."""
from __future__ import annotations

from datetime import datetime, timedelta

import pytest

from tests.talk.hall import Hall


@pytest.fixture
def hall():
    one = Hall()
    yield one
    one.close()


def to(hall: Hall, clock: str) -> None:
    """Let time pass until then, on the club's clock (it is winter in London: UTC)."""
    hall.wait((datetime.fromisoformat(f"{clock}:00+00:00") - hall.clock.now()).total_seconds())


def unasked(hall: Hall, person: str) -> list[str]:
    """What somebody was told without having said anything."""
    return [said.text for said in hall.said.get(person, []) if said.in_reply_to is None]


def lesson(hall: Hall, *marks: str) -> None:
    """A lesson in which this is typed, up to its close."""
    hall.say("jo", "start")
    hall.say("jo", "everyone")
    for mark in marks:
        hall.say("jo", mark)
    hall.say("jo", "close")


def released(hall: Hall) -> None:
    """Ava's family said yes, Ava showed the hop, and the coach gave the word at the close."""
    hall.parent("pa", "ava")
    lesson(hall, "ava seen hop")
    hall.tap("jo", "Send as usual")


def test_news_needs_the_coachs_word(hall):
    """Consent alone sends nothing: the coach says so at the close."""
    hall.parent("pa", "ava")
    lesson(hall, "ava seen hop")
    to(hall, "2026-11-24 23:00")
    assert unasked(hall, "pa") == []
    hall.tap("jo", "Send as usual")
    to(hall, "2026-11-25 07:59")
    assert unasked(hall, "pa") == []
    to(hall, "2026-11-25 08:00")
    assert [text.split(".")[0] for text in unasked(hall, "pa")] == ["Jo saw Ava do the hop on Tuesday"]


def test_news_is_at_half_past_six_and_once(hall):
    """Not before 18:30, and never again for the same tick."""
    released(hall)
    to(hall, "2026-11-24 18:29")
    assert unasked(hall, "pa") == []
    to(hall, "2026-12-24 12:00")
    assert len(unasked(hall, "pa")) == 1


@pytest.mark.parametrize(("word", "heard"), [("18:25", "18:35"), ("19:00", "19:10"), ("19:51", "08:00"),
                                             ("20:30", "08:00")])
def test_ten_minutes_to_think_again_and_no_news_at_night(hall, word, heard):
    """Within ten minutes of the word nothing goes; between 20:00 and 08:00 neither."""
    hall.parent("pa", "ava")
    lesson(hall, "ava seen hop")
    to(hall, f"2026-11-24 {word}")
    assert f"at {heard}." in hall.tap("jo", "Send as usual")[0].text
    hall.wait(2 * 24 * 3600)
    (told,) = (said for said in hall.said["pa"] if said.in_reply_to is None)
    assert f"{told.at:%H:%M}" == heard


@pytest.mark.parametrize("after", ["undo", "start"])
def test_undo_and_a_lesson_opened_anew_withdraw_the_word(hall, after):
    """The word is taken back like anything else; opened again and closed anew, a lesson needs another one."""
    released(hall)
    hall.say("jo", after)
    to(hall, "2026-11-26 12:00")
    assert unasked(hall, "pa") == []


def test_one_message_a_day(hall):
    """Two lessons on one day, two children of one family: each child's news once, the rest the next evening."""
    hall.parent("pa", "ava")
    hall.parent("pa", "ben")
    lesson(hall, "ava, ben seen hop")
    hall.tap("jo", "Send as usual")
    to(hall, "2026-11-24 18:31")
    first = unasked(hall, "pa")
    assert sorted(text.split(" do ")[0] for text in first) == ["Jo saw Ava", "Jo saw Ben"]
    lesson(hall, "ava seen wheel left", "ava seen wheel right")
    hall.tap("jo", "Send as usual")
    to(hall, "2026-11-24 19:59")
    assert unasked(hall, "pa") == first
    to(hall, "2026-11-25 18:31")
    assert "the wheel" in unasked(hall, "pa")[-1]


def test_news_a_week_old_is_dropped(hall):
    """The word came too late for it to be news."""
    released(hall)
    hall.clock.move_to(hall.clock.now() + timedelta(days=8, hours=3))       # nobody was there to send it
    hall.wait(24 * 3600)
    assert unasked(hall, "pa") == []


def test_what_was_told_and_was_a_slip_is_put_right(hall):
    """The evening after, without anybody's word; and a tick made good later is news again."""
    released(hall)
    to(hall, "2026-11-24 18:31")
    for _ in range(3):
        hall.say("jo", "undo")
    to(hall, "2026-11-25 18:31")
    assert unasked(hall, "pa")[-1].startswith("A correction: we wrote that Ava had shown the hop")
    to(hall, "2026-12-01 17:00")
    lesson(hall, "ava seen hop")
    hall.tap("jo", "Send as usual")
    to(hall, "2026-12-01 18:31")
    assert unasked(hall, "pa")[-1].startswith("Jo saw Ava do the hop today")


def test_a_child_who_was_looked_after_waits(hall):
    """A bump holds her news, and hers alone, until a coach releases it."""
    hall.parent("pa", "ava")
    hall.parent("pb", "ben")
    lesson(hall, "ava, ben seen hop", "bump ava")
    hall.tap("jo", "Send as usual")
    to(hall, "2026-11-25 12:00")
    assert (unasked(hall, "pa"), len(unasked(hall, "pb"))) == ([], 1)
    hall.say("jo", "release ava")
    to(hall, "2026-11-25 18:31")
    assert len(unasked(hall, "pa")) == 1


def test_two_homes_of_one_child_and_one_says_stop(hall):
    """Each household has a consent of its own."""
    hall.parent("pa", "ava")
    hall.parent("ma", "ava")
    lesson(hall, "ava seen hop")
    hall.tap("jo", "Send as usual")
    assert hall.say("pa", "please don't text me any more")[0].text.startswith("Ended.")
    to(hall, "2026-11-24 18:31")
    assert (unasked(hall, "pa"), len(unasked(hall, "ma"))) == ([], 1)


def test_cut_off_is_silent(hall):
    """The coach is answered, the phone that was cut off hears nothing, then or later."""
    released(hall)
    hall.say("jo", "cut off ava")
    before = len(hall.said["pa"])
    assert "nothing was said there" in hall.tap("jo", "Cut off")[0].text
    to(hall, "2026-12-24 12:00")
    assert len(hall.said["pa"]) == before
    assert [one.get("ended_at") is not None for one in hall.export()["consents"]] == [True]


def test_only_the_coach_cuts_off(hall):
    """An assistant does not."""
    hall.parent("pa", "ava")
    assert "for her coach" in hall.say("sam", "cut off ava")[0].text


def test_consent_holds_what_was_shown(hall):
    """The record keeps the words to which the yes was said."""
    hall.parent("pa", "ava")
    (said,) = (one.fact for one in hall.snapshot().record if one.fact.kind == "consent")
    assert (said.yes, said.words) == (True, hall.said["pa"][0].text)


def test_a_load_spared_lasts_and_ends_by_itself(hall):
    """`ava no landings 3 weeks`: for so long, and no reason is kept."""
    hall.say("jo", "start")
    answer = hall.say("jo", "ava no landings 3 weeks")[0].text
    assert "15 December" in answer
    (fact,) = (one.fact for one in hall.snapshot().record if one.fact.kind == "load")
    assert (fact.load, fact.until.isoformat()) == ("landing", "2026-12-15")


@pytest.mark.parametrize("spared", ["ava no landings 3 weeks", "ava no landings"])
def test_what_a_child_is_spared_is_kept_for_the_hall(hall, spared):
    """Nothing is said to be fine at home that loads what she is spared, for weeks or since that lesson."""
    hall.parent("pa", "ava")
    lesson(hall, "ava seen hop", spared)
    hall.say("jo", "release ava")
    hall.say("jo", "send as usual")
    to(hall, "2026-11-25 12:00")
    assert "Please keep the hop for the hall." in unasked(hall, "pa")[0]


def test_an_assistant_ends_nothing_that_is_agreed(hall):
    """What is agreed for a child is for her coach to end, by the choice as by the words."""
    hall.say("jo", "agree ava hop: seated")
    hall.say("jo", "ava no landings 3 weeks")
    before = hall.snapshot().books["tue"].agreed
    listed = hall.say("sam", "agreed")[0]
    for choice in listed.choice_ids()[:2]:
        assert "for her coach to say" in hall.say("sam", choice=choice)[0].text
    for text in ("agree ava hop: seated on a box", "ava no landings 4 weeks"):
        assert "for her coach to say" in hall.say("sam", text)[0].text
    assert hall.snapshot().books["tue"].agreed == before
    hall.tap("jo", "End that")
    assert hall.snapshot().books["tue"].agreed != before


def test_start_typed_days_later_is_todays_class(hall):
    """A brief of last week offered Start; the word typed today opens today's class."""
    to(hall, "2026-12-08 16:20")
    assert hall.said["jo"][-1].text.startswith("Tuesday 17:00")
    assert hall.said["jo"][-1].at.day == 1
    assert hall.say("jo", "start")[0].text.startswith("Everyone here?")


def test_start_after_stop_says_how_to_begin_again(hall):
    """START, the word of the carriers, begins nothing by itself: consent needs a code handed over in person."""
    hall.parent("pa", "ava")
    hall.say("pa", "STOP")
    assert "ask the club for a new code" in hall.say("pa", "START")[0].text
    assert [one.get("ended_at") is not None for one in hall.export()["consents"]] == [True]


def test_holding_one_is_no_word_on_the_others(hall):
    """`hold news` and `release` say nothing of other families; those wait for the coach's word."""
    for phone, child in (("pa", "ava"), ("pb", "ben")):
        hall.parent(phone, child)
    lesson(hall, "ava, ben seen hop")
    hall.say("jo", "hold news ava")
    hall.say("jo", "release dara")
    to(hall, "2026-11-26 12:00")
    assert (unasked(hall, "pa"), unasked(hall, "pb")) == ([], [])
    hall.say("jo", "send as usual")
    to(hall, "2026-11-26 19:00")
    assert (unasked(hall, "pa"), len(unasked(hall, "pb"))) == ([], 1)


def test_somebody_without_news_is_no_answer_to_whose_waits(hall):
    """A name that is not among those asked about changes nothing, and is said."""
    hall.parent("pa", "ava")
    lesson(hall, "ava, ben seen hop")
    hall.tap("jo", "Hold some")
    assert "no news of Ben, so nothing was changed" in hall.say("jo", "ben")[0].text
    to(hall, "2026-11-25 12:00")
    assert unasked(hall, "pa") == []


def test_the_news_is_asked_for_again_after_the_order(hall):
    """One answer at the close does not lose the other question."""
    hall.parent("pa", "ava")
    lesson(hall, "ava seen hop", "ava seen wheel left", "ava seen wheel right", "ava seen stand", "ava seen medley")
    hall.wait(0)
    labels = [one.label for one in hall.said["jo"][-1].choices]
    if "Yes" in labels:
        hall.say("jo", "yes")
    assert "Send as usual" in [one.label for one in hall.said["jo"][-1].choices]


def test_a_word_on_what_was_sent_says_so(hall):
    """Undo of the word after the news has gone does not pretend."""
    released(hall)
    to(hall, "2026-11-24 18:31")
    assert "was sent already" in hall.say("jo", "undo")[0].text


def test_yes_has_to_be_clear(hall):
    """Anything but a yes or a no is no consent, and is not read for one."""
    hall.parent("pa", "ava", None)
    for text in ("who gave you my number?", "not sure", "👍", "will she see this"):
        assert "clear yes or no" in hall.say("pa", text)[0].text
    assert hall.export()["consents"] == []
    hall.say("pa", "yes")
    assert len(hall.export()["consents"]) == 1


def test_help_leaves_the_question_where_it_was(hall):
    """Whoever asks for help before they answer is asked still: a typed yes counts, and nothing before it."""
    hall.parent("pa", "ava", None)
    said = hall.say("pa", "help")[0]
    assert "unless you say yes" in said.text
    assert [one.label for one in said.choices] == ["Yes", "No"]
    assert hall.export()["consents"] == []
    hall.say("pa", "yes")
    assert len(hall.export()["consents"]) == 1
    assert "something new of Ava" in hall.say("pa", "help")[0].text


def test_a_child_who_was_never_in_the_class_is_nobodys_news(hall):
    """A parent came in for a child whose adding was then taken back: nothing is asked of them any more."""
    hall.say("jo", "start")
    hall.say("jo", "add Zoe Quill")
    hall.parent("pa", "zoe", None)
    hall.say("jo", "undo")
    assert hall.tap("pa", "Yes")[0].text == "Nothing was asked of you. Type help."
    for text in ("help", "hello?", "stop"):
        assert "Zoe" not in hall.say("pa", text)[0].text
    assert [one for one in hall.export()["consents"] if one.get("ended_at") is None] == []


def test_what_is_put_names_the_club_and_the_child(hall):
    """Two children of one family are asked about apart."""
    hall.parent("pa", "ava")
    hall.parent("pa", "ben")
    put = [said.text for said in hall.said["pa"] if "Shall we send" in said.text]
    assert [text.split(".")[0] for text in put] == ["Bench: for news of Ava", "Bench: for news of Ben"]


def test_an_old_yes_begins_nothing_again(hall):
    """After No, or STOP in any words, the Yes of the question before needs a new code (data/12_privacy.json)."""
    hall.parent("pa", "ava")
    hall.say("pa", "stop")
    told = hall.tap("pa", "Yes")
    assert "ask the club for a new code" in told[-1].text
    lesson(hall, "ava seen hop")
    assert "Send as usual" not in [one.label for one in hall.said["jo"][-1].choices]
    hall.wait(3 * 24 * 3600)
    assert unasked(hall, "pa") == []
