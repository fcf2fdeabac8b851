"""Two phones, one of them out of reach for a while: what was judged amounts to the same, whenever it arrives."""
from __future__ import annotations

import os
from datetime import timedelta

from hypothesis import HealthCheck, assume, given, settings
from hypothesis import strategies as st

from tests.talk.hall import CHILDREN, Hall

EXAMPLES = int(os.environ.get("SPRUNG_EXAMPLES", "25"))
QUICK = settings(max_examples=EXAMPLES, deadline=None, derandomize=True, suppress_health_check=list(HealthCheck))
WAYS = st.sampled_from(["", 'after_a_miss = "same show"', "repeat_within = 7",
                        'after_a_miss = "same show"\nrepeat_within = 7'])
SAID = st.tuples(
    st.sampled_from(["jo", "sam"]), st.sampled_from(CHILDREN[:2]), st.sampled_from(["seen", "seen", "not yet"]),
    st.sampled_from(["hop", "stand", "stand", "wheel", "wheel left", "wheel right", "medley", "medley galop"]),
)
ASKED = ("has rested", "second look, or")       # held until somebody decides: not judged yet


def played(ways: str, order: list[tuple]) -> tuple[dict, list, list]:
    """Deliver (seconds after the start, who, text) in that order; standings, marks and answers."""
    hall = Hall(ways=ways)
    hall.say("jo", "start")
    hall.say("jo", "everyone")
    begin = hall.clock.now()
    hall.clock.move_to(begin + timedelta(seconds=1500))
    answers = []
    for at, who, text in order:
        said = hall.say(who, text, ago=(hall.clock.now() - begin).total_seconds() - at)
        answers.append((at, said[0].text))
    hall.clock.move_to(begin + timedelta(seconds=1600))
    standings, marks = hall.standings(), hall.export()["marks"]
    hall.close()
    shown = sorted((m["child"], m["skill"], m["judged_at"], m["verdict"], m["try"], m["show"]) for m in marks)
    return standings, shown, answers


@QUICK
@given(said=st.lists(SAID, min_size=2, max_size=9), gaps=st.lists(st.integers(5, 140), min_size=9, max_size=9),
       close=st.none() | st.integers(1, 8), late=st.sampled_from(["jo", "sam"]), ways=WAYS, data=st.data())
def test_a_phone_that_was_out_of_reach(said, gaps, close, late, ways, data):
    """One person's messages come after all of the other's, each with its own time: as if they had come in turn."""
    at, messages = 0, []
    for (who, child, verdict, skill), gap in zip(said, gaps, strict=False):
        at += gap
        messages.append((at, who, f"{child} {verdict} {skill}"))
    if close is not None:
        messages = [*messages[:close], (at + 10, "jo", "close")]
    _, _, answers = played(ways, messages)
    judged = [one for one, (_, answer) in zip(messages, answers, strict=True)
              if not any(word in answer for word in ASKED)]
    assume(len(judged) > 1)
    expected, marks, _ = played(ways, judged)
    order = [one for one in judged if one[1] != late] + [one for one in judged if one[1] == late]
    if data.draw(st.booleans()):
        order = data.draw(st.permutations(judged))
    found, found_marks, found_answers = played(ways, order)
    assume(not any(word in answer for _, answer in found_answers for word in ASKED))
    assert found == expected
    assert [mark for mark in marks if mark not in found_marks] == []     # more: what was counted before it was not new


def test_a_mark_that_changed_nothing_counts_where_a_late_miss_comes_before_it():
    """The same leg seen twice; then a *not yet* from between the two arrives: the second time it was seen anew."""
    said = [(100, "jo", "ava seen wheel left"), (400, "jo", "ava seen wheel left"), (405, "jo", "ava seen wheel right"),
            (230, "sam", "ava not yet wheel left")]
    in_turn, _, _ = played('after_a_miss = "same show"', sorted(said))
    late, _, answers = played('after_a_miss = "same show"', said)
    assert "was seen already" in answers[1][1]
    assert late == in_turn
    assert late["ava", "wheel"]["standing"] == "ticked"


def test_an_undo_after_the_same_mark_twice_takes_back_what_both_said():
    """A tap that came twice: the second changed nothing, so it does not stand in for the first once that is undone."""
    hall = Hall()
    hall.say("jo", "start")
    hall.say("jo", "everyone")
    before = hall.standings()
    hall.say("jo", "ava seen hop")
    assert "is ticked" in hall.say("jo", "ava seen hop")[0].text
    assert "Taken back" in hall.say("jo", "undo")[0].text
    assert hall.standings() == before
    assert hall.export()["marks"] == []
    hall.close()
