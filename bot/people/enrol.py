"""A list of children laid beside the children that a club has: who is who, what would change, what has to be asked.

What lives here: the comparison, as plain data and sentences. It ends in lines of a roster in which each child that
we know has her id, so `bot/load.py` takes nobody for another one. Nothing is written, and no name is guessed.
"""
from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from datetime import date

from rapidfuzz.distance import DamerauLevenshtein

from bot.fold import fold
from bot.lesson.book import Child
from bot.people.columns import NOTHING, Columns, class_named, turned
from bot.people.model import Club, ClubClass, RosterLine
from bot.people.table import Row, Table, TableErrors, wrong
from bot.scheme.faults import Fault
from bot.scheme.model import Scheme
from bot.scheme.words import meant

LONGEST_NAME = 80
LONGEST_GROUP = 20
YES = frozenset({"x", "y", "yes", "1", "true", "ok", "done", "held", "seen", "passed", "pass", "tick", "✓", "✔", "☑"})
NO = frozenset({"n", "0", "false", "not yet", "☐", "✗", *NOTHING})
MONTHS = ("january", "february", "march", "april", "may", "june", "july", "august", "september", "october",
          "november", "december")


@dataclass(frozen=True, slots=True)
class Known:
    """The club as the list finds it. `today`: its own day."""

    club: Club
    scheme: Scheme
    children: Mapping[str, Child]
    today: date


@dataclass(frozen=True, slots=True)
class Asked:
    """What was said beside the list. `same`: (name in the list, name that we have, or empty: the one like it)."""

    class_id: str | None = None
    award: str | None = None
    same: tuple[tuple[str, str], ...] = ()
    new: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Question:
    """A name of the list that is like one that we have, and is not that one."""

    line: int
    said: str
    like: str

    def __str__(self) -> str:
        return (f'Line {self.line}: "{self.said}" is not on our list, but {self.like} is. '
                f'The same child? --same "{self.said}"  Another one? --new "{self.said}"')


@dataclass(frozen=True, slots=True)
class Enrolment:
    """What the list comes to. `lines`: all of it, to be loaded. With questions nothing may be done yet."""

    lines: tuple[RosterLine, ...]
    new: tuple[RosterLine, ...]
    moved: tuple[tuple[Child, RosterLine], ...]
    renamed: tuple[tuple[Child, RosterLine], ...]
    missing: tuple[Child, ...]
    questions: tuple[Question, ...]


@dataclass(slots=True)
class _Sorting:
    """One pass over the list."""

    known: Known
    columns: Columns
    asked: Asked
    faults: list[Fault] = field(default_factory=list)

    def wrong(self, row: Row, role: str, says: str) -> None:
        place = self.columns.places.get(role)
        column = "" if place is None else f" / {self.columns.called(place)}"
        self.faults.append(Fault(row.line, f"{self.columns.name(row) or 'no name'}{column}", says))


def enrol(table: Table, columns: Columns, known: Known, asked: Asked) -> Enrolment:
    """Lay a list beside a club. Raises TableErrors with all that is wrong in the list: then nothing of it counts."""
    at = _Sorting(known, columns, asked)
    body = table.rows if columns.header is None else table.rows[table.rows.index(columns.header) + 1:]
    if not body:
        raise wrong("There is no child in the file, only headers.")
    rows = [row for row in body if _named(at, row)]
    found, questions = _who(at, rows)
    lines = tuple(_line(at, row, found.get(row.line)) for row in rows)
    _once(at, rows, lines)
    if at.faults:
        raise TableErrors(tuple(sorted(at.faults)))
    pairs = [(child, line) for line in lines if (child := known.children.get(line.id or "")) is not None]
    return Enrolment(
        lines,
        tuple(line for line in lines if line.id not in known.children),
        tuple((child, line) for child, line in pairs if child.class_id != line.class_id),
        tuple((child, line) for child, line in pairs if child.name != line.child),
        _missing(known, lines, {question.like for question in questions}),
        tuple(questions),
    )


