"""A whole club as plain data: what `sprung export --json` prints. The keys are a contract."""
from __future__ import annotations

from collections.abc import Mapping
from datetime import UTC, datetime
from typing import Any

from bot.facts import ConsentSaid, Counted, LessonClosed, Mark, Recorded, in_force
from bot.lesson.book import AwardWay, ClassBook
from bot.lesson.due import due
from bot.marks.awards import earned
from bot.marks.history import events
from bot.marks.standing import UNTRIED, Outcome, Rules, Standing, advance, expired, view
from bot.port import Snapshot
from bot.scheme.model import Scheme

CHANGED_NOTHING = (Outcome.TICKED, Outcome.ALREADY)     # of such a mark the person was told so, and it still is so


def export(club: Snapshot, as_of: datetime) -> dict[str, Any]:
    """The export of a club at an instant. Children, marks and consents are in a fixed order."""
    kept = in_force(club.record)
    books = [club.books[key] for key in sorted(club.books)]
    return {
        "format": 1,
        "as_of": _instant(as_of),
        "children": [_child(club, book, child, as_of) for book in books for child in sorted(book.children)],
        "marks": _marks(club, kept),
        "consents": _consents(kept),
        **({"forgotten": counts} if (counts := _forgotten(kept)) else {}),
    }


def _forgotten(kept: tuple[Recorded, ...]) -> dict[str, dict[str, int]]:
    """How often each skill was judged so in the marks of children who were forgotten, where the club keeps counts."""
    counts = [one.fact for one in kept if isinstance(one.fact, Counted)]
    return {one.skill: {"seen": one.seen, "not yet": one.not_yet} for one in sorted(counts, key=lambda one: one.skill)}


def _instant(at: datetime) -> str:
    return at.astimezone(UTC).isoformat().replace("+00:00", "Z")


def _scheme(club: Snapshot) -> Scheme:
    return club.schemes[max(club.schemes)]


def rules(club: Snapshot, version: int, skill: str) -> Rules:
    """What a skill asks under a version."""
    scheme = club.schemes.get(version, _scheme(club))
    if skill not in scheme.skills:
        scheme = _scheme(club)
    return Rules(version, scheme.skills[skill], scheme, club.club.tz)


def _child(club: Snapshot, book: ClassBook, child: str, as_of: datetime) -> dict[str, Any]:
    entry = book.children[child]
    standings = book.standings.get(child, {})
    return {
        "id": child,
        "name": entry.name,
        "class": entry.class_id,
        "award": entry.award,
        "skills": {
            skill: _skill(club, book, standings.get(skill, UNTRIED), skill, as_of) for skill in _scheme(club).skills
        },
        "awards": _awards(club, book, child, standings),
    }


def _skill(club: Snapshot, book: ClassBook, standing: Standing, skill: str, as_of: datetime) -> dict[str, Any]:
    def rules_of(version: int) -> Rules:
        return rules(club, version, skill)

    now = expired(standing, as_of, rules_of)
    seen_as = view(standing, as_of, rules_of(max(club.schemes)), rules_of)
    out: dict[str, Any] = {
        "standing": seen_as.label, "show": seen_as.show, "owed_pieces": [one for one in seen_as.owed_pieces if one],
    }
    if seen_as.rested_at is not None:
        out["rested_at"] = _instant(seen_as.rested_at)
    if now.ticked_on is not None:
        out["ticked_on"] = now.ticked_on.isoformat()
    lesson = book.open_lesson
    one = club.club.by_class.get(book.class_id)
    on = due(now, seen_as, club.club, one, lesson.id if lesson else None) if one is not None else None
    if on is not None:
        out["due"] = on.isoformat()
    if now.missed:
        out["missed"] = list(now.missed)
    if now.early:
        out["early"] = True
    return out


