"""What is kept of one child, in words that a family can read: the answer to whoever asks for it.

What lives here: from a snapshot to text. Every fact that is about the child is said, what was taken back too; of other
children and of other families there is nothing in it.
"""
from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any, assert_never

from bot.facts import (
    AwardMoved,
    ChildAdded,
    ChildNoted,
    ConsentSaid,
    Counted,
    CupboardChanged,
    Fact,
    GroupNamed,
    HelperShowed,
    LessonClosed,
    LessonOpened,
    LessonPaused,
    LoadSpared,
    LookAsked,
    LookDeclined,
    Mark,
    NamePrinted,
    NewsReleased,
    NewsTold,
    PaceReset,
    ReasonGiven,
    RegisterTaken,
    RetestMoved,
    Ruling,
    TickBrought,
    Voided,
    WayAgreed,
    in_force,
)
from bot.lesson.book import ClassBook
from bot.lesson.timetable import class_and_day
from bot.out.export import export
from bot.people.model import Club
from bot.port import Snapshot
from bot.scheme.model import Scheme, Skill
from bot.talk import words

NOTED = {
    "away": "away", "here": "here", "sits": "sat out", "back": "joined in again", "leaves": "was to leave early",
    "spared": "was spared something", "bump": "was looked after",
}
MOVED = {
    "ordered": "on the order", "sent": "ordered", "arrived": "arrived", "presented": "presented",
    "dropped": "taken off",
}
STANDS = {
    "owed": "begun", "resting": "begun", "ready": "begun, the second show is to come", "ticked": "ticked",
    "retest": "to be shown again",
}
BESIDE = (
    "Beside this, answers and reminders that name the child are kept for two months, the last few until newer ones "
    "come, and of a parent's phone the address at which it is written to. Nothing else is: no birthday, no reasons, "
    "nothing medical."
)


def account(club: Snapshot, child: str, as_of: datetime) -> str:
    """All that is kept of that child, as of an instant. KeyError where the club has no child of that id."""
    of = _Of(club.club, club.schemes[max(club.schemes)], {one.id: one.first_name for one in club.people}, child)
    book = next((one for one in club.books.values() if child in one.children), None)
    if book is None:
        raise KeyError(child)
    name = book.children[child].name
    out = next(one for one in export(club, as_of)["children"] if one["id"] == child)
    head = f"What {club.club.name} keeps of {name}, on {of.day(as_of.astimezone(club.club.tz).date())}"
    parts = {
        head: list(_who(of, book)),
        "How it stands": [*_skills(of, out["skills"]), *_awards(of, out["awards"])],
        "What was taken down, in order": list(_record(of, club)),
    }
    said = ["\n".join([f"{title}:", *(f"  {row}" for row in rows or ["nothing yet"])]) for title, rows in parts.items()]
    return "\n\n".join([*said, BESIDE])


@dataclass(frozen=True)
class _Of:
    """One child of a club, with what is needed to put her things into words."""

    club: Club
    scheme: Scheme
    people: Mapping[str, str]
    child: str

    def day(self, when: date) -> str:
        return f"{words.date_in_full(when)} {when.year}"

    def at(self, when: datetime) -> str:
        return f"{self.day(when.astimezone(self.club.tz).date())}, {words.clock(when, self.club.tz)}"

    def by(self, person: str) -> str:
        return self.people.get(person, "somebody")

    def skill(self, key: str) -> str:
        one = self.scheme.skills.get(key)
        return key if one is None else one.name

    def points(self, skill: str, points: tuple[str, ...]) -> str:
        one: Skill | None = self.scheme.skills.get(skill)
        return "" if not points else f" ({', '.join(points) if one is None else words.points(one, points)})"

    def pieces(self, skill: str, pieces: tuple[str, ...] | None) -> str:
        one = self.scheme.skills.get(skill)
        said = "" if one is None or not pieces else words.pieces(one, pieces)
        return f" {said}" if said else ""

    def award(self, key: str) -> str:
        one = self.scheme.award_by_id(key)
        return key if one is None else one.name

    def new(self, keys: tuple[str, ...]) -> str:
        """Skills and `award:ID`s, as families hear of them."""
        return words.names(
            self.award(key.removeprefix("award:")) if key.startswith("award:") else self.skill(key) for key in keys
        )

    def lesson(self, key: str) -> str:
        class_id, day = class_and_day(key)
        one = self.club.by_class.get(class_id)
        return f"{class_id if one is None else one.name}, {self.day(day)}"


def _who(of: _Of, book: ClassBook) -> Iterator[str]:
    child = book.children[of.child]
    one = of.club.by_class.get(child.class_id)
    yield f"class: {child.class_id if one is None else one.name}"
    yield f"works on: {of.award(child.award)}"
    for name, children in book.groups.items():
        if of.child in children:
            yield f"group: {name}"
    agreed = book.agreed_for(of.child)
    yield from (f"agreed: {of.skill(skill)} is shown {way}" for skill, way in agreed.ways.items())
    yield from (f"spared: {load}, up to {of.day(until)}" for load, until in agreed.spared.items())