def _named(at: _Sorting, row: Row) -> bool:
    name = at.columns.name(row)
    if not fold(name):
        at.wrong(row, "name", "there is no name in this row; fill it in, or delete the row")
    elif len(name) > LONGEST_NAME:
        at.wrong(row, "name", f"this name has more than {LONGEST_NAME} letters; is it the right column?")
    else:
        return True
    return False


# --- who is who ------------------------------------------------------------------------------------------

def _who(at: _Sorting, rows: list[Row]) -> tuple[dict[int, Child], list[Question]]:
    """Line → the child that we have. A name that is only like one of ours is asked about."""
    children = at.known.children
    found: dict[int, Child] = {}
    bearers: dict[str, list[Child]] = {}
    for child in children.values():
        bearers.setdefault(_exact(child.name), []).append(child)
    for row in rows:
        same = bearers.get(_exact(at.columns.name(row)), [])
        if (of_id := children.get(at.columns.cell(row, "id"))) is not None:
            found[row.line] = of_id
        elif len(same) == 1:
            found[row.line] = same[0]
        elif same:
            _of_namesakes(at, row, same, found)
    free = {child.id: child for child in children.values() if child not in found.values()}
    for row in rows:
        if row.line not in found and (ours := _said_same(at, row, free)) is not None:
            found[row.line] = free.pop(ours.id)
    _answers_are_used(at, rows)
    told = {_exact(name) for name in at.asked.new}
    likes = [(row, next(like(at.columns.name(row), free.values()), None)) for row in rows
             if row.line not in found and _exact(at.columns.name(row)) not in told]
    return found, [Question(row.line, at.columns.name(row), near.name) for row, near in likes if near is not None]


def _exact(name: str) -> str:
    return " ".join(name.split()).casefold()


def _of_namesakes(at: _Sorting, row: Row, same: list[Child], found: dict[int, Child]) -> None:
    """Of several children of one name, the one in the class that the row says."""
    said = class_named(at.columns.cell(row, "class"), at.known.club)
    there = [child for child in same if child.class_id == said and child not in found.values()]
    if len(there) == 1:
        found[row.line] = there[0]
        return
    ids = ", ".join(child.id for child in same)
    at.wrong(row, "name", f"{len(same)} children of ours bear this name; write their ids ({ids}) in a column id")


def _said_same(at: _Sorting, row: Row, free: Mapping[str, Child]) -> Child | None:
    name = at.columns.name(row)
    for said, ours in at.asked.same:
        if _exact(said) != _exact(name):
            continue
        if not ours:
            return next(like(name, free.values()), None)
        by_name = [child for child in free.values() if _exact(child.name) == _exact(ours)]
        if len(by_name) == 1:
            return by_name[0]
        raise wrong(f'--same "{said}={ours}": we have no child of that name who is not in the list already.')
    return None


def _answers_are_used(at: _Sorting, rows: list[Row]) -> None:
    """An answer about a name that is not in the list is a slip of whoever gave it."""
    names = {_exact(at.columns.name(row)) for row in rows}
    for said in (*(said for said, _ in at.asked.same), *at.asked.new):
        if _exact(said) not in names:
            raise wrong(f'There is no "{said}" in the list; {meant(said, [at.columns.name(row) for row in rows])}')


def like(name: str, ours: Iterable[Child]) -> Iterator[Child]:
    """Whose name could be the same one: but for accents, the order of its words, a letter, or what was left off."""
    wanted = fold(name)
    for child in ours:
        has = fold(child.name)
        in_order = has == wanted or sorted(has.split()) == sorted(wanted.split()) or has == fold(turned(name))
        if in_order or DamerauLevenshtein.distance(has, wanted, score_cutoff=1) <= 1 or _shortened(has, wanted):
            yield child


def _shortened(one: str, other: str) -> bool:
    """`ava p` for `ava price`, `ava` for `ava price`."""
    short, long = sorted((one.split(), other.split()), key=lambda words: sum(map(len, words)))
    return len(short) <= len(long) and all(b.startswith(a) for a, b in zip(short, long, strict=False)) and (
        short[0] == long[0])