def _awards(club: Snapshot, book: ClassBook, child: str, standings: Mapping[str, Standing]) -> dict[str, Any]:
    won = earned(standings, _scheme(club), lambda version: club.schemes.get(version, _scheme(club)))
    ways = book.awards.get(child, {})
    out: dict[str, Any] = {}
    for award in _scheme(club).awards:
        way = ways.get(award.id)
        state: dict[str, Any] = {"standing": _stage(way) if way else "earned" if award.id in won else "working"}
        if award.id in won:
            state["earned_on"] = won[award.id].isoformat()
        out[award.id] = state
    return out


def _stage(way: AwardWay) -> str:
    """What is on the order is ordered to whoever reads the export, be it sent for or not."""
    return "ordered" if way.to == "sent" else way.to


# --- marks -----------------------------------------------------------------------------------------

def _marks(club: Snapshot, kept: tuple[Recorded, ...]) -> list[dict[str, Any]]:
    pairs: dict[tuple[str, str], list[Recorded]] = {}
    closes: dict[str, list[LessonClosed]] = {}
    for one in kept:
        if isinstance(one.fact, LessonClosed):
            closes.setdefault(one.fact.lesson, []).append(one.fact)
        elif (child := getattr(one.fact, "child", None)) is not None and hasattr(one.fact, "skill"):
            pairs.setdefault((child, one.fact.skill), []).append(one)
    rows: list[tuple[Any, dict[str, Any]]] = []
    for (_, skill), record in pairs.items():
        if skill in _scheme(club).skills:
            rows += _of_pair(club, skill, record, closes)
    return [row for _, row in sorted(rows, key=lambda pair: pair[0])]


def _of_pair(
    club: Snapshot, skill: str, record: list[Recorded], closes: Mapping[str, list[LessonClosed]]
) -> list[tuple[Any, dict[str, Any]]]:
    lessons = {one.fact.lesson for one in record if isinstance(one.fact, Mark)}
    standing = UNTRIED
    rows = []

    def rules_of(version: int) -> Rules:
        return rules(club, version, skill)

    for event in events(record, [close for lesson in lessons for close in closes.get(lesson, ())]):
        before = expired(standing, event.judged_at, rules_of) if isinstance(event, Mark) else standing
        standing, outcome = advance(standing, event, rules_of)
        if isinstance(event, Mark):
            assert outcome is not None
            if event.aside and outcome in CHANGED_NOTHING:
                continue
            rows.append(((event.judged_at, event.sent_at, event.child, event.skill, event.id),
                         _mark(event, before, standing, outcome)))
    return rows


def _mark(mark: Mark, before: Standing, after: Standing, outcome: Outcome) -> dict[str, Any]:
    counted = outcome is Outcome.COUNTED
    last = after.last if counted else None
    out: dict[str, Any] = {
        "child": mark.child,
        "skill": mark.skill,
        "try": after.tries if counted else before.tries,
        "show": last.show if last is not None else mark.show or before.show,
        "pieces": [one for one in (last.pieces if last is not None else mark.pieces or ()) if one],
        "verdict": mark.verdict,
        "missed": list(mark.missed),
        "by": mark.by,
        "judged_at": _instant(mark.judged_at),
        "second_look": outcome in (Outcome.SECOND_LOOK, Outcome.WHICH),
    }
    if mark.way is not None:
        out["way"] = mark.way
    return out


def _consents(kept: tuple[Recorded, ...]) -> list[dict[str, Any]]:
    open_ones: dict[tuple[str, str], dict[str, Any]] = {}
    out: list[dict[str, Any]] = []
    for one in kept:
        fact = one.fact
        if not isinstance(fact, ConsentSaid):
            continue
        key = (fact.child, fact.parent)
        if fact.yes and key not in open_ones:
            open_ones[key] = {"child": fact.child, "parent": fact.parent, "given_at": _instant(fact.at)}
            out.append(open_ones[key])
        elif not fact.yes and key in open_ones:
            open_ones.pop(key)["ended_at"] = _instant(fact.at)
    return out