def _skills(of: _Of, skills: Mapping[str, Mapping[str, Any]]) -> Iterator[str]:
    for key, one in skills.items():
        if one["standing"] == "untried":
            continue
        on = f" on {of.day(date.fromisoformat(one['ticked_on']))}" if "ticked_on" in one else ""
        due = f", from {of.day(date.fromisoformat(one['due']))}" if "due" in one else ""
        yield f"{of.skill(key)}: {STANDS[one['standing']]}{on}{of.points(key, tuple(one.get('missed', ())))}{due}"


def _awards(of: _Of, awards: Mapping[str, Mapping[str, Any]]) -> Iterator[str]:
    for key, one in awards.items():
        if one["standing"] != "working":
            on = f", earned on {of.day(date.fromisoformat(one['earned_on']))}" if "earned_on" in one else ""
            yield f"{of.award(key)}: {one['standing']}{on}"


def _record(of: _Of, club: Snapshot) -> Iterator[str]:
    stands = {one.seq for one in in_force(club.record)}
    for one in club.record:
        said = _fact(of, one.fact)
        if said is not None:
            yield said if one.seq in stands else f"{said} Taken back later."


def _fact(of: _Of, fact: Fact) -> str | None:
    """One fact as a sentence; None for one that is not about this child."""
    if not _is_about(fact, of.child):
        return None
    match fact:
        case Mark() | ReasonGiven() | TickBrought() | RetestMoved() | HelperShowed() | LookAsked():
            return _judged(of, fact)
        case ConsentSaid() | NewsReleased() | NewsTold():
            return _told(of, fact)
        case RegisterTaken():
            return f"{of.lesson(fact.lesson)}: away."
        case ChildNoted():
            return f"{of.lesson(fact.lesson)}: {NOTED[fact.what]}."
        case GroupNamed():
            return f"Put into the group {fact.name}."
        case ChildAdded():
            return f"Added as {fact.name}."
        case AwardMoved():
            return f"{of.day(fact.on)}: {of.award(fact.award)} {MOVED[fact.to]}."
        case NamePrinted():
            return f"{of.at(fact.at)}: printed as {fact.name}."
        case WayAgreed():
            return f"{of.at(fact.at)}: agreed that {of.skill(fact.skill)} is shown {fact.way or 'as by everyone'}."
        case LoadSpared():
            until = "not spared any more" if fact.until is None else f"spared up to {of.day(fact.until)}"
            return f"{of.at(fact.at)}: {fact.load} {until}."
        case (
            Voided() | LessonOpened() | LessonClosed() | LessonPaused() | PaceReset() | CupboardChanged() | Ruling()
            | LookDeclined() | Counted()
        ):
            return None
        case _:
            assert_never(fact)


def _is_about(fact: Fact, child: str) -> bool:
    """Does a fact name that child, alone or among others?"""
    several = (getattr(fact, name, ()) for name in ("children", "away", "held", "freed"))
    return getattr(fact, "child", None) == child or any(child in one for one in several)


def _judged(of: _Of, fact: Mark | ReasonGiven | TickBrought | RetestMoved | HelperShowed | LookAsked) -> str:
    skill = of.skill(fact.skill)
    match fact:
        case Mark():
            second = " (a second look)" if fact.look == "second look" else " (changed nothing)" if fact.aside else ""
            said = f"{fact.verdict}{of.pieces(fact.skill, fact.pieces)}{of.points(fact.skill, fact.missed)}"
            return f"{of.at(fact.judged_at)}: {skill} {said}, by {of.by(fact.by)}{second}."
        case ReasonGiven():
            return f"Why {skill} was not yet seen:{of.points(fact.skill, fact.points)}."
        case TickBrought():
            said = of.by(fact.by) if fact.by else "the roster"
            return f"{of.day(fact.on)}: {skill} was ticked already, says {said}."
        case RetestMoved():
            return f"{of.at(fact.at)}: {skill} not to be asked for again before {of.day(fact.to)}."
        case HelperShowed():
            return f"{of.at(fact.at)}: {skill} shown, says a helper."
        case LookAsked():
            return f"{of.at(fact.at)}: {skill} to be looked at by another coach too."


def _told(of: _Of, fact: ConsentSaid | NewsReleased | NewsTold) -> str:
    match fact:
        case ConsentSaid():
            words_shown = f' The words shown were: "{" ".join(fact.words.split())}"' if fact.words else ""
            return f"{of.at(fact.at)}: a parent {'said yes to news' if fact.yes else 'ended the news'}.{words_shown}"
        case NewsReleased():
            held = of.child in fact.held
            return f"{of.lesson(fact.lesson)}: a coach {'held the news back' if held else 'let the news go'}."
        case NewsTold():
            new = f" what is new: {of.new(fact.new)}." if fact.new else ""
            wrong = f" what was a slip: {of.new(fact.wrong)}." if fact.wrong else ""
            return f"{of.day(fact.on)}: a parent was told{new}{wrong}"