def _once(at: _Sorting, rows: list[Row], lines: Iterable[RosterLine]) -> None:
    """Each child stands in one row."""
    seen: dict[str, Row] = {}
    for row, line in zip(rows, lines, strict=True):
        key = line.id or _exact(line.child)
        if key in seen:
            at.wrong(row, "name", f"line {seen[key].line} has this name already; keep one row if they are one child, "
                                  "else add a column id with an id for each that stays")
        seen.setdefault(key, row)


def _missing(known: Known, lines: Iterable[RosterLine], asked: set[str]) -> tuple[Child, ...]:
    """Children of the classes in the list who are not in it, nor asked about."""
    ids = {line.id for line in lines}
    classes = {line.class_id for line in lines}
    return tuple(child for child in known.children.values()
                 if child.class_id in classes and child.id not in ids and child.name not in asked)


# --- what a row says -------------------------------------------------------------------------------------

def _line(at: _Sorting, row: Row, child: Child | None) -> RosterLine:
    name = at.columns.name(row)
    kept = child is not None and _exact(child.name) == _exact(name)     # a name in capitals is the same name
    class_id = _class(at, row, child)
    held = dict(_held(at, row))
    group = at.columns.cell(row, "group")
    group = "" if group.casefold() in NOTHING else group
    if len(group) > LONGEST_GROUP:
        at.wrong(row, "group", f"a group's name has at most {LONGEST_GROUP} letters; shorten it")
    return RosterLine(
        child=child.name if kept and child is not None else name, class_id=class_id,
        award=_award(at, row, child, class_id), has=tuple(held),
        since=tuple((skill, on) for skill, on in held.items() if on is not None), group=group,
        id=child.id if child is not None else at.columns.cell(row, "id") or None,
    )


def _class(at: _Sorting, row: Row, child: Child | None) -> str:
    said, club = at.columns.cell(row, "class"), at.known.club
    if said:
        found = class_named(said, club)
        if found is None:
            at.wrong(row, "class", f'there is no class "{said}", or more than one; '
                                   f"{meant(said, [one.name for one in club.classes])}")
        return found or said
    if at.asked.class_id is not None:
        return at.asked.class_id
    if child is not None:
        return child.class_id
    if len(club.classes) == 1:
        return club.classes[0].id
    at.wrong(row, "class", "nothing says in which class; fill it in, or say --class for all who have none")
    return ""


def _award(at: _Sorting, row: Row, child: Child | None, class_id: str) -> str:
    said, scheme = at.columns.cell(row, "award"), at.known.scheme
    known = {fold(form): award.id for award in scheme.awards for form in (award.id, award.name)}
    if said:
        if fold(said) not in known:
            at.wrong(row, "award", f'there is no award "{said}"; {meant(said, [one.name for one in scheme.awards])}')
        return known.get(fold(said), said)
    if child is not None:
        return child.award
    if at.asked.award is not None:
        return at.asked.award
    there = [one.award for one in at.known.children.values() if one.class_id == class_id]
    return max(there, key=there.count) if there else scheme.awards[0].id


def _held(at: _Sorting, row: Row) -> Iterator[tuple[str, date | None]]:
    scheme = at.known.scheme
    known = {fold(form): skill.id for skill in scheme.skills.values() for form in (skill.id, skill.name)}
    for said in re.split(r"[;,/|]", at.columns.cell(row, "has")):
        if said.strip().casefold() in NOTHING:
            continue
        if fold(said) not in known:
            names = [skill.name for skill in scheme.skills.values()]
            at.wrong(row, "has", f'there is no skill "{said.strip()}"; {meant(said.strip(), names)}')
        else:
            yield known[fold(said)], None
    for skill, place in at.columns.skills.items():
        cell = row.cell(place)
        if cell.casefold() in NO:
            continue
        on = day_in_words(cell, at.known.today, day_first=not at.known.club.timezone.startswith("America/"))
        if cell.casefold() not in YES and (on is None or on > at.known.today):
            at.faults.append(Fault(row.line, f"{at.columns.name(row)} / {at.columns.called(place)}", (
                f'"{cell}" is neither a yes nor a day that is past; write x, or a date such as 2026-05-24')))
        else:
            yield skill, on


