"""Random lessons against a plain-dict model: marks are never lost, never doubled, and amount to what the rules say."""
from __future__ import annotations

import os
import tempfile
from datetime import timedelta

import pytest
from hypothesis import HealthCheck, settings
from hypothesis import strategies as st
from hypothesis.stateful import (
    RuleBasedStateMachine,
    initialize,
    invariant,
    precondition,
    rule,
    run_state_machine_as_test,
)

from bot.facts import LessonClosed, Mark, in_force
from bot.marks.history import events
from bot.marks.standing import fold
from bot.out.export import rules
from tests.talk.hall import CHILDREN, SKILLS, Hall
from tests.talk.model import ASIDE, PIECES, RECORDED, Model

EXAMPLES = int(os.environ.get("SPRUNG_EXAMPLES", "25"))
PEOPLE = st.sampled_from(["jo", "sam"])
PAIRS = st.tuples(st.sampled_from(CHILDREN[:3]), st.sampled_from(SKILLS))

HELD = {"early": ("Count it", "Wait"), "asked": ("Second look", "Second show")}


class Lessons(RuleBasedStateMachine):
    """What people say in a lesson, in any order, and what should come of it."""

    url = "memory:"

    @initialize(within=st.sampled_from(["lesson", 7]), after=st.sampled_from(["first show", "same show"]))
    def begin(self, within, after):
        self.folder = tempfile.TemporaryDirectory()
        ways = f'repeat_within = {within if within == 7 else chr(34) + within + chr(34)}\nafter_a_miss = "{after}"'
        url = self.url if self.url == "memory:" else f"sqlite:///{self.folder.name}/x.sqlite"
        self.hall = Hall(url, ways)
        self.model = Model(within, after)
        self.held: dict[str, list[dict]] = {}
        self.hall.say("jo", "start")
        self.hall.say("jo", "everyone")

    def teardown(self):
        if hasattr(self, "hall"):
            self.hall.close()
            self.folder.cleanup()

    # --- what is said ---

    def mark(self, person, child, skill, verdict, piece, ago):
        at = self.hall.clock.now() - timedelta(seconds=ago)
        mark = {"child": child, "skill": skill, "verdict": verdict, "by": person, "at": at, "sent": at, "early": False,
                "pieces": None if piece is None or PIECES[skill] == [""] else [PIECES[skill][piece]], "look": None}
        word = f" {mark['pieces'][0]}" if mark["pieces"] else ""
        said = self.hall.say(person, f"{child} {verdict} {skill}{word}", ago=ago)
        self.held.pop(person, None)
        if not self.model.holds(at):
            assert said[0].choices[0].label == "Start"
            return
        _, became = self.model.state(child, skill, mark)
        labels = [choice.label for choice in said[0].choices]
        if became in (*RECORDED, *ASIDE):
            mark = {**mark, "aside": became in ASIDE}
            self.model.messages.append({"kind": "marks", "who": person, "undone": False, "marks": [mark]})
        elif became in HELD:
            assert labels[:2] == list(HELD[became]), (became, said[0].text, labels)
            self.held[person] = [mark, became]
        else:
            assert not set(labels) & {"Count it", "Second look"}, (became, said[0].text)

    @rule(person=PEOPLE, pair=PAIRS, verdict=st.sampled_from(["seen", "seen", "not yet"]),
          piece=st.sampled_from([None, 0, 1]))
    def says(self, person, pair, verdict, piece):
        self.mark(person, *pair, verdict, piece, 0)

    @rule(person=PEOPLE, pair=PAIRS, verdict=st.sampled_from(["seen", "not yet"]), ago=st.integers(1, 300),
          piece=st.sampled_from([None, 0, 1]))
    def says_late(self, person, pair, verdict, ago, piece):
        self.mark(person, *pair, verdict, piece, ago)

    @precondition(lambda self: self.held)
    @rule(data=st.data())
    def answers(self, data):
        person = data.draw(st.sampled_from(sorted(self.held)))
        mark, became = self.held.pop(person)
        label = data.draw(st.sampled_from(HELD[became]))
        self.hall.tap(person, label)
        if label == "Wait":
            return
        said = {"Count it": {"early": True}, "Second look": {"look": "second look"},
                "Second show": {"look": "next show", "early": True}}[label]
        mark = {**mark, **said}
        _, became = self.model.state(mark["child"], mark["skill"], mark)
        if became in (*RECORDED, *ASIDE):
            mark = {**mark, "aside": became in ASIDE}
            self.model.messages.append({"kind": "marks", "who": person, "undone": False, "marks": [mark]})

    @rule(person=PEOPLE)
    def undoes(self, person):
        self.held.pop(person, None)
        mine = [m for m in self.model.messages
                if m["who"] == person and not m["undone"] and self.model.changes_something(m)]
        if person == "jo" and not mine:
            return      # what is left is the register, which this model does not keep
        self.hall.say(person, "undo")
        if mine:
            self.model.take_back(mine[-1])

    @precondition(lambda self: self.model.open)
    @rule(person=PEOPLE)
    def closes(self, person):
        at = self.hall.clock.now()
        self.hall.say(person, "close")
        self.held.clear()
        self.model.messages.append({"kind": "close", "who": person, "undone": False, "at": at})

    @precondition(lambda self: not self.model.open)
    @rule()
    def starts_again(self):
        self.hall.say("jo", "start tuesday")
        self.model.messages.append({"kind": "open", "who": "", "undone": False})

    @rule(data=st.data())
    def is_delivered_again(self, data):
        message = data.draw(st.sampled_from(self.hall.sent))
        before = self.hall.last.get(message["sender"])
        self.hall.deliver(message)
        self.hall.last[message["sender"]] = before

    @rule(seconds=st.sampled_from([1, 10, 40, 58, 61, 130]))
    def time_passes(self, seconds):
        self.hall.wait(seconds)

    @rule()
    def starts_anew(self):
        self.hall.restart()

    # --- what must hold ---

    @invariant()
    def standings_are_the_models(self):
        if not hasattr(self, "hall"):
            return
        now, at = self.hall.standings(), self.hall.clock.now()
        for child in CHILDREN[:3]:
            for skill in SKILLS:
                assert now[child, skill]["standing"] == self.model.label(child, skill, at), (child, skill)

    @invariant()
    def nothing_is_lost_or_doubled(self):
        if not hasattr(self, "hall"):
            return
        assert len(self.hall.export()["marks"]) == self.model.listed()

    @invariant()
    def what_is_kept_is_the_fold_from_nothing(self):
        if not hasattr(self, "hall"):
            return
        club = self.hall.snapshot()
        kept = in_force(club.record)
        closes = [one.fact for one in kept if isinstance(one.fact, LessonClosed)]
        for book in club.books.values():
            for child, of_child in book.standings.items():
                for skill, standing in of_child.items():
                    record = [r for r in kept if getattr(r.fact, "child", None) == child
                              and getattr(r.fact, "skill", None) == skill]
                    lessons = {r.fact.lesson for r in record if isinstance(r.fact, Mark)}
                    folded, _ = fold(
                        events(record, [close for close in closes if close.lesson in lessons]),
                        lambda version, skill=skill: rules(club, version, skill),
                    )
                    assert folded == standing, (child, skill)


class LessonsOnSqlite(Lessons):
    """The same on a database that is really let go and opened again."""

    url = "sqlite"


@pytest.mark.parametrize(("machine", "examples"), [(Lessons, EXAMPLES), (LessonsOnSqlite, max(3, EXAMPLES // 5))])
def test_lessons_are_what_the_model_says(machine, examples):
    """Marks, misses, questions, undo, closes, redelivery, late messages and restarts: always what the model says."""
    run_state_machine_as_test(machine, settings=settings(
        max_examples=examples, stateful_step_count=40, deadline=None, derandomize=True,
        suppress_health_check=list(HealthCheck), print_blob=False,
    ))
    assert machine.url in ("memory:", "sqlite")
