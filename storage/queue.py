"""Which rows of the queue of reminders change, from the books before and after.

What lives here: the difference, and the guard against a reminder that would fire for ever.
"""
from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import replace

from bot.lesson.book import ClassBook, Reminder
from storage.shelf import Due, Queued

Rows = Mapping[tuple[str, str], Queued | None]


def difference(before: Mapping[str, ClassBook], after: Mapping[str, ClassBook]) -> Rows:
    """(class, key) → the row as it is now, or None where it goes; only rows that changed."""
    rows: dict[tuple[str, str], Queued | None] = {}
    for class_id, book in after.items():
        old = before[class_id]
        if book.pending is old.pending and book.fired is old.fired:
            continue
        rows |= {(class_id, one.key): Queued(one) for one in _queued_anew(old, book)}
        rows |= {(class_id, key): Queued(None) for key in book.fired - old.fired}
        gone = (old.pending.keys() - book.pending.keys()) | (old.fired - book.pending.keys())
        rows |= dict.fromkeys((class_id, key) for key in gone - book.fired)
    return rows


def _queued_anew(old: ClassBook, book: ClassBook) -> Iterator[Reminder]:
    """What is pending and was not so before. What fired is not queued again under its key."""
    was = old.pending.get
    for one in [one for key, one in book.pending.items() if was(key) is not one]:     # few of many
        if (was(one.key) != one or one.key in old.fired) and one.key not in book.fired:
            yield one


def without_fired(book: ClassBook) -> ClassBook:
    """The book with nothing pending that was sent already."""
    if not book.fired or book.fired.isdisjoint(book.pending):
        return book
    return replace(book, pending={key: one for key, one in book.pending.items() if key not in book.fired})


def spent(books: Mapping[str, ClassBook], due: Due) -> tuple[dict[str, ClassBook], int]:
    """The books in which nothing that was just handed out is pending for the same time or an earlier one.

    What the dialogue left there counts as sent, or it would wake us for ever. Also: how many there were.
    """
    after = dict(books)
    for class_id, key in due.keys:
        book = after[class_id]
        left = book.pending.get(key)
        if left is not None and left.due_at <= due.at:
            after[class_id] = _as_sent(book, left)
    stuck = sum(len(book.fired - books[class_id].fired) for class_id, book in after.items())
    return after, stuck


def _as_sent(book: ClassBook, reminder: Reminder) -> ClassBook:
    pending = {key: one for key, one in book.pending.items() if key != reminder.key}
    return replace(book, pending=pending, fired=book.fired | {reminder.key})
