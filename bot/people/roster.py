"""`roster.csv`: the children as a club's list has them, and what may be wrong with it."""
from __future__ import annotations

import csv
import unicodedata
from collections import Counter
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field

from bot.fold import is_formula
from bot.people.model import Club, RosterLine
from bot.scheme.faults import Fault
from bot.scheme.model import Scheme
from bot.scheme.words import fold, meant, nearest

COLUMNS = ("child", "class", "award", "has", "id")
NEEDED = ("child", "class", "award")


@dataclass(frozen=True, slots=True)
class Row:
    """One line of the list: its place in the file, and its cells by column, trimmed."""

    line: int
    cells: Mapping[str, str]

    @property
    def called(self) -> str:
        """How a fault speaks of this line."""
        return f"row {self.cells.get('child') or self.cells.get('id') or 'without a name'}"

    def fault(self, column: str, says: str) -> Fault:
        """A fault in one of its cells."""
        return Fault(self.line, f"{self.called} / {column}", says)


@dataclass(slots=True)
class Known:
    """What a roster may refer to: folded ids and names → ids. None: nothing is known of it."""

    classes: dict[str, str] | None = None
    awards: dict[str, str] | None = None
    skills: dict[str, str] | None = None
    faults: list[Fault] = field(default_factory=list)

    def id_of(self, row: Row, column: str, kind: str, said: str, known: dict[str, str] | None) -> str:
        """The id that is meant, or what was written and a fault."""
        if known is None:
            return said
        found = known.get(fold(said))
        if found is None:
            ids = list(dict.fromkeys(known.values()))
            self.faults.append(row.fault(column, f'there is no {kind} "{said}"; {meant(said, ids)}'))
        return found or said


def examine_roster(
    text: str, scheme: Scheme | None, club: Club | None,
) -> tuple[tuple[RosterLine, ...], tuple[Fault, ...]]:
    """The children of a list, in its order, and all that is wrong with it.

    Columns may come in any order; a byte order mark, blank lines and semicolons or tabs between the columns
    are fine. Classes, awards and skills may be named by id or by name. Without a scheme or a club,
    what refers to them is not questioned.
    """
    rows, faults = _rows(text)
    if rows is None:
        return (), tuple(faults)
    known = _known(scheme, club)
    lines = tuple(_line(row, known) for row in rows if _complete(row, faults))
    faults += known.faults + _ids_once(rows) + _told_apart(rows)
    return lines, tuple(dict.fromkeys(sorted(faults)))


# --- reading ---------------------------------------------------------------------------------------------

def _rows(text: str) -> tuple[list[Row] | None, list[Fault]]:
    """The lines below the header; None where the header cannot be understood."""
    clean = text.removeprefix("\ufeff").replace("\r\n", "\n").replace("\r", "\n")
    if not clean.strip():
        return [], []
    table = csv.reader((f"{line}\n" for line in clean.split("\n")), delimiter=_delimiter(clean))
    header: list[str] | None = None
    rows: list[Row] = []
    faults: list[Fault] = []
    for cells in table:
        trimmed = [_tidy(cell) for cell in cells]
        if not any(trimmed):
            continue
        if header is None:
            header = [cell.lower() for cell in trimmed]
            faults += _header(header, table.line_num)
            if any(column not in header for column in NEEDED):
                return None, faults
            continue
        rows.append(Row(table.line_num, dict(zip(header, trimmed, strict=False))))
        if any(trimmed[len(header):]):
            faults.append(rows[-1].fault("has", (
                "there are more cells than columns; separate several skills by semicolons, "
                f"as in {_joined(trimmed, header)}"
            )))
    return rows, faults


def _delimiter(text: str) -> str:
    """What stands between the columns: spreadsheets of some countries write semicolons or tabs."""
    header = next(line for line in text.split("\n") if line.strip())
    return next((mark for mark in (",", ";", "\t") if mark in header), ",")


