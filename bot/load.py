"""What loading a hall changes in a club, and the sentences that say so.

What lives here: the comparison of a club as it is with the hall as it is now; nothing is written here.
A child with a known id, or with a name that only one child bears, is the same child. Nothing is taken
away that somebody has judged: a skill with marks is retired, a child who is not on the roster stays.
"""
from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, replace
from datetime import date, datetime

from bot.facts import GroupNamed, LessonClosed, Mark, Recorded, TickBrought
from bot.fold import fold as group_key
from bot.lesson.book import Agreed, AwardWay, Child, ClassBook, Contact
from bot.lesson.timetable import day_in_zone
from bot.marks.history import events
from bot.marks.standing import Rules, Standing, fold
from bot.people.hall import Hall
from bot.people.model import Club, Person, RosterLine
from bot.port import Snapshot
from bot.scheme.change import next_scheme
from bot.scheme.model import Scheme
from bot.scheme.words import fold as folded
from bot.scheme.words import slug

NOTHING = "Nothing has changed."


@dataclass(frozen=True)
class Load:
    """What is to be written, and what is to be said. `scheme`: a new version; None: the one in force stays."""

    club: Club
    people: tuple[Person, ...]                  # new or changed
    version: int                                # in force from now on
    scheme: Scheme | None
    children: Mapping[str, Child]               # new or changed
    facts: tuple[TickBrought | GroupNamed, ...]
    standings: Mapping[tuple[str, str], Standing]       # (child, skill): brought, or taken along to another class
    awards: Mapping[tuple[str, str], AwardWay]          # (child, award): taken along to another class
    contacts: Mapping[tuple[str, str], Contact]         # (child, parent): taken along
    agreed: Mapping[str, Agreed]                        # child: taken along
    groups: Mapping[tuple[str, str], tuple[str, ...] | None]    # (class, name): new or changed
    sentences: tuple[str, ...]
    gone: int                                           # children who are not on the roster, and stay


@dataclass(frozen=True)
class Present:
    """The club as it is, in the shapes that a comparison needs. Empty for a new club."""

    club: Club | None
    people: Mapping[str, Person]
    schemes: Mapping[int, Scheme]
    books: Mapping[str, ClassBook]
    record: tuple[Recorded, ...]

    @property
    def scheme(self) -> Scheme | None:
        """The scheme in force."""
        return self.schemes[max(self.schemes)] if self.schemes else None

    def children(self) -> dict[str, Child]:
        """Every child of the club."""
        return {child.id: child for book in self.books.values() for child in book.children.values()}


def load(before: Snapshot | None, hall: Hall, now: datetime) -> Load:
    """Compare. The same hall once more changes nothing."""
    present = Present(None, {}, {}, {}, ()) if before is None else Present(
        before.club, {one.id: one for one in before.people}, before.schemes, before.books, before.record,
    )
    judged = {one.fact.skill for one in present.record if isinstance(one.fact, Mark | TickBrought)}
    scheme, of_scheme = next_scheme(present.scheme, hall.scheme, judged)
    version = max(present.schemes, default=0) + (scheme is not None)
    pairs = _pairs(present.children(), hall)
    children = _changed(present.children(), pairs) | _left(present, pairs, hall, day_in_zone(hall.club, now))
    facts = _brought(present, pairs, hall.club, now)
    groups = _grouped(present, pairs)
    taken, awards, contacts, agreed = _taken_along(present, children)
    schemes = present.schemes if scheme is None else {**present.schemes, version: scheme}
    standings = {**taken, **_standings(present, facts, schemes, hall.club)}
    people = tuple(one for one in hall.people if present.people.get(one.id) != one)
    changes = (
        *_of_club(present, hall.club), *_of_people(present, people), *of_scheme,
        *_of_children(present.children(), children, hall), *_several(len(facts), "tick", "ticks", "brought along"),
        *_several(len(groups), "group", "groups", "named"),
    )
    return Load(
        hall.club, people, version, scheme, children, (*facts, *_named_groups(groups)), standings, awards, contacts,
        agreed, groups,
        (*(changes or (NOTHING,)), *_kept(present, pairs, hall)), len(_missing(present, pairs)),
    )


# --- who is who -----------------------------------------------------------------------------------------

Pairs = tuple[tuple[Child, RosterLine], ...]


