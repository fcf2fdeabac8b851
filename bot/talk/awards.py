"""An award's way to the child, in the talk: earned, on the order, arrived, handed over."""
from __future__ import annotations

from collections.abc import Iterable
from typing import Final, Literal

from bot.facts import AwardMoved
from bot.lesson.book import AwardWay
from bot.lesson.timetable import day_in_zone
from bot.marks.awards import earned
from bot.talk import news, words
from bot.talk.draft import Draft
from bot.talk.taps import Order, Tap, Undo
from bot.talk.watching import of_place

Choices = list[tuple[str, Tap]]
Step = Literal["earned", "ordered", "arrived", "presented"]
Waiting = dict[Step, list[tuple[str, str]]]     # how far → (child, award)
NEXT: Final[dict[Step, tuple[Literal["ordered", "arrived", "presented"], str, str]]] = {
    "earned": ("ordered", "Put on the order", "Earned, on no order yet"),
    "ordered": ("arrived", "They have come", "On the order"),
    "arrived": ("presented", "Handed over", "Here, to hand over"),
}
_DONE: Final = {"ordered": "On the order", "arrived": "Here", "presented": "Handed over"}


def move(draft: Draft, tap: Order) -> None:
    """These awards go one step further on their way; those that went on since stay where they are."""
    today = day_in_zone(draft.club, draft.now)
    moved = []
    before = {"ordered": None, "arrived": "ordered", "presented": "arrived"}[tap.to]
    for child, award in tap.awards:
        way = draft.book_of(child).awards.get(child, {}).get(award) if draft.knows(child) else None
        if not draft.knows(child) or (way.to if way is not None else None) != before:
            continue
        draft.record(AwardMoved(child, award, tap.to, today))
        draft.put_award(child, award, AwardWay(tap.to, today))
        moved.append(f"{draft.award_name(award)} for {draft.called(child)}")
    draft.lesson_of_message = draft.talk.lesson
    if moved:
        unsaid, choices = news.still_unsaid(draft)
        text = "\n".join(filter(None, (f"{_DONE[tap.to]}: {words.names(moved)}.", unsaid)))
        draft.say(text, *choices, ("Undo", Undo(draft.message)), *of_place(draft))
    else:
        done = "is on the order" if tap.to == "ordered" else "was done"
        draft.say(f"That {done} already.", *of_place(draft))


def awards(draft: Draft) -> None:
    """`awards`: which wait for what, in all classes of whoever asks."""
    text, choices = _listed(draft, _waiting(draft, draft.books))
    draft.shows("awards", classes=draft.books)
    draft.say(text or "No award waits for anything.", *choices, *of_place(draft), question=draft.talk.question)


def _listed(draft: Draft, waiting: Waiting) -> tuple[str, Choices]:
    """The awards that wait, a row for each step with the choice that takes them on."""
    rows: list[str] = []
    choices: Choices = []
    for step, (to, label, head) in NEXT.items():
        if waiting[step]:
            named = words.names(f"{draft.called(child)} ({draft.award_name(award)})" for child, award in waiting[step])
            rows.append(f"{head}: {named}.")
            choices.append((label, Order(tuple(waiting[step]), to)))
    return "\n".join(rows), choices


def _waiting(draft: Draft, classes: Iterable[str]) -> Waiting:
    found: Waiting = {"earned": [], "ordered": [], "arrived": [], "presented": []}
    for class_id in classes:
        book = draft.books[class_id]
        for child in book.children:
            won = earned(draft.standings_of(child), draft.scheme, draft.scheme_of)
            ways = book.awards.get(child, {})
            for award in dict.fromkeys((*won, *ways)):
                found[ways[award].to if award in ways else "earned"].append((child, award))
    return found


def to_see_to(draft: Draft, class_id: str) -> None:
    """Before a class, once a week: what was earned and is on no order, and what is here to hand over."""
    waiting = _waiting(draft, [class_id])
    if not waiting["earned"] and not waiting["arrived"]:
        return
    text, choices = _listed(draft, waiting)
    draft.say(f"{draft.class_(class_id).name}, awards.\n{text}", *choices, question=draft.talk.question)
