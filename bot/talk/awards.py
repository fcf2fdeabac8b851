"""An award's way to the child, in the talk: earned, on the order, ordered, here; the order sheet and the cupboard.

Handing over is in `handing.py`. What waits where is worked out in `bot/marks/way.py`.
"""
from __future__ import annotations

from collections import Counter
from collections.abc import Iterable
from typing import Final

from bot.facts import AwardMoved, CupboardChanged
from bot.frozen import replace
from bot.lesson.book import AwardWay
from bot.lesson.timetable import day_in_zone
from bot.marks.way import (
    BEFORE,
    Moved,
    OnItsWay,
    OrderLine,
    Stage,
    awards_of,
    cupboard,
    from_cupboard,
    on_their_way,
    order_sheet,
)
from bot.step import Want
from bot.talk import news, requests, words
from bot.talk.draft import Draft
from bot.talk.state import Question
from bot.talk.taps import HandOver, Order, OrderSheet, Tap, Undo, WhoseNot
from bot.talk.watching import of_place

Choices = list[tuple[str, Tap]]
Pairs = tuple[tuple[str, str], ...]     # (child, award)
NAMED = 6       # so many are named; more are counted
HEADS: Final[dict[Stage, str]] = {
    "earned": "Earned, on no order yet", "ordered": "On the order", "sent": "Ordered, not come yet",
    "arrived": "Here, to hand over",
}
DONE: Final[dict[Moved, str]] = {
    "ordered": "On the order", "sent": "Ordered", "arrived": "Here", "presented": "Handed over", "dropped": "Taken off",
}
LOST: Final[dict[Stage, str]] = {
    "earned": "", "ordered": "on the order", "sent": "ordered", "arrived": "here", "presented": "handed over",
}
CUPBOARD: Final = Want(kind="cupboard")


# --- what waits ----------------------------------------------------------------------------------------

def ways(draft: Draft, classes: Iterable[str]) -> list[OnItsWay]:
    """All awards of these classes that were earned or are on their way."""
    return [one for class_id in classes for one in on_their_way(draft.books[class_id], draft.scheme, draft.scheme_of)]


def pairs(several: Iterable[OnItsWay]) -> Pairs:
    """(child, award) of each."""
    return tuple((one.child, one.award) for one in several)


def named(draft: Draft, several: Pairs) -> str:
    """`Lantern for Leo and Noor; Candle for Ivy`, or, where there are many, `12 Lantern and 3 Candle`."""
    if len(several) > NAMED:
        return counted(draft, Counter(award for _, award in several))
    whose: dict[str, list[str]] = {}
    for child, award in several:
        whose.setdefault(award, []).append(draft.called(child))
    return "; ".join(f"{draft.award_name(award)} for {words.names(who)}" for award, who in whose.items())


def counted(draft: Draft, counts: Counter[str]) -> str:
    """`12 Lantern and 3 Candle`, in the order of the scheme."""
    known = [award.id for award in draft.scheme.awards]
    order = sorted(counts, key=lambda award: (known.index(award) if award in known else len(known), award))
    return words.names(f"{counts[award]} {draft.award_name(award)}" for award in order if counts[award])


def awards(draft: Draft) -> None:
    """`awards`: which wait for what, in all classes of whoever asks."""
    text, choices = _listed(draft, ways(draft, draft.books))
    draft.shows("awards", classes=draft.books)
    draft.say(text or "No award waits for anything.", *choices, *of_place(draft), question=draft.talk.question)


def to_see_to(draft: Draft, class_id: str) -> None:
    """Before a class, once a week: what was earned and is on no order, what is here to hand over, what was lost."""
    waiting = ways(draft, [class_id])
    if not any(one.stage in ("earned", "arrived") or (one.stage == "ordered" and not one.earned) for one in waiting):
        return
    text, choices = _listed(draft, waiting)
    draft.say(f"{draft.class_(class_id).name}, awards.\n{text}", *choices, question=draft.talk.question)