def day_in_words(said: str, today: date, *, day_first: bool = True) -> date | None:
    """A day as people write it: `2026-05-24`, `24/05/2026`, `24.5.26`, `May 2026`, `May` (the last one); None: no day.

    Of a month alone it is the first day.
    """
    words = said.casefold().replace(",", " ").split()
    figures = re.fullmatch(r"(\d{1,4})[-/.](\d{1,2})(?:[-/.](\d{1,4}))?.*", said.strip())
    if figures is not None and len(words) <= 2:
        first, second, third = (int(part) if part else 0 for part in figures.groups())
        if first > 999:
            return _day(first, second, third or 1)
        day, month = (first, second) if (day_first and second <= 12) or first > 12 else (second, first)
        return _day(third + 2000 if third < 100 else third, month, day) if figures[3] else None
    months = [n for word in words for n, month in enumerate(MONTHS, 1) if len(word) >= 3 and month.startswith(word)]
    numbers = [int(word.rstrip("stndrh.")) for word in words if word.rstrip("stndrh.").isdecimal()]
    if len(months) != 1 or len(numbers) + 1 != len(words):
        return None
    years = [number for number in numbers if number > 1900]
    days = [number for number in numbers if number <= 31]
    year = years[0] if years else today.year
    found = _day(year, months[0], days[0] if days else 1)
    if found is not None and not years and found > today:
        found = _day(year - 1, found.month, found.day)
    return found


def _day(year: int, month: int, day: int) -> date | None:
    try:
        return date(year, month, day)
    except ValueError:
        return None


# --- in words --------------------------------------------------------------------------------------------

def told(one: Enrolment, known: Known) -> tuple[str, ...]:
    """What would change, who is missing, what has to be answered first."""
    rows = list(_changes(one, known))
    unchanged = len(one.lines) - len(one.new) - len({child.id for child, _ in (*one.moved, *one.renamed)})
    if unchanged:
        rows.append(f"{unchanged} {'child is' if unchanged == 1 else 'children are'} here already, in the same class.")
    if one.missing:
        many, names = len(one.missing), ", ".join(child.name for child in one.missing)
        stay = "This child stays" if many == 1 else "They stay"
        rows.append(f"{many} missing from the file, of these classes: {names}. {stay}; who has left for good is "
                    "forgotten by --gone NAME, or --gone all.")
    return (*rows, *map(str, one.questions))


def _changes(one: Enrolment, known: Known) -> Iterator[str]:
    asked = {question.said for question in one.questions}
    new = [line for line in one.new if line.child not in asked]
    if new:
        names = ", ".join(f"{line.child} ({_name(known, line.class_id)})" for line in new)
        yield f"{len(new)} new {'child' if len(new) == 1 else 'children'}: {names}."
    ways: dict[tuple[str, str], list[str]] = {}
    for child, line in one.moved:
        ways.setdefault((child.class_id, line.class_id), []).append(line.child)
    for (old, now), names_ in ways.items():
        yield (f"{len(names_)} {'child moves' if len(names_) == 1 else 'children move'} from {_name(known, old)} to "
               f"{_name(known, now)}: {', '.join(names_)}.")
    for child, line in one.renamed:
        yield f"{child.name} is from now on written {line.child}."
    for line in one.lines:
        had = known.children.get(line.id or "")
        if had is not None and had.award != line.award:
            award = known.scheme.award_by_id(line.award)
            yield f"{line.child} works on {line.award if award is None else award.name} from now on."


def _name(known: Known, class_id: str) -> str:
    found: ClubClass | None = known.club.by_class.get(class_id)
    return class_id if found is None else found.name


