"""Whole lessons, week after week, against a clipboard: several children in a message, lines, the register, old taps.

The program must agree with the clipboard (`clipboard.py`) after every single message.
"""
from __future__ import annotations

import os
from collections import Counter
from datetime import datetime, timedelta
from typing import Any

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

from tests.talk.clipboard import ASIDE, KEPT, PIECES, Clipboard
from tests.talk.hall import CHILDREN, START, Hall

EXAMPLES = int(os.environ.get("SPRUNG_EXAMPLES", "80"))
ASKED = {"early": ("Count it", "Wait"), "which": ("Second look", "Second show"), "away": ("Yes here", "Not here")}
MEANS = {
    "Count it": {"early": True}, "Second look": {"look": "second look"},
    "Second show": {"look": "next show", "early": True}, "Yes here": {},
}
PEOPLE = st.sampled_from(["jo", "sam"])
SOME = st.sampled_from([["ava"], ["ava"], ["ava"], ["ben"], ["ben"], ["ava", "ben"], ["chidi", "ava", "ben"]])
CLAUSE = st.tuples(SOME, st.sampled_from(["stand", "stand", "stand", "medley", "medley", "wheel", "wheel", "hop"]),
                   st.sampled_from(["seen", "seen", "seen", "not yet", "not yet hips"]),
                   st.sampled_from([None, None, 0, 1]))
GAPS = st.sampled_from([1, 20, 54, 57, 61, 61, 65, 110, 125])


