"""Small flows of the talk that a coach relies on, each in a few messages."""
from __future__ import annotations

import pytest


def text(said) -> str:
    return "\n".join(one.text for one in said)


def test_all_seen_undo_all_seen(hall):
    """All seen, undo, All seen works: the line stands there again, and a choice is not used up."""
    hall.tap("jo", "Go")
    hall.tap("jo", "All seen")
    first = hall.export()
    hall.say("jo", "undo")
    hall.tap("jo", "All seen")
    marked = {(mark["child"], mark["skill"]) for mark in first["marks"]}
    assert {(mark["child"], mark["skill"]) for mark in hall.export()["marks"]} == marked


def test_an_old_line_does_exactly_what_it_said(hall):
    """Half an hour later All seen of an old line marks those who still owe that show; once more, it says why not."""
    hall.tap("jo", "Go")
    line = hall.said["jo"][-1]
    hall.say("jo", f"ava seen {line.choices[0].tap.line.skill}")
    hall.wait(1800)
    hall.say("jo", choice=line.choice_ids()[0])
    marked = hall.export()["marks"]
    assert len(marked) == len(line.choices[0].tap.line.children)
    again = hall.say("jo", choice=line.choice_ids()[0])
    assert "since" in text(again) or "already" in text(again)
    assert hall.export()["marks"] == marked


def test_a_line_answered_after_the_close_is_held(hall):
    """After the close a line's answer waits for Start, and is then entered at the time it was given."""
    hall.tap("jo", "Go")
    hall.say("sam", "close")
    before = hall.export()["marks"]
    held = hall.tap("jo", "All seen")
    assert held[0].choices[0].label == "Start"
    assert hall.export()["marks"] == before
    hall.tap("jo", "Start")
    assert len(hall.export()["marks"]) == len(before) + 4


def test_foreign_taps_are_refused(hall):
    """Another person's choice, or one that was made up, does nothing and is answered with what to do."""
    hall.tap("jo", "Go")
    stolen = hall.said["jo"][-1].choice_ids()[0]
    before = hall.export()
    for choice in (stolen, "c_1_000000000000", "c_x_y", "", "c_99999999999999999999_ff"):
        said = hall.say("sam", choice=choice)
        assert "not known" in text(said)
    assert hall.export() == before


def test_a_child_of_another_class_is_an_unknown_name(hall):
    """A child outside the classes one is given is answered exactly like a name that nobody has."""
    other = text(hall.say("jo", "zuleika seen hop")).replace("zuleika", "…")
    nobody = text(hall.say("jo", "qwertyui seen hop")).replace("qwertyui", "…")
    assert other == nobody


def test_another_club_is_never_seen(hall):
    """The same person id in another club meets only that club's children."""
    said = hall.say("jo", "start", club="Elsewhere")
    assert "1 child" in text(said)
    assert "Otto" not in str(hall.export())
    assert "Ava" not in str(hall.export("elsewhere"))


def test_the_same_message_twice(hall):
    """A redelivery gets the same answer, and nothing is recorded twice."""
    said = hall.say("jo", "ava seen hop")
    before = hall.export()
    again = hall.deliver(hall.sent[-1])
    assert [one.id for one in again] == [one.id for one in said]
    assert hall.export() == before


def test_two_reasons_to_hold_are_asked_together(hall):
    """In one message one child repeats early and one is marked away: both are asked about, the rest is recorded."""
    hall.say("jo", "ava seen stand")
    hall.say("jo", "ben away")
    hall.wait(10)
    said = hall.say("jo", "ava, ben, chidi seen stand")
    labels = [choice.label for choice in said[0].choices]
    assert [label for label in labels if label != "Undo"] == ["Count it", "Wait", "Yes here", "Not here"]
    assert hall.standings()["chidi", "stand"]["standing"] == "resting"
    assert hall.standings()["ben", "stand"]["standing"] == "untried"
    hall.tap("jo", "Yes here")
    assert hall.standings()["ben", "stand"]["standing"] == "resting"


def test_the_future_and_the_old_are_refused(hall):
    """A message sent ahead of our clock, or more than a day ago, records nothing and says so."""
    before = hall.export()
    assert "ahead" in text(hall.say("jo", "ava seen hop", ago=-300))
    assert "more than a day" in text(hall.say("jo", "ava seen hop", ago=25 * 3600))
    assert hall.export() == before


def test_a_correction_from_the_question_who(hall):
    """Some not yet, a name, and one more name from the same question: both are not yet, the others seen."""
    hall.tap("jo", "Go")
    skill = hall.said["jo"][-1].choices[0].tap.line.skill
    hall.tap("jo", "Some not yet")
    hall.tap("jo", "Ben")
    hall.tap("jo", "Dara")
    now = hall.standings()
    assert [now[child, skill]["standing"] == "retest" for child in ("ava", "ben", "chidi", "dara")] == [
        False, True, False, True,
    ]


