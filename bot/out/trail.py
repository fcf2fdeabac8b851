"""Who saw and changed what, in plain sentences: what `sprung audit` prints.

What lives here: pure words over the record and over what was seen. A change is a fact of the record as it is; what was
taken back stays in it, and the taking back is a line of its own.
"""
from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import datetime
from functools import cached_property
from itertools import groupby

from bot import facts as f
from bot.out.account import MOVED
from bot.port import FORGOTTEN, Change, Sight, Snapshot, Trail
from bot.talk import words

COMPUTER = "@"          # what the name begins with of whoever sat at the computer itself
BROUGHT = "the roster brought along"
OF_A_CHILD = {
    "record": "saw how {} stands", "agreed": "saw what is agreed for {}",
    "awards": "asked for the certificates of {}",
    "news": "saw what the family of {} would read", "export": "printed all that is kept of {}",
    "trail": "looked who saw and changed what of {}",
}
OF_A_CLASS = {
    "class": "saw what is owed in {}", "page": "saw the sheet of {} on a page", "awards": "saw which awards wait in {}",
    "cover": "stood in for {}, and was in it",
}
OF_THE_CLUB = {"export": "printed all that is kept of the club", "trail": "looked who saw and changed what"}
NOTED = {
    "away": "away", "here": "here", "sits": "sitting out", "back": "back", "leaves": "leaving early",
    "spared": "spared something", "bump": "looked after",
}


@dataclass(frozen=True, slots=True)
class Line:
    """One thing that somebody saw or did. `children`: whom it is about; `classes`: all of whom."""

    at: datetime | None
    person: str
    text: str
    children: frozenset[str] = frozenset()
    classes: frozenset[str] = frozenset()
    whole: bool = False                     # about everybody in the club


