"""Whole lessons, week after week, against a clipboard: several children in a message, lines, the register, old taps.

The clipboard is a list of what was said and a few plain dicts; it is written from the rules of marks alone and works
everything out anew each time it is asked. The program must agree with it after every single message.
"""
from __future__ import annotations

import os
from datetime import UTC, datetime, timedelta
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

from tests.talk.hall import CHILDREN, SKILLS, START, Hall

EXAMPLES = int(os.environ.get("SPRUNG_EXAMPLES", "80"))
PIECES = {"hop": [""], "stand": [""], "wheel": ["left", "right"], "medley": ["galop", "polka"]}
SHOWS = {"hop": 1, "stand": 2, "wheel": 1, "medley": 2}
REST, GRACE, LOOK = timedelta(seconds=60), timedelta(seconds=3), timedelta(seconds=120)
WEEK = timedelta(days=7)
NEWEST = 10**9
KEPT = ("counts", "second look", "no first")
ASIDE = ("ticked", "already")       # kept in case another comes before it
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


def in_words(at: datetime) -> str:
    return at.astimezone(UTC).isoformat().replace("+00:00", "Z")


class Clipboard:
    """What was said, message by message, and what it comes to."""

    def __init__(self, within: str | int, after: str) -> None:
        self.within, self.after = within, after
        self.messages: dict[str, dict[str, Any]] = {}

    def write(self, key: str, who: str, *entries: dict[str, Any]) -> None:
        """A message that recorded these entries."""
        if entries:
            self.messages[key] = {"who": who, "entries": entries, "undone": False}

    def entries(self) -> list[tuple[int, dict[str, Any]]]:
        """All that stands, in the order in which it came."""
        n, found = 0, []
        for message in self.messages.values():
            for entry in message["entries"]:
                n += 1
                if entry.get("gone"):
                    continue
                if not message["undone"] or entry["what"] == "open" or entry.get("by") == "":
                    found.append((n, entry))
        return found

    def take_back(self, key: str) -> None:
        """As if it had never come; that a lesson was opened, or closed by itself, stays.

        What had changed nothing on the same child and skill goes with it.
        """
        if self.messages[key]["undone"]:
            return
        self.messages[key]["undone"] = True
        pairs = [(one["child"], one["skill"]) for one in self.messages[key]["entries"] if one["what"] == "mark"]
        for message in self.messages.values():
            for one in message["entries"]:
                if one.get("aside") and (one["child"], one["skill"]) in pairs:
                    one["gone"] = True

    def changes_something(self, entry: dict[str, Any]) -> bool:
        """Does it count, or did it when it came? A mark set aside may count since another came before it."""
        if not entry.get("aside"):
            return True
        became = self.work_out(entry["child"], entry["skill"])[1]
        return any(one is entry and what in KEPT for one, what in became)

    # --- lessons ---

    def is_open(self, lesson: str) -> bool:
        """Was it opened, and not closed since?"""
        known = [one["what"] for _, one in self.entries()
                 if one["lesson"] == lesson and one["what"] in ("open", "close")]
        return bool(known) and known[-1] == "open"

    def closes(self, lesson: str) -> list[datetime]:
        """When it was closed."""
        return [one["at"] for _, one in self.entries() if one["what"] == "close" and one["lesson"] == lesson]

    def belongs(self, lesson: str, at: datetime) -> bool:
        """Is a judgement of that time one of this lesson?"""
        return self.is_open(lesson) or any(at < close for close in self.closes(lesson))

    def register(self, lesson: str) -> tuple[bool, set[str]]:
        """Was it asked who is here and answered, and who is away."""
        taken, away = False, set()
        for _, one in self.entries():
            if one["lesson"] != lesson:
                continue
            if one["what"] == "register":
                taken, away = True, set(one["away"])
            elif one["what"] == "away":
                away.add(one["child"])
            elif one["what"] == "here" or (one["what"] == "mark" and not taken and not one.get("aside")):
                away.discard(one["child"])
        return taken, away

    # --- standings ---

    def history(self, child: str, skill: str, also: dict[str, Any] | None) -> list[dict[str, Any]]:
        """What bears on one child and skill, in the order in which it counts."""
        all_of_it = self.entries() + ([(NEWEST, also)] if also else [])
        marks = [(one["at"], one["sent"], n, one) for n, one in all_of_it
                 if one["what"] == "mark" and (one["child"], one["skill"]) == (child, skill)]
        lessons = {mark[3]["lesson"] for mark in marks}
        shut = [(one["at"], one["at"], NEWEST + n, one) for n, one in all_of_it
                if one["what"] == "close" and one["lesson"] in lessons]
        return [one for *_, one in sorted([*marks, *shut], key=lambda row: row[:3])]

    def work_out(self, child: str, skill: str, also: dict[str, Any] | None = None) -> tuple[dict[str, Any], list]:
        """Where a child is with a skill, and what became of each mark (the one of `also` among them)."""
        now: dict[str, Any] = {
            "show": 1, "seen": set(), "rested": None, "began": None, "retest": None, "ticked": None, "early": False,
            "missed": [], "lesson": None, "last": None,
        }
        became = []
        for one in self.history(child, skill, also):
            if one["what"] == "close":
                open_try = now["began"] is not None and now["ticked"] is None and now["lesson"] == one["lesson"]
                if self.within == "lesson" and open_try:
                    self.over(now, one["at"])
                continue
            self.too_late(now, one["at"])
            kept = {**now, "seen": set(now["seen"])}
            if self.within == "lesson" and now["began"] and now["ticked"] is None and now["lesson"] != one["lesson"]:
                self.over(now, now["began"])        # every show of a try belongs to one lesson
            verdict = self.judge(now, one, skill)
            became.append((one, verdict))
            if verdict != "counts":
                now = kept
            else:
                self.count(now, one, skill)
        return now, became

    def over(self, now: dict[str, Any], at: datetime) -> None:
        """The try is over before its last show was seen."""
        now.update(show=1, seen=set(), rested=None, began=None, early=False, retest=now["retest"] or at.date())

    def too_late(self, now: dict[str, Any], at: datetime) -> None:
        """Seven days are over."""
        if self.within != "lesson" and now["began"] is not None and now["ticked"] is None:
            last_day = now["began"].date() + timedelta(days=int(self.within))
            if at.date() > last_day:
                self.over(now, datetime.combine(last_day, at.time(), UTC))

    def about(self, now: dict[str, Any], mark: dict[str, Any], skill: str) -> set[str]:
        """The pieces that a mark is about."""
        owed = set(PIECES[skill]) - now["seen"]
        if mark["pieces"] is None:
            return owed
        return set(mark["pieces"]) if mark["verdict"] == "not yet" else set(mark["pieces"]) & owed

    def judge(self, now: dict[str, Any], mark: dict[str, Any], skill: str) -> str:
        """What becomes of a mark, as things stand."""
        last, ticked = now["last"], now["ticked"] is not None
        resting = now["rested"] is not None and mark["at"] < now["rested"] - GRACE
        if mark["look"] == "second look":
            return "second look"
        by_another = (last is not None and last["by"] != mark["by"] and last["lesson"] == mark["lesson"]
                      and mark["at"] - last["at"] <= LOOK and mark["look"] != "next show")
        if by_another:
            if mark["show"] is not None:
                if ticked or mark["show"] != now["show"]:
                    return "second look"
            elif mark["pieces"] is None or ticked or set(mark["pieces"]) & last["pieces"]:
                to_come = last["verdict"] == "seen" and not ticked and now["show"] > last["show"] and not now["seen"]
                if not to_come or (mark["verdict"] == "not yet" and resting):
                    return "second look"
                if mark["verdict"] == "not yet" or resting:
                    return "which"
        if ticked:
            return "ticked"
        own_miss = (mark["asked"] is not None and last is not None and last["verdict"] == "not yet"
                    and last["lesson"] == mark["lesson"] and last["at"] >= mark["asked"]
                    and last["show"] == mark["show"])
        if mark["show"] is not None and mark["show"] > now["show"]:
            return "stays" if own_miss else "no first"
        if mark["show"] is not None and mark["show"] < now["show"]:
            return "already"
        if own_miss:
            return "stays"
        if not self.about(now, mark, skill):
            return "already"
        return "early" if resting and not mark["early"] else "counts"

    def count(self, now: dict[str, Any], mark: dict[str, Any], skill: str) -> None:
        """A mark counts."""
        pieces, show = self.about(now, mark, skill), now["show"]
        resting = now["rested"] is not None and mark["at"] < now["rested"] - GRACE
        now["began"] = now["began"] or mark["at"]
        now.update(lesson=mark["lesson"], last={**mark, "pieces": pieces, "show": show}, rested=None)
        if mark["verdict"] == "not yet":
            now.update(retest=mark["at"].date(), missed=mark["missed"], early=False)
            now["seen"] -= pieces
            if self.after == "first show" or (show == 1 and not now["seen"]):
                now.update(show=1, seen=set(), began=None)
            return
        now.update(retest=None, missed=[], early=now["early"] or (mark["early"] and resting))
        now["seen"] |= pieces
        if now["seen"] == set(PIECES[skill]) and show == SHOWS[skill]:
            now["ticked"] = mark["at"].date()
        elif now["seen"] == set(PIECES[skill]):
            now.update(show=2, seen=set(), rested=mark["at"].replace(microsecond=0) + REST)

    def exported(self, child: str, skill: str, at: datetime, open_lesson: str | None) -> dict[str, Any]:
        """What an export should say of a child and skill."""
        now, _ = self.work_out(child, skill)
        self.too_late(now, at)
        owed = [piece for piece in PIECES[skill] if piece not in now["seen"]]
        out: dict[str, Any] = {"show": now["show"], "owed_pieces": [one for one in owed if one]}
        if now["missed"]:
            out["missed"] = now["missed"]
        if now["early"]:
            out["early"] = True
        if now["ticked"] is not None:
            return {**out, "standing": "ticked", "show": SHOWS[skill], "owed_pieces": [],
                    "ticked_on": now["ticked"].isoformat()}
        if now["retest"] is not None:
            return {**out, "standing": "retest", "due": tuesday_after(now["retest"])}
        if now["began"] is None:
            return {**out, "standing": "untried"}
        if now["lesson"] != open_lesson:
            out["due"] = tuesday_after(datetime.fromisoformat(now["lesson"]).date())
        if now["rested"] is not None and not now["seen"]:
            label = "resting" if at < now["rested"] else "ready"
            return {**out, "standing": label, "rested_at": in_words(now["rested"])}
        return {**out, "standing": "owed"}

    def marks(self) -> list[tuple]:
        """Every mark that stands, as the export should list it."""
        rows = []
        for child in CHILDREN:
            for skill in SKILLS:
                for mark, became in self.work_out(child, skill)[1]:
                    if mark.get("aside") and became in ASIDE:
                        continue
                    rows.append((child, skill, mark["verdict"], mark["by"], in_words(mark["at"]), tuple(mark["missed"]),
                                 became in ("second look", "which")))
        return sorted(rows)


def tuesday_after(day: Any) -> str:
    return (day + timedelta(days=(1 - day.weekday() - 1) % 7 + 1)).isoformat()


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
            self.hall.say(person, word)

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
        self.hall.say(person, "undo")
        if mine:
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
