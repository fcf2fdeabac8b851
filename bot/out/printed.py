"""What goes on paper, as plain rows: the order sheet, the presentation list, certificates. Pure, from a snapshot.

What lives here: who and what, in which order. How a page looks is the business of `adapters/paper/`.
"""
from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date

from bot.lesson.book import ClassBook
from bot.marks.way import OnItsWay, OrderLine, Printed, cupboard, on_their_way, order_sheet, printed_names
from bot.people.model import ClubClass
from bot.port import Snapshot
from bot.scheme.model import Scheme

NOT_YET = ("earned", "ordered", "sent", "arrived")      # whose certificate was not handed over


@dataclass(frozen=True, slots=True)
class Certificate:
    """One award of one child: `name` as printed, `on` the day of the tick that completed it."""

    child: str
    name: str
    checked: bool       # did somebody look at how the name is written?
    award: str
    on: date


def classes(club: Snapshot, wanted: str | None = None) -> Iterator[tuple[ClubClass, ClassBook]]:
    """The classes with their books, in the order of the timetable's file; or the one of that id."""
    for one in club.club.classes:
        if one.id in club.books and wanted in (None, one.id):
            yield one, club.books[one.id]


def scheme_now(club: Snapshot) -> Scheme:
    """The scheme in force."""
    return club.schemes[max(club.schemes)]


def award_name(club: Snapshot, award: str) -> str:
    """What an award is called; one that the scheme has no more, by its id."""
    found = scheme_now(club).award_by_id(award)
    return award if found is None else found.name


def ways_of(club: Snapshot, book: ClassBook) -> list[OnItsWay]:
    """All awards of a class that were earned or are on their way."""
    now = scheme_now(club)
    return list(on_their_way(book, now, lambda version: club.schemes.get(version, now)))


def order(club: Snapshot) -> tuple[OrderLine, ...]:
    """What is on the order, award by award, less what is in the cupboard."""
    of_classes = {one.id: ways_of(club, book) for one, book in classes(club)}
    return order_sheet(of_classes, cupboard(one for one in club.record if one.fact.kind in ("cupboard", "voided")),
                       scheme_now(club))


def to_present(club: Snapshot, wanted: str | None = None) -> list[tuple[ClubClass, list[Certificate]]]:
    """The presentation list: what is here to be handed over, by class, in the order of the class."""
    return [(one, rows) for one, book in classes(club, wanted) if (rows := _rows(club, book, ("arrived",)))]


def certificates(
    club: Snapshot, wanted: str | None = None, child: str | None = None,
) -> list[tuple[ClubClass, list[Certificate]]]:
    """The certificates of a class, of all, or of one child: of one also those that were handed over, to print again."""
    found = []
    for one, book in classes(club, wanted):
        rows = _rows(club, book, NOT_YET if child is None else (*NOT_YET, "presented"), child)
        if rows:
            found.append((one, rows))
    return found


def _rows(club: Snapshot, book: ClassBook, stages: tuple[str, ...], child: str | None = None) -> list[Certificate]:
    names = names_of(club, book)
    return [
        Certificate(one.child, names[one.child].name, names[one.child].checked, award_name(club, one.award), one.since)
        for one in ways_of(club, book)
        if one.earned and one.stage in stages and child in (None, one.child)
    ]


def names_of(club: Snapshot, book: ClassBook) -> dict[str, Printed]:
    """Child → her name as it is printed."""
    facts = (one for one in club.record if one.fact.kind in ("printed", "voided"))
    return printed_names(facts, book.children.values())