class Teller:
    """Tells a club's trail by the names of today."""

    def __init__(self, club: Snapshot, trail: Trail) -> None:
        self._club = club
        self._trail = trail

    def lines(self, child: str | None = None, person: str | None = None, since: datetime | None = None) -> list[str]:
        """The sentences, newest last: of one child, of one person, from a time on."""
        found = [one for one in self._all() if self._wanted(one, child, person)]
        found = found if child is not None else _ticks_together(found)
        return [self._written(one) for one in found if since is None or one.at is None or one.at >= since]

    def _wanted(self, line: Line, child: str | None, person: str | None) -> bool:
        if person is not None and line.person != person:
            return False
        return child is None or line.whole or child in line.children or self._class_of.get(child) in line.classes

    def _written(self, line: Line) -> str:
        at = "      long ago  " if line.at is None else f"{line.at.astimezone(self._club.club.tz):%Y-%m-%d %H:%M}"
        return f"{at}  {f'{self._who(line.person)} {line.text}' if line.person else _capital(line.text)}."

    def _all(self) -> list[Line]:
        """Seen and changed together. A change without a time of its own came right after the one before it."""
        lines, last = [], None
        for one in self._trail.changes:
            last = one.at or _own_time(one.recorded.fact) or last
            lines += [Line(last, line.person, line.text, line.children, line.classes, line.whole)
                      for line in self._changed(one)]
        lines += [self._seen(one) for one in self._trail.sights]
        return sorted(lines, key=lambda one: (one.at is not None, one.at.timestamp() if one.at is not None else 0))

    # --- names ---

    @cached_property
    def _children(self) -> Mapping[str, str]:
        return {key: child.name for key, child in self._club.children.items()}

    @cached_property
    def _class_of(self) -> Mapping[str, str]:
        return {child: class_id for class_id, book in self._club.books.items() for child in book.children}

    @cached_property
    def _people(self) -> Mapping[str, str]:
        return {one.id: one.name for one in self._club.people}

    def _who(self, person: str) -> str:
        if person.startswith(COMPUTER):
            return f"Somebody at the computer ({person.removeprefix(COMPUTER)})"
        return self._people.get(person, person)

    def _child(self, child: str) -> str:
        return "a child who was forgotten" if child == FORGOTTEN else self._children.get(child, child)

    def _named(self, children: tuple[str, ...]) -> str:
        return words.names(map(self._child, children))

    def _class(self, class_id: str) -> str:
        known = self._club.club.by_class.get(class_id)
        return class_id if known is None else known.name

    def _lesson(self, lesson: str) -> str:
        class_id, _, day = lesson.rpartition("/")
        return f"{self._class(class_id)} of {day}"

    def _skill(self, skill: str) -> str:
        scheme = self._club.schemes[max(self._club.schemes)]
        return words.inside(scheme.skills[skill].name) if skill in scheme.skills else skill

    def _points(self, skill: str, points: tuple[str, ...]) -> str:
        known = self._club.schemes[max(self._club.schemes)].skills.get(skill)
        return words.names(points) if known is None else words.points(known, points)

    # --- what was seen ---

    def _seen(self, sight: Sight) -> Line:
        shown = sight.shown
        if shown.child:
            text = OF_A_CHILD[shown.what].format(self._child(shown.child))
            return Line(sight.at, sight.person, text, children=frozenset((shown.child,)))
        if shown.class_id:
            text = OF_A_CLASS[shown.what].format(self._class(shown.class_id))
            return Line(sight.at, sight.person, text, classes=frozenset((shown.class_id,)))
        return Line(sight.at, sight.person, OF_THE_CLUB[shown.what], whole=True)

    # --- what was changed ---

    @cached_property
    def _by_message(self) -> Mapping[str, list[Change]]:
        found: dict[str, list[Change]] = {}
        for one in self._trail.changes:
            found.setdefault(one.recorded.message, []).append(one)
            if isinstance(one.recorded.fact, f.Mark):
                found.setdefault(one.recorded.fact.id, []).append(one)
        return found

    def _changed(self, change: Change) -> Iterator[Line]:
        fact = change.recorded.fact
        text = self._taken_back(fact) if isinstance(fact, f.Voided) else self._of_child(fact) or self._of_lesson(fact)
        children, lesson = _children_of(fact), getattr(fact, "lesson", None)
        if isinstance(fact, f.Voided):
            undone = [one.recorded.fact for one in self._by_message.get(fact.target, ())]
            children = frozenset(child for one in undone for child in _children_of(one))
        class_id = getattr(fact, "class_id", None) or (lesson.rpartition("/")[0] if lesson else None)
        of_class = frozenset((class_id,)) if class_id and not children else frozenset[str]()
        yield Line(change.at, change.by, text, children, of_class)

    def _taken_back(self, void: f.Voided) -> str:
        undone = self._by_message.get(void.target, ())
        said = [self._of_child(one.recorded.fact) or self._of_lesson(one.recorded.fact) for one in undone
                if not isinstance(one.recorded.fact, f.Voided)]
        more = f"; and {len(said) - 3} more" if len(said) > 3 else ""
        return f"took back: {'; '.join(said[:3])}{more}" if said else "took something back"

    def _of_child(self, fact: f.Fact) -> str:
        match fact:
            case f.Mark():
                missed = f" ({self._points(fact.skill, fact.missed)})" if fact.missed else ""
                return f"marked {self._child(fact.child)}: {self._skill(fact.skill)}, {fact.verdict}{missed}"
            case f.ReasonGiven():
                points = self._points(fact.skill, fact.points)
                return f"said what {self._child(fact.child)} missed in {self._skill(fact.skill)}: {points}"
            case f.TickBrought():
                what = f"a tick of {self._child(fact.child)}: {self._skill(fact.skill)}"
                return f"said, as held before, {what}" if fact.by else f"{BROUGHT} {what}"
            case f.RetestMoved():
                return f"moved the retest of {self._child(fact.child)} in {self._skill(fact.skill)} to {fact.to}"
            case f.ChildNoted():
                return f"noted {self._child(fact.child)}: {NOTED[fact.what]}"
            case f.ChildAdded():
                return f"added {self._child(fact.child)} to {self._class(fact.class_id)}"
            case f.AwardMoved():
                return f"took an award of {self._child(fact.child)} on: {MOVED[fact.to]} ({fact.award})"
            case f.NamePrinted():
                return f"said how the name of {self._child(fact.child)} is printed"
            case f.ConsentSaid():
                return f"{'said yes to' if fact.yes else 'ended'} the news of {self._child(fact.child)}"
            case f.NewsTold():
                return f"{self._who(fact.parent)} was told news of {self._child(fact.child)}"
            case f.WayAgreed():
                return f"{'agreed a way' if fact.way else 'ended the way'} of {self._child(fact.child)} in " \
                       f"{self._skill(fact.skill)}"
            case f.LoadSpared():
                return f"{'ended what' if fact.until is None else 'spared'} {self._child(fact.child)} " \
                       f"{'is spared' if fact.until is None else 'something for longer'}"
        return ""

    def _of_lesson(self, fact: f.Fact) -> str:
        match fact:
            case f.LessonOpened():
                return f"opened {self._lesson(fact.lesson)}"
            case f.LessonClosed():
                lesson = self._lesson(fact.lesson)
                return f"closed {lesson}" if fact.by else f"{lesson} closed by itself"
            case f.RegisterTaken():
                return f"said who is away: {self._named(fact.away) or 'nobody'}"
            case f.LessonPaused():
                return f"{'paused' if fact.paused else 'went on with'} {self._lesson(fact.lesson)}"
            case f.GroupNamed():
                return f"named a group of {self._class(fact.class_id)}: {self._named(fact.children)}"
            case f.HelperShowed():
                return f"said that {self._named(fact.children)} showed {self._skill(fact.skill)}"
            case f.NewsReleased():
                held = f"; held: {self._named(fact.held)}" if fact.held else ""
                return f"gave the word on the news of {self._lesson(fact.lesson)}{held}"
            case f.PaceReset():
                return f"began the pace of {self._class(fact.class_id)} anew"
            case f.Counted():
                return f"counts of children who were forgotten: {self._skill(fact.skill)}"
        return self._of_judges(fact)

    def _of_judges(self, fact: f.Fact) -> str:
        match fact:
            case f.Ruling():
                point = self._points(fact.skill, (fact.point,))
                return f"{'ruled' if fact.words else 'ended the ruling'} on {self._skill(fact.skill)}, {point}"
            case f.LookAsked():
                what = f"{self._skill(fact.skill)}, {self._named(fact.children)}"
                return f"asked {self._who(fact.of)} to look too: {what}"
            case f.LookDeclined():
                return f"could not look at {self._skill(fact.skill)} just then"
            case f.CupboardChanged():
                how = "counted" if fact.counted else "changed"
                return f"{how} what is in the cupboard: {fact.count} ({fact.award})"
        return "changed something"


def _ticks_together(lines: list[Line]) -> list[Line]:
    """The ticks that a roster brought at one time in one line, where nobody asks for one child."""
    found: list[Line] = []
    for (at, brought), several in groupby(lines, lambda one: (one.at, one.text.startswith(BROUGHT))):
        same = list(several)
        found += same if not brought else [Line(at, "", f"{BROUGHT} {words.count(len(same), 'tick')}")]
    return found


def _capital(text: str) -> str:
    return f"{text[:1].upper()}{text[1:]}"


def _children_of(fact: f.Fact) -> frozenset[str]:
    """Whom a fact is about."""
    one = getattr(fact, "child", None)
    several = (
        name for field in ("children", "away", "held", "freed") for name in getattr(fact, field, ())
    )
    return frozenset((*several, *((one,) if one else ())))


def _own_time(fact: f.Fact) -> datetime | None:
    """When a fact says that it was, where the message that brought it is not known any more."""
    at: datetime | None = getattr(fact, "sent_at", None) or getattr(fact, "at", None)
    return at