def test_numbers_pick_children_while_who_is_asked(hall):
    """After Some not yet a bare number is the child's number in the line."""
    hall.tap("jo", "Go")
    skill = hall.said["jo"][-1].choices[0].tap.line.skill
    hall.tap("jo", "Some not yet")
    hall.say("jo", "2")
    assert hall.standings()["ben", skill]["standing"] == "retest"


def test_a_tick_of_a_moment_ago_can_be_put_right(hall):
    """A not yet for a skill just ticked changes nothing by itself, and offers to put the slip right."""
    hall.say("jo", "ava seen hop")
    hall.say("jo", "ava not yet hop")
    assert hall.standings()["ava", "hop"]["standing"] == "ticked"
    hall.tap("jo", "It was not yet")
    assert hall.standings()["ava", "hop"]["standing"] == "retest"
    hall.say("jo", "undo")
    assert hall.standings()["ava", "hop"]["standing"] == "ticked"


def test_with_two_lines_all_seen_is_asked(hall):
    """While a line stands there and a rested one comes up, all seen asks which; a tap needs no question."""
    hall.say("jo", "ava, ben seen stand")
    hall.say("jo", "hop")
    hall.say("jo", "go")
    hall.wait(70)
    before = hall.export()["marks"]
    said = hall.say("jo", "all seen")
    assert "Which line" in text(said)
    assert hall.export()["marks"] == before
    hall.say("jo", choice=said[0].choice_ids()[1])
    assert len(hall.export()["marks"]) > len(before)


def test_several_requests_in_one_message_get_one_answer(hall):
    """`mia away; leo sits` and a line's answer with a mark: each does its part, in one answer that can be tapped."""
    said = hall.say("jo", "ava away; ben sits")
    assert len(said) == 1
    assert "Ava is away" in said[0].text
    assert "Ben sits out" in said[0].text
    hall.say("jo", choice=said[0].choice_ids()[0])
    hall.tap("jo", "Go")
    child = next(iter(hall.said["jo"][-1].choices[0].tap.line.children)).split("-")[1]
    mixed = hall.say("jo", f"not {child}; finn seen wheel")
    assert len(mixed) == 1
    assert hall.standings()["finn", "wheel"]["standing"] == "ticked"


def test_a_piece_left_over_is_not_called_a_second_show(hall):
    """One leg seen and the lesson closed: begun and not finished, for there is no second show."""
    hall.say("jo", "ava seen wheel left; ben seen stand")
    summary = text(hall.say("jo", "close"))
    assert "Begun and not finished: Ava" in summary
    assert "Second show not seen: Ben" in summary


def test_a_second_phone_goes_on_with_the_talk(hall):
    """Jo comes in with a second phone in the middle of a lesson: the line stands there on it too."""
    from datetime import timedelta

    from bot.step import Invitation

    hall.tap("jo", "Go")
    person = next(one for one in hall.run(hall.store.people("bench")) if one.id == "jo")
    until = hall.clock.now() + timedelta(days=1)
    hall.run(hall.store.invite(Invitation("bench", person, None, until, used=False), "SECONDPHONE"))
    hall.say("new-phone", "join secondphone")
    assert "Still there" in text(hall.say("new-phone", "next"))
    hall.say("new-phone", "all seen")
    assert len(hall.export()["marks"]) == 4


def test_every_reason_not_to_understand_has_its_sentence(hall):
    """Whatever a reader gives as its reason, the talk has a sentence for it; join alone asks for the code."""
    from typing import get_args

    from bot.talk.puzzled import _WHY
    from bot.talk.requests import Why

    assert set(_WHY) == set(get_args(Why))
    assert "code" in text(hall.say("jo", "join"))


def test_a_bare_number_of_a_child_who_stands_there_is_asked(hall):
    """A number beside a name in the line is never taken for an old choice: it is asked, and nothing is recorded."""
    hall.tap("jo", "Go")
    before = hall.export(), hall.snapshot().books["tue"].lessons
    said = hall.say("jo", "1")
    assert "1 is Ava" in text(said)
    assert (hall.export(), hall.snapshot().books["tue"].lessons) == before
    hall.tap("jo", "Ava not yet")
    assert [mark["verdict"] for mark in hall.export()["marks"]] == ["not yet"]


def test_an_old_number_is_asked_again(hall):
    """A number of an earlier message is offered again, not done: the register stays as it was answered."""
    hall.say("jo", "ava away")
    hall.tap("jo", "Go")
    away = [one.away for one in hall.snapshot().books["tue"].lessons.values()]
    said = hall.say("jo", "1")
    assert "earlier message" in text(said)
    assert [one.away for one in hall.snapshot().books["tue"].lessons.values()] == away