def _tidy(cell: str) -> str:
    return " ".join(unicodedata.normalize("NFC", cell).split())


def _joined(cells: list[str], header: list[str]) -> str:
    return ";".join(cell for cell in cells[len(header) - 1:] if cell)


def _header(header: list[str], line: int) -> list[Fault]:
    faults = [
        Fault(line, f"column {name}", f"this column is not known; {_column(name)}")
        for name in header if name and name not in COLUMNS
    ]
    faults += [
        Fault(line, f"column {name}", "this column is missing; the first line has to name the columns, as in "
                                      "child,class,award,has")
        for name in NEEDED if name not in header
    ]
    faults += [
        Fault(line, f"column {name}", "this column is there twice; delete one")
        for name, times in Counter(header).items() if name and times > 1
    ]
    return faults


def _column(name: str) -> str:
    near = nearest(name, COLUMNS)
    return f'did you mean "{near}"? If not, delete it' if near else "delete it"


# --- meaning ---------------------------------------------------------------------------------------------

def _known(scheme: Scheme | None, club: Club | None) -> Known:
    known = Known()
    if club is not None:
        known.classes = _by_name((one.id, one.name) for one in club.classes)
    if scheme is not None:
        known.awards = _by_name((award.id, award.name) for award in scheme.awards)
        known.skills = _by_name((skill.id, skill.name) for skill in scheme.skills.values())
    return known


def _by_name(pairs: Iterable[tuple[str, str]]) -> dict[str, str]:
    listed = list(pairs)
    return {fold(name): one for one, name in listed} | {fold(one): one for one, _ in listed}


def _complete(row: Row, faults: list[Fault]) -> bool:
    """Has it what every line needs? Says so where not."""
    missing = [column for column in NEEDED if not row.cells.get(column)]
    faults += [
        row.fault(column, f"the {column} is missing; fill it in, or delete the row") for column in missing
    ]
    if "child" not in missing and not fold(row.cells["child"]):
        faults.append(row.fault("child", "there is no letter in this name; write the child's name"))
        return False
    if "child" not in missing and is_formula(row.cells["child"]):
        faults.append(row.fault("child", "a name begins with a letter: a spreadsheet would take this for a formula"))
        return False
    return not missing


def _line(row: Row, known: Known) -> RosterLine:
    has = [one.strip() for one in row.cells.get("has", "").split(";") if one.strip()]
    return RosterLine(
        child=row.cells["child"],
        class_id=known.id_of(row, "class", "class", row.cells["class"], known.classes),
        award=known.id_of(row, "award", "award", row.cells["award"], known.awards),
        has=tuple(dict.fromkeys(known.id_of(row, "has", "skill", one, known.skills) for one in has)),
        id=row.cells.get("id") or None,
    )


def _ids_once(rows: list[Row]) -> list[Fault]:
    first: dict[str, Row] = {}
    faults: list[Fault] = []
    for row in rows:
        one = row.cells.get("id", "")
        if one and one in first:
            faults.append(row.fault("id", (
                f'the row on line {first[one].line} has the id "{one}" already; '
                "give each child an id of its own, or delete the row that is there twice"
            )))
        first.setdefault(one, row)
    return faults


def _told_apart(rows: list[Row]) -> list[Fault]:
    """Two children of one name need ids, since loading the list again could not tell which is which."""
    bearers: dict[str, list[Row]] = {}
    for row in rows:
        bearers.setdefault(fold(row.cells.get("child", "")), []).append(row)
    return [
        row.fault("id", (
            f"{len(namesakes)} rows bear this name (lines {_lines(namesakes)}); "
            "if they are one child, keep one row; if not, add a column id and give each an id that stays"
        ))
        for name, namesakes in bearers.items() if name and len(namesakes) > 1
        for row in namesakes if not row.cells.get("id")
    ]


def _lines(rows: list[Row]) -> str:
    return " and ".join(str(row.line) for row in rows)
