"""Handing awards over, in the talk: the names as they will be printed, who is away, the list, and the handing over."""
from __future__ import annotations

from collections.abc import Iterable
from typing import Final, Literal

from bot.facts import NamePrinted, Recorded
from bot.lesson.timetable import day_in_zone, next_lesson
from bot.marks.way import BEFORE, OnItsWay, Printed, printed_names
from bot.step import Want
from bot.talk import requests, words
from bot.talk.awards import DONE, Choices, Pairs, finish, move, named, pairs, put_all, ways, ways_of
from bot.talk.draft import LATEST, Draft
from bot.talk.state import Question
from bot.talk.taps import ButHers, ChangeName, HandOver, NamesRight, Order, Undo, WhoseNot
from bot.talk.watching import of_place

NAMES: Final = 24     # so many names are looked through at once


def hand_over(draft: Draft, class_id: str | None = None, head: str = "") -> None:
    """`hand over`: first the names that nobody looked at yet, then how many there are, and who is away."""
    which = class_id if class_id in draft.books else _which_class(draft)
    if which is None:
        return
    there = ways(draft, [which])
    here = [one for one in there if one.stage == "arrived" and one.earned]
    to_come = [one for one in there if one.stage in ("earned", "ordered", "sent") and one.earned]
    if not here:
        more = f" {len(to_come)} not in stock yet." if to_come else ""
        none = f"Nothing of {draft.class_(which).name} is here to hand over.{more}"
        draft.say(f"{head}\n{none}".strip(), *of_place(draft))
        return
    printed = _printed(draft, [one.child for one in here])
    unseen = {child: one.name for child, one in printed.items() if not one.checked}
    if unseen:
        _ask_names(draft, which, unseen, head)
        return
    away = [one for one in here if _is_away(draft, one.child)]
    present = [one for one in here if one not in away]
    counts = [f"{len(present)} to hand over", *([f"{len(away)} away"] * bool(away)),
              *([f"{len(to_come)} not in stock"] * bool(to_come))]
    rows = [head, f"{draft.class_(which).name}: {', '.join(counts)}.", _carried(draft, away)]
    choices: Choices = [("Present all", Order(pairs(present), "presented"))] if present else []
    choices += [("Some away", WhoseNot(pairs(present), "presented"))] if len(present) > 1 else []
    draft.say("\n".join(filter(None, rows)), *choices, ("Show list", HandOver(which, "list")), *of_place(draft))


def _which_class(draft: Draft) -> str | None:
    """The class of the open lesson, else the one that has something to hand over; of several it is asked."""
    lesson = draft.open_lesson()
    have = {one.child for one in ways(draft, draft.books) if one.stage == "arrived"}
    found = [key for key, book in draft.books.items() if have & book.children.keys()]
    if lesson is not None and (lesson.class_id in found or not found):
        return lesson.class_id
    if len(found) == 1 or (not found and len(draft.books) == 1):
        return next(iter(found or draft.books))
    if not found:
        draft.say("Nothing is here to hand over.", *of_place(draft))
        return None
    choices: Choices = [(words.label(draft.class_(key).name), HandOver(key)) for key in found]
    draft.say("Of which class?", *choices, *of_place(draft))
    return None


def _is_away(draft: Draft, child: str) -> bool:
    lesson = draft.book_of(child).open_lesson
    return lesson is not None and child in lesson.away


def _carried(draft: Draft, away: Iterable[OnItsWay]) -> str:
    """Whose waits for the next lesson."""
    children = list(dict.fromkeys(one.child for one in away))
    if not children:
        return ""
    book, today = draft.book_of(children[0]), day_in_zone(draft.club, draft.now)
    following = words.day(next_lesson(draft.club, draft.class_(book.class_id), today), today)
    return f"Carried over to {following}: {words.names(map(draft.called, children))}."


def show_list(draft: Draft, class_id: str | None) -> None:
    """The presentation list: by class, the names in the order of the class."""
    rows = []
    for key in [class_id] if class_id in draft.books else list(draft.books):
        here = [one for one in ways(draft, [key]) if one.stage == "arrived" and one.earned]
        printed = _printed(draft, [one.child for one in here])
        rows += [f"{draft.class_(key).name}:"] * bool(here)
        rows += [f"{printed[one.child].name}, {draft.award_name(one.award)}" for one in here]
    choices: Choices = [("Hand over", HandOver(class_id))] if rows and class_id in draft.books else []
    draft.say("\n".join(rows) or "Nothing is here to hand over.", *choices, *of_place(draft))


def all_handed_over(draft: Draft) -> None:
    """`handed over`: all that is here, of the class whose lesson is open or of all; who is away has to wait."""
    lesson = draft.open_lesson()
    classes = [lesson.class_id] if lesson is not None else list(draft.books)
    here = [one for one in ways(draft, classes) if one.stage == "arrived" and one.earned]
    present = [one for one in here if not _is_away(draft, one.child)]
    if not present:
        draft.say("Nothing is here to hand over.", *of_place(draft))
        return
    move(draft, Order(pairs(present), "presented"))


# --- some of them -----------------------------------------------------------------------------------------

