"""What is done with a whole club: load it, look at it, forget a child.

What lives here: the same as in `unit.py`, for everything that is not one message. Reads and plans only.
"""
from __future__ import annotations

from dataclasses import replace
from datetime import datetime

from bot import load as loading
from bot.facts import Recorded
from bot.lesson.book import Changes, ClassBook
from bot.people.hall import Hall
from bot.people.model import Club, Person
from bot.port import Loaded, Snapshot, Whole
from bot.reminders import queued
from bot.step import Invitation, Refused
from storage import erase, queue, unit
from storage.codec import micros
from storage.filing import file
from storage.shelf import Home, Shelf, Written
from storage.unit import Done, digest_of

# --- looking --------------------------------------------------------------------------------------------

def people(shelf: Shelf, club: str) -> tuple[Person, ...]:
    """The people of a club, by id."""
    known = _home(shelf, club).people
    return tuple(known[key] for key in sorted(known))


def snapshot(shelf: Shelf, club: str) -> Snapshot:
    """All of a club. Raises Refused where there is none of that name."""
    _home(shelf, club)
    whole = shelf.everything(club)
    home = whole.home
    return Snapshot(
        home.club, home.schemes, tuple(home.people[key] for key in sorted(home.people)), whole.books,
        tuple(one.recorded for one in whole.record),
    )


def whole(shelf: Shelf, club: str) -> Whole:
    """A club to be kept elsewhere. Raises Refused where there is none of that name."""
    _home(shelf, club)
    all_ = shelf.everything(club)
    people = tuple(all_.home.people[key] for key in sorted(all_.home.people))
    return Whole(all_.home.club, all_.home.schemes, people, all_.books, all_.record)


def _home(shelf: Shelf, club: str) -> Home:
    home = shelf.home(club)
    if home is None:
        raise Refused(f"There is no club called {club} here.")
    return home


# --- loading --------------------------------------------------------------------------------------------

def load(shelf: Shelf, hall: Hall, now: datetime) -> Done[Loaded]:
    """Load or update a club."""
    club = hall.club.id
    before = shelf.home(club)
    load = loading.load(None if before is None else snapshot(shelf, club), hall, now)
    changes = Changes(
        children=load.children, standings=load.standings, awards=load.awards, contacts=load.contacts,
        agreed=load.agreed, groups=load.groups,
    )
    first = shelf.last_fact(club) + 1
    message = f"hall:{micros(now)}:{first}"
    record = tuple(
        file(Recorded(seq, message, fact), "", None) for seq, fact in enumerate(load.facts, first)
    )
    books = _books(shelf, club, changes)
    was, books = _reminded(shelf, load.club, books, now)
    written = Written(
        club, record=record, changes=changes, books=books, queue=queue.difference(was, books),
        home=_merged(before, load),
    )
    return Done(Loaded(club, load.sentences), written)


def _reminded(
    shelf: Shelf, club: Club, books: dict[str, ClassBook], now: datetime
) -> tuple[dict[str, ClassBook], dict[str, ClassBook]]:
    """Every book before, and those that change, with what the timetable calls for from now on."""
    was = {one.id: shelf.book(club.id, one.id) for one in club.classes} | {
        class_id: shelf.book(club.id, class_id) for class_id in books
    }
    after = dict(books)
    for class_id, before in was.items():
        book = books.get(class_id, before)
        pending, fired = queued(book, club, now)
        if pending != book.pending or fired != book.fired:
            after[class_id] = replace(book, pending=pending, fired=fired)
    return was, after


def _merged(before: Home | None, load: loading.Load) -> Home:
    known = {} if before is None else before.people
    schemes = {} if before is None else before.schemes
    new = {} if load.scheme is None else {load.version: load.scheme}
    return Home(load.club, {**known, **{one.id: one for one in load.people}}, {**schemes, **new})


def _books(shelf: Shelf, club: str, changes: Changes) -> dict[str, ClassBook]:
    """The books of every class that a load changes. Whoever moves brings along what she has."""
    if not changes:
        return {}
    classes = shelf.class_ids(club) | {one.class_id for one in changes.children.values() if one is not None}
    awards = Changes(awards=changes.awards)
    books = {}
    for class_id in sorted(classes):
        book = shelf.book(club, class_id)
        after = unit.tidy(book.with_changes(changes).with_changes(awards))
        if after != book:
            books[class_id] = after
    return books


# --- taking in what was elsewhere -----------------------------------------------------------------------

def restore(shelf: Shelf, whole: Whole) -> Done[None]:
    """Take in a club. Raises Refused where one of that id is here already."""
    club = whole.club.id
    if shelf.home(club) is not None:
        raise Refused(f"The club {club} is here already; nothing was changed. Say another database: --db FILE")
    books = whole.books
    changes = Changes(
        children={key: child for book in books.values() for key, child in book.children.items()},
        standings={(child, skill): one for book in books.values()
                   for child, of in book.standings.items() for skill, one in of.items()},
        lessons={key: lesson for book in books.values() for key, lesson in book.lessons.items()},
        groups={(book.class_id, name): group for book in books.values() for name, group in book.groups.items()},
        awards={(child, award): way for book in books.values()
                for child, ways in book.awards.items() for award, way in ways.items()},
        contacts={(child, parent): one for book in books.values()
                  for child, of in book.contacts.items() for parent, one in of.items()},
        agreed={child: one for book in books.values() for child, one in book.agreed.items()},
        pace={(book.class_id, skill): pace for book in books.values() for skill, pace in book.pace.items()},
    )
    empty = {class_id: ClassBook(class_id, {}) for class_id in books}
    home = Home(whole.club, {one.id: one for one in whole.people}, whole.schemes)
    return Done(None, Written(
        club, record=whole.record, changes=changes, books=books, queue=queue.difference(empty, books), home=home,
    ))


# --- people, invitations ----------------------------------------------------------------------------------

def meet(shelf: Shelf, channel: str, address: str, club: str, person: str) -> Done[None]:
    """From now on this address is that person. Raises Refused where there is no such person."""
    if person not in _home(shelf, club).people:
        raise Refused(f"There is nobody called {person} in this club.")
    return Done(None, Written(club, met=(channel, address, person)))


def invite(shelf: Shelf, invitation: Invitation, code: str) -> Done[None]:
    """Keep an invitation. Raises Refused where that code was given out before."""
    digest = digest_of(code)
    if shelf.invitation(digest) is not None:
        raise Refused("That code was given out before; please make a new one.")
    _home(shelf, invitation.club)
    return Done(None, Written(invitation.club, invited=(digest, invitation)))


def forget(shelf: Shelf, club: str, child: str) -> Done[None]:
    """Remove a child and all that is kept of her. Raises Refused where there is no such child."""
    _home(shelf, club)
    return Done(None, Written(club, erasure=erase.erasure(shelf.everything(club), child)))
