"""A clipboard: a list of what was said, a few plain dicts, and what they come to. Nothing here is a test.

It is written from the rules of marks alone and works everything out anew each time it is asked.
"""
from __future__ import annotations

from datetime import UTC, datetime, timedelta
from typing import Any

from tests.talk.hall import CHILDREN, SKILLS

PIECES = {"hop": [""], "stand": [""], "wheel": ["left", "right"], "medley": ["galop", "polka"]}
SHOWS = {"hop": 1, "stand": 2, "wheel": 1, "medley": 2}
REST, GRACE, LOOK = timedelta(seconds=60), timedelta(seconds=3), timedelta(seconds=120)
NEWEST = 10**9
KEPT = ("counts", "second look", "no first")
ASIDE = ("ticked", "already")       # kept in case another comes before it


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