def whose_not(draft: Draft, tap: WhoseNot) -> None:
    """Ask whose does not go a step on."""
    waiting = _waiting(draft, tap.awards, tap.to)
    if not waiting:
        draft.say("That was done already.", *of_place(draft))
        return
    asked = "Who is away?" if tap.to == "presented" else "Whose has not come?"
    children = list(dict.fromkeys(child for child, _ in waiting))
    choices: Choices = [(words.label(draft.called(child)), ButHers(child, waiting, tap.to)) for child in children]
    draft.say(f"{asked} Type the names, or tap one after the other.", *choices,
              question=Question("whose", draft.next_seq(), awards=waiting, to=tap.to))


def _waiting(draft: Draft, several: Pairs, to: str) -> Pairs:
    before = BEFORE["presented" if to == "presented" else "arrived"]
    return tuple(
        (child, award) for child, award in several
        if draft.knows(child) and (mine := ways_of(draft, child).get(award)) is not None and mine.stage in before
    )


def but_hers(draft: Draft, several: Pairs, to: str, children: tuple[str, ...]) -> None:
    """All but theirs; where that was done, because another was named first, theirs are taken back."""
    known = [(pair, mine) for pair in several
             if draft.knows(pair[0]) and (mine := ways_of(draft, pair[0]).get(pair[1])) is not None]
    done = tuple(pair for pair, mine in known if mine.stage == to)
    if not done:
        but_theirs(draft, several, to, children)
        return
    theirs = tuple(pair for pair in done if pair[0] in children)
    if not theirs:
        draft.say("That was done already.", *of_place(draft))
        return
    put_all(draft, theirs, "arrived" if to == "presented" else "sent")
    verb = "is not handed over" if to == "presented" else "has not come"
    finish(draft, [f"{named(draft, theirs)} {verb}.", _carried_pairs(draft, theirs, to)],
           question=_whose(draft, several, to))


def _whose(draft: Draft, several: Pairs, to: str) -> Question:
    """More names may follow, each in a message of its own."""
    return Question("whose", draft.next_seq(), awards=several, to=to)


def but_theirs(draft: Draft, several: Pairs, to: str, children: tuple[str, ...]) -> None:
    """All of these but those children's go a step on."""
    stage: Literal["presented", "arrived"] = "presented" if to == "presented" else "arrived"
    waiting = _waiting(draft, several, stage)
    going = tuple(pair for pair in waiting if pair[0] not in children)
    left = tuple(pair for pair in waiting if pair[0] in children)
    put_all(draft, going, stage)
    rows = [f"{DONE[stage]}: {named(draft, going)}." if going else "Nothing is moved on.",
            _carried_pairs(draft, left, stage)]
    question = draft.talk.question
    if going:
        finish(draft, rows, question=_whose(draft, several, to))
    else:
        draft.say("\n".join(filter(None, rows)), *of_place(draft), question=question)


def _carried_pairs(draft: Draft, left: Pairs, to: str) -> str:
    if to != "presented":
        return f"Still to come: {named(draft, left)}." if left else ""
    return _carried(draft, [mine for child, award in left if (mine := ways_of(draft, child).get(award)) is not None])


# --- the names ----------------------------------------------------------------------------------------------

def _printed(draft: Draft, children: Iterable[str]) -> dict[str, Printed]:
    (record,) = draft.desk.facts(Want(kind="printed"))
    now = (Recorded(LATEST + n, draft.message, fact) for n, fact in enumerate(draft.facts))
    return printed_names((*record, *now), [draft.child(child) for child in dict.fromkeys(children)])


def _ask_names(draft: Draft, class_id: str, unseen: dict[str, str], head: str = "") -> None:
    some = tuple(unseen.items())[:NAMES]
    rows = [head, "Names as they will be printed:", *(name for _, name in some)]
    draft.say("\n".join(filter(None, rows)), ("All right", NamesRight(class_id, some)),
              ("Change one", ChangeName(class_id, some[0][0])), *of_place(draft))


def names_right(draft: Draft, tap: NamesRight) -> None:
    """These names are right; on with the handing over."""
    for child, name in tap.names:
        if draft.knows(child):
            draft.record(NamePrinted(child, name, draft.child(child).name, draft.sent_at))
    draft.lesson_of_message = draft.talk.lesson
    hand_over(draft, tap.class_id)


def change_name(draft: Draft, tap: ChangeName) -> None:
    """Say how a name is put right."""
    if not draft.knows(tap.child):
        draft.say("That child is not in a class of yours any more.", *of_place(draft))
        return
    called, name = draft.called(tap.child), draft.child(tap.child).name
    draft.say(f"Type it like this: spell {called.lower()}: {name}", ("Hand over", HandOver(tap.class_id)),
              *of_place(draft))


def spell(draft: Draft, request: requests.Spell) -> None:
    """`spell noor: Noor Rahman`: so her name is printed from now on; the roster stays as it is."""
    entry = draft.child(request.child)
    draft.record(NamePrinted(entry.id, request.name, entry.name, draft.sent_at))
    draft.lesson_of_message = draft.talk.lesson
    draft.say(f"{draft.called(entry.id)} is printed as: {request.name}", ("Hand over", HandOver(entry.class_id)),
              ("Undo", Undo(draft.message)), *of_place(draft))
