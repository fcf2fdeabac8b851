"""What the columns of a list mean: guessed from their headers and from what is in them, corrected by who knows.

What lives here: roles, the words by which headers are known, and the guess in plain words. Who the rows are is
`enrol.py`. A column that is about parents, birthdays, health or money is never read.
"""
from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass

from bot.fold import atoms, fold
from bot.people.model import DAYS, Club
from bot.people.table import Row, Table, wrong
from bot.scheme.model import Scheme
from bot.scheme.words import meant

ROLES = ("name", "first", "last", "class", "group", "award", "has", "id")
CALLED = {
    "name": "the name", "first": "the first name", "last": "the last name", "class": "the class",
    "group": "the group", "award": "the award", "has": "the skills held already", "id": "a number of each child",
}
WORDS: Mapping[str, tuple[str, ...]] = {
    "first": ("first name", "first names", "firstname", "forename", "forenames", "given name", "given names", "first",
              "known as", "prenom", "vorname", "voornaam", "nombre", "imie", "fornamn", "fornavn"),
    "last": ("last name", "lastname", "surname", "family name", "last", "nachname", "familienname", "achternaam",
             "apellido", "apellidos", "cognome", "nazwisko", "efternamn", "etternavn", "efternavn", "nom de famille"),
    "class": ("class", "classes", "class name", "session", "course", "squad", "lesson", "day", "classe", "kurs",
              "cours", "clase", "klasse", "klas"),
    "group": ("group", "groups", "gruppe", "groupe", "grupo", "groep", "colour", "color"),
    "award": ("award", "awards", "level", "working on", "working towards", "stage", "badge", "abzeichen"),
    "has": ("has", "held", "skills", "skills held", "skills passed", "ticks", "passed", "achieved", "done"),
    "id": ("id", "number", "member number", "member no", "membership number", "membership no", "member id", "no",
           "ref", "reference", "pupil id", "child id"),
    "name": ("name", "names", "full name", "child", "children", "pupil", "gymnast", "dancer", "student", "participant",
             "athlete", "member", "nom", "kind", "enfant", "nome", "nimi", "imie i nazwisko", "nom et prenom"),
}
"""Role → headers, folded. From the words that people write at the head of such lists: no source."""
PRIVATE = frozenset(atoms(
    "parent parents guardian mother father mum mom dad carer contact emergency email mail phone mobile tel telephone "
    "birth born birthday dob age gender sex doctor medical health allergies allergy notes address street postcode zip "
    "school payment paid invoice fee fees price balance photo consent coach teacher instructor"))
LAST_FIRST = re.compile(r"^([^,]+),\s*([^,]+)$")
NOTHING = ("none", "no", "-", "")
_FIRST_ROWS = 10        # a header is among these, below whatever title the list has


@dataclass(frozen=True, slots=True)
class Columns:
    """What was guessed: role → place; skill → place of a column of its own; which row the headers are in."""

    places: Mapping[str, int]
    skills: Mapping[str, int]
    header: Row | None
    unread: tuple[str, ...] = ()        # headers of what is not read
    turned: bool = False                # one column has the names, the last name first, without a comma

    def called(self, place: int) -> str:
        """How a sentence speaks of a column."""
        name = self.header.cell(place) if self.header is not None else ""
        return f"Column '{name}'" if name else f"Column {place + 1}"

    def name(self, row: Row) -> str:
        """The whole name in a row, first name first."""
        if "name" not in self.places:
            parts = (row.cell(self.places[role]) for role in ("first", "last") if role in self.places)
            return " ".join(part for part in parts if part)
        said = row.cell(self.places["name"])
        comma = LAST_FIRST.match(said)
        if comma is not None:
            return f"{comma[2].strip()} {comma[1].strip()}"
        return turned(said) if self.turned else said

    def cell(self, row: Row, role: str) -> str:
        """What a row has of a role; empty where there is no such column."""
        return row.cell(self.places[role]) if role in self.places else ""


def turned(name: str) -> str:
    """The last word of a name moved to its front: `Price Ava` → `Ava Price`, `van der Berg Oskar` too."""
    words = name.split()
    return " ".join([words[-1], *words[:-1]]) if words else name