def _pairs(known: Mapping[str, Child], hall: Hall) -> Pairs:
    """Each line of the roster with its child as she is from now on."""
    by_id = {place: line.id for place, line in enumerate(hall.roster) if line.id is not None and line.id in known}
    taken = set(by_id.values())
    bearers: dict[str, list[str]] = {}
    for child in known.values():
        bearers.setdefault(_spoken(child.name), []).append(child.id)
    for place, line in enumerate(hall.roster):
        same = bearers.get(_spoken(line.child), [])
        if place not in by_id and len(same) == 1 and same[0] not in taken:
            by_id[place] = same[0]
            taken.add(same[0])
    ids = {*known, *taken}
    pairs = []
    for place, line in enumerate(hall.roster):
        child_id = by_id.get(place) or _new_id(line, ids)
        ids.add(child_id)
        pairs.append((Child(child_id, line.child, line.class_id, line.award), line))
    return tuple(pairs)


def _spoken(name: str) -> str:
    """What two spellings of a name have in common; of a name without a letter, all of it."""
    return folded(name) or name


def _new_id(line: RosterLine, ids: set[str]) -> str:
    wanted = line.id or f"{line.class_id}-{slug(line.child) or 'child'}"
    if wanted not in ids:
        return wanted
    return next(name for n in range(2, len(ids) + 3) if (name := f"{wanted}-{n}") not in ids)


def _changed(known: Mapping[str, Child], pairs: Pairs) -> dict[str, Child]:
    return {child.id: child for child, _ in pairs if known.get(child.id) != child}


def _left(present: Present, pairs: Pairs, hall: Hall, today: date) -> dict[str, Child]:
    """Who is on a whole roster no more: from today on, she has left."""
    missing = _missing(present, pairs) if hall.whole else ()
    return {child.id: replace(child, left_on=today) for child in missing if child.left_on is None}


# --- what they bring ------------------------------------------------------------------------------------

def _brought(present: Present, pairs: Pairs, club: Club, now: datetime) -> tuple[TickBrought, ...]:
    """The ticks that the roster says and that we don't have yet."""
    have = {(one.fact.child, one.fact.skill) for one in present.record if isinstance(one.fact, TickBrought)}
    have |= {
        (child, skill)
        for book in present.books.values()
        for child, of in book.standings.items() for skill, one in of.items() if one.ticked
    }
    today = day_in_zone(club, now)
    return tuple(
        TickBrought(child.id, skill, dict(line.since).get(skill, today))
        for child, line in pairs for skill in dict.fromkeys(line.has) if (child.id, skill) not in have
    )


Groups = dict[tuple[str, str], tuple[str, ...] | None]       # (class, name) → who is in it; None: nobody any more


def _grouped(present: Present, pairs: Pairs) -> Groups:
    """The groups that the roster says, where the class has them otherwise. A child leaves her other groups."""
    said = {child.id: (child.class_id, group_key(line.group)) for child, line in pairs if line.group}
    have = {(key, name): group for key, book in present.books.items() for name, group in book.groups.items()}
    after = {key: tuple(one for one in group if said.get(one, key) == key) for key, group in have.items()}
    for child, key in said.items():
        after[key] = tuple(dict.fromkeys((*after.get(key, ()), child)))
    return {key: group or None for key, group in after.items() if group != have.get(key)}


def _named_groups(groups: Groups) -> Iterator[GroupNamed]:
    return (GroupNamed(class_id, name, children or ()) for (class_id, name), children in groups.items())


def _standings(
    present: Present, facts: Iterable[TickBrought], schemes: Mapping[int, Scheme], club: Club,
) -> dict[tuple[str, str], Standing]:
    """What the ticks that are brought make of what was marked before."""
    closes = [close for book in present.books.values() for one in book.lessons.values() for close in one.closes]
    last = len(present.record) and present.record[-1].seq
    return {
        (brought.child, brought.skill): _folded(present, brought, last, closes, schemes, club)
        for brought in facts
    }


def _folded(
    present: Present, brought: TickBrought, last: int, closes: Iterable[LessonClosed],
    schemes: Mapping[int, Scheme], club: Club,
) -> Standing:
    about = (brought.child, brought.skill)
    record = tuple(
        one for one in present.record
        if (getattr(one.fact, "child", None), getattr(one.fact, "skill", None)) == about or one.fact.kind == "voided"
    )
    marked_in = {one.fact.lesson for one in record if isinstance(one.fact, Mark)}
    happened = events(
        (*record, Recorded(last + 1, "hall", brought)), [close for close in closes if close.lesson in marked_in],
    )

    def rules_of(version: int) -> Rules:
        scheme = schemes[version]
        return Rules(version, scheme.skills[brought.skill], scheme, club.tz)

    return fold(happened, rules_of)[0]