def _listed(draft: Draft, waiting: list[OnItsWay]) -> tuple[str, Choices]:
    """The awards that wait, a row for each stage, with the choices that take them on."""
    rows: list[str] = []
    choices: Choices = []
    for stage, head in HEADS.items():
        every = [one for one in waiting if one.stage == stage]
        here = pairs(one for one in every if one.earned)
        if here:
            rows.append(f"{head}: {named(draft, here)}.")
        if here or (every and stage == "sent"):     # what is ordered comes, whoever has lost hers
            choices += _next(draft, stage, pairs(every) if stage == "sent" else here)
    lost = [one for one in waiting if not one.earned and one.stage in HEADS]
    if lost:
        said = [f"{draft.award_name(one.award)} for {draft.called(one.child)} ({LOST[one.stage]})" for one in lost]
        rows.append(f"Not earned any more: {words.names(said)}.")
        off = pairs(one for one in lost if one.stage in BEFORE["dropped"])
        choices += [("Take off", Order(off, "dropped"))] if off else []
    return "\n".join(rows), choices


def _next(draft: Draft, stage: Stage, here: Pairs) -> Choices:
    if stage == "earned":
        return [("Put on the order", Order(here))]
    if stage == "ordered":
        return [("Order sheet", OrderSheet())]
    if stage == "sent":
        some: Choices = [("Some have come", WhoseNot(here, "arrived"))] if len(here) > 1 else []
        return [("They have come", Order(here, "arrived")), *some]
    classes = {draft.book_of(child).class_id for child, _ in here}
    return [("Hand over", HandOver(next(iter(classes)) if len(classes) == 1 else ""))]


# --- a step on -------------------------------------------------------------------------------------------

def move(draft: Draft, tap: Order) -> None:
    """These awards go a step on their way; those that went on since stay where they are."""
    moving = [one for one in _asked(draft, tap.awards) if one.stage in BEFORE[tap.to]]
    if not moving:
        done = {"ordered": "is on the order", "sent": "is ordered"}.get(tap.to, "was done")
        draft.say(f"That {done} already.", *of_place(draft))
        return
    taken = from_cupboard(moving, _stock(draft)) if tap.to == "sent" else []
    put_all(draft, pairs(one for one in moving if one not in taken), tap.to)
    put_all(draft, pairs(taken), "arrived")
    _cupboard_after(draft, taken, moving if tap.to == "dropped" else [])
    rows = [f"{DONE[tap.to]}: {named(draft, pairs(one for one in moving if one not in taken))}."] * (taken != moving)
    rows += [f"From the cupboard: {named(draft, pairs(taken))}."] * bool(taken)
    back = tap.to == "dropped" and any(one.stage == "arrived" for one in moving)
    rows += ["What was here goes into the cupboard."] * back
    here: Choices = [("Hand over", HandOver(""))] if tap.to == "arrived" else []
    finish(draft, rows, *here)


def finish(
    draft: Draft, rows: Iterable[str], *choices: tuple[str, Tap], question: Question | None = None,
) -> None:
    """Say what became of it, with Undo, and with what is still to be said of the close's news."""
    draft.lesson_of_message = draft.talk.lesson
    unsaid, asked = news.still_unsaid(draft)
    text = "\n".join(filter(None, (*rows, unsaid)))
    draft.say(text, *asked, *choices, ("Undo", Undo(draft.message)), *of_place(draft), question=question)


def put_all(draft: Draft, several: Pairs, to: Moved) -> None:
    """Record that these awards are at that stage from today."""
    today = day_in_zone(draft.club, draft.now)
    for child, award in several:
        draft.record(AwardMoved(child, award, to, today))
        draft.put_award(child, award, None if to == "dropped" else AwardWay(to, today))


def _asked(draft: Draft, several: Pairs) -> list[OnItsWay]:
    """These awards as they stand now. One that was offered is taken to be earned: the lists say where it is not."""
    found = []
    for child, award in several:
        if draft.knows(child):
            mine = ways_of(draft, child).get(award)
            today = day_in_zone(draft.club, draft.now)
            found.append(mine or OnItsWay(child, award, "earned", False, today))
    return found


def ways_of(draft: Draft, child: str) -> dict[str, OnItsWay]:
    """A child's awards, by id."""
    return {one.award: one for one in awards_of(draft.book_of(child), child, draft.scheme, draft.scheme_of)}


def all_on(draft: Draft, to: Moved) -> None:
    """`ordered`, `they have come`: all that wait for that go a step on."""
    waiting = ways(draft, draft.books)
    ready = [one for one in waiting if one.stage in BEFORE[to] and (one.earned or to == "arrived")]
    if to == "arrived":
        ready = [one for one in ready if one.stage == "sent"]
    if not ready:
        text, choices = _listed(draft, waiting)
        draft.say(f"Nothing waits for that.\n{text}".strip(), *choices, *of_place(draft), question=draft.talk.question)
        return
    move(draft, Order(pairs(ready), to))