def guess(table: Table, scheme: Scheme, club: Club, known: Iterable[str], said: Iterable[str]) -> Columns:
    """What the columns are. `known`: names of the club's children; `said`: corrections, as `name=Pupil`.

    Raises TableErrors where no column holds names, or a correction names no column.
    """
    said, ours = list(said), list(known)
    header = _header(table, club, said)
    places = {} if header is None else _by_header(header)
    body = table.rows if header is None else table.rows[table.rows.index(header) + 1:]
    skills = {} if header is None else _skills(header, scheme, places)
    fixed = dict(_corrections(said, header, table.width))
    taken = {place for place in fixed.values() if place is not None}
    places = {role: place for role, place in places.items() if place not in taken and role not in fixed}
    skills = {skill: place for skill, place in skills.items() if place not in taken}
    places |= {role: place for role, place in fixed.items() if place is not None}
    if "name" in fixed:
        places = {role: place for role, place in places.items() if role not in ("first", "last") or role in fixed}
    if {"first", "last"} & fixed.keys() and "name" not in fixed:
        places.pop("name", None)
    free = [place for place in range(table.width) if place not in {*places.values(), *skills.values()}
            and not (header is not None and _private(header.cell(place)))]
    ruled_out = {role for role, place in fixed.items() if place is None}
    _by_content(places, free, body, scheme, club, ours, ruled_out)
    if "name" not in places and "first" not in places:
        raise wrong("No column looks like names. Say which it is: --column name=HEADER, or its number, as in "
                    "--column name=2")
    used = {*places.values(), *skills.values()}
    unread = () if header is None else tuple(
        header.cell(place) for place in range(table.width) if place not in used and header.cell(place))
    found = Columns(places, skills, header, unread)
    if header is None and not fixed and {"first", "last"} <= places.keys() and _exchanged(found, body, ours):
        places["first"], places["last"] = places["last"], places["first"]
    return Columns(places, skills, header, unread, _is_turned(found, body, ours))


# --- by the header ---------------------------------------------------------------------------------------

def _private(header: str) -> bool:
    return bool(PRIVATE & set(atoms(header)))


def _by_header(row: Row) -> dict[str, int]:
    """Role → place, of a row that is one of headers; empty where it is none."""
    places: dict[str, int] = {}
    for place, cell in enumerate(row.cells):
        role = None if _private(cell) else _role(cell)
        if role is not None:
            places.setdefault(role, place)
    if "first" in places and "name" in places and "last" not in places and "nom" not in places:
        of_name = fold(row.cell(places["name"]))
        if of_name in ("name", "nom", "nome"):      # beside a first name, this is the other one
            places["last"] = places.pop("name")
    return places if places.keys() & {"name", "first"} else {}


def _header(table: Table, club: Club, said: list[str]) -> Row | None:
    """The row of headers: by our words for them, by one that was said, or because it is not like what is below it."""
    early = table.rows[:_FIRST_ROWS]
    likeliest = max(early, key=_headed)
    if _by_header(likeliest):
        return likeliest
    named = {fold(one.partition("=")[2]) for one in said} - {""}
    of_said = next((row for row in early if named & {fold(cell) for cell in row.cells}), None)
    first, below = table.rows[0], table.rows[1:]
    unlike = len(below) > 1 and any(
        _unlike(place, lambda cell: class_named(cell, club) is not None, first, below)
        or (" " not in first.cell(place) and _unlike(place, _looks_whole, first, below))
        for place in range(table.width)
    )
    return of_said or (first if unlike else None)


def _unlike(place: int, holds: Callable[[str], bool], first: Row, below: tuple[Row, ...]) -> bool:
    """Is what is true of the cells below not true of the first?"""
    return bool(first.cell(place)) and not holds(first.cell(place)) and _fullest([place], below, holds) is not None


def _headed(row: Row) -> tuple[int, int]:
    """How much a row looks like the headers: a title above them may have one of their words too."""
    found = _by_header(row)
    return len(found), sum(" ".join(atoms(row.cell(place))) in WORDS[role] for role, place in found.items())


def _role(header: str) -> str | None:
    """By the whole header; else by the words of it: `Pupil's first name` is a first name before it is a name."""
    said = " ".join(atoms(header))
    for role, words in WORDS.items():
        if said in words:
            return role
    if not 0 < len(said) <= 40:
        return None
    padded = f" {said} "
    return next((role for role, words in WORDS.items() if role != "id" or "member" in padded
                 for word in words if len(word) > 2 and f" {word} " in padded and word not in ("first", "last")), None)


def _skills(header: Row, scheme: Scheme, places: Mapping[str, int]) -> dict[str, int]:
    """Columns of one skill each."""
    known = {fold(form): skill.id for skill in scheme.skills.values() for form in (skill.id, skill.name)}
    found: dict[str, int] = {}
    for place, cell in enumerate(header.cells):
        if place not in places.values() and fold(cell) in known:
            found.setdefault(known[fold(cell)], place)
    return found


def _corrections(said: Iterable[str], header: Row | None, width: int) -> Iterator[tuple[str, int | None]]:
    """`name=Pupil`, `name=2`, `group=none`."""
    for one in said:
        role, equals, column = (part.strip() for part in one.partition("="))
        if not equals or role.lower() not in ROLES:
            raise wrong(f"--column {one}: say what it is and which, as in name=Pupil; it may be {', '.join(ROLES)}.")
        yield role.lower(), _place(column, header, width)


def _place(column: str, header: Row | None, width: int) -> int | None:
    named = {} if header is None else {fold(cell): place for place, cell in reversed(list(enumerate(header.cells)))}
    if fold(column) in named and column:
        return named[fold(column)]
    if column.isdecimal() and 1 <= int(column) <= width:
        return int(column) - 1
    if column.lower() in NOTHING:
        return None
    shown = [cell for cell in header.cells if cell] if header is not None else [str(n + 1) for n in range(width)]
    raise wrong(f'There is no column "{column}"; {meant(column, shown)}')