class Weeks(RuleBasedStateMachine):
    """What two people say and tap in the lessons of a class."""

    url = "memory:"

    @initialize(within=st.sampled_from(["lesson", 7]), after=st.sampled_from(["first show", "same show"]),
                register=st.booleans(), skill=st.sampled_from(["stand", "stand", "medley"]),
                first=st.lists(st.tuples(PEOPLE, CLAUSE, GAPS), min_size=2, max_size=7))
    def begin(self, within, after, register, skill, first):
        """A lesson that is under way: Ava with one skill, with some time between."""
        ways = f'repeat_within = {within if within == 7 else chr(34) + within + chr(34)}\nafter_a_miss = "{after}"'
        self.hall = Hall(self.url, ways)
        self.paper = Clipboard(within, after)
        self.put_off = Counter()
        self.asked: list[tuple[str, Any, str, list[dict]]] = []      # who, message, why, marks
        self.waiting: list[tuple[str, Any, list[dict]]] = []         # who, message, marks for which none was open
        self.starts()
        if register:
            self.everyone("jo")
        for person, clause, gap in first:
            self.says(person, [(["ava"], skill, *clause[2:])], 0)
            self.hall.wait(gap)

    def teardown(self):
        if hasattr(self, "hall"):
            self.hall.close()

    @property
    def lesson(self) -> str:
        """The lesson of the latest Tuesday."""
        now = self.hall.clock.now()
        return (now - timedelta(days=(now.weekday() - 1) % 7)).date().isoformat()

    @property
    def key(self) -> str:
        """The id of the message just sent."""
        return self.hall.sent[-1]["id"]

    def on_the_day(self) -> bool:
        return self.hall.clock.now().date().isoformat() == self.lesson and self.hall.clock.now().hour < 23

    # --- marks ---

    def weigh(self, person: str, said: Any, marks: list[dict], also: tuple[dict, ...] = (), *, here: bool = False,
              once: bool = False) -> None:
        """Write down what should have been recorded, and remember what should have been asked."""
        kept: list[dict] = list(also)
        held: dict[str, list[dict]] = {}
        done = Clipboard(self.paper.within, self.paper.after)
        done.messages = {**self.paper.messages}
        known = [self.same(entry) for _, entry in self.paper.entries()
                 if entry["what"] == "mark" and not entry.get("aside")] if once else []
        for mark in marks:
            if self.same(mark) in known:
                continue
            done.write(self.key, person, *kept)
            taken, away = self.paper.register(mark["lesson"])
            if not here and taken and mark["child"] in away:
                became = "away"
            else:
                became = done.work_out(mark["child"], mark["skill"], mark)[1]
                became = next(what for one, what in became if one is mark)
            if became in KEPT:
                kept.append(mark)
            elif became in ASIDE:
                kept.append({**mark, "aside": True})
            elif became in ASKED:
                held.setdefault(became, []).append(mark)
        self.paper.write(self.key, person, *kept)
        labels = [choice.label for choice in said[0].choices]
        for why, which in held.items():
            assert all(label in labels for label in ASKED[why]), (why, labels, said[0].text)
            self.asked.append((person, said[0], why, which))
        for why, answers in ASKED.items():
            assert why in held or answers[0] not in labels, (why, labels, said[0].text)

    def same(self, mark: dict) -> tuple:
        """What makes two the same judgement: a question that is answered twice records once."""
        return tuple(mark[key] for key in ("child", "skill", "lesson", "verdict", "pieces", "by", "at", "sent"))

    def mark(self, person, child, skill, verdict, piece, at, **more) -> dict[str, Any]:
        pieces = None if piece is None or PIECES[skill] == [""] else [PIECES[skill][piece]]
        return {"what": "mark", "child": child, "skill": skill, "verdict": verdict, "by": person, "at": at, "sent": at,
                "pieces": pieces, "show": None, "asked": None, "early": False, "look": None, "missed": [],
                "lesson": self.lesson, **more}

    @rule(person=PEOPLE, clauses=st.lists(CLAUSE, min_size=1, max_size=3), gap=GAPS)
    def says_and_waits(self, person, clauses, gap):
        self.says(person, clauses, 0)
        self.hall.wait(gap)

    @rule(person=PEOPLE, clauses=st.lists(CLAUSE, min_size=1, max_size=3),
          ago=st.sampled_from([0, 0, 0, 0, 1, 20, 65, 130, 300]))
    def says(self, person, clauses, ago):
        """`ava, ben seen stand; chidi not yet wheel left`, perhaps sent a while ago."""
        if not self.on_the_day():
            return
        at = self.hall.clock.now() - timedelta(seconds=ago)
        text, marks = [], []
        for who, skill, verdict, piece in clauses:
            missed = ["hips"] if verdict.endswith("hips") and skill == "stand" else []
            verdict = verdict.removesuffix(" hips")
            made = [self.mark(person, child, skill, verdict, piece, at, missed=missed) for child in who]
            side = f" {made[0]['pieces'][0]}" if made[0]["pieces"] else ""
            text.append(f"{', '.join(who)} {verdict} {skill}{side}{' hips' if missed else ''}")
            marks += made
        said = self.hall.say(person, "; ".join(text), ago=ago)
        if not self.paper.belongs(self.lesson, at):
            assert said[0].choices[0].label == "Start"
            self.waiting.append((person, said[0], marks))
            return
        self.weigh(person, said, marks)

    @precondition(lambda self: self.waiting)
    @rule(data=st.data())
    def enters_what_waits(self, data):
        """Start: the lesson of that day is opened, and what waited is recorded at its own time, once."""
        person, said, marks = data.draw(st.sampled_from(self.waiting))
        lesson = marks[0]["lesson"]
        answer = self.hall.say(person, choice=said.choice_ids()[0])
        opened = []
        if not self.paper.is_open(lesson):
            opened = [{"what": "open", "lesson": lesson}]
            if lesson != self.hall.clock.now().date().isoformat():
                midnight = datetime.fromisoformat(f"{lesson}T23:59:59+00:00")
                opened.append({"what": "close", "lesson": lesson, "at": midnight, "by": ""})
        self.weigh(person, answer, marks, tuple(opened), once=True)

    @precondition(lambda self: self.asked)
    @rule(data=st.data())
    def answers(self, data):
        """Any question that was ever asked is answered, perhaps for the second time."""
        person, said, why, marks = data.draw(st.sampled_from(self.asked))
        label = data.draw(st.sampled_from(ASKED[why]))
        at = [choice.label for choice in said.choices].index(label)
        answer = self.hall.say(person, choice=said.choice_ids()[at])
        if label not in MEANS:
            return
        notes = []
        if label == "Yes here":
            for mark in marks:
                if mark["child"] in self.paper.register(mark["lesson"])[1] - {one["child"] for one in notes}:
                    notes.append({"what": "here", "child": mark["child"], "lesson": mark["lesson"]})
        meant = [{**mark, **MEANS[label]} for mark in marks]
        self.weigh(person, answer, meant, tuple(notes), here=label == "Yes here", once=True)

    # --- lines ---

    @rule(person=PEOPLE, word=st.sampled_from(["next", "go", "skip", "stand", "wheel", "owed", "hop"]))
    def asks(self, person, word):
        """Whom to watch. Nothing is recorded."""
        if self.paper.is_open(self.lesson):
            told = self.hall.say(person, word)
            self.put_off[person] += told[-1].text.count(" is put off; ")

    @rule(person=PEOPLE, data=st.data())
    def taps_a_line(self, person, data):
        """All seen or None yet, of any line that was ever put up."""
        lines = [(said, at, choice) for said in self.hall.said.get(person, []) for at, choice in enumerate(said.choices)
                 if choice.label in ("All seen", "None yet")]
        if not lines:
            return
        said, at, choice = data.draw(st.sampled_from(lines[-6:]))
        line = choice.tap.line
        now, lesson = self.hall.clock.now(), line.lesson.split("/")[1]
        answer = self.hall.say(person, choice=said.choice_ids()[at])
        if not self.paper.belongs(lesson, now):
            return
        verdict = "seen" if choice.label == "All seen" else "not yet"
        self.weigh(person, answer, [
            self.mark(person, self.first(child), line.skill, verdict, None, now, show=line.show, asked=line.asked_at,
                      lesson=lesson)
            for child in line.children
        ])

    def first(self, child: str) -> str:
        names = self.hall.snapshot().books["tue"].children
        return names[child].name.split()[0].lower()

    # --- the register ---

    @rule(person=PEOPLE)
    def everyone(self, person):
        if self.paper.is_open(self.lesson):
            self.hall.say(person, "everyone")
            self.paper.write(self.key, person, {"what": "register", "away": [], "lesson": self.lesson})

    @rule(person=PEOPLE, child=st.sampled_from(CHILDREN[:3]), what=st.sampled_from(["away", "here"]))
    def notes(self, person, child, what):
        if not self.paper.is_open(self.lesson):
            return
        taken, _ = self.paper.register(self.lesson)
        self.hall.say(person, f"{child} {what}")
        if what == "away" and not taken:
            entry = {"what": "register", "away": [child], "lesson": self.lesson}
        else:
            entry = {"what": what, "child": child, "lesson": self.lesson}
        self.paper.write(self.key, person, entry)

    # --- taking back ---

    @rule(person=PEOPLE)
    def undoes(self, person):
        if not self.paper.is_open(self.lesson) and self.lesson != START.date().isoformat():
            return
        mine = [key for key, one in self.paper.messages.items() if one["who"] == person and not one["undone"]
                and any(entry["lesson"] == self.lesson and entry["what"] != "open" and entry.get("by") != ""
                        and not entry.get("gone") and self.paper.changes_something(entry)
                        for entry in one["entries"])]
        latest = sorted((one for one in self.hall.said.get(person, []) if one.club == "bench"), key=lambda one: one.seq)
        offered = [choice.tap.message.split(":")[1] for said in latest[-1:] for choice in said.choices
                   if choice.label == "Undo"]
        mine += offered                     # typed, the label of a choice just offered is that choice
        if mine and not self.of_now(mine[-1]):
            return
        told = self.hall.say(person, "undo")
        if mine and told and "Take that back?" in told[-1].text:        # it was of an earlier day
            told = self.hall.tap(person, "Take it back")
        if told and " is not put off any more." in told[-1].text:     # a skip is what it takes back, and each once
            self.put_off[person] -= 1
            assert self.put_off[person] >= 0
        elif mine:
            self.paper.take_back(mine[-1])

    def of_now(self, key: str) -> bool:
        """Is that no close of an earlier day? (Taken back, it opens that lesson only until time passes.)"""
        entries = self.paper.messages[key]["entries"]
        today = self.hall.clock.now().date().isoformat()
        return all(one["what"] != "close" or one["lesson"] == today for one in entries)

    @rule(person=PEOPLE, data=st.data())
    def taps_undo(self, person, data):
        """The choice Undo of any message takes back exactly that one."""
        undos = [(said, at, choice) for said in self.hall.said.get(person, []) for at, choice in enumerate(said.choices)
                 if choice.label == "Undo" and self.of_now(choice.tap.message.split(":")[1])]
        if undos:
            said, at, choice = data.draw(st.sampled_from(undos))
            self.hall.say(person, choice=said.choice_ids()[at])
            self.paper.take_back(choice.tap.message.split(":")[1])

    # --- lessons and time ---

    @rule(person=PEOPLE, ago=st.sampled_from([0, 0, 10, 100]))
    def closes(self, person, ago):
        if self.paper.is_open(self.lesson):
            at = self.hall.clock.now() - timedelta(seconds=ago)
            self.hall.say(person, "close", ago=ago)
            self.paper.write(self.key, person, {"what": "close", "lesson": self.lesson, "at": at})

    @rule()
    def starts(self):
        if self.on_the_day() and not self.paper.is_open(self.lesson):
            self.hall.say("jo", "start tuesday")
            self.paper.write(self.key, "", {"what": "open", "lesson": self.lesson})

    @rule(seconds=GAPS)
    def time_passes(self, seconds):
        self.hall.wait(seconds)

    @rule(days=st.sampled_from([1, 7, 7, 14]), data=st.data())
    @precondition(lambda self: len(self.hall.sent) > 6)
    def a_week_passes(self, days, data):
        """The lesson closes by itself, an hour after its end, and the next one comes."""
        was, lesson = self.paper.is_open(self.lesson), self.lesson
        ends = datetime.fromisoformat(f"{lesson}T19:00:00+00:00")
        now = self.hall.clock.now()
        until = (now + timedelta(days=days)).replace(hour=17, minute=0, second=0, microsecond=0)
        self.hall.wait((until - now).total_seconds())
        if was and now < ends:
            entry = {"what": "close", "lesson": lesson, "at": ends}
            self.paper.write(f"self-{lesson}-{len(self.hall.sent)}", "", entry)

    @rule(data=st.data())
    def is_delivered_again(self, data):
        """The same message once more changes nothing."""
        self.hall.deliver(data.draw(st.sampled_from(self.hall.sent)))

    # --- what must hold ---

    @invariant()
    def the_program_agrees(self):
        if not hasattr(self, "hall"):
            return
        out, at = self.hall.export(), self.hall.clock.now()
        names = {child["id"]: child["name"].split()[0].lower() for child in out["children"]}
        open_lesson = self.lesson if self.paper.is_open(self.lesson) else None
        for child in out["children"]:
            if child["class"] != "tue":
                continue
            for skill, state in child["skills"].items():
                expected = self.paper.exported(names[child["id"]], skill, at, open_lesson)
                assert state == expected, (child["name"], skill)
        listed = sorted((names[one["child"]], one["skill"], one["verdict"], one["by"], one["judged_at"],
                         tuple(one["missed"]), one["second_look"]) for one in out["marks"])
        assert listed == self.paper.marks()

    @invariant()
    def the_register_agrees(self):
        if not hasattr(self, "hall"):
            return
        book = self.hall.snapshot().books["tue"]
        lesson = book.lessons.get(f"tue/{self.lesson}")
        if lesson is not None:
            taken, away = self.paper.register(self.lesson)
            assert (lesson.is_open, lesson.registered) == (self.paper.is_open(self.lesson), taken)
            assert {self.first(child) for child in lesson.away} == away


def test_weeks_are_what_the_clipboard_says():
    """Marks of many, lines, questions, the register, undo, closes, weeks: the program agrees with the clipboard."""
    run_state_machine_as_test(Weeks, settings=settings(
        max_examples=EXAMPLES, stateful_step_count=40, deadline=None, derandomize=True,
        suppress_health_check=list(HealthCheck), print_blob=False,
    ))
    assert Weeks.url == "memory:"