# --- the order sheet and the cupboard -----------------------------------------------------------------

def _stock(draft: Draft) -> dict[str, int]:
    (record,) = draft.desk.facts(CUPBOARD)
    return cupboard(record)


def _cupboard_after(draft: Draft, taken: list[OnItsWay], dropped: list[OnItsWay]) -> None:
    """What was taken out of the cupboard; and what was here and nobody is to have goes into it."""
    today = day_in_zone(draft.club, draft.now)
    change = Counter(one.award for one in dropped if one.stage == "arrived")
    change.subtract(one.award for one in taken)
    draft.record(*(CupboardChanged(award, count, False, today) for award, count in sorted(change.items())))


def order(draft: Draft) -> None:
    """`order`: counts by award, less what is in the cupboard, and by class."""
    of_classes = {class_id: ways(draft, [class_id]) for class_id in draft.books}
    stock = _stock(draft)
    lines = order_sheet(of_classes, stock, draft.scheme)
    everything = [one for several in of_classes.values() for one in several]
    wanted = pairs(one for one in everything if one.stage == "ordered")
    unlisted = pairs(one for one in everything if one.stage == "earned")
    rows = _order_rows(draft, lines) if lines else ["Nothing is on the order."]
    choices: Choices = []
    if lines:
        there = not any(line.to_order for line in lines)
        choices.append(("From the cupboard" if there else "Ordered", Order(wanted, "sent")))
    if unlisted:
        rows.append(f"{HEADS['earned']}: {named(draft, unlisted)}.")
        choices.append(("Put on the order", Order(unlisted)))
    draft.say("\n".join(rows), *choices, *of_place(draft), question=draft.talk.question)


def _order_rows(draft: Draft, lines: tuple[OrderLine, ...]) -> list[str]:
    wanted = Counter({line.award: line.wanted for line in lines})
    stock = Counter({line.award: min(line.stock, line.wanted) for line in lines if line.stock})
    to_order = Counter({line.award: line.to_order for line in lines})
    rows = [f"On the order: {counted(draft, wanted)}."]
    if stock:
        left = counted(draft, to_order)
        rows.append(f"In the cupboard: {counted(draft, stock)}. " + (f"To be ordered: {left}." if left else
                                                                      "So nothing has to be ordered."))
    of_classes = dict.fromkeys(key for key in draft.books if any(key in line.by_class for line in lines))
    for key in of_classes if len(of_classes) > 1 else ():
        counts = Counter({line.award: line.by_class.get(key, 0) for line in lines})
        rows.append(f"{draft.class_(key).name}: {counted(draft, counts)}.")
    return rows


def stock(draft: Draft, request: requests.Cupboard) -> None:
    """`cupboard`, `cupboard lantern 5`: what is there, for all classes of the club."""
    today = day_in_zone(draft.club, draft.now)
    known = _stock(draft)
    for award, count in request.counts:
        draft.record(CupboardChanged(award, count, True, today))
    known |= dict(request.counts)
    there = counted(draft, Counter(known))
    text = f"In the cupboard: {there or 'nothing'}." if known else "Nothing is counted yet."
    if request.counts:
        draft.lesson_of_message = draft.talk.lesson
        draft.say(text, ("Undo", Undo(draft.message)), ("Order sheet", OrderSheet()), *of_place(draft))
        return
    first = draft.scheme.awards[0].name.lower()
    draft.say(f"{text} To count it, type: cupboard {first} 5.", *of_place(draft), question=draft.talk.question)


# --- what is lost on the way ------------------------------------------------------------------------------

def say_what_was_lost(draft: Draft) -> None:
    """After a step in which a child lost a tick: an award of hers that is on its way all the same is said."""
    lost = []
    for child in draft.lost_a_tick():
        lost += [one for one in ways_of(draft, child).values() if not one.earned and one.stage != "earned"]
    if not lost or not draft.says:
        return
    said = [f"{draft.called(one.child)} has not earned {draft.award_name(one.award)} any more, and it is "
            f"{LOST[one.stage]} already. To see to it, type awards." for one in lost]
    draft.says[-1] = replace(draft.says[-1], text="\n".join((draft.says[-1].text, *said)))