# --- by what is in them ----------------------------------------------------------------------------------

def _by_content(
    places: dict[str, int], free: list[int], body: tuple[Row, ...], scheme: Scheme, club: Club, known: list[str],
    ruled_out: set[str],
) -> None:
    """Columns that the headers don't tell: names of our classes, of our awards; and children, where none are yet."""
    awards = {fold(form) for award in scheme.awards for form in (award.id, award.name)}
    tests: list[tuple[str, Callable[[str], bool]]] = [
        ("class", lambda cell: bool(class_named(cell, club))), ("award", lambda cell: fold(cell) in awards),
    ]
    if "name" not in places and "first" not in places:
        names = {word for name in known for word in atoms(name)}
        tests += [("name", _looks_whole), ("first", lambda cell: _looks_like_name(cell) and (
            not names or bool(names & set(atoms(cell)))))]
    for role, holds in tests:
        if role in places or role in ruled_out or (role == "first" and "name" in places):
            continue
        place = _fullest(free, body, holds)
        if place is not None:
            places[role] = place
            free.remove(place)
            if role == "first" and place + 1 in free and _fullest([place + 1], body, _looks_like_name) is not None:
                places["last"] = place + 1
                free.remove(place + 1)


def _fullest(free: list[int], body: tuple[Row, ...], holds: Callable[[str], bool]) -> int | None:
    """The first column most of whose cells are such; None where there is none."""
    def share(place: int) -> float:
        cells = [row.cell(place) for row in body if row.cell(place)]
        return sum(map(holds, cells)) / len(cells) if cells else 0.0

    return next((place for place in free if share(place) >= 0.8), None)


def _looks_like_name(cell: str) -> bool:
    return any(char.isalpha() for char in cell) and not any(char.isdigit() or char in "@/:" for char in cell)


def _looks_whole(cell: str) -> bool:
    return _looks_like_name(cell) and 2 <= len(cell.replace(",", ", ").split()) <= 6


def class_named(said: str, club: Club) -> str | None:
    """The class that is meant by an id, a name, or a day with or without its time; None: none, or more than one."""
    by_name = {fold(form): one.id for one in club.classes for form in (one.name, one.id)}
    if fold(said) in by_name:
        return by_name[fold(said)]
    words = fold(said.replace(":", " ").replace(".", " ")).split()
    days = {day for word in words for day in DAYS if len(word) >= 3 and day.startswith(word.removesuffix("s"))}
    found = [one for one in club.classes if one.day in days]
    figures = [word for word in words if word.isdecimal()]
    if len(found) > 1 and figures:
        found = [one for one in found if _at(one.start.hour, one.start.minute, figures)]
    return found[0].id if len(found) == 1 and len(days) == 1 else None


def _at(hour: int, minute: int, figures: list[str]) -> bool:
    said = [int(one) for one in figures[:2]]
    return said[0] in (hour, (hour - 12) % 24) and (said[1] if len(said) > 1 else 0) == minute


def _is_turned(columns: Columns, body: tuple[Row, ...], known: Iterable[str]) -> bool:
    """Does one column hold the names last name first? Told by the children that we know, and by nothing else."""
    if "name" not in columns.places:
        return False
    names = {fold(name) for name in known}
    cells = [row.cell(columns.places["name"]) for row in body]
    plain = [cell for cell in cells if "," not in cell and len(cell.split()) > 1]
    straight = sum(fold(cell) in names for cell in plain)
    return sum(fold(turned(cell)) in names for cell in plain) > max(1, straight)


def _exchanged(columns: Columns, body: tuple[Row, ...], known: Iterable[str]) -> bool:
    """Without headers: is the first of two columns the last name? Told by the children that we know."""
    names = {fold(name) for name in known}
    first, last = columns.places["first"], columns.places["last"]
    straight = sum(fold(f"{row.cell(first)} {row.cell(last)}") in names for row in body)
    return sum(fold(f"{row.cell(last)} {row.cell(first)}") in names for row in body) > straight


def explained(columns: Columns) -> tuple[str, ...]:
    """The guess as sentences."""
    rows = [f"{columns.called(place)} is {CALLED[role]}{_how(columns, role)}." for role, place in
            sorted(columns.places.items(), key=lambda pair: pair[1])]
    if columns.skills:
        count = len(columns.skills)
        rows.append(f"{count} column{'' if count == 1 else 's'} of a skill each: a tick, a yes or a date there is "
                    "a skill held already.")
    if columns.header is None:
        rows.insert(0, "There are no headers; columns are counted from 1.")
    if columns.unread:
        rows.append(f"Not read: {', '.join(columns.unread)}.")
    return tuple(rows)


def _how(columns: Columns, role: str) -> str:
    return ", the last name first" if role == "name" and columns.turned else ""
