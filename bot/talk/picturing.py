"""The class, or a child, to be looked at, and the class sheet for paper: a file where the channel carries one, and the
same in words where not."""
from __future__ import annotations

from bot.attached import Attachment, ClassGrid, ClassSheet, Progress
from bot.lesson.book import ClassBook
from bot.lesson.paper import Block, class_sheet, day_of_sheet, example
from bot.talk import requests, words
from bot.talk.asides import of_class, rows_of_child
from bot.talk.draft import Draft
from bot.talk.sheet import looked_at
from bot.talk.watching import aside


def picture(draft: Draft, request: requests.Picture) -> None:
    """`grid`, `progress ava`."""
    if request.child is not None:
        draft.shows("record", (request.child,))
        head, rest = rows_of_child(draft, request.child)
        aside(draft, head, Attachment(Progress(request.child), rest))
        return
    one = draft.class_(request.class_id) if request.class_id in draft.books else looked_at(draft)
    if one is None:
        aside(draft, "You have no class yet.")
        return
    draft.shows("class", classes=(one.id,))
    at = words.clock(draft.now, draft.club.tz)
    aside(draft, f"{one.name}, as it stands at {at}.", Attachment(ClassGrid(one.id), of_class(draft, one.id)))


def on_paper(draft: Draft) -> None:
    """`paper`: what the plan would watch of the lesson that is on, or comes next, to be printed and ticked by hand."""
    one = looked_at(draft)
    if one is None:
        aside(draft, "You have no class yet.")
        return
    book = draft.books[one.id]
    day = day_of_sheet(book, draft.club, one, draft.now)
    blocks = [block for block in class_sheet(book, draft.club, one, draft.desk.schemes, day) if block.planned]
    when = f"{one.name}, {words.date_in_full(day)}"
    if not blocks:
        aside(draft, f"{when}: nothing is owed, so there is nothing to print.")
        return
    draft.shows("class", classes=(one.id,))
    typed = example(draft.scheme, book, one, blocks[0])
    afterwards = "Afterwards it is one message, a line for each time, as in:\n" + "\n".join(typed)
    told = f"{_rows(draft, book, blocks)}\n{afterwards}"
    aside(draft, f"{when}, for paper.", Attachment(ClassSheet(one.id, day), told))


def _rows(draft: Draft, book: ClassBook, blocks: list[Block]) -> str:
    """The sheet in words: a row for each skill, its lines apart."""
    called = book.called
    return "\n".join(
        f"{draft.skill(block.skill).name}: "
        + "; ".join(", ".join(called[row.child] for row in line) for line in block.lines)
        for block in blocks
    )
