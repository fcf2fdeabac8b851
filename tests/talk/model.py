"""A plain-dict model of what marks amount to, written from the rules alone; it shares no code with the program.

A message is a dict: who, kind ("marks", "open" or "close"), what it recorded, and whether it was taken back. What a
child has come to with a skill is worked out from the list of messages each time, from nothing.
"""
from __future__ import annotations

from datetime import timedelta
from typing import Any

PIECES = {"hop": [""], "stand": [""], "wheel": ["left", "right"], "medley": ["galop", "polka"]}
SHOWS = {"hop": 1, "stand": 2, "wheel": 1, "medley": 2}
REST = 60
RECORDED = ("counts", "second look")
ASIDE = ("ticked", "already")


class Model:
    """Every message that recorded something, and the settings of the scheme."""

    def __init__(self, within: str | int, after_a_miss: str) -> None:
        self.within, self.after = within, after_a_miss
        self.messages: list[dict[str, Any]] = []

    @property
    def open(self) -> bool:
        """Is the lesson open? As the last opening or close says that still stands."""
        said = [m["kind"] for m in self.messages if m["kind"] in ("open", "close") and not m["undone"]]
        return not said or said[-1] == "open"

    # --- the record ---

    def events(self, child: str, skill: str, also: dict | None = None) -> list[dict]:
        """What bears on one child and skill, in the order in which it counts."""
        found = []
        for n, message in enumerate(self.messages):
            if message["undone"]:
                continue
            if message["kind"] == "close":
                found.append({"close": True, "at": message["at"], "sent": message["at"], "n": 10**9 + n})
            for mark in message.get("marks", []):
                if (mark["child"], mark["skill"]) == (child, skill) and not mark.get("gone"):
                    found.append({**mark, "n": n, "id": id(mark)})
        if also is not None:
            found.append({**also, "n": 10**8, "id": 0})
        return sorted(found, key=lambda event: (event["at"], event["sent"], event["n"]))

    def take_back(self, message: dict[str, Any]) -> None:
        """As if it had never come; what had changed nothing on the same child and skill goes with it."""
        message["undone"] = True
        pairs = [(mark["child"], mark["skill"]) for mark in message.get("marks", [])]
        for one in self.messages:
            for mark in one.get("marks", []):
                if mark.get("aside") and (mark["child"], mark["skill"]) in pairs:
                    mark["gone"] = True

    def became(self, mark: dict[str, Any]) -> str:
        """What a mark of the record comes to as things stand."""
        return self.state(mark["child"], mark["skill"], only=mark)[1] or ""

    def changes_something(self, message: dict[str, Any]) -> bool:
        """Did it when it came, or does it since another came before it?"""
        marks = message.get("marks")
        return marks is None or any(
            not mark.get("gone") and (not mark.get("aside") or self.became(mark) in RECORDED) for mark in marks
        )

    def listed(self) -> int:
        """How many marks stand, without those that change nothing."""
        return sum(
            not mark.get("gone") and (not mark.get("aside") or self.became(mark) not in ASIDE)
            for message in self.messages if not message["undone"] for mark in message.get("marks", [])
        )

    def closes(self) -> list:
        """When the lesson was closed, as far as that stands."""
        return [m["at"] for m in self.messages if m["kind"] == "close" and not m["undone"]]

    def holds(self, at: Any) -> bool:
        """Does a judgement of that time belong to the lesson?"""
        return self.open or at < max(self.closes())

    # --- what it comes to ---

    def state(
        self, child: str, skill: str, also: dict | None = None, only: dict | None = None
    ) -> tuple[dict, str | None]:
        """The state, and what became of the mark `also` were it among the others, or of `only`, which is."""
        now = {"show": 1, "seen": set(), "ticked": False, "rest": None, "again": False, "began": None, "last": None,
               "early": False}
        became = None
        for event in self.events(child, skill, also):
            if "close" in event:
                if self.within == "lesson" and now["began"] is not None and not now["ticked"]:
                    now.update(show=1, seen=set(), rest=None, began=None, again=True, early=False)
                continue
            verdict = self.judge(now, event, skill)
            if (also is not None and event["n"] == 10**8) or (only is not None and event["id"] == id(only)):
                became = verdict
            if verdict == "counts":
                self.count(now, event, skill)
        return now, became

    def judge(self, now: dict, mark: dict, skill: str) -> str:
        last = now["last"]
        other = last is not None and last["by"] != mark["by"] and mark["at"] - last["at"] <= timedelta(seconds=120)
        resting = now["rest"] is not None and mark["at"] < now["rest"] - timedelta(seconds=3)
        if mark["look"] == "second look":
            return "second look"
        if other and mark["look"] is None:
            apart = mark["pieces"] is not None and not now["ticked"] and not set(mark["pieces"]) & last["pieces"]
            to_come = (last["verdict"] == "seen" and not now["ticked"] and now["show"] == last["show"] + 1
                       and not now["seen"])
            if not apart and not to_come:
                return "second look"
            if not apart and mark["verdict"] == "not yet":
                return "second look" if resting else "asked"
            if not apart and resting:
                return "asked"
        if now["ticked"]:
            return "ticked"
        if not self.about(now, mark, skill):
            return "already"
        if resting and not mark["early"]:
            return "early"
        return "counts"

    def about(self, now: dict, mark: dict, skill: str) -> set[str]:
        """The pieces that a mark is about."""
        owed = set(PIECES[skill]) - now["seen"]
        if mark["pieces"] is None:
            return owed
        return set(mark["pieces"]) if mark["verdict"] == "not yet" else set(mark["pieces"]) & owed

    def count(self, now: dict, mark: dict, skill: str) -> None:
        pieces = self.about(now, mark, skill)
        show = now["show"]
        if now["began"] is None:
            now["began"] = mark["at"]
        now["last"] = {"by": mark["by"], "at": mark["at"], "verdict": mark["verdict"], "show": show, "pieces": pieces}
        if mark["verdict"] == "not yet":
            now.update(again=True, rest=None, early=False)
            if self.after == "first show":
                now.update(show=1, seen=set(), began=None)
            else:
                now["seen"] -= pieces
                if show == 1 and not now["seen"]:
                    now["began"] = None
            return
        resting = now["rest"] is not None and mark["at"] < now["rest"] - timedelta(seconds=3)
        now["early"] = now["early"] or (mark["early"] and resting)
        now["again"] = False
        now["rest"] = None
        now["seen"] |= pieces
        if now["seen"] == set(PIECES[skill]):
            if show == SHOWS[skill]:
                now["ticked"] = True
            else:
                whole = mark["at"].replace(microsecond=0)
                now.update(show=2, seen=set(), rest=whole + timedelta(seconds=REST))

    def label(self, child: str, skill: str, at: Any) -> str:
        """The standing in the words of the export."""
        now, _ = self.state(child, skill)
        if now["ticked"]:
            return "ticked"
        if now["again"]:
            return "retest"
        if now["rest"] is not None and not now["seen"]:
            return "resting" if at < now["rest"] else "ready"
        return "owed" if now["seen"] or now["show"] == 2 else "untried"