def test_numbers_of_choices_keep_clear_of_the_line(hall):
    """On one screen no number is both a child's and a choice's."""
    hall.tap("jo", "Go")
    for _ in range(12):
        said = hall.say("jo", "standard hop")
        assert not {choice.number for choice in said[0].choices} & {1, 2, 3, 4}


@pytest.mark.parametrize("word", ["yes", "no", "y", "n"])
def test_yes_and_no_never_choose_between_two_children(hall, word):
    """Asked which of two, a bare yes or no is no answer: it marks neither of them."""
    hall.say("jo", "add Ava Quill")
    asked = hall.say("jo", "ava seen hop")
    assert len(asked[0].choices) == 2
    hall.say("jo", word)
    assert hall.export()["marks"] == []


def test_no_to_a_slip_records_nothing_and_yes_records_that_child(hall):
    """Asked whether a name with a slip is Chidi, yes marks Chidi and no marks nobody."""
    hall.say("jo", "chdi seen hop")
    hall.say("jo", "no")
    assert hall.export()["marks"] == []
    hall.say("jo", "chdi seen hop")
    hall.say("jo", "yes")
    assert [mark["child"] for mark in hall.export()["marks"]] == ["tue-chidi-eze"]


@pytest.mark.parametrize("slip", [
    "owed nobody", "progress nobody", "resting nobody", "standard nobody", "grid none yet",
])
def test_a_question_with_a_lines_answer_behind_it_judges_nobody(hall, slip):
    """Who wrote that meant a question and slipped; the line that is being watched is not judged by it."""
    for text in ("start", "everyone", "hop", "go"):
        hall.say("jo", text)
    before = len(hall.export()["marks"])
    (said,) = hall.say("jo", slip)
    assert "Nothing was recorded." in said.text
    assert len(hall.export()["marks"]) == before == 0
    hall.say("jo", "all seen")
    assert len(hall.export()["marks"]) == 4


@pytest.mark.parametrize(("apart", "messages"), [(10, ["Rested: Ava, Ben"]), (15, ["Rested: Ava, Ben"]),
                                                 (17, ["Rested: Ava", "Rested: Ben"])])
def test_rests_that_end_close_together_are_one_message(hall, apart, messages):
    """Rests of one skill that end within 15 s of each other come as one message at the last end, else as two."""
    hall.say("jo", "ava seen stand")
    hall.wait(apart)
    hall.say("jo", "ben seen stand")
    hall.wait(90)
    rested = [said.text.split(".")[0] for said in hall.said["sam"] if said.text.startswith("Rested")]
    assert rested == messages


def test_the_rest_are_here_and_who_is_away_stays_away(hall):
    """`ava away`, `rest here`: eleven of twelve are here, not twelve; `everyone` means everyone."""
    hall.say("jo", "ava away")
    assert "5 here" in text(hall.say("jo", "rest here"))
    assert "5 here" in text(hall.say("jo", "the others are here"))
    assert "6 here" in text(hall.say("jo", "everyone"))


def test_undo_of_an_earlier_day_is_asked_about(hall):
    """A week later nobody who types undo thinks of last week: what it would take back is said first."""
    hall.say("jo", "ava seen wheel left")
    hall.say("jo", "close")
    hall.wait(8 * 24 * 3600)
    before = hall.export()["marks"]
    (said,) = hall.say("jo", "undo")
    assert "The last of yours was on Tuesday 24 November: the close. Take that back?" in said.text
    assert hall.export()["marks"] == before
    (said,) = hall.tap("jo", "Take it back")
    assert "Taken back: the close." in said.text


def test_undo_takes_back_a_sheet_that_was_entered_just_now(hall):
    """A lesson of last week is entered from paper after today's was held: it is what undo takes back, not today's."""
    hall.wait(1800)
    hall.say("jo", "close")
    hall.wait(7 * 24 * 3600)
    hall.say("jo", "start")
    hall.say("jo", "everyone")
    hall.say("jo", "ben seen hop")
    hall.say("jo", "on 24 november at 17:20: ava seen hop")
    assert hall.standings()["ava", "hop"]["standing"] == "ticked"
    hall.say("jo", "owed ava")
    (said,) = hall.say("jo", "undo")
    assert "Ava seen" in said.text
    assert hall.standings()["ava", "hop"]["standing"] == "untried"
    assert hall.standings()["ben", "hop"]["standing"] == "ticked"


def test_the_close_counts_what_was_due_and_not_shown(hall):
    """A retest of last week that nobody showed today is still one for the next lesson, and is counted."""
    hall.say("jo", "ava not yet stand hips")
    hall.say("jo", "close")
    hall.wait(7 * 24 * 3600)
    hall.say("jo", "start")
    assert "0 looks, 0 ticks, 1 retest for next Tuesday." in text(hall.say("jo", "close"))


