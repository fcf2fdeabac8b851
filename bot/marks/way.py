"""The way of an award to its child: what waits where, what is to be ordered, what is in the cupboard, whose name is
printed how. Pure; from books and facts, and no words.

An award is earned, put on the order, sent for, has come, is handed over. Whoever loses the tick on the way is not
hidden: `OnItsWay.earned` is False from then on, and the award goes on until somebody takes it off.
"""
from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from datetime import date
from typing import Final, Literal

from bot.facts import CupboardChanged, NamePrinted, Recorded, in_force
from bot.lesson.book import Child, ClassBook
from bot.marks.awards import SchemeOf, earned
from bot.scheme.model import Scheme

Stage = Literal["earned", "ordered", "sent", "arrived", "presented"]
Moved = Literal["ordered", "sent", "arrived", "presented", "dropped"]
BEFORE: Final[dict[Moved, tuple[Stage, ...]]] = {
    "ordered": ("earned",), "sent": ("ordered",), "arrived": ("ordered", "sent"), "presented": ("arrived",),
    "dropped": ("ordered", "arrived"),
}
"""From where an award comes to a stage; `dropped` takes it off its way."""


@dataclass(frozen=True, slots=True)
class OnItsWay:
    """One award of one child. `since`: the day of the tick that completed it, or, where that is gone, of its last step.

    `earned`: do her ticks still make it?
    """

    child: str
    award: str
    stage: Stage
    earned: bool
    since: date


def on_their_way(book: ClassBook, scheme: Scheme, scheme_of: SchemeOf) -> Iterator[OnItsWay]:
    """All awards of a class that were earned or are on their way, in the order of the class."""
    for child in book.children:
        yield from awards_of(book, child, scheme, scheme_of)


def awards_of(book: ClassBook, child: str, scheme: Scheme, scheme_of: SchemeOf) -> Iterator[OnItsWay]:
    """The awards of one child that were earned or are on their way."""
    won = earned(book.standings.get(child, {}), scheme, scheme_of)
    ways = book.awards.get(child, {})
    for award in dict.fromkeys((*won, *ways)):
        way = ways.get(award)
        since = won.get(award) or (way.on if way is not None else date.min)
        yield OnItsWay(child, award, "earned" if way is None else way.to, award in won, since)


# --- the cupboard ------------------------------------------------------------------------------------

def cupboard(record: Iterable[Recorded]) -> dict[str, int]:
    """Award → how many are in the cupboard: the last count, and what went in and out since. `record`: such facts."""
    stock: dict[str, int] = {}
    for one in in_force(tuple(record)):
        if isinstance(one.fact, CupboardChanged):
            before = 0 if one.fact.counted else stock.get(one.fact.award, 0)
            stock[one.fact.award] = max(0, before + one.fact.count)
    return stock


def from_cupboard(ordered: Iterable[OnItsWay], stock: Mapping[str, int]) -> list[OnItsWay]:
    """Of the awards on the order those that need not be sent for: who earned hers first has it first."""
    left = Counter(stock)
    found = []
    for one in sorted(ordered, key=lambda each: each.since):
        if left[one.award] > 0:
            left[one.award] -= 1
            found.append(one)
    return found


@dataclass(frozen=True, slots=True)
class OrderLine:
    """One award of the order: how many are wanted, by class and in all, and how many there are already."""

    award: str
    by_class: Mapping[str, int]
    stock: int

    @property
    def wanted(self) -> int:
        """On the order, in all classes."""
        return sum(self.by_class.values())

    @property
    def to_order(self) -> int:
        """What is to be sent for."""
        return max(0, self.wanted - self.stock)


def order_sheet(
    of_classes: Mapping[str, Iterable[OnItsWay]], stock: Mapping[str, int], scheme: Scheme,
) -> tuple[OrderLine, ...]:
    """What is on the order, award by award in the order of the scheme. `of_classes`: class → its awards."""
    counts: dict[str, Counter[str]] = {}
    for class_id, several in of_classes.items():
        for one in several:
            if one.stage == "ordered":
                counts.setdefault(one.award, Counter())[class_id] += 1
    known = [award.id for award in scheme.awards]
    order = [*(award for award in known if award in counts), *sorted(counts.keys() - set(known))]
    return tuple(OrderLine(award, dict(counts[award]), stock.get(award, 0)) for award in order)


# --- names as they are printed ---------------------------------------------------------------------------

@dataclass(frozen=True, slots=True)
class Printed:
    """How a child's name is printed, and whether somebody looked at it."""

    name: str
    checked: bool


def printed_names(record: Iterable[Recorded], children: Iterable[Child]) -> dict[str, Printed]:
    """Child → her name as printed: the roster's, or as somebody spelled it. A new name in the roster is looked at anew.

    `record`: facts of names.
    """
    said = {one.fact.child: one.fact for one in in_force(tuple(record)) if isinstance(one.fact, NamePrinted)}
    return {
        child.id: Printed(fact.name, True)
        if (fact := said.get(child.id)) is not None and fact.of == child.name else Printed(child.name, False)
        for child in children
    }
