"""`sprung roster FILE`: a list of children from any program, shown first and taken once it is confirmed.

What lives here: the order of things. The club's children are what the database has; a hall's `roster.csv` is one way
in and can be written anew from it, so that loading the folder again changes nothing.
"""
from __future__ import annotations

import os
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

from adapters.records import Unknown, the_class, the_club
from adapters.sheets import as_csv, read_list
from bot.fold import fold
from bot.lesson.book import Child
from bot.lesson.timetable import day_in_zone
from bot.people.columns import explained, guess
from bot.people.enrol import Asked, Enrolment, Known, enrol, told
from bot.people.hall import ROSTER_FILE, Hall
from bot.people.table import GUESSED, Table
from bot.port import Snapshot, Store
from bot.scheme.model import Scheme
from bot.scheme.words import meant

NOTHING_NEW = "Nothing would change."


@dataclass(frozen=True)
class Given:
    """What was said on the command line."""

    file: Path
    columns: tuple[str, ...] = ()
    class_: str | None = None
    award: str | None = None
    same: tuple[str, ...] = ()
    new: tuple[str, ...] = ()
    gone: tuple[str, ...] = ()
    encoding: str | None = None
    sheet: str | None = None
    folder: Path | None = None
    yes: bool = False


async def enrolled(store: Store, club: str | None, given: Given, now: datetime) -> tuple[str, bool]:
    """What the list comes to, in words, and whether it was done or needs no more than a yes.

    Raises TableErrors or Unknown; then nothing was changed.
    """
    at = await the_club(store, club)
    whole = await store.snapshot(at.id)
    known = Known(at, whole.schemes[max(whole.schemes)], whole.children, day_in_zone(at, now))
    table = read_list(given.file, given.encoding, given.sheet)
    columns = guess(table, known.scheme, at, [child.name for child in known.children.values()], given.columns)
    found = enrol(table, columns, known, _asked(known, given))
    hall = Hall(known.scheme, at, tuple(one for one in whole.people if one.role != "parent"), found.lines)
    leaving = _leaving(found, given.gone)
    words = [f"{given.file.name} is {table.read_as}.{_other_letters(table, given)}", *explained(columns), "",
             *told(found, known)]
    if found.questions:
        return "\n".join([*words, "Nothing is changed before that is said."]), False
    done = await _done(store, hall, leaving, now) if given.yes else _would(whole, hall, leaving, now)
    if given.yes and given.folder is not None:
        write_roster(given.folder / ROSTER_FILE, await store.snapshot(at.id))
        done += (f"{given.folder / ROSTER_FILE} is written anew.",)
    return "\n".join([*words, *done]), True


def _other_letters(table: Table, given: Given) -> str:
    """Of such a file nobody can know for certain which letters it means."""
    guessed = given.encoding is None and GUESSED in table.read_as.lower()
    return " Where names look wrong, say what it is: --encoding windows-1250." if guessed else ""


def _asked(known: Known, given: Given) -> Asked:
    same = tuple((said.strip(), ours.strip()) for said, _, ours in (one.partition("=") for one in given.same))
    class_id = None if given.class_ is None else the_class(known.club, given.class_).id
    return Asked(class_id, _award(known.scheme, given.award), same, given.new)


def _award(scheme: Scheme, said: str | None) -> str | None:
    if said is None:
        return None
    found = [award.id for award in scheme.awards if fold(said) in (fold(award.id), fold(award.name))]
    if not found:
        raise Unknown(f"There is no award {said}; {meant(said, [award.id for award in scheme.awards])}")
    return found[0]


def _leaving(found: Enrolment, gone: tuple[str, ...]) -> tuple[Child, ...]:
    """Who is missing from the list and has left for good. Raises Unknown for anybody else."""
    if any(fold(name) == "all" for name in gone):
        return found.missing
    for name in gone:
        if not any(fold(child.name) == fold(name) for child in found.missing):
            names = ", ".join(child.name for child in found.missing) or "nobody"
            raise Unknown(f"--gone {name}: missing from the file is {names}. Another child goes by: sprung forget")
    return tuple(child for child in found.missing if any(fold(child.name) == fold(name) for name in gone))


def _would(whole: Snapshot, hall: Hall, leaving: tuple[Child, ...], now: datetime) -> tuple[str, ...]:
    """What loading would say that was not said yet, and how to have it done."""
    from bot.load import load

    loaded = load(whole, hall, now)
    extra = tuple(one for one in loaded.sentences if one.endswith(("brought along.", "named.")))
    rows = (*extra, *(f"{child.name} would be forgotten, for good." for child in leaving))
    if not (loaded.children or loaded.facts or leaving):
        return (*rows, NOTHING_NEW)
    return (*rows, "Nothing is changed yet. If that is right, say it again with --yes; a wrong column is put right by "
                   "--column, as in --column name=Pupil.")


async def _done(store: Store, hall: Hall, leaving: Iterable[Child], now: datetime) -> tuple[str, ...]:
    loaded = await store.load(hall, now)
    for child in leaving:
        await store.forget(hall.club.id, child.id)
    extra = tuple(one for one in loaded.changes if one.endswith(("brought along.", "named.", "has changed.")))
    return (*extra, *(f"{child.name} is forgotten." for child in leaving), "Done.")


# --- the hall's own file -----------------------------------------------------------------------------------

def roster_rows(whole: Snapshot) -> list[list[str]]:
    """A hall's `roster.csv` as the database has it, ids included: loading it changes nothing."""
    rows = [["child", "class", "award", "has", "id"]]
    for class_id in sorted(whole.books):
        book = whole.books[class_id]
        for child in book.children.values():
            held = sorted(skill for skill, one in book.standings.get(child.id, {}).items() if one.ticked)
            rows.append([child.name, child.class_id, child.award, ";".join(held), child.id])
    return rows


def write_roster(file: Path, whole: Snapshot) -> None:
    """Put it in a file, whole or not at all."""
    beside = file.with_name(f".{file.name}.new")
    beside.write_text(as_csv(roster_rows(whole)), encoding="utf-8", newline="")
    os.replace(beside, file)