def test_all_seen_puts_up_a_line_that_nobody_saw_yet(hall):
    """After `First: …` no name was shown, so `all seen` judges nobody: the line stands there, and the next one does."""
    marks = hall.export()["marks"]
    (said,) = hall.say("jo", "all seen")
    assert said.text.startswith("Nobody stood there yet, so nothing was recorded.")
    assert "1 Ava" in said.text
    assert hall.export()["marks"] == marks == []
    hall.say("jo", "all seen")
    assert hall.export()["marks"]


def test_who_is_here_can_be_asked(hall):
    """How many, who is away and who sits out; the line stays where it is."""
    hall.say("jo", "ben and chidi away; dara sits")
    assert text(hall.say("jo", "who is here")).startswith("4 here. Away: Ben and Chidi. Sits out: Dara.")
    assert text(hall.say("jo", "register")).startswith("4 here.")


def test_a_class_can_be_named_to_be_looked_at(hall):
    """`owed tuesday`, `grid tuesday`: that class; one that is not theirs is as unknown as any word."""
    assert "Tuesday: " in text(hall.say("jo", "owed tuesday"))
    (said,) = hall.say("jo", "grid tuesday")
    assert said.text.startswith("Tuesday, as it stands at ")
    other, nothing = (text(hall.say("jo", f"grid {word}")) for word in ("friday", "zoltan"))
    assert other.replace("friday", "zoltan") == nothing


def test_start_is_about_a_sheet_that_waits(hall):
    """A sheet waits for Start, and something else is said before it comes: a typed start enters it all the same."""
    hall.wait(1800)
    hall.say("jo", "close")
    hall.wait(15 * 3600)
    hall.say("jo", "on tuesday at 12:20: ava seen hop")
    hall.say("jo", "owed ben")
    hall.say("jo", "start")
    assert hall.standings()["ava", "hop"]["standing"] == "ticked"


def test_what_is_wrong_is_not_the_time_that_was_said_well(hall):
    """At noon the day after, `on tuesday at 17:02` was: it is the word that nobody knows, and nothing else."""
    hall.wait(19 * 3600)
    said = text(hall.say("jo", "on tuesday at 17:02: ava seen nonsuch"))
    assert said.startswith("I don't know “nonsuch”")
    assert "still to come" in text(hall.say("jo", "at 17:30: ava seen hop"))


def test_a_reading_that_would_be_refused_is_not_offered(hall):
    """`present all but ava`: all are here but Ava; that awards are handed over and a line is judged is no choice."""
    assert text(hall.say("jo", "present all but ava")).startswith("Ava is away.")
    assert hall.export()["marks"] == []


@pytest.mark.parametrize(("class_did", "named"), [("seen", True), ("not yet", False), ("", False)])
def test_the_brief_names_who_is_most_likely_ready(hall, class_did, named):
    """Ava needs one more, the wheel say. She is named where the class does it, and not where it does not, or nobody has
    shown it. No figure is said, and in the lesson nothing of it."""
    hall.say("jo", "ava has hop and stand since may")
    if class_did:
        hall.say("jo", f"ben, chidi, dara, efa, finn {class_did} wheel")
    hall.say("jo", "close")
    hall.wait(7 * 24 * 3600 - 1740)
    brief = next(one.text for one in reversed(hall.said["jo"]) if " · Tuesday · " in one.text and one.club == "bench")
    assert "Ava has one skill to go." in brief
    assert ("Most likely ready: Ava (wheel)." in brief) == named
    assert "likely" not in text(hall.say("jo", "start")) + text(hall.say("jo", "everyone"))


def test_a_word_of_a_miss_is_no_name(hall):
    """`knees bent` beside a child called Ben: it is her knees, nobody else is asked about, and no verdict is turned."""
    hall.say("jo", "hop")
    hall.say("jo", "go")
    assert text(hall.say("jo", "ava not yet knees bent")).startswith("Hop: Ava not yet (knees together).")
    assert hall.standings()["ben", "hop"]["standing"] == "untried"


def test_what_a_child_has_held_may_be_said_with_and(hall):
    """`hop, stand and wheel since may`: three ticks; a skill with `and` in its name stays whole."""
    hall.say("jo", "ava has hop, stand and wheel since may")
    assert [hall.standings()["ava", skill]["standing"] for skill in ("hop", "stand", "wheel", "medley")] == [
        "ticked", "ticked", "ticked", "untried",
    ]
    assert "nothing was recorded" in text(hall.say("jo", "ben has hop and nonsense since may"))
    assert hall.standings()["ben", "hop"]["standing"] == "untried"