def _taken_along(
    present: Present, changed: Mapping[str, Child],
) -> tuple[
    dict[tuple[str, str], Standing], dict[tuple[str, str], AwardWay],
    dict[tuple[str, str], Contact], dict[str, Agreed],
]:
    """What a child has who moves to another class."""
    standings: dict[tuple[str, str], Standing] = {}
    awards: dict[tuple[str, str], AwardWay] = {}
    contacts: dict[tuple[str, str], Contact] = {}
    agreed: dict[str, Agreed] = {}
    for book in present.books.values():
        for child in changed.keys() & book.children.keys():
            if changed[child].class_id != book.class_id:
                standings |= {(child, skill): one for skill, one in book.standings.get(child, {}).items()}
                awards |= {(child, award): way for award, way in book.awards.get(child, {}).items()}
                contacts |= {(child, parent): one for parent, one in book.contacts.get(child, {}).items()}
                agreed |= {child: book.agreed[child]} if child in book.agreed else {}
    return standings, awards, contacts, agreed


# --- what to say ----------------------------------------------------------------------------------------

def _named(names: list[str]) -> str:
    """A few names, so that a slip in a list is seen."""
    return f": {', '.join(names[:5])}{' …' if len(names) > 5 else ''}"


def _several(count: int, one: str, more: str, did: str) -> tuple[str, ...]:
    return (f"{count} {one if count == 1 else more} {did}.",) if count else ()


def _of_club(present: Present, club: Club) -> Iterator[str]:
    if present.club is None:
        yield f"{club.name} is new."
        return
    before = present.club.by_class
    for one in club.classes:
        if one.id not in before:
            yield f"The class {one.name} is new."
        elif before[one.id] != one:
            yield f"The class {one.name} changed."
    for key in before.keys() - club.by_class.keys():
        yield f"The class {before[key].name} is no longer in the timetable."
    if _bare(present.club) != _bare(club):
        yield "The club's settings changed."


def _bare(club: Club) -> dict[str, object]:
    return club.model_dump(exclude={"classes"})


def _of_people(present: Present, people: tuple[Person, ...]) -> Iterator[str]:
    yield from _several(sum(one.id not in present.people for one in people), "person", "people", "added")
    for one in people:
        if one.id in present.people:
            yield f"{one.name} changed."


def _of_children(known: Mapping[str, Child], changed: Mapping[str, Child], hall: Hall) -> Iterator[str]:
    new = [child.name for key, child in changed.items() if key not in known]
    yield from _several(len(new), "child", "children", f"added{_named(new) if known else ''}")
    for key, child in changed.items():
        if key in known:
            yield from _of_child(known[key], child, hall)


def _of_child(was: Child, child: Child, hall: Hall) -> Iterator[str]:
    if was.name != child.name:
        yield f"{was.name} is now called {child.name}."
    if was.class_id != child.class_id:
        of = hall.club.by_class.get(child.class_id)
        yield f"{child.name} moved to {child.class_id if of is None else of.name}."
    if was.award != child.award:
        award = hall.scheme.award_by_id(child.award)
        yield f"{child.name} now works on {child.award if award is None else award.name}."


def _missing(present: Present, pairs: Pairs) -> list[Child]:
    listed = {child.id for child, _ in pairs}
    return [child for key, child in present.children().items() if key not in listed]


def _kept(present: Present, pairs: Pairs, hall: Hall) -> Iterator[str]:
    """Who is not in the files any more, and stays."""
    missing = [child.name for child in _missing(present, pairs)]
    stay = "stays" if len(missing) == 1 else "stay"
    yield from _several(len(missing), "child", "children", f"not on the roster {stay}{_named(missing)}")
    if missing:
        yield f'Who has left for good is removed by: sprung forget "{missing[0]}"'
        if hall.whole:
            yield f"Of whom nothing is recorded for {hall.club.keep_months} months is forgotten by itself."
    ours = {key for key, one in present.people.items() if one.role != "parent"}
    left = len(ours - {one.id for one in hall.people})
    yield from _several(left, "person", "people", "no longer in the club file stay" + ("s" if left == 1 else ""))
